"""Solvers for chains of any length, many chains at once: joint places (..., k, 3) in metres, targets (..., 3).

A step-by-step solver sees where the joints are and moves them until the last one meets its target. Which side a limb
folds to comes from the rest it starts from, unless its hinges have limits. A chain that is there already stays.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np

from rigkit import require
from rigkit.kinematics import carried, toward_bend_target
from rigkit.require import RigError
from rigkit.tolerance import NO_LENGTH, ROUND_OFF
from rigkit.two_bone import rows, solve_two_bones
from rigkit.vectors import length

CLOSE = 1e-6
"""Metres: a micrometre from the target is reached (learner: far below what a screen shows)."""
DAMPING, STRIDE, NEAR = 0.06, 0.2, 0.1
"""Of damped least squares, as shares of a chain's length: the damping, the longest step, and how near to the target the
damping fades. Measured: of 1,000 targets all over its reach an arm then missed none; without the last two 13 to 42."""
INSIDE = np.radians([1.0, 20.0])
"""A hinge with limits sets out at least the first angle inside them, for on a limit nothing leads off a line; a chain
that is stuck on its limits sets out again, the second angle inside."""


@dataclass(frozen=True, eq=False)
class Solved:
    """Places (..., k, 3) of the solved chains, metres, and how far (...,) each end still is from its target.

    hinges: the axes (..., k - 1, 3) that were given, carried along to where they are now; zero for free joints.
    """

    positions: np.ndarray
    missed: np.ndarray
    hinges: np.ndarray


class _Chains:
    """Chains on their way: places (n, k, 3), hinge axes (n, k - 1, 3), goals (n, 3), bone lengths (n, k - 1)."""

    def __init__(self, positions, targets, hinges=None):
        places, goals = rows(positions, "a chain's joints"), rows(targets, "a target")
        axes = rows(np.zeros(3) if hinges is None else hinges, "a hinge")
        if places.ndim < 2 or places.shape[-2] < 2:
            raise RigError("chains of at least two joints, (..., k, 3)", f"shape {places.shape}", where="a solver")
        joints = places.shape[-2]
        try:
            self.shape = np.broadcast_shapes(places.shape[:-2], goals.shape[:-1])
            axes = np.broadcast_to(axes, (*self.shape, joints - 1, 3)).reshape(-1, joints - 1, 3)
        except ValueError:
            got = f"shapes {places.shape}, {goals.shape} and {axes.shape}"
            raise RigError("a target for each chain, a hinge for each bone", got, where="a solver") from None
        self.places = np.array(np.broadcast_to(places, (*self.shape, joints, 3))).reshape(-1, joints, 3)
        self.goals = np.broadcast_to(goals, (*self.shape, 3)).reshape(-1, 3)
        self.lengths = length(np.diff(self.places, axis=1))
        if self.lengths.size and self.lengths.min() < NO_LENGTH:
            raise RigError("bones with a length", "two joints in one place", where="a solver")
        size = length(axes)[..., None]
        self.axes = np.where(size < NO_LENGTH, 0.0, axes / np.maximum(size, NO_LENGTH))

    def busy(self) -> np.ndarray:
        """Numbers of the chains that are not there yet."""
        return np.flatnonzero(length(self.places[:, -1] - self.goals) >= CLOSE)

    def solve(self, step: Callable, most: int) -> Solved:
        """Repeat a step (places, axes, goals, lengths), which moves its first two, on the chains not there yet."""
        for _ in range(most):
            if not len(busy := self.busy()):
                break
            places, axes = self.places[busy], self.axes[busy]
            step(places, axes, self.goals[busy], self.lengths[busy])
            self.places[busy], self.axes[busy] = places, axes
        missed = length(self.places[:, -1] - self.goals).reshape(self.shape)
        places, axes = (array.reshape(*self.shape, *array.shape[1:]) for array in (self.places, self.axes))
        return Solved(places, missed, axes)


def _reach(start: np.ndarray, towards: np.ndarray, size: np.ndarray, spare: np.ndarray) -> np.ndarray:
    """The points at a bone's length from start towards others, or along a spare arrow where the two coincide."""
    arrow = towards - start
    arrow = np.where(length(arrow)[:, None] < NO_LENGTH, spare, arrow)
    return start + arrow * (size / length(arrow))[:, None]


def _back_and_forth(places, axes, goals, lengths) -> None:
    bones, root = np.diff(places, axis=1), places[:, 0].copy()
    places[:, -1] = goals
    for j in range(bones.shape[1] - 1, -1, -1):
        places[:, j] = _reach(places[:, j + 1], places[:, j], lengths[:, j], -bones[:, j])
    places[:, 0] = root
    for j in range(bones.shape[1]):
        places[:, j + 1] = _reach(places[:, j], places[:, j + 1], lengths[:, j], bones[:, j])


def fabrik(positions, targets, aimed: bool = False, most: int = 250) -> Solved:
    """Forward and backward reaching: the chain is laid from the target back, then from its root forth, and again.

    aimed: first swing the whole chain so that its end points at the target. A chain in one plane then stays in one,
    so hinges square to that plane stay hinges; reaching knows no others. Bones keep their lengths; a straight chain
    whose target lies on its own line stays straight. Aristidou & Lasenby, "FABRIK: a fast, iterative solver for the
    inverse kinematics problem", Graphical Models 73, 2011.

    >>> chain = [[0, 0, 0], [0.3, 0.02, 0], [0.55, 0, 0]]
    >>> bool(fabrik(chain, [0.4, 0, 0]).missed < 1e-4)
    True
    """
    chains = _Chains(positions, targets)
    if aimed and len(busy := chains.busy()):
        root, places = chains.places[busy, :1], chains.places[busy, 1:]
        chains.places[busy, 1:] = root + carried(places - root, places[:, -1:] - root, chains.goals[busy, None] - root)
    return chains.solve(_back_and_forth, most)


def _turn(places: np.ndarray, axes: np.ndarray, j: int, axis: np.ndarray, angle: np.ndarray) -> None:
    """Turn all below joint j of chains by angles (n,) about unit axes (n, 3) through it (Rodrigues)."""
    cos, sin, axis = np.cos(angle)[:, None, None], np.sin(angle)[:, None, None], axis[:, None, :]
    for arrows, start in ((places[:, j + 1 :], places[:, j : j + 1]), (axes[:, j + 1 :], 0.0)):
        old = arrows - start
        along = np.sum(old * axis, axis=-1, keepdims=True) * axis
        arrows[:] = start + cos * old + sin * np.cross(axis, old) + (1.0 - cos) * along


def _angle_about(axis: np.ndarray, start: np.ndarray, end: np.ndarray) -> np.ndarray:
    """Angles (...,) about unit axes from one arrow to another, as seen along the axis."""
    flat = np.sum(start * end, axis=-1) - np.sum(start * axis, axis=-1) * np.sum(end * axis, axis=-1)
    return np.arctan2(np.sum(np.cross(start, end) * axis, axis=-1), flat)


def _one_by_one(places, axes, goals, lengths) -> None:
    for j in range(axes.shape[1] - 1, -1, -1):
        to_end, to_goal = places[:, -1] - places[:, j], goals - places[:, j]
        normal = np.cross(to_end, to_goal)
        size = length(normal)[:, None]
        free = np.where(size < NO_LENGTH**2, 0.0, normal / np.maximum(size, NO_LENGTH**2))
        axis = np.where(np.any(axes[:, j] != 0.0, axis=-1)[:, None], axes[:, j], free)  # none where all is in line
        _turn(places, axes, j, axis, np.where(length(axis) > 0.5, _angle_about(axis, to_end, to_goal), 0.0))


def cyclic_descent(positions, targets, hinges=None, most: int = 250) -> Solved:
    """Cyclic coordinate descent: from the last joint to the root, each turns so that the end points at the target.

    hinges: axes (..., k - 1, 3) at the start, one for each joint but the last, zero for one that turns freely (as from
    `chain_hinges`); a hinge keeps its angles to both its bones and is carried along by the joints above it. It has no
    limits: with them it stuck short of a quarter to two thirds of targets (measured); `damped_least_squares` has some.
    Wang & Chen, "A combined optimization method for solving the inverse kinematics problem", 1991 (from memory).
    """
    return _Chains(positions, targets, hinges).solve(_one_by_one, most)


def _flexion(places: np.ndarray, axes: np.ndarray) -> np.ndarray:
    """Flexion (n, k - 1) of each joint about its axis; zero at the root, which has no bone above it."""
    bones = np.diff(places, axis=1)
    return np.pad(_angle_about(axes[:, 1:], bones[:, :-1], bones[:, 1:]), ((0, 0), (1, 0)))


def _all_together(places, axes, goals, lengths, low, high) -> None:
    hinged, flexion, total = np.any(axes != 0.0, axis=-1), _flexion(places, axes), lengths.sum(axis=1)
    # A free joint may turn about x, y and z; a hinge has its one axis and two that do nothing.
    turns = np.where(hinged[..., None, None], axes[:, :, None] * np.eye(3)[:, :1], np.eye(3))
    columns = np.cross(turns, (places[:, -1:] - places[:, :-1])[:, :, None])
    gap = length(goals - places[:, -1])
    error = (goals - places[:, -1]) * np.minimum(1.0, STRIDE * total / gap)[:, None]
    damping = (DAMPING * total) ** 2 * np.minimum(1.0, gap / (NEAR * total))
    for _ in range(2):  # again without hinges that push on against their limits, or the others go astray
        flat = columns.reshape(len(places), -1, 3)
        square = np.swapaxes(flat, 1, 2) @ flat + damping[:, None, None] * np.eye(3)
        steps = (flat @ np.linalg.solve(square, error[..., None])).reshape(columns.shape[:3])
        room = np.where(steps[..., 0] < 0, flexion - low, high - flexion)
        columns = np.where((hinged & (room < ROUND_OFF))[..., None, None], 0.0, columns)
    free = length(steps)
    angles = np.where(hinged, np.clip(flexion + steps[..., 0], low, high) - flexion, free)
    for j in range(axes.shape[1]):  # from the root down; each turn carries the axes of the joints below it along
        axis = np.where(hinged[:, j, None], axes[:, j], steps[:, j] / np.maximum(free[:, j], NO_LENGTH)[:, None])
        _turn(places, axes, j, axis, angles[:, j])


def damped_least_squares(positions, targets, hinges=None, limits=None, most: int = 120) -> Solved:
    """Damped least squares: all joints turn together by the step that brings the end nearest for the least turning.

    hinges as for `cyclic_descent`. limits: least and most flexion, radians, of the hinges below the root; (0, pi) lets
    a limb fold the right way only, whatever its rest; as near to its target as they let it, it stops: `missed` tells.
    Wampler, "Manipulator inverse kinematic solutions based on vector formulations and damped least-squares methods",
    1986 (from memory).
    """
    chains = _Chains(positions, targets, hinges)
    least, most_flexed = (-np.inf, np.inf) if limits is None else (require.number(x, "a limit", -7, 7) for x in limits)
    if not most_flexed - least > 2.0 * INSIDE[-1]:
        raise RigError("a least flexion well below the most", require.shown(limits), where="a hinge's limits")
    below = chains.axes.shape[1] - 1  # the root has no bone above it to flex from
    low, high = np.append(-np.inf, np.full(below, least)), np.append(np.inf, np.full(below, most_flexed))
    for inside in INSIDE[: 1 if limits is None else 2]:
        busy = chains.busy()
        places, axes = chains.places[busy], chains.axes[busy]
        now = _flexion(places, axes)
        angles = np.where(np.any(axes != 0.0, axis=-1), np.clip(now, low + inside, high - inside) - now, 0.0)
        for j in range(1, axes.shape[1]):
            _turn(places, axes, j, axes[:, j], angles[:, j])
        chains.places[busy], chains.axes[busy] = places, axes
        solved = chains.solve(partial(_all_together, low=low, high=high), most)
    return solved


def closed_form(positions, targets, bend_target=None) -> Solved:
    """The two-bone solve for chains of three joints, the side taken from the rest bend as it swings with the line.

    However small the bend: a limb bent by a hair the wrong way folds the wrong way; a straight one stays stuck.
    bend_target: (..., 3) metres, tells the side instead, whatever the rest (`toward_bend_target`).
    """
    chains = _Chains(positions, targets)
    if chains.places.shape[1] != 3:
        raise RigError("chains of three joints", f"{chains.places.shape[1]} joints", where="the two-bone solve")
    if bend_target is None:
        _, middle, end = (chains.places[:, j : j + 1] - chains.places[:, :1] for j in range(3))
        line = end / np.maximum(length(end), NO_LENGTH)[..., None]
        off = middle - line * np.sum(line * middle, axis=-1, keepdims=True)
        side = carried(off, end, chains.goals[:, None] - chains.places[:, :1])[:, 0]
    else:
        pulls = rows(bend_target, "a bend target")
        if pulls.ndim > 1 and pulls.shape[:-1] != chains.shape:
            raise RigError("one bend target, or one for each chain", f"shape {pulls.shape}", where="a solver")
        side = toward_bend_target(chains.places[:, 0], chains.goals, pulls.reshape(-1, 3))
    poses = solve_two_bones(chains.places[:, 0], chains.lengths, chains.goals, side)
    chains.places[:, 1], chains.places[:, 2] = poses.middles, poses.ends
    return chains.solve(_back_and_forth, 0)


def moved_by_attaching(solver: Callable[..., Solved], positions, bend_target=None) -> tuple[np.ndarray, np.ndarray]:
    """Attach a solver to rests (..., k, 3), each with its target where its end is, and measure what that moves.

    Returns how far joints moved, metres, and bones turned, radians: the most of each chain, (...,). The step-by-step
    solvers give zero by construction: they leave alone a chain that is there. The closed form solves anew; without a
    bend target, its side is that of the rest, and what is measured is its round-off. With one, (..., 3) metres (closed
    form only, else RigError), it is what a bend target out of the rest's plane really does: it swings the elbow there.

    >>> metres, radians = moved_by_attaching(closed_form, [[0, 0, 0], [0, -0.3, -0.02], [0, -0.55, 0]])
    >>> round(float(1000 * metres), 6), round(float(np.degrees(radians)), 6)
    (0.0, 0.0)
    """
    before = rows(positions, "a chain's joints")
    if bend_target is not None and solver is not closed_form:
        raise RigError("the closed form, which alone takes a bend target", "another solver", where="a bend target")
    pull = {} if bend_target is None else {"bend_target": bend_target}
    after = solver(before, before[..., -1, :], **pull).positions
    old, new = np.diff(before, axis=-2), np.diff(after, axis=-2)
    turned = np.arctan2(length(np.cross(old, new)), np.sum(old * new, axis=-1))
    return length(after - before).max(axis=-1), turned.max(axis=-1)
