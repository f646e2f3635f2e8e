"""The middle of the flesh found in several ways: by eye, along a line of sight, by a slice; three answers (3,); metres.

Orlo's arm and Tansy's hips are practice limbs, here with all their joints: more than an exercise asks for.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from rigkit import require
from rigkit.anatomy import joint_centres
from rigkit.bench import Bench
from rigkit.bench_parts import Limb
from rigkit.bulk import hinge_axis
from rigkit.centre import flesh_at, usual_radius
from rigkit.limbs import PracticeLimb, practice_limb
from rigkit.loops import bend_loops
from rigkit.mesh import Mesh
from rigkit.openings import open_exercise
from rigkit.require import RigError
from rigkit.section import Loop, Plane, cut
from rigkit.sight import middle_of_sight
from rigkit.slices import MM
from rigkit.vectors import length, unit

ARM, LEG = ("arm", 7), ("hips", 12)
"""Kind and seed of the limbs that the exercises left-arm and tansys-leg hold."""
FRONT, SIDE, UP = np.array([0.0, 0.0, 1.0]), np.array([1.0, 0.0, 0.0]), np.array([0.0, 1.0, 0.0])
CHILD = {"shoulder": "elbow", "hip": "knee", "index 1": "index 2"}
"""Joints that are the root of a limb or a finger, and what their bone leads to."""
KNOBS = {"elbow": "epicondyle", "knee": "femoral_epicondyle", "ankle": "malleolus"}
"""What the reference table calls the knobs on either side of a hinge."""


@cache
def limb_with(role: str) -> PracticeLimb:
    """The practice limb that has a joint: Tansy's hips and leg, else Orlo's arm with its hand."""
    leg = practice_limb(*LEG)
    return leg if role in leg.roles else practice_limb(*ARM)


def true_place(role: str) -> np.ndarray:
    """Where a joint of the two limbs belongs (3,), metres."""
    limb = limb_with(role)
    return limb.key.positions[limb.roles.index(require.choice(role, "a joint", limb.roles))]


def slice_loop(mesh: Mesh, place: np.ndarray, along: np.ndarray) -> Loop:
    """The outline of the flesh around a place (3,), cut square to `along` (3,). Raises RigError where there is none."""
    held = cut(mesh, Plane(place, along)).holding(place)
    if held.loop is None or not held.loop.closed:
        raise RigError("flesh around the joint", held.state, where="a slice")
    return held.loop


def by_eye(mesh: Mesh, place: np.ndarray) -> np.ndarray:
    """The middle (3,) that two views show: half-way between the edges of the figure at the joint's height, seen from
    the front and from the side; parts that cover each other show as one."""
    loops, found = cut(mesh, Plane(place, UP)).loops, np.array(place)
    for axis in (0, 2):
        spans: list[list[float]] = []
        for low, high in sorted((loop.points[:, axis].min(), loop.points[:, axis].max()) for loop in loops):
            if spans and low <= spans[-1][1]:
                spans[-1][1] = max(spans[-1][1], high)
            else:
                spans.append([low, high])
        if spans:
            here = float(place[axis])
            low, high = min(spans, key=lambda span: max(span[0] - here, here - span[1]))
            found[axis] = (low + high) / 2
    return found


def sighted(mesh: Mesh, place: np.ndarray, *views: np.ndarray) -> np.ndarray:
    """A place (3,) put to the middle of the line of sight through it, view by view; without flesh there it stays."""
    for view in views:
        seen = middle_of_sight(mesh, place, view).middle
        place = place if seen is None else seen
    return place


def every_way(role: str, shift: np.ndarray) -> dict[str, tuple[float, float]]:
    """Where each way of looking brings a joint that lies a shift (3,) from its place: mm from the middle of the flesh
    in its slice, and mm that it slid down the limb.

    >>> found = every_way("elbow", np.zeros(3))
    >>> round(found["by slice"][0], 3) + 0.0
    0.0
    """
    limb, start = limb_with(role), true_place(role) + shift
    mesh, along = limb.mesh, limb.planes[role]
    found = {"where it lies now": start, "by eye, front and side view": by_eye(mesh, start),
             "line of sight from the front": sighted(mesh, start, FRONT),
             "line of sight from the side": sighted(mesh, start, SIDE),
             "from the front, then the side": sighted(mesh, start, FRONT, SIDE),
             "by slice": slice_loop(mesh, start, along).centroid}  # fmt: skip
    return {
        name: (MM * float(length(place - slice_loop(mesh, place, along).centroid)), MM * float((place - start) @ along))
        for name, place in found.items()
    }


def spread(loop: Loop, count: int, crowded: bool) -> np.ndarray:
    """So many points (count, 3) on an outline, evenly spaced, or half of them crowded on its hindmost quarter."""
    ring = np.roll(loop.points, -int(np.argmax(loop.points[:, 2])), axis=0)  # from the front, round the back
    ring = np.concatenate([ring, ring[:1]])
    walked = np.concatenate([[0.0], np.cumsum(length(np.diff(ring, axis=0)))])
    shares = np.arange(count) / count
    if crowded:
        shares = np.interp(shares, (0.0, 0.25, 0.75, 1.0), (0.0, 0.375, 0.625, 1.0))
    return np.stack([np.interp(shares * walked[-1], walked, ring[:, axis]) for axis in range(3)], axis=1)


def elbow_loop() -> Loop:
    """The outline of the slice through Orlo's elbow."""
    return slice_loop(limb_with("elbow").mesh, true_place("elbow"), limb_with("elbow").planes["elbow"])


def at_root(role: str) -> tuple[np.ndarray, Loop, str]:
    """Where a joint belongs (3,), the outline of the slice there, square to the bone below, and what it is."""
    limb, place, child = limb_with(role), true_place(role), CHILD.get(role)
    if child is None:
        return place, slice_loop(limb.mesh, place, limb.planes[role]), "the limb alone"
    below = true_place(child)
    along = unit(below - place, "a bone")
    here = flesh_at(limb.mesh, place, along, usual_radius(limb.mesh, place, below))
    return place, slice_loop(limb.mesh, place, along), here.state


@dataclass(frozen=True, eq=False)
class Answers:
    """Three answers about a joint that folds. here: where it lies. flesh, anatomy: (3,) in the slice through it, knobs:
    (2, 3). fold: metres down the limb to the bend loops, or None. loop: the slice. away, along: unit vectors (3,).
    source: of the rule of anatomy."""

    here: np.ndarray
    flesh: np.ndarray
    anatomy: np.ndarray
    knobs: np.ndarray
    fold: float | None
    loop: Loop
    away: np.ndarray
    along: np.ndarray
    source: str


def answers(limb: Limb, positions: np.ndarray, role: str) -> Answers:
    """The three answers about a joint that folds: by the flesh in its slice; by the knobs on either side of the hinge,
    here the two outermost points of that slice (a stand-in: a knob is bone, this is skin); by the mesh's bend loops."""
    asked = limb.exercise.asked(require.choice(role, "a joint that folds", KNOBS))
    if asked.fold is None or asked.plane is None:
        raise RigError("a joint that folds, in flesh of its own", role, where="three answers")
    joints = positions[[limb.roles[one] for one in (asked.fold.between[0], role, asked.fold.between[1])]]
    here, along = joints[1], asked.plane
    loop = slice_loop(limb.exercise.mesh, here, along)
    hinge = hinge_axis(joints, asked.fold.away)
    reach = (loop.points - loop.centroid) @ hinge
    knobs = loop.points[[reach.argmax(), reach.argmin()]]
    named = {f"{side}_{KNOBS[role]}": knob for side, knob in zip(("lateral", "medial"), knobs, strict=True)}
    centre, rule = joint_centres(role, named)[0]
    away = unit(asked.fold.away - along * (along @ asked.fold.away), "the fold direction")
    found = bend_loops(limb.exercise.mesh, *joints)
    return Answers(here, loop.centroid, centre, knobs, found.station, loop, away, along, rule.source)


def answers_of(what: Bench | str, role: str, start: str = "") -> tuple[Limb, Answers]:
    """The limb and the three answers about a joint on a bench, or in a start layout of an exercise."""
    if isinstance(what, Bench):
        return what.limb, answers(what.limb, what.skeleton.positions, role)
    exercise = open_exercise(what)
    skeleton = exercise.start(start).skeleton
    limb = Limb.of(exercise, skeleton)
    return limb, answers(limb, skeleton.positions, role)
