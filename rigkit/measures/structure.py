"""Structure: which asked joints are there, under which parent, and how each joint that was not asked for lies."""

from collections.abc import Mapping

import numpy as np

from rigkit.files.exercise import Exercise
from rigkit.matching import Match
from rigkit.measures.base import Measurement, measured, own, three
from rigkit.skeleton import Skeleton
from rigkit.vectors import length

LIMB = "limb"  # stands for a joint where something is measured of them all together


def measure(
    skeleton: Skeleton, exercise: Exercise, matched: Match, radii: Mapping[str, float | None]
) -> list[Measurement]:
    """found, need, parent, parent-asked and distance from it of each role; kind, nearest role and distances of each
    other joint; and where no role was found at all, where the joints lie. radii: metres, of the roles found."""
    roles = {number: role for role, number in matched.joints.items()}
    rows: list[Measurement] = []
    for joint in exercise.joints:
        if joint.need == "ignored":
            continue
        found = joint.role in matched.joints
        above = _asked_above(exercise, joint.role, matched)
        rows.append(measured(joint.role, "need", joint.need, "text"))
        rows.append(measured(joint.role, "found", "yes" if found else "no", "text"))
        if found:
            here = matched.joints[joint.role]
            rows.append(measured(joint.role, "parent", matched_above(skeleton, here, roles) or "none", "text"))
            if above != "none":
                bone = skeleton.positions[here] - skeleton.positions[matched.joints[above]]
                rows.append(measured(joint.role, "parent-distance", 1000 * float(length(bone)), "mm"))
        rows.append(measured(joint.role, "parent-asked", above, "text"))
        if not found:
            name = exercise.naming.name_for(joint.role, exercise.side_of(joint.role))
            rows.append(measured(joint.role, "name-asked", name, "text"))
            rows += _anchored(joint.role, above, matched, exercise)
    lines = {i: line_above(skeleton, i) for i in roles if matched.others}
    for number, label in labels(skeleton, matched).items():
        rows += _other(skeleton, number, label, matched, roles, lines, radii)
    strays = [number for number in matched.others if number not in matched.ignored]
    if not roles and strays:
        rows += _limb(skeleton.positions[strays], exercise)
    return rows


def labels(skeleton: Skeleton, matched: Match) -> dict[int, str]:
    """What joints that were not asked for are called: by name, with the number where that is no help."""
    found = {number: skeleton.names[number] or f"joint {number}" for number in matched.others}
    for number, label in found.items():
        if label in matched.joints or label == LIMB or skeleton.names.count(skeleton.names[number]) > 1:
            found[number] = f"{label} (joint {number})"
    return found


def _anchored(role: str, above: str, matched: Match, exercise: Exercise) -> list[Measurement]:
    """Where a missing joint belongs, from where a joint belongs that is there: the one above it, else one below."""
    below = [joint.role for joint in exercise.joints if joint.parent == role and joint.role in matched.joints]
    hangs = [measured(role, "carries", " and the ".join(below), "text")] if below else []
    anchor = next((one for one in (above, *below) if one in matched.joints), None)
    if anchor is None:  # the nearest that is there
        gaps = {one: float(length(own(exercise)[one].middle - own(exercise)[role].middle)) for one in matched.joints}
        anchor = min(gaps, key=lambda one: (gaps[one], one), default=None)
    if anchor is None:
        return hangs
    arrow = own(exercise)[role].middle - own(exercise)[anchor].middle
    return [*hangs, measured(role, "anchor", anchor, "text"), *three(role, "from-anchor", arrow, exercise)]


def _limb(places: np.ndarray, exercise: Exercise) -> list[Measurement]:
    """How far from the asked limb, and on which side of the body, the middle of places (n, 3) lies."""
    middle = places.mean(axis=0)
    away = middle - np.mean([joint.middle for joint in exercise.joints], axis=0)
    side = "left" if float(exercise.body[0] @ middle) > 0 else "right"
    return [
        measured(LIMB, "distance", 1000 * float(length(away)), "mm"),
        measured(LIMB, "side", side, "text"),
        measured(LIMB, "side-asked", exercise.side, "text"),
        *three(LIMB, "away", away, exercise),
    ]


def matched_above(skeleton: Skeleton, joint: int, roles: dict[int, str]) -> str | None:
    """The role of the nearest joint above one that has a role, or None. roles: by number."""
    parent = skeleton.parents[joint]
    while parent is not None and parent not in roles:
        parent = skeleton.parents[parent]
    return None if parent is None else roles[parent]


def _asked_above(exercise: Exercise, role: str, matched: Match) -> str:
    """The nearest role above that was found at all, so that a missing joint is not charged twice."""
    parent = exercise.asked(role).parent
    while parent is not None and parent not in matched.joints:
        parent = exercise.asked(parent).parent
    return parent or "none"


def _other(skeleton: Skeleton, number: int, label: str, matched: Match, roles: dict[int, str],
           lines: dict[int, set[int]], radii: Mapping[str, float | None]) -> list[Measurement]:  # fmt: skip
    """One joint that was not asked for. kind: ignored (by name), outside the limb's branch, between two asked joints,
    below the last ones, or beside: a spur, asked joints go on below the one it hangs on."""
    over = matched_above(skeleton, number, roles)
    kind = "below" if over else "outside"
    if over and any(number in line for line in lines.values()):
        kind = "between"
    elif over and any(matched.joints[over] in line for line in lines.values()):
        kind = "beside"
    if number in matched.ignored:
        kind = "ignored"
    rows = [measured(label, "extra", kind, "text"), measured(label, "extra-name", skeleton.names[number], "text")]
    if roles:
        away = {role: float(length(skeleton.positions[number] - skeleton.positions[i])) for i, role in roles.items()}
        gaps = {role: round(gap, 9) for role, gap in away.items()}  # of two equally near, not round-off's choice
        nearest = min(gaps, key=lambda role: (gaps[role], role))
        rows.append(measured(label, "nearest", nearest, "text"))
        rows.append(measured(label, "nearest-distance", 1000 * gaps[nearest], "mm"))
    off = [_off_bone(skeleton, number, matched.joints[above], i, radii[above], radii[role])
           for i, role in roles.items() if (above := matched_above(skeleton, i, roles))]  # fmt: skip
    if any(one is not None for one in off):
        rows.append(measured(label, "off-bone", min(one for one in off if one is not None), "radius"))
    return rows


def line_above(skeleton: Skeleton, joint: int) -> set[int]:
    """All joints above a joint."""
    line, parent = set(), skeleton.parents[joint]
    while parent is not None:
        line.add(parent)
        parent = skeleton.parents[parent]
    return line


def _off_bone(skeleton: Skeleton, number: int, start: int, end: int, *radii: float | None) -> float | None:
    """How far a joint lies off the straight bone between two joints, in the flesh's local radius beside it."""
    place, start_at, end_at = (skeleton.positions[i] for i in (number, start, end))
    bone = end_at - start_at
    along = float(np.clip((place - start_at) @ bone / max(float(bone @ bone), 1e-12), 0.0, 1.0))
    known = [radius for radius in radii if radius]
    if not known:
        return None
    return float(length(place - start_at - along * bone)) / (known[0] + along * (known[-1] - known[0]))
