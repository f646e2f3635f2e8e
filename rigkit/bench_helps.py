"""Helps that come after an own try: a joint put by a line of sight or by its slice, and what each of them got wrong.

Places (3,) in metres, world frame; words in millimetres.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rigkit.bench_parts import Limb, placed_joint
from rigkit.mends import half_up
from rigkit.picture import standard_view
from rigkit.sight import middle_of_sight
from rigkit.skeleton import Skeleton
from rigkit.slices import MM

SIGHT, SLICE = "sight", "slice"


@dataclass(frozen=True, eq=False)
class Help:
    """Where a help would put a joint, (3,), or None; what it says."""

    place: np.ndarray | None
    words: str


def help_by(way: str, limb: Limb, skeleton: Skeleton, role: str, tried: bool) -> Help:
    """Where a line of sight, or the slice, would put a joint, beside where the student has it.

    tried: whether the student has moved it; before that nothing is told.
    """
    if not tried:
        return Help(None, f"? not yet: lay the {role} yourself first; then see what the {way} says.")
    point = skeleton.positions[limb.roles[role]]
    place = by_sight(limb, point) if way == SIGHT else by_slice(limb, skeleton, role)
    if place is None:
        why = "looking from the front and from the side, there is no flesh at the joint"
        if way == SLICE:
            why = "the slice there runs into other flesh, or meets none; landmarks decide"
        return Help(None, f"? cannot tell: {why}.")
    yours, theirs = (_off(limb, skeleton, role, one) for one in (point, place))
    how = "By lines of sight from the front and the side" if way == SIGHT else "By its slice"
    told = (
        f"{how} the {role} would lie {half_up(MM * float(np.linalg.norm(place - point))):g} mm from where you had it."
    )
    if yours is None or theirs is None:
        return Help(place, told)
    told += f" Yours was {half_up(yours):g} mm from its middle, this is {half_up(theirs):g} mm."
    if way == SIGHT and theirs >= 1:
        told += " A line of sight errs where the limb is seen at a slant or other flesh lies behind."
    return Help(place, told)


def by_sight(limb: Limb, point: np.ndarray) -> np.ndarray | None:
    """The joint put half-way through the flesh as seen from the side, then from the front; None where one sees none."""
    place = point
    for name in ("side", "front"):
        seen = middle_of_sight(limb.exercise.mesh, place, standard_view(name, limb.exercise.side).toward)
        if seen.middle is None:
            return None
        place = seen.middle
    return place


def by_slice(limb: Limb, skeleton: Skeleton, role: str) -> np.ndarray | None:
    """The joint put to the middle of its slice; None for a region, and where no middle can be told."""
    where = placed_joint(limb, skeleton, role)
    if limb.exercise.asked(role).place == "region" or where.offset is None:
        return None
    return skeleton.positions[limb.roles[role]] - where.offset


def _off(limb: Limb, skeleton: Skeleton, role: str, place: np.ndarray) -> float | None:
    """How far from its middle a joint would lie at a place, mm."""
    where = placed_joint(limb, skeleton.moved(limb.roles[role], place), role)
    return None if where.offset is None else MM * float(np.linalg.norm(where.offset))
