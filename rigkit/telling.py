"""Telling: what of a marked hand-in could tell whose work it is, as joints that are wrong or free, and odd names.

A right joint tells nothing, since everybody has it: a joint near a computed centre never counts.
"""

from collections.abc import Container, Mapping
from dataclasses import dataclass

import numpy as np

from rigkit import mends
from rigkit.files.exercise import Exercise
from rigkit.files.layout import Layout
from rigkit.files.rubrics import Rubric
from rigkit.marking import Class, Result
from rigkit.matching import Match, match
from rigkit.measures import measure_all
from rigkit.measures.base import ASTRAY
from rigkit.measures.structure import labels
from rigkit.section import OUTSIDE
from rigkit.skeleton import Skeleton

FREE = 0.5  # of what is right of a region: beyond it, a place in it is the student's own choice
EXTRA = "joint more than asked for"
ORIGIN = 1.0  # mm: a joint so near to the origin was never placed


@dataclass(frozen=True, eq=False)
class Joint:
    """A joint of a hand-in, mm, in the body's directions (out is +x on the left): its place (3,), how it lies off its
    middle (3,), how much of that is right, and whether it counts: wrong, or left to choice."""

    place: np.ndarray
    off: np.ndarray
    ring: float
    counts: bool


@dataclass(frozen=True, eq=False)
class Telling:
    """One hand-in: its joints by role, what is odd in names and parents, whether it was read mirrored, and the mean
    share of a radius by which its joints miss their middles."""

    id: str
    joints: Mapping[str, Joint]
    odd: frozenset[str]
    mirrored: bool
    miss: float


def starts_of(room: Class) -> list[tuple[dict[str, np.ndarray], tuple[str, ...]]]:
    """The places, mm, by role, and the names of each layout that the lessons start with; none where limbs differ."""
    found: list[tuple[dict[str, np.ndarray], tuple[str, ...]]] = []
    if (exercise := room.asked) is None:
        return found
    for path in sorted(exercise.folder.glob("start-*.json")):
        start = exercise.start(path.stem.removeprefix("start-")).skeleton
        mm = _mm(start, exercise)
        found.append(({role: mm[number] for role, number in match(start, exercise).joints.items()}, start.names))
    return found


def _mm(skeleton: Skeleton, exercise: Exercise) -> np.ndarray:
    """Places (n, 3) in mm out, up and forward."""
    return 1000.0 * skeleton.positions @ exercise.body.T * [-1.0 if exercise.side == "right" else 1.0, 1.0, 1.0]


def telling_of(one: Result, room: Class, given: Container[str]) -> Telling | None:
    """What is compared of a hand-in; None where nothing was read, or no joint was recognised on either side."""
    exercise, skeleton = room.exercise_of(one.id), one.skeleton
    if exercise is None or skeleton is None:
        return None
    measured, matched, mirrored = one.measurements, match(skeleton, exercise), False
    if not matched.joints:
        point, normal = exercise.mirror or (np.zeros(3), exercise.body[0])
        skeleton = skeleton.mirrored(point, normal)
        matched, mirrored = match(skeleton, exercise), True
        measured = measure_all(Layout(one.id, "", 1, skeleton), exercise)
    table: dict[str, dict] = {}
    for row in measured:
        table.setdefault(row.joint, {})[row.measure] = row.value
    mm, rubric = _mm(skeleton, exercise), room.rubric
    joints = {role: _joint(mm[number], table[role], rubric.of(role)) for role, number in matched.joints.items()}
    if more := _more(skeleton, matched, table, rubric["structure.beside_bone"]):
        joints[EXTRA] = Joint(mm[more[0]], np.zeros(3), -1.0, bool(np.linalg.norm(mm[more[0]]) > ORIGIN))
    miss = [facts["offset-radius"] for facts in table.values() if "offset-radius" in facts]
    return Telling(one.id, joints, _odd(table, given), mirrored, float(np.mean(miss))) if miss else None


def _joint(place: np.ndarray, facts: Mapping, rubric: Rubric) -> Joint:
    """A joint that was asked for: it counts where it is wrong, or free, and never near a computed centre."""
    if "offset" not in facts:
        return Joint(place, -mends.parts(facts, "home"), 0.0, True)
    share = FREE if facts["place"] == "region" else 1.0
    ring = share * rubric["centring.allowed"] * facts["radius"]
    wrong = float(np.linalg.norm(mends.charged_offset(facts))) > ring or facts["state"] in (OUTSIDE, ASTRAY)
    beyond = facts.get("station-radius", 0.0) > rubric["fold.allowed"]
    off = mends.parts(facts, "offset") + (mends.parts(facts, "station") if beyond else 0.0)
    return Joint(place, off, ring, wrong or beyond)


def _more(skeleton: Skeleton, matched: Match, table: Mapping[str, Mapping], beside: float) -> list[int]:
    """Joints that were not asked for and lie off the bones, by number, the furthest from any asked joint first."""
    far = {}
    for number, label in labels(skeleton, matched).items():
        facts = table.get(label, {})
        if facts.get("extra", "between") != "between" and facts.get("off-bone", beside) >= beside:
            far[number] = facts.get("nearest-distance", 0.0)
    return sorted(far, key=lambda number: (-far[number], number))


def _odd(table: Mapping[str, Mapping], given: Container[str]) -> frozenset[str]:
    """Names that the rule does not give and no start has, and parents that were not asked for, in words."""
    odd = set()
    for joint, facts in table.items():
        name = facts.get("name", facts.get("extra-name", ""))
        if name and name not in given and name != facts.get("name-asked"):
            odd.add(f'the name "{name}"' + (f" for the {joint}" if "name" in facts else ""))
        if "parent" in facts and facts["parent"] != facts["parent-asked"]:
            odd.add(f"the {joint} under {'nothing' if facts['parent'] == 'none' else 'the ' + facts['parent']}")
    return frozenset(odd)
