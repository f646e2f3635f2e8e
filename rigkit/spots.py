"""Spots: where a hand-in's joints lie within their own limb, so that joints laid in different limbs can be compared.

A spot is three numbers: how far a joint lies from where it is expected, along the limb, sideways and along its fold, as
shares of the length of its bones.
"""

from collections.abc import Mapping
from functools import lru_cache

import numpy as np

from rigkit.files.exercise import Exercise
from rigkit.matching import match
from rigkit.skeleton import Skeleton

DIGITS = 5  # of a share: a hundredth of a millimetre on an arm
NO_BONE = 0.1  # metres, for a joint without neighbours
Frame = tuple[np.ndarray, np.ndarray, float]


def spots_of(skeleton: Skeleton, exercise: Exercise) -> dict[str, tuple[float, float, float]]:
    """The spot of each joint that is there, by its role."""
    found = {}
    for role, joint in match(skeleton, exercise).joints.items():
        middle, axes, size = _frames(exercise)[role]
        one, two, three = (np.round(axes @ (skeleton.positions[joint] - middle) / size, DIGITS) + 0.0).tolist()
        found[role] = (one, two, three)
    return found


def placed_in(exercise: Exercise, spots: Mapping[str, tuple[float, float, float]]) -> dict[str, np.ndarray]:
    """The places (3,) that spots have in another limb of the same kind, metres, world frame, by role."""
    frames = _frames(exercise)
    return {role: frames[role][0] + frames[role][2] * np.array(spot) @ frames[role][1]
            for role, spot in spots.items() if role in frames}  # fmt: skip


@lru_cache(maxsize=4)
def _frames(exercise: Exercise) -> dict[str, Frame]:
    """For each role the place where it is expected, three axes as rows, and the length of its bones."""
    middles = {joint.role: joint.middle for joint in exercise.joints}
    frames = {}
    for joint in exercise.joints:
        here = middles[joint.role]
        above = middles[joint.parent] if joint.parent else here
        below = next((middles[one.role] for one in exercise.joints if one.parent == joint.role), here)
        bones = [size for end in (above, below) if (size := float(np.linalg.norm(end - here))) > 0]
        along = below - above
        along = along / np.linalg.norm(along) if bones and np.linalg.norm(along) > 0 else -exercise.body[1]
        ways = [exercise.body[2], exercise.body[0]] if joint.fold is None else [joint.fold.away, exercise.body[2]]
        away = next((way for way in ways if abs(float(way @ along)) < 0.9), exercise.body[1])
        away = away - along * (away @ along)
        away = away / np.linalg.norm(away)
        axes = np.array([along, np.cross(away, along), away])
        frames[joint.role] = here, axes, float(np.mean(bones)) if bones else NO_BONE
    return frames
