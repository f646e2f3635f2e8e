"""Which handed-in joint is which: roles to joint numbers, by place and tree; names only break near-ties."""

import fnmatch
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from rigkit.files.exercise import Exercise
from rigkit.frames import mirror_matrix
from rigkit.skeleton import Skeleton

REACH = 0.5  # a role looks for its joint within this share of the way to the nearest other role; then the tree is asked
IN_PLACE = 0.12  # the same, for a joint whose name says that it was not asked for: 40 mm at an arm's shoulder
OTHER_SIDE = 0.5  # nearer to the mirrored places than to the asked ones, by half
HINT = 0.02  # what a hint of tree or name weighs, in shares of the limb: 10 mm on an arm, so that place decides


@dataclass(frozen=True)
class Match:
    """`joints` gives each role its joint's number (roles that were not found are left out); `others` are the rest.

    `ignored` are those of the others whose name fits one of the exercise's patterns.
    """

    joints: Mapping[str, int]
    others: tuple[int, ...]
    ignored: frozenset[int]


def match(skeleton: Skeleton, exercise: Exercise) -> Match:
    """Match the joints of a hand-in to the roles of an exercise.

    First the assignment of least total distance (shares of the limb, each role within its reach), then leftover joints
    to leftover roles where the tree says so. Joints that fit an `ignored` pattern by name stand aside, but where one
    lies in a role's place and none does better, it is that joint under a wrong name.
    """
    from scipy.optimize import linear_sum_assignment

    asked = [joint for joint in exercise.joints if joint.need != "ignored"]
    aside = np.array([_fits(name, exercise) for name in skeleton.names])
    middles = np.array([joint.middle for joint in asked])
    gaps = np.linalg.norm(middles[:, None] - middles[None], axis=2)
    limb = max(float(gaps.max()), 1e-6) if len(asked) > 1 else max(4 * (asked[0].radius or 0.05), 1e-6)
    nearest = np.where(gaps > 0, gaps, np.inf).min(axis=1)
    near = np.where(np.isfinite(nearest), nearest, limb)[:, None] / limb
    away = np.linalg.norm(middles[:, None] - skeleton.positions[None], axis=2) / limb
    hints = np.array([[_doubt(skeleton, i, joint, exercise) for i in range(len(skeleton))] for joint in asked])
    cost = np.where(away <= np.where(aside, IN_PLACE, REACH) * near, away + HINT * (hints + 2.0 * aside), 1e6)
    nobody = np.where(np.eye(len(asked), dtype=bool), 2.0 * REACH * near + 3 * HINT, 1e6)
    joints: dict[str, int] = {}
    for row, column in zip(*linear_sum_assignment(np.hstack([cost, nobody])), strict=True):
        if column < len(skeleton) and cost[row, column] < 1e6:
            joints[asked[row].role] = int(column)
    left = [i for i in range(len(skeleton)) if i not in joints.values() and not aside[i]]
    _by_tree(skeleton, asked, joints, left, away)
    if _on_the_other_side(skeleton, asked, joints, exercise):
        joints = {}
    order = [joint.role for joint in asked if joint.role in joints]
    others = tuple(i for i in range(len(skeleton)) if i not in joints.values())
    return Match({role: joints[role] for role in order}, others, frozenset(i for i in others if aside[i]))


def _on_the_other_side(skeleton: Skeleton, asked: list, joints: dict, exercise: Exercise) -> bool:
    """Whether the joints lie, on the whole, where the other side's would: a limb laid in the wrong one is none here."""
    found = [joint for joint in asked if joint.role in joints]
    if exercise.side == "middle" or len(found) < 2:
        return False
    places = skeleton.positions[[joints[joint.role] for joint in found]]
    middles, left = np.array([joint.middle for joint in found]), exercise.body[0]
    own, other = (np.linalg.norm(places - m, axis=1).sum() for m in (middles, middles @ mirror_matrix(left)))
    return bool(other < OTHER_SIDE * own)


def _fits(name: str, exercise: Exercise) -> bool:
    low = name.lower()
    return any(fnmatch.fnmatchcase(low, pattern.lower()) for pattern in exercise.ignored)


def _doubt(skeleton: Skeleton, i: int, joint, exercise: Exercise) -> float:
    """0 where tree and name speak for this joint, up to 3 where they speak against it."""
    doubt = 0.0
    if joint.parent is not None and skeleton.parents[i] is None:
        doubt += 1.0
    if any(other.parent == joint.role for other in exercise.joints) and not skeleton.children(i):
        doubt += 1.0
    if skeleton.names[i] != exercise.naming.name_for(joint.role, exercise.side_of(joint.role)):
        doubt += 1.0
    return doubt


def _by_tree(skeleton: Skeleton, asked: list, joints: dict, left: list[int], away: np.ndarray) -> None:
    """Give roles that found nobody near them a leftover joint below their parent's or above their child's."""
    for row, joint in enumerate(asked):
        if joint.role in joints:
            continue
        above = joints.get(joint.parent) if joint.parent else None
        below = {joints[other.role] for other in asked if other.parent == joint.role and other.role in joints}
        fitting = [
            i for i in left
            if (above is not None and skeleton.parents[i] == above and not below)
            or (below and below <= set(skeleton.children(i)) and above in (None, skeleton.parents[i]))
        ]  # fmt: skip
        if not fitting and len(left) == 1 and not below and above is None:
            fitting = left[:]
        if fitting:
            best = min(fitting, key=lambda i: (away[row, i], skeleton.names[i]))
            joints[joint.role] = best
            left.remove(best)
