"""Measures: a layout and an exercise give Measurements of every joint, the good ones too; no tolerance in here."""

from rigkit.files.exercise import Exercise
from rigkit.files.layout import Layout
from rigkit.matching import match
from rigkit.measures import bend, centring, fold, frames, mirror, names, structure, twists
from rigkit.measures.base import Measurement, placed

__all__ = ["Measurement", "measure_all"]


def measure_all(layout: Layout, exercise: Exercise) -> tuple[Measurement, ...]:
    """Everything that is measured of a hand-in: structure, twist joints, centring, station, bend, frames, names
    and mirror.

    Example: `measure_all(exercise.key, exercise)` holds `Measurement("elbow", "bend-verdict", "right way", "text")`.
    """
    skeleton = layout.skeleton
    matched = match(skeleton, exercise)
    found = [joint for joint in exercise.joints if joint.role in matched.joints]
    places = {joint.role: skeleton.positions[matched.joints[joint.role]] for joint in found}
    where = {joint.role: placed(exercise, joint, places[joint.role]) for joint in found}
    rows = structure.measure(skeleton, exercise, matched, {role: one.radius for role, one in where.items()})
    rows += twists.measure(skeleton, exercise, matched)
    for joint in found:
        rows += centring.measure(joint, where[joint.role], places[joint.role], exercise)
        rows += fold.measure(joint, where[joint.role], exercise)
        rows += bend.measure(joint, places, exercise)
    rows += names.measure({joint.role: skeleton.names[matched.joints[joint.role]] for joint in found}, exercise)
    rows += frames.measure(skeleton, exercise, matched)
    rows += frames.stretched(layout.bases, exercise, matched)
    rows += mirror.measure(skeleton, exercise, matched)
    return tuple(rows)
