"""Measurements: one number with a unit, or one word, for one joint; no opinion. Lengths in mm, for people."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from types import MappingProxyType
from typing import NamedTuple

import numpy as np

from rigkit.centre import flesh_at
from rigkit.files.exercise import AskedJoint, Exercise
from rigkit.kinematics import rest_bend
from rigkit.require import RigError
from rigkit.section import INSIDE, OPEN, OUTSIDE
from rigkit.sight import middle_of_sight
from rigkit.tolerance import STORED
from rigkit.vectors import length

UNITS = ("mm", "radius", "share", "%", "deg", "text")
ASTRAY = "in other flesh"
"""Of a joint that lies in the flesh of another part: in the next finger, in the other leg."""
DIGITS = 6  # of mm, shares and degrees: far under what a float32 mesh can tell, and the same on every machine


class Measurement(NamedTuple):
    """What was measured of a joint (a role, or the name of a joint that was not asked for)."""

    joint: str
    measure: str
    value: float | str
    unit: str


def measured(joint: str, measure: str, value: float | str, unit: str) -> Measurement:
    """A Measurement with its number rounded to what can be told, and without a negative zero."""
    if isinstance(value, str):
        return Measurement(joint, measure, value, unit)
    return Measurement(joint, measure, round(float(value), DIGITS) + 0.0, unit)


def three(joint: str, measure: str, arrow: np.ndarray, exercise: Exercise, unit: str = "mm") -> list[Measurement]:
    """An arrow (3,), metres (or without unit), as its parts out, up and forward of the body."""
    left, up, forward = (exercise.body @ arrow * (1000.0 if unit == "mm" else 1.0)).tolist()
    return [
        measured(joint, f"{measure}-out", -left if exercise.side == "right" else left, unit),
        measured(joint, f"{measure}-up", up, unit),
        measured(joint, f"{measure}-forward", forward, unit),
    ]


@dataclass(frozen=True, eq=False)
class Placed:
    """Where a joint lies: `beyond` (3,) is how it must have been shifted to lie within its stretch (zero inside it),
    `offset` (3,) leads from the middle to the joint in the measuring plane (None where no middle can be told),
    `radius` the local radius in metres, `state` one of the words of `section` and `centre`."""

    beyond: np.ndarray
    offset: np.ndarray | None
    radius: float | None
    state: str


def is_end(role: str, exercise: Exercise) -> bool:
    """Whether nothing is asked for below a role."""
    return role not in _carrying(exercise)


@lru_cache(maxsize=8)
def _carrying(exercise: Exercise) -> frozenset[str | None]:
    return frozenset(joint.parent for joint in exercise.joints)


def placed(exercise: Exercise, asked: AskedJoint, point: np.ndarray) -> Placed:
    """Measure the place (3,) of one joint against the flesh of its stretch, or against its region."""
    return _placed(exercise, asked, tuple(np.asarray(point, dtype=float).tolist()))


@lru_cache(maxsize=512)  # marking again after each mend moves one joint of many
def _placed(exercise: Exercise, asked: AskedJoint, place: tuple[float, ...]) -> Placed:
    point = np.array(place)
    if asked.stretch is None or asked.plane is None:  # a region
        state = OPEN
        if is_end(asked.role, exercise) and len(exercise.joints) > 1:
            state = INSIDE  # an end joint carries no flesh: at the skin or just beyond it is as good
        elif exercise.mesh.mended.is_closed:
            way = asked.middle - point
            far = float(length(way)) > (asked.radius or 0.0)
            seen = middle_of_sight(exercise.mesh, point, way if far else way + np.array([0.0, 0.0, 1e-6]))
            state = INSIDE if seen.state == INSIDE else OUTSIDE  # inside clothes and flesh, too
            if far and state == INSIDE:
                there = middle_of_sight(exercise.mesh, asked.middle, way).middle
                if there is None or seen.middle is None or float(length(there - seen.middle)) > STORED:
                    state = ASTRAY  # with air between it and its region's middle
        return Placed(np.zeros(3), point - asked.middle, asked.radius, state)
    start, end = asked.stretch
    station = float((point - start) @ asked.plane / ((end - start) @ asked.plane))
    beyond = (station - min(max(station, 0.0), 1.0)) * (end - start)
    inside, axis = point - beyond, start + min(max(station, 0.0), 1.0) * (end - start)
    here = flesh_at(exercise.mesh, axis, asked.plane, trusted=True)  # the limb's own flesh, not a neighbouring finger's
    if here.offset is None or here.loop is None:
        return Placed(beyond, None, here.radius, here.state)
    state = here.state if here.loop.holds(inside) else OUTSIDE
    if state == OUTSIDE and flesh_at(exercise.mesh, inside, asked.plane, trusted=True).state == INSIDE:
        state = ASTRAY
    return Placed(beyond, inside - here.loop.centroid, here.radius, state)


@dataclass(frozen=True, eq=False)
class Own:
    """What the exercise alone says of a joint: its `middle` (3,), of the flesh half-way down its stretch or of its
    region; the local `radius` there, metres (None where it cannot be told); for a joint that folds, how far it lies
    off its neighbours' line when all are in their middles: along the fold, `bend`, and `sideways`, and that line's
    length, `line`."""

    middle: np.ndarray
    radius: float | None
    bend: float | None = None
    line: float = 0.0
    sideways: float = 0.0


@lru_cache(maxsize=8)
def own(exercise: Exercise) -> Mapping[str, Own]:
    """Every joint's own place by role; no hand-in goes in."""
    there = {asked.role: placed(exercise, asked, asked.middle) for asked in exercise.joints}
    places = {asked.role: Own(asked.middle - (there[asked.role].offset if there[asked.role].offset is not None else 0),
                              there[asked.role].radius) for asked in exercise.joints}  # fmt: skip
    for asked in exercise.joints:
        if (fold := asked.fold) is not None:
            root, middle, end = (places[role].middle for role in (fold.between[0], asked.role, fold.between[1]))
            try:
                bend = rest_bend(root, middle, end, fold.away, fold.straight)
            except RigError:  # two middles coincide, or their line runs along the fold direction
                continue
            places[asked.role] = replace(places[asked.role], bend=bend.along, line=bend.line, sideways=bend.sideways)
    return MappingProxyType(places)
