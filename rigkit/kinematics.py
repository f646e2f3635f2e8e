"""Which way a limb folds: the rest bend of its joints, what a bend target tells, and pulling the hand to the root.

Three joints: root, middle, end (shoulder, elbow, wrist), places (3,); chains (k, 3). Metres, world frame.
"""

from dataclasses import dataclass, field

import numpy as np

from rigkit import require
from rigkit.frames import rotation_between
from rigkit.require import RigError
from rigkit.tolerance import FARTHEST, NO_LENGTH, ROUND_OFF, STRAIGHT_SHARE
from rigkit.two_bone import REACHED, TwoBone, rows, solve_two_bone
from rigkit.vectors import along_and_across, angle_between, cross, length, off_line, unit

RIGHT, WRONG, STRAIGHT = "right way", "wrong way", "too straight to tell"
STRAIGHT_WITHIN = "the share of the line within which a limb is straight"
FOLDED_MOST = np.radians(140.0)
"""How far `flex` folds a limb: within the elbow's 143 to 160 degrees (Boone & Azen 1979; Merck Manual)."""


@dataclass(frozen=True)
class RestBend:
    """How a middle joint lies off the line of its neighbours.

    along: metres off the line along the fold direction; positive is the right way. sideways: metres off it out of
    the fold plane, signed. line: distance between the neighbours, metres. flexion: angle between the two bones'
    directions, radians, 0 when straight. verdict: "right way", "wrong way" or "too straight to tell". frame: unit
    directions (3, 3): of the line, along the fold, and sideways.
    """

    along: float
    sideways: float
    line: float
    flexion: float
    verdict: str
    frame: np.ndarray = field(compare=False, repr=False)

    def skew(self, sideways_allowed: float) -> float | None:
        """Angle between the bend and the fold plane, radians, signed; None where it would be noise.

        It can be told only where the joint lies off the line, along the fold, by three times the sideways
        allowance (metres): nearer the line an error within the allowance turns the angle at will.
        """
        if abs(self.along) < 3.0 * sideways_allowed or self.verdict == STRAIGHT:
            return None
        return float(np.arctan2(self.sideways, abs(self.along)))


def rest_bend(root, middle, end, away, straight: float = STRAIGHT_SHARE) -> RestBend:
    """Measure the rest bend of three joints.

    away: the direction (3,) in which the middle joint must lie off the line, away from the side the limb folds to
    (elbow back, knee forward); its part along the line does not count. straight: share of the line within which
    the bend is too straight to tell. Raises RigError when root and end coincide or `away` points along the line.

    >>> arm = [0, 1.4, 0], [0, 1.1, -0.02], [0, 0.85, 0]
    >>> bend = rest_bend(*arm, away=[0, 0, -1])
    >>> round(bend.along, 6), bend.verdict
    (0.02, 'right way')
    """
    root, middle, end = (require.vector(place, "a joint's place") for place in (root, middle, end))
    straight = require.number(straight, STRAIGHT_WITHIN, 0.0, 1.0)
    line = unit(end - root, "the joints on either side of the bend")
    away = unit(along_and_across(require.direction(away, "the fold direction"), line)[1], "the fold direction")
    side, offset = cross(line, away), along_and_across(middle - root, line)[1]
    along, sideways, reach = float(offset @ away), float(offset @ side), float(length(end - root))
    verdict = STRAIGHT if abs(along) <= straight * reach else RIGHT if along > 0 else WRONG
    flexion = angle_between(middle - root, end - middle)
    return RestBend(along, sideways, reach, flexion, verdict, np.array([line, away, side]))


def chain_bends(positions, aways, straight: float = STRAIGHT_SHARE) -> tuple[RestBend, ...]:
    """The rest bend of every inner joint of any chain: elbow, knee, a toe-walker's ankle, the joints of a finger.

    positions: (k, 3) metres, root first. aways: (k - 2, 3), one direction for each inner joint, or (3,) for all of
    them (a finger: towards the back of the hand). Each joint is judged against the line of its own two neighbours.

    >>> hind_leg = [[0, 1.0, 0], [0, 0.7, 0.05], [0, 0.4, -0.1], [0, 0.1, 0]]  # hip, knee, ankle, toes
    >>> [bend.verdict for bend in chain_bends(hind_leg, [[0, 0, 1], [0, 0, -1]])]
    ['right way', 'right way']
    """
    positions, aways = _chain(positions, aways)
    return tuple(
        rest_bend(positions[joint], positions[joint + 1], positions[joint + 2], away, straight)
        for joint, away in enumerate(aways)
    )


def chain_hinges(positions, aways, straight: float = STRAIGHT_SHARE) -> np.ndarray:
    """The axes (k - 1, 3) that the solvers take: zero (free to turn) for the root, then a hinge for each inner joint.

    A hinge is a unit vector square to both bones of its joint, such that a positive turn of the lower bone about it
    folds the limb the right way; where the bend is too straight to tell, it is square to line and fold direction.

    >>> chain_hinges([[0, 1.4, 0], [0, 1.1, -0.02], [0, 0.85, 0]], [0, 0, -1]).round(6).tolist()
    [[0.0, 0.0, 0.0], [-1.0, 0.0, 0.0]]
    """
    positions, aways = _chain(positions, aways)
    hinges = np.zeros((len(positions) - 1, 3))
    for joint, (bend, away) in enumerate(zip(chain_bends(positions, aways, straight), aways, strict=True), start=1):
        upper, lower = np.diff(positions[joint - 1 : joint + 2], axis=0)
        meant, normal = unit(np.cross(away, upper + lower), "the fold direction"), np.cross(upper, lower)
        told = np.hypot(bend.along, bend.sideways) > straight * bend.line
        hinges[joint] = unit(normal) * (1.0 if normal @ meant >= 0 else -1.0) if told else meant
    return hinges


def _chain(positions, aways) -> tuple[np.ndarray, np.ndarray]:
    positions, aways = require.points(positions, "a chain's joints"), rows(aways, "a fold direction")
    if len(positions) < 3 or aways.ndim > 2 or aways.shape not in ((3,), (len(positions) - 2, 3)):
        got = f"{len(positions)} joints and directions of shape {aways.shape}"
        raise RigError("three joints or more and a fold direction for each inner one", got, where="a chain")
    return positions, np.broadcast_to(aways, (len(positions) - 2, 3))


def toward_bend_target(root, target, bend_target) -> np.ndarray:
    """The side (..., 3) to which a bend target pulls the middle joint: a unit vector square to the line root-target.

    root, target, bend_target: (..., 3) metres. Zero where the bend target lies on that line: nothing tells the side
    then, and a target that passes there, through the line of sight, flips the limb over (`side_turns`).

    >>> toward_bend_target([0, 0, 0], [0, -0.5, 0], [0, -0.2, -1]).tolist()
    [0.0, 0.0, -1.0]
    """
    start = rows(root, "a root")
    line, pull = rows(target, "a target") - start, rows(bend_target, "a bend target") - start
    square, across = np.sum(line * line, axis=-1, keepdims=True), pull
    for _ in range(2):  # the second time for the digits that the first loses where the two nearly agree
        across = across - line * (np.sum(line * across, axis=-1, keepdims=True) / np.where(square > 0, square, 1.0))
    size = length(across)[..., None]
    told = size > NO_LENGTH * np.maximum(length(pull)[..., None], 1.0)
    return np.where(told, across / np.where(told, size, 1.0), 0.0)


def side_turns(root, targets, bend_target) -> np.ndarray:
    """How far the plane of a limb turns about its line at each step of a moving target: radians (k - 1,), 0 to pi.

    root, bend_target: (3,), targets: (k, 3), metres. The side is carried from line to line by the smallest rotation,
    so a target that stays far from the line of sight from root to bend target turns it little, and one that passes
    through it turns it by pi in one step: the limb flips. A target on the line of sight, or on the root, tells no side:
    the side told last is taken along, so the step to it counts zero and the next one tells how far it turned.

    >>> path = [[0, -0.3, -0.4], [0, 0.3, -0.4]]  # through the line of sight to a bend target behind
    >>> side_turns([0, 0, 0], path, [0, 0, -1]).round(6).tolist()
    [3.141593]
    """
    root, targets = require.vector(root, "a root"), require.points(targets, "a moving target")
    sides, lines = toward_bend_target(root, targets, require.vector(bend_target, "a bend target")), targets - root
    told = np.any(sides != 0.0, axis=-1) & (length(lines) >= NO_LENGTH)
    sides[~told] = 0.0
    for step in np.flatnonzero(~told[1:]) + 1:  # takes along the side told last, and on the root its line too
        lines[step] = lines[step] if length(lines[step]) >= NO_LENGTH else lines[step - 1]
        sides[step] = carried(sides[step - 1], lines[step - 1], lines[step])
    before, after = carried(sides[:-1], lines[:-1], lines[1:]), sides[1:]
    return np.arctan2(length(np.cross(before, after)), np.sum(before * after, axis=-1))


def carried(arrows: np.ndarray, start: np.ndarray, end: np.ndarray) -> np.ndarray:
    """Arrows (..., 3) turned as the smallest rotation turns direction start (..., 3) into direction end (..., 3).

    Unturned where start or end has no length. Opposite directions have no smallest rotation: the half turn about the
    arrow's own part across them is taken. Raises RigError for NaN.

    >>> carried(np.array([0.0, 0, 1]), np.array([0.0, 0, 1]), np.array([2.0, 0, 0])).tolist()
    [1.0, 0.0, 0.0]
    """
    arrows, start, end = (rows(x, "arrows to be carried", most=4.0 * FARTHEST) for x in (arrows, start, end))
    sizes = length(start)[..., None], length(end)[..., None]
    none = np.minimum(*sizes) < NO_LENGTH
    start, end = (way / np.where(none, 1.0, size) for way, size in zip((start, end), sizes, strict=True))
    cosine, axis = np.sum(start * end, axis=-1, keepdims=True), np.cross(start, end)
    about = axis * (np.sum(axis * arrows, axis=-1, keepdims=True) / np.maximum(1.0 + cosine, ROUND_OFF))
    halfway = arrows - 2.0 * start * np.sum(start * arrows, axis=-1, keepdims=True)
    turned = np.where(1.0 + cosine <= ROUND_OFF, halfway, cosine * arrows + np.cross(axis, arrows) + about)
    return np.where(none, arrows, turned)


def bend_side(root, middle, end, straight: float = STRAIGHT_SHARE) -> np.ndarray | None:
    """The unit direction (3,) in which the middle joint lies off its neighbours' line, or None if too straight."""
    root, middle, end = (require.vector(place, "a joint's place") for place in (root, middle, end))
    offset = off_line(middle, root, end)
    size, reach = float(length(offset)), float(length(end - root))
    return offset / size if size > require.number(straight, STRAIGHT_WITHIN, 0.0, 1.0) * reach else None


@dataclass(frozen=True, eq=False)
class Flexed:
    """A limb on its way: its goal (3,), and the poses that the solver may take.

    One pose where the rest bend tells the side; two, mirror images of each other, where it is too straight to tell.
    """

    goal: np.ndarray
    poses: tuple[TwoBone, ...]


def flex(root, middle, end, amount: float, straight: float = STRAIGHT_SHARE, away=None) -> Flexed:
    """Pull the end of a limb straight towards its root; the solver bends it the way its rest bend points.

    amount: 0 (rest) to 1 (bones folded by 140 degrees). Where the rest bend is too straight to tell there are two
    poses, towards `away` and against it (or towards the little bend there is). Bones keep their lengths; at 0 the
    pose is the rest pose itself: attaching a solver must not move the rest.

    >>> pulled = flex([0, 1.4, 0], [0, 1.1, -0.02], [0, 0.85, 0], 0.5)
    >>> bool(pulled.poses[0].middle[2] < -0.02)
    True
    """
    root, middle, end = (require.vector(place, "a joint's place") for place in (root, middle, end))
    amount = require.number(amount, "how far to flex", 0.0, 1.0)
    upper, lower = float(length(middle - root)), float(length(end - middle))
    rest = angle_between(middle - root, end - middle)
    fold = rest + amount * max(FOLDED_MOST - rest, 0.0)
    # The law of cosines by the half angle: nothing to cancel, so never the root of a number just below zero.
    reach = np.hypot(upper - lower, 2.0 * np.sqrt(upper * lower) * np.cos(fold / 2.0))
    goal = root + reach * unit(end - root, "the joints on either side of the bend")
    side = bend_side(root, middle, end, straight)
    if amount == 0.0:
        return Flexed(end, (TwoBone(middle, end, REACHED),))
    if side is not None:
        return Flexed(goal, (solve_two_bone(root, (upper, lower), goal, side),))
    either = off_line(middle, root, end) if away is None else require.vector(away, "the fold direction")
    return Flexed(goal, tuple(solve_two_bone(root, (upper, lower), goal, way) for way in (either, -either)))


def bone_rotation(rest_start, rest_end, start, end) -> np.ndarray:
    """The smallest rotation (3, 3) that carries a bone's rest direction to its direction now."""
    return rotation_between(np.asarray(rest_end) - rest_start, np.asarray(end) - start)
