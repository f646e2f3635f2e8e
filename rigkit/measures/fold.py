"""Fold: how far a joint lies outside the stretch of limb that folds, along the limb; 0 inside it."""

import numpy as np

from rigkit.files.exercise import AskedJoint, Exercise
from rigkit.measures.base import Measurement, Placed, measured, three


def measure(asked: AskedJoint, where: Placed, exercise: Exercise) -> list[Measurement]:
    """station in mm along the limb's axis, in local radii, and its parts out, up, forward; nothing for a region."""
    if asked.stretch is None:
        return []
    size = float(np.linalg.norm(where.beyond))
    upward = (asked.stretch[0] - asked.stretch[1]) / np.linalg.norm(asked.stretch[0] - asked.stretch[1])
    rows = [
        measured(asked.role, "station", 1000 * size, "mm"),
        *three(asked.role, "station", where.beyond, exercise),
        *three(asked.role, "axis", upward, exercise, "share"),
    ]
    if where.radius is not None:
        rows.append(measured(asked.role, "station-radius", size / where.radius, "radius"))
    return rows
