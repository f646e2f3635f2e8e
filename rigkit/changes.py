"""What differs between two skeletons of one limb: joints paired, then each difference with its amount and unit."""

from dataclasses import dataclass

import numpy as np

from rigkit.skeleton import Skeleton
from rigkit.tolerance import STORED
from rigkit.vectors import length

SAME_PLACE = 1e-4
"""Metres: a joint of another name this near to one that was lost is the same one, renamed (learner: no slider, and no
hand, sets two joints a tenth of a millimetre apart)."""
TURNED = 1e-3
"""Radians, a twentieth of a degree: what float32 quaternions and matrices leave of a turn is a hundredth of it."""


@dataclass(frozen=True)
class Change:
    """One difference. joint: its name before (after, where it is new). what: "moved" (metres), "turned" (radians),
    "renamed", "hung elsewhere", "gone", "new", "frame lost" or "frame new"; `told` says it in words."""

    joint: str
    what: str
    amount: float
    told: str


def paired(before: Skeleton, after: Skeleton) -> dict[int, int]:
    """Which joint of the one is which of the other: those of the same name, then those in the same place.

    Names that stand twice are told apart by their order.
    """
    pairs, left = {}, list(range(len(after)))
    for joint, name in enumerate(before.names):
        same = next((one for one in left if after.names[one] == name), None)
        if same is not None:
            pairs[joint] = same
            left.remove(same)
    for joint in (one for one in range(len(before)) if one not in pairs):
        gaps = length(after.positions[left] - before.positions[joint]) if left else np.array([np.inf])
        if gaps.min() <= SAME_PLACE:
            pairs[joint] = left.pop(int(np.argmin(gaps)))
    return pairs


def changes(before: Skeleton, after: Skeleton, least: float = STORED) -> tuple[Change, ...]:
    """All differences from one skeleton to the other, in the joints' order.

    least: metres; a joint that moved by no more than this (float32's rounding, unless said) stands where it was.

    >>> arm = Skeleton(["shoulder", "elbow"], [None, 0], [[0, 1.4, 0], [0.2, 1.2, 0]])
    >>> [(one.joint, one.what, round(one.amount, 6)) for one in changes(arm, arm.moved(1, [0.2, 1.2, -0.01]))]
    [('elbow', 'moved', 0.01)]
    """
    pairs, found = paired(before, after), []
    for joint, name in enumerate(before.names):
        if joint not in pairs:
            found.append(Change(name, "gone", 0.0, f"{name} is gone"))
            continue
        here = pairs[joint]
        shift = float(length(after.positions[here] - before.positions[joint]))
        if shift > least:
            found.append(Change(name, "moved", shift, f"{name} moved by {_millimetres(shift)}"))
        found += _turned(name, before.rotations[joint], after.rotations[here])
        if after.names[here] != name:
            found.append(Change(name, "renamed", 0.0, f"{name} is called {after.names[here]} now"))
        old, new = before.parents[joint], after.parents[here]
        if (None if old is None else pairs.get(old)) != new or (old is not None and old not in pairs):
            above = "nothing" if new is None else after.names[new]
            found.append(Change(name, "hung elsewhere", 0.0, f"{name} hangs below {above} now"))
    added = [one for one in range(len(after)) if one not in pairs.values()]
    return (*found, *(Change(after.names[one], "new", 0.0, f"{after.names[one]} is new") for one in added))


def _millimetres(shift: float) -> str:
    return f"{1000 * shift:.3g} mm" if shift < 1 else f"{1000 * shift:,.0f} mm"


def _turned(name: str, old: np.ndarray | None, new: np.ndarray | None) -> list[Change]:
    if old is None or new is None:
        known = (old is not None) - (new is not None)
        words = {1: "lost", -1: "new"}
        return [Change(name, f"frame {words[known]}", 0.0, f"{name}'s frame is {words[known]}")] if known else []
    apart, summed = sorted(
        (float(length(old - new)), float(length(old + new)))
    )  # a quaternion and its negative are one
    angle = 4.0 * float(np.arctan2(apart, summed))
    return [Change(name, "turned", angle, f"{name} turned by {np.degrees(angle):.3g}°")] if angle > TURNED else []
