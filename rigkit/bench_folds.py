"""A limb pulled on the bench: skeleton (n, 3) and a pull -> folded limbs to draw, and the room that they need."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from rigkit.bench_parts import MM, Limb, bend_or_none
from rigkit.frames import Frame, rotation_about
from rigkit.kinematics import bone_rotation, flex, toward_bend_target
from rigkit.overlays import Fold
from rigkit.skeleton import Skeleton
from rigkit.skin import bend_skin, bone_frame, proximity_weights
from rigkit.two_bone import solve_two_bone
from rigkit.vectors import length, off_line, unit

BEFORE = 0.6  # of the line between the neighbours: how far ahead of the fold a bend target stands (common practice)


@dataclass(frozen=True)
class Pull:
    """How a limb is pulled. amount: 0 (rest) to 1, straight towards its root; aside: mm (out, up, forward) by which the
    goal is put beside that; target: degrees by which the bend target is turned about the limb's line, None without."""

    amount: float = 0.0
    aside: tuple[float, float, float] = (0.0, 0.0, 0.0)
    target: float | None = None

    @property
    def at_rest(self) -> bool:
        """Whether nothing is pulled."""
        return self.amount <= 0.0 and not any(self.aside)


def target_place(limb: Limb, skeleton: Skeleton, pull: Pull) -> np.ndarray | None:
    """Where the bend target stands, (3,): ahead of the fold, turned about the limb's line; None without one."""
    bend = bend_or_none(limb, skeleton)
    if pull.target is None or bend is None:
        return None
    root, middle, end = skeleton.positions[list(limb.triple)]
    line = unit(end - root)
    away = unit(limb.fold.away - limb.fold.away @ line * line)
    foot = middle - off_line(middle, root, end)
    return foot + BEFORE * bend.line * rotation_about(line, np.radians(pull.target)) @ away


def goal_of(limb: Limb, skeleton: Skeleton, pull: Pull) -> np.ndarray:
    """Where the end of the limb is pulled to, (3,)."""
    fold = limb.fold
    root, middle, end = skeleton.positions[list(limb.triple)]
    straight = flex(root, middle, end, pull.amount, fold.straight, fold.away)
    return straight.goal + np.array(pull.aside) / MM @ limb.body


@lru_cache(maxsize=16)  # plates, words and graphs ask for the same
def folds_of(limb: Limb, skeleton: Skeleton, pull: Pull) -> tuple[Fold, ...]:
    """The limb as it is pulled: none at rest, two where it is too straight to tell and no bend target tells.

    The skin hangs on the student's own joints, so a joint out of place folds the flesh where it was put.
    """
    bend = bend_or_none(limb, skeleton)
    if (pull.at_rest and pull.target is None) or bend is None:
        return ()
    root, middle, end = skeleton.positions[list(limb.triple)]
    fold, bones = limb.fold, (float(length(middle - root)), float(length(end - middle)))
    goal, target = goal_of(limb, skeleton, pull), target_place(limb, skeleton, pull)
    rest = off_line(middle, root, end)
    if target is not None:
        sides = [toward_bend_target(root, goal, target)]
        sides = sides if np.any(sides[0]) else [rest, -rest]
    elif bend.verdict == "too straight to tell":
        sides = [fold.away, -fold.away]
    else:
        sides = [rest]
    poses = [solve_two_bone(root, bones, goal, side) for side in sides]
    return tuple(_folded(limb, skeleton, pose.middle, pose.end, bend.verdict) for pose in poses)


def _folded(limb: Limb, skeleton: Skeleton, to_middle: np.ndarray, to_end: np.ndarray, verdict: str) -> Fold:
    root, middle, end = numbers = list(limb.triple)
    at = skeleton.positions
    upper = bone_rotation(at[root], at[middle], at[root], to_middle)
    lower = bone_rotation(at[middle], at[end], to_middle, to_end)
    stays = Frame(np.eye(3), np.zeros(3))
    frames = {"upper": bone_frame(at[root], at[root], upper), "lower": bone_frame(at[middle], to_middle, lower),
              "end": bone_frame(at[end], to_end, lower), "": stays}  # fmt: skip
    weights, moves = _skin(limb, skeleton.parents, tuple(map(tuple, at.tolist())))
    places = at.copy()
    for number in set(skeleton.branch(middle)) - set(numbers):
        places[number] = frames["lower"] @ places[number]
    places[middle], places[end] = to_middle, to_end
    skin = bend_skin(limb.exercise.mesh, weights, [frames[one] for one in moves])
    return Fold(skin.vertices, places, verdict)


@lru_cache(maxsize=8)  # while a limb is pulled its joints stay
def _skin(limb: Limb, parents: tuple[int | None, ...], joints: tuple) -> tuple[np.ndarray, tuple[str, ...]]:
    """Weights (n, k) of the skin on all bones there are, and for each bone what moves it: upper, lower, end or ""."""
    (root, middle, end), places, mesh = limb.triple, np.array(joints), limb.exercise.mesh
    skeleton = Skeleton(("",) * len(places), parents, places)
    under = set(skeleton.branch(end))
    bones, moves = [[places[root], places[middle]], [places[middle], places[end]]], ["upper", "lower"]
    if len(under) == 1:  # what lies beyond goes with the end
        below = unit(places[end] - places[middle], "the lower bone")
        reach = max(float(((mesh.vertices - places[end]) @ below).max()), 0.01)
        bones, moves = [*bones, [places[end], places[end] + below * reach]], [*moves, "end"]
    hanging = set(skeleton.branch(middle))
    for child, parent in enumerate(parents):
        if parent is not None and child not in (middle, end) and np.any(places[child] != places[parent]):
            bones.append([places[parent], places[child]])
            moves.append("end" if child in under else "lower" if child in hanging else "")
    bones += limb.still.tolist()
    return proximity_weights(mesh, np.array(bones)), (*moves, *[""] * len(limb.still))


def room_for(limb: Limb, skeleton: Skeleton) -> np.ndarray:
    """Points (k, 3) that plates must have room for: the limb as it may fold, either way."""
    if limb.folding is None:
        return np.zeros((0, 3))
    root, middle, end = limb.triple
    points = []
    for share in (0.03, -0.03):
        places = skeleton.positions.copy()
        for joint in limb.exercise.joints:
            if joint.role in limb.roles:
                places[limb.roles[joint.role]] = joint.middle
        size = float(np.linalg.norm(places[end] - places[root]))
        places[middle] += share * size * limb.fold.away - off_line(places[middle], places[root], places[end])
        for amount in (0.4, 0.7, 1.0):
            points += [fold.vertices for fold in folds_of(limb, skeleton.at(places), Pull(amount))]
    return np.concatenate(points)
