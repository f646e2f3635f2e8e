"""Centring: how far a joint (3,) lies from the middle of the flesh, or of its region, and which way."""

from collections.abc import Mapping
from functools import lru_cache

import numpy as np

from rigkit.files.exercise import AskedJoint, Exercise
from rigkit.measures.base import Measurement, Placed, measured, own, three
from rigkit.vectors import along_and_across, unit


def measure(asked: AskedJoint, where: Placed, point: np.ndarray, exercise: Exercise) -> list[Measurement]:
    """offset in mm and in local radii; its parts out, up, forward, along the fold and across it; radius; state;
    ring-stretch, how far along the fold from the middle the limb as modelled bends rightly.

    Where no middle can be told (no flesh, an open mesh) there is the state, and home, the way from the joint (3,) to
    the middle half-way down its stretch.
    """
    role = asked.role
    rows = [measured(role, "place", asked.place, "text"), measured(role, "state", where.state, "text")]
    if where.offset is None or where.radius is None:
        return [*rows, *three(role, "home", own(exercise)[role].middle - point, exercise)]
    size = float(np.linalg.norm(where.offset))
    rows += [
        measured(role, "offset", 1000 * size, "mm"),
        measured(role, "offset-radius", size / where.radius, "radius"),
        measured(role, "radius", 1000 * where.radius, "mm"),
        *three(role, "offset", where.offset, exercise),
    ]
    if asked.fold is not None:
        away, known = _folds(exercise)[role]
        along, across = along_and_across(where.offset, away)
        rows += [
            measured(role, "offset-along-fold", 1000 * along, "mm"),
            measured(role, "offset-across-fold", 1000 * float(np.linalg.norm(across)), "mm"),
            *known,
        ]
    return rows


@lru_cache(maxsize=8)
def _folds(exercise: Exercise) -> Mapping[str, tuple[np.ndarray, list[Measurement]]]:
    """The fold direction (3,) of each joint that folds, in its measuring plane, and what the exercise tells of it."""
    found = {}
    for one in exercise.joints:
        if one.fold is not None:
            away = one.fold.away
            if one.plane is not None:
                away = unit(along_and_across(away, one.plane)[1], "the fold direction in the measuring plane")
            stretch = measured(one.role, "ring-stretch", 1000 * ring_stretch(exercise, one.role), "mm")
            found[one.role] = away, [stretch, *three(one.role, "fold-away", away, exercise, "share")]
    return found


def ring_stretch(exercise: Exercise, role: str) -> float:
    """Metres along the fold from a joint's own middle to the nearest place where the limb bends rightly, its
    neighbours at their own middles: 0 but on a limb modelled too straight or too bent. No hand-in goes in."""
    fold, here = exercise.asked(role).fold, own(exercise)[role]
    if fold is None or here.bend is None:
        return 0.0
    return min(max(here.bend, fold.least * here.line), fold.most * here.line) - here.bend
