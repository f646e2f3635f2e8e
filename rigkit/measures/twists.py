"""Twist joints: how each stands on its bone between two asked joints, and what hangs on it that is not that bone's."""

from collections.abc import Iterator

import numpy as np

from rigkit.files.exercise import Exercise
from rigkit.matching import Match
from rigkit.measures.base import Measurement, measured, own, three
from rigkit.measures.structure import labels, line_above, matched_above
from rigkit.namewords import take_apart
from rigkit.skeleton import Skeleton
from rigkit.twist import TwistJoint, check_twist_joints
from rigkit.vectors import along_and_across, length

LONG = {("shoulder", "elbow"), ("elbow", "wrist"), ("hip", "knee"), ("knee", "ankle")}
"""Bones that share a turn among twist joints (common practice): only there does a place alone, or "roll", tell one. The
palm has its own joints on the line to a knuckle, and a foot is rolled about its heel and ball."""
NEAR_LINE = 0.25  # local radii: off the bone by more, a joint that does not say so is a helper, no twist joint
NEAR_END = 0.04  # of the bone: nearer to an end, a joint is a second one of that end, no twist joint
SHORTEST = 0.001  # metres: a shorter bone has no room for another joint
ANYTHING = {"joint", "bone", "node"}  # words that say nothing of what a joint is for


def measure(skeleton: Skeleton, exercise: Exercise, matched: Match) -> list[Measurement]:
    """Of each twist joint its bone, station, how far it is from its even place and off the line, and the way to that
    place; of each other joint that hangs on one, on which. Each is read on the bone as it was laid and as it should
    lie, and the better reading counts: a misplaced elbow does not misplace what stands rightly on the forearm."""
    roles, called, rows = {number: role for role, number in matched.joints.items()}, labels(skeleton, matched), []
    for start, end, twists in _standing(skeleton, exercise, matched, roles):
        first, last = matched.joints[start], matched.joints[end]
        a, b = skeleton.positions[first], skeleton.positions[last]
        meant = skeleton.positions.copy()
        meant[[first, last]] = own(exercise)[start].middle, own(exercise)[end].middle
        at_home = {one.joint: one for one in check_twist_joints(skeleton.at(meant), first, last, twists)}
        for one in check_twist_joints(skeleton, first, last, twists):
            label, even, other = called[one.joint], one.station - one.uneven, at_home[one.joint]
            rows += _stands(label, start, end, 1000 * float(length(b - a)), even, one, other)
            if (radius := _radius(exercise, start, end, one.station)) is not None:
                rows.append(measured(label, "twist-radius", 1000 * radius, "mm"))
            rows += three(label, "twist-home", a + even * (b - a) - skeleton.positions[one.joint], exercise)
            below = set(skeleton.children(one.joint)) - {*twists, last} if one.carries else set()
            rows += [measured(roles.get(child) or called[child], "on-twist", label, "text")
                     for child in sorted(below - matched.ignored)]  # fmt: skip
    return rows


def _stands(
    label: str, start: str, end: str, bone: float, even: float, one: TwistJoint, other: TwistJoint
) -> list[Measurement]:
    return [
        measured(label, "twist-from", start, "text"),
        measured(label, "twist-to", end, "text"),
        measured(label, "twist-bone", bone, "mm"),
        measured(label, "twist-station", one.station, "share"),
        measured(label, "twist-even", even, "share"),
        measured(label, "twist-uneven", min(abs(one.uneven), abs(other.uneven)), "share"),
        measured(label, "twist-off", 1000 * min(one.off, other.off), "mm"),
    ]


def _standing(
    skeleton: Skeleton, exercise: Exercise, matched: Match, roles: dict[int, str]
) -> Iterator[tuple[str, str, list[int]]]:
    """Each asked bone that is there, with its twist joints: roles of its start and end, and numbers."""
    hangs = {number: matched_above(skeleton, number, roles) for number in range(len(skeleton))}
    bones = [(joint.parent, joint.role) for joint in exercise.joints
             if joint.parent and hangs.get(matched.joints.get(joint.role, -1)) == joint.parent]  # fmt: skip
    lines = {end: line_above(skeleton, matched.joints[end]) for _, end in bones}
    standing: dict[tuple[str, str], list[int]] = {}
    for number in (one for one in matched.others if one not in matched.ignored):
        name, spots = skeleton.names[number], []
        for bone in (one for one in bones if one[0] == hangs[number]):
            station, off = _spot(skeleton, number, *(matched.joints[role] for role in bone))
            if NEAR_END < station < 1.0 - NEAR_END:
                said = {word for _, word in take_apart(name, exercise.naming.marks, frozenset()).part}
                unsaid = not said >= {*exercise.naming.words_for(bone[1])}
                radius = _radius(exercise, *bone, station)
                share = off / radius if radius else np.inf
                spots.append((unsaid, number not in lines[bone[1]], share, bone))
        if spots:  # where several bones begin: the one that its name says, or that it leads to, or the nearest
            _, _, share, bone = min(spots)
            if _is_one(name, bone, share, exercise):
                standing.setdefault(bone, []).append(number)
    for bone, numbers in standing.items():
        yield *bone, numbers


def _spot(skeleton: Skeleton, number: int, start: int, end: int) -> tuple[float, float]:
    """Station of a joint on a bone, and metres off its line; station 0 where there is no bone."""
    a, b = skeleton.positions[start], skeleton.positions[end]
    size = float(length(b - a))
    if size < SHORTEST:
        return 0.0, 0.0
    along, across = along_and_across(skeleton.positions[number] - a, (b - a) / size)
    return float(along) / size, float(length(across))


def _radius(exercise: Exercise, start: str, end: str, station: float) -> float | None:
    """The flesh's local radius beside a station of a bone, metres, by the exercise alone."""
    radii = [own(exercise)[role].radius for role in (start, end)]
    known = [one for one in radii if one]
    return known[0] + station * (known[-1] - known[0]) if known else None


def _is_one(name: str, bone: tuple[str, str], share: float, exercise: Exercise) -> bool:
    """Whether a joint on a bone is a twist joint: its name says so, or it lies near the line of a long bone and its
    name says nothing else."""
    if "twist" in name.lower():
        return True
    words = {word for role in bone for word in exercise.naming.words_for(role)} | {*bone}
    read = take_apart(name, exercise.naming.marks, frozenset(words))
    said = {word for _, word in read.part if not word.isdecimal()}
    return bone in LONG and ("roll" in said or (share <= NEAR_LINE and said <= words | ANYTHING))
