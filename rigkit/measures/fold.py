"""Fold: how far a joint lies outside the stretch of limb that folds, along the limb; 0 inside it."""

from collections.abc import Mapping
from functools import lru_cache

import numpy as np

from rigkit.files.exercise import AskedJoint, Exercise
from rigkit.measures.base import Measurement, Placed, measured, three


def measure(asked: AskedJoint, where: Placed, exercise: Exercise) -> list[Measurement]:
    """station in mm along the limb's axis, in local radii, and its parts out, up, forward; nothing for a region."""
    if asked.stretch is None:
        return []
    size = float(np.linalg.norm(where.beyond))
    rows = [
        measured(asked.role, "station", 1000 * size, "mm"),
        *three(asked.role, "station", where.beyond, exercise),
        *_axes(exercise)[asked.role],
    ]
    if where.radius is not None:
        rows.append(measured(asked.role, "station-radius", size / where.radius, "radius"))
    return rows


@lru_cache(maxsize=8)
def _axes(exercise: Exercise) -> Mapping[str, list[Measurement]]:
    """The way up each stretch, by role: from the exercise."""
    ways = {one.role: one.stretch[0] - one.stretch[1] for one in exercise.joints if one.stretch is not None}
    return {role: three(role, "axis", way / np.linalg.norm(way), exercise, "share") for role, way in ways.items()}
