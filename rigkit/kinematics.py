"""Which way a limb of two bones folds: its rest bend, the closed-form solve, and pulling the hand to the root.

Three joints: root, middle, end (shoulder, elbow, wrist), places (3,) in metres, world frame.
"""

from dataclasses import dataclass

import numpy as np

from rigkit import require
from rigkit.frames import rotation_between
from rigkit.require import RigError
from rigkit.tolerance import NO_LENGTH, ROUND_OFF, STRAIGHT_SHARE
from rigkit.vectors import along_and_across, angle_between, any_square_to, length, off_line, unit

RIGHT, WRONG, STRAIGHT = "right way", "wrong way", "too straight to tell"
REACHED, TOO_FAR, TOO_NEAR, STUCK = "reached", "too far", "too near", "no way to bend"
FOLDED_MOST = np.radians(140.0)
"""How far `flex` folds a limb: within the elbow's 143 to 160 degrees (Boone & Azen 1979; Merck Manual)."""


@dataclass(frozen=True)
class RestBend:
    """How a middle joint lies off the line of its neighbours.

    along: metres off the line along the fold direction; positive is the right way. sideways: metres off it out of
    the fold plane, signed. line: distance between the neighbours, metres. flexion: angle between the two bones'
    directions, radians, 0 when straight. verdict: "right way", "wrong way" or "too straight to tell".
    """

    along: float
    sideways: float
    line: float
    flexion: float
    verdict: str

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
    line = unit(end - root, "the joints on either side of the bend")
    away = unit(along_and_across(require.direction(away, "the fold direction"), line)[1], "the fold direction")
    offset = off_line(middle, root, end)
    along = float(offset @ away)
    reach = float(length(end - root))
    verdict = STRAIGHT if abs(along) <= straight * reach else RIGHT if along > 0 else WRONG
    flexion = angle_between(middle - root, end - middle)
    return RestBend(along, float(offset @ np.cross(line, away)), reach, flexion, verdict)


@dataclass(frozen=True, eq=False)
class TwoBone:
    """A solved limb: places (3,) of middle and end in metres, and how it went.

    state: "reached"; "too far" and "too near" (the nearest that can be reached is taken); "no way to bend" (nothing
    says to which side: the limb stays straight along the line to its goal).
    """

    middle: np.ndarray
    end: np.ndarray
    state: str


def solve_two_bone(root, lengths, target, toward) -> TwoBone:
    """Place middle and end of a limb so that its end meets a target, in closed form.

    root, target: (3,) metres. lengths: upper and lower bone, metres, both above zero. toward: direction (3,) to
    which the middle joint shall lie off the line from root to target (from the rest layout or a bend target), or
    None when nothing tells: then the limb stays straight.

    Law of cosines; the middle lies on the circle of Tolani, Goswami & Badler, "Real-time inverse kinematics
    techniques for anthropomorphic limbs", Graphical Models 62, 2000. Raises RigError for bones without length.

    >>> pose = solve_two_bone([0, 0, 0], (4, 3), [5, 0, 0], toward=[0, 1, 0])
    >>> [round(float(x), 6) for x in pose.middle]
    [3.2, 2.4, 0.0]
    """
    root, target = require.vector(root, "the root's place"), require.vector(target, "the target")
    upper, lower = (require.number(x, "a bone's length", least=0.0) for x in lengths)
    if min(upper, lower) < NO_LENGTH:
        raise RigError("two bones with a length", f"{upper:g} m and {lower:g} m", "two joints coincide")
    gap = float(length(target - root))
    bend = None if toward is None else require.vector(toward, "the side to bend to")
    if gap >= NO_LENGTH:
        line = (target - root) / gap
    else:  # the target is the root itself: any line square to the bend does as well
        line = np.array([0.0, -1.0, 0.0]) if bend is None else any_square_to(unit(bend))
    side = np.zeros(3) if bend is None else along_and_across(bend, line)[1]
    near, far = abs(upper - lower), upper + lower
    reach = min(max(gap, near), far)
    state = REACHED
    if gap > far * (1 + ROUND_OFF):
        state = TOO_FAR
    elif gap < near - far * ROUND_OFF:
        state = TOO_NEAR
    if length(side) < NO_LENGTH and near < reach < far * (1 - ROUND_OFF):
        return TwoBone(root + upper * line, root + far * line, STUCK)
    along = (reach * reach + (upper - lower) * far) / (2.0 * reach) if reach > NO_LENGTH else 0.0
    # (upper - along)(upper + along), each factor without cancellation near full reach
    height = np.sqrt(max((upper - along) * (upper + along), 0.0))
    side = side / length(side) if length(side) >= NO_LENGTH else side
    return TwoBone(root + along * line + height * side, root + reach * line, state)


def bend_side(root, middle, end, straight: float = STRAIGHT_SHARE) -> np.ndarray | None:
    """The unit direction (3,) in which the middle joint lies off its neighbours' line, or None if too straight."""
    offset = off_line(np.asarray(middle, float), np.asarray(root, float), np.asarray(end, float))
    size = float(length(offset))
    reach = float(length(np.asarray(end, float) - np.asarray(root, float)))
    return offset / size if size > straight * reach else None


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
    reach = np.sqrt(upper**2 + lower**2 + 2.0 * upper * lower * np.cos(fold))
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
