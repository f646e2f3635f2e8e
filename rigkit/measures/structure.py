"""Structure: which asked joints are there, under which parent, and how each joint that was not asked for lies."""

import numpy as np

from rigkit.files.exercise import Exercise
from rigkit.matching import Match
from rigkit.measures.base import Measurement, measured
from rigkit.require import RigError
from rigkit.skeleton import Skeleton
from rigkit.vectors import length, off_line


def measure(skeleton: Skeleton, exercise: Exercise, matched: Match) -> list[Measurement]:
    """found, need, parent and parent-asked of each role; kind, nearest role and its distance of each other joint."""
    roles = {number: role for role, number in matched.joints.items()}
    rows: list[Measurement] = []
    for joint in exercise.joints:
        if joint.need == "ignored":
            continue
        found = joint.role in matched.joints
        rows.append(measured(joint.role, "need", joint.need, "text"))
        rows.append(measured(joint.role, "found", "yes" if found else "no", "text"))
        if found:
            above = _matched_above(skeleton, matched.joints[joint.role], roles)
            rows.append(measured(joint.role, "parent", above or "none", "text"))
        rows.append(measured(joint.role, "parent-asked", _asked_above(exercise, joint.role, matched), "text"))
        if not found:
            side = None if exercise.side == "middle" else exercise.side
            rows.append(measured(joint.role, "name-asked", exercise.naming.name_for(joint.role, side), "text"))
    lines = {i: _line_above(skeleton, i) for i in roles}
    for number in matched.others:
        label = skeleton.names[number] or f"joint {number}"
        if label in matched.joints or skeleton.names.count(skeleton.names[number]) > 1:
            label = f"{label} (joint {number})"
        rows += _other(skeleton, number, label, matched, roles, lines)
    return rows


def _matched_above(skeleton: Skeleton, joint: int, roles: dict[int, str]) -> str | None:
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
           lines: dict[int, set[int]]) -> list[Measurement]:  # fmt: skip
    """One joint that was not asked for. kind: ignored (by name), above all asked joints, below the last ones, between
    two, or beside them."""
    over = _matched_above(skeleton, number, roles)
    under = any(number in line for line in lines.values())
    kind = "between" if over and under else "above" if under else "below" if over else "beside"
    if over and not under and any(matched.joints[over] in line for line in lines.values()):
        kind = "beside"  # a spur: asked joints go on below the one it hangs on
    if number in matched.ignored:
        kind = "ignored"
    rows = [measured(label, "extra", kind, "text"), measured(label, "extra-name", skeleton.names[number], "text")]
    if roles:
        gaps = {role: float(length(skeleton.positions[number] - skeleton.positions[i])) for i, role in roles.items()}
        nearest = min(gaps, key=lambda role: (gaps[role], role))
        rows.append(measured(label, "nearest", nearest, "text"))
        rows.append(measured(label, "nearest-distance", 1000 * gaps[nearest], "mm"))
    if over:
        rows += _off_bone(skeleton, number, label, matched.joints[over], roles)
    return rows


def _line_above(skeleton: Skeleton, joint: int) -> set[int]:
    """All joints above a joint."""
    line, parent = set(), skeleton.parents[joint]
    while parent is not None:
        line.add(parent)
        parent = skeleton.parents[parent]
    return line


def _off_bone(skeleton: Skeleton, number: int, label: str, over: int, roles: dict[int, str]) -> list[Measurement]:
    """How far the joint lies off the straight bone from the asked joint above it to the next one below that."""
    nexts = [i for i in roles if _matched_above(skeleton, i, roles) == roles[over]]
    shares = []
    for end in nexts:
        start_at, end_at = skeleton.positions[over], skeleton.positions[end]
        try:
            off = float(length(off_line(skeleton.positions[number], start_at, end_at)))
        except RigError:
            continue
        bone = end_at - start_at
        along = float((skeleton.positions[number] - start_at) @ bone / (bone @ bone))
        if np.clip(along, 0.0, 1.0) == along:
            shares.append(off / float(length(bone)))
    return [measured(label, "off-bone", min(shares), "share")] if shares else []
