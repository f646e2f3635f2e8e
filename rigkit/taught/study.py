"""Lesson 1: joints expected from published lengths, shares of a stature or of a finger -> tables in mm, and plates."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike

from rigkit import require
from rigkit.anatomy import MEMORY, segment
from rigkit.files.exercise import Exercise
from rigkit.frames import Frame
from rigkit.kinematics import bone_rotation, flex
from rigkit.measures.base import own
from rigkit.mesh import Mesh
from rigkit.openings import open_exercise
from rigkit.outline import Edges
from rigkit.picture import LIGHT, View, fit_views
from rigkit.plates import bones, flesh, line, svg, words
from rigkit.skin import bend_skin, bone_frame, proximity_weights
from rigkit.slices import MM
from rigkit.stills import Picture
from rigkit.told import Table
from rigkit.vectors import unit

BIRD = "wading-bird-leg"
NONE = "none"
LEG = {"A": NONE, "B": "ball", "C": "hip", "D": "ankle", "E": "knee"}
"""The letters in the bird's picture, and the joint at each."""
FEATHERS_END = (0.058, 0.36, 0.031)
"""Metres, in the middle of the bird's shank, where the feathers end and no joint lies: the letter A."""
SIZE = (300, 404)  # px, as a plate of the bench
WIDE = 0.075
"""Metres that a band reaches to either side of the limb's line: beyond the flesh of an arm."""


def by_source(roles: Sequence[str]) -> dict[tuple[str, str], list[float]]:
    """The lengths of the bones between roles by (source, whose), from each source that has them all; as shares of
    stature, fingers in mm."""
    found: dict[tuple[str, str], list[float]] = {}
    for start, end in pairwise(roles):
        for row in segment(start, end).rows:
            if row.how_known != MEMORY:
                found.setdefault((row.source.split(", ")[0], row.about[3] or "adults"), []).append(row.value)
    return {who: each for who, each in found.items() if len(each) == len(roles) - 1}


def shares(lengths: Sequence[float]) -> list[float]:
    """How far down a chain of bones its inner joints lie, per cent of the way.

    >>> [round(one) for one in shares([2, 1, 1])]
    [50, 75]
    """
    return (100 * np.cumsum(lengths)[:-1] / np.sum(lengths)).tolist()


def cited(roles: Sequence[str]) -> list[str]:
    """The sources of the bones between roles in full, each with how it is known."""
    rows = [row for pair in pairwise(roles) for row in segment(*pair).rows]
    return list(dict.fromkeys(f"{row.source}: {row.how_known}." for row in rows))


def stations(*roles: str) -> Table:
    """How far down from the first of some joints to the last the others lie, along the bones, source by source.

    >>> stations("shoulder", "elbow", "wrist").rows[0]
    ('Drillis & Contini 1966', 'adults', '56 %')
    """
    rows = [
        (source, whose, *(f"{share:.0f} %" for share in shares(each)))
        for (source, whose), each in by_source(roles).items()
    ]
    return Table(("source", "whose", *(f"the {role} lies at" for role in roles[1:-1])), rows, cited(roles))


def bone_lengths(*roles: str) -> Table:
    """The bones between roles as their sources give them, in mm (fingers)."""
    rows = [
        (f"{start} to {end}", f"{row.value:g} mm", row.note)
        for start, end in pairwise(roles)
        for row in segment(start, end).rows
    ]
    return Table(("from, to", "length", "what it is"), rows, cited(roles))


def expected(height: float, *roles: str) -> dict[str, tuple[float, float]]:
    """Least and most distance (mm) along the bones from the first of some joints to each of the others, by all sources,
    for a person of some height in metres.

    >>> {role: (round(a), round(b)) for role, (a, b) in expected(1.7, "shoulder", "elbow", "wrist").items()}
    {'elbow': (270, 325), 'wrist': (529, 584)}
    """
    tall = require.number(height, "the height in metres", 0.5, 2.5)
    sums = MM * tall * np.array([np.cumsum(each) for each in by_source(roles).values()])
    return {role: (float(a), float(b)) for role, a, b in zip(roles[1:], sums.min(0), sums.max(0), strict=True)}


def lengths(height: float, *roles: str) -> Table:
    """How long each bone of a person of some height (metres) should be, by the least and the most of the sources."""
    rows = []
    for pair in pairwise(roles):
        ((least, most),) = expected(height, *pair).values()
        rows.append((" to ".join(pair), f"{least:.0f} to {most:.0f} mm", f"{len(by_source(pair))}"))
    return Table(("bone", f"of somebody {height:.2f} m tall", "groups measured"), rows)


def off_by(name: str, height: float, *roles: str) -> Table:
    """The joints expected by each source beside an exercise's, whose own middles count as true: mm and local radii,
    along the bones from the first joint."""
    truth = own(open_exercise(name))
    places = np.array([truth[role].middle for role in roles])
    true = MM * np.cumsum(np.linalg.norm(np.diff(places, axis=0), axis=1))
    rows = []
    for (source, whose), each in by_source(roles).items():
        off = MM * height * np.cumsum(each) - true
        cells = (_off(by, MM * (truth[role].radius or np.nan)) for by, role in zip(off, roles[1:], strict=True))
        rows.append((source, whose, *cells))
    head = (f"the {role}, really {mm:.0f} mm down" for role, mm in zip(roles[1:], true, strict=True))
    return Table(("expected by", "whose", *head), rows)


def _off(by: float, radius: float) -> str:
    where = "too low" if by > 0 else "too high"
    return f"{abs(by):.0f} mm {where}: {abs(by) / radius:.1f} local radii"


def _plate(view: View, exercise: Exercise, sentence: str, above: str, bent: Mesh | None = None) -> tuple[str, str]:
    """One plate: the flesh at rest or bent, a title, and what is drawn above."""
    mesh = bent or exercise.mesh
    under = flesh(view, mesh.vertices, mesh.triangles, Edges.of(mesh.triangles), LIGHT)
    facing = "the character's left →" if view.name == "front" else "← facing this way"
    title = words(14, 23, view.title, LIGHT, weight="bold") + words(14, 41, facing, LIGHT)
    return svg(view.size, sentence, [under, title, above], LIGHT.paper), sentence


def _joints(view: View, places: ArrayLike, names: Sequence[str] = ()) -> str:
    """Small open circles with words beside them."""
    flat = view.project(places)
    said = [words(x + 12, y + 4, name, LIGHT, weight="bold") for (x, y), name in zip(flat, names, strict=False)]
    return "".join([*(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4.2" fill="{LIGHT.paper}" stroke="{LIGHT.ink}" '
                      f'stroke-width="1.7"/>' for x, y in flat), *said])  # fmt: skip


def by_eye(pulled: float = 50) -> Picture:
    """The bird's leg with three joints laid by eye, in the corners that show: at rest, and its foot pulled up."""
    exercise = open_exercise(BIRD)
    mesh, joints = exercise.mesh, exercise.start("by-eye").skeleton
    root, middle, end = joints.positions
    pose = flex(root, middle, end, require.number(pulled, "pulled", 0, 100) / 100).poses[0]
    upper = bone_rotation(root, middle, root, pose.middle)
    lower = bone_rotation(middle, end, pose.middle, pose.end)
    trunk, still = exercise.landmarks["trunk_middle"], Frame(np.eye(3), np.zeros(3))
    held = np.array([[root, middle], [middle, end], [end, end + 0.02 * unit(end - middle)],
                     [trunk, trunk + 0.05 * unit(root - end)]])  # fmt: skip
    frames = [bone_frame(root, root, upper), bone_frame(middle, pose.middle, lower), bone_frame(end, pose.end, lower)]
    bent = bend_skin(mesh, proximity_weights(mesh, held), [*frames, still])
    view = fit_views(mesh, {"side": SIZE}, exercise.side, bent.vertices)["side"]
    plates = []
    for places, skin, sentence in (
        (joints.positions, mesh, "Side view. The bird's leg at rest, with three joints laid by eye."),
        (np.array([root, pose.middle, pose.end]), bent,
         "Side view. The foot is pulled up: the leg folds in one place only, and the whole thigh swings back."),
    ):  # fmt: skip
        ink = bones(view.project(places), joints.parents, LIGHT.ink) + _joints(view, places)
        plates.append(_plate(view, exercise, sentence, ink, skin))
    return Picture(plates)


def lettered() -> Picture:
    """The bird's leg from the side, with a letter at each joint and one at none."""
    exercise = open_exercise(BIRD)
    view = fit_views(exercise.mesh, {"side": SIZE}, exercise.side)["side"]
    places = np.array([FEATHERS_END if role == NONE else own(exercise)[role].middle for role in LEG.values()])
    sentence = (
        "Side view. The bird's leg, facing left. From the top down: C inside the body; E at the front of the feathers; "
        "A where the feathers end; D at the corner half-way down, behind; B just above the toes."
    )
    return Picture([_plate(view, exercise, sentence, _joints(view, places, tuple(LEG)))])


def bands(name: str, height: float, *roles: str) -> Picture:
    """Where along a limb its joints are expected, from the least to the most of the sources, measured from the first of
    the roles: seen from the front, before anything is placed."""
    exercise = open_exercise(name)
    view = fit_views(exercise.mesh, {"front": SIZE}, exercise.side)["front"]
    root, end = (own(exercise)[role].middle for role in (roles[0], roles[-1]))
    along = unit(end - root)
    across = WIDE * unit(np.array([along[1], -along[0], 0.0]))
    drawn, told = [_joints(view, [root], roles[:1])], []
    for role, stretch in expected(height, *roles).items():
        top, foot = (root + mm / MM * along for mm in stretch)
        a, b, c, d = view.project([top + across, top - across, foot - across, foot + across])
        box = " ".join(f"{x:.1f},{y:.1f}" for x, y in (a, b, c, d))
        told.append(f"{stretch[0]:.0f} to {stretch[1]:.0f} mm")
        x, y = (a + d) / 2
        drawn += [f'<polygon points="{box}" fill="{LIGHT.unsure.colour}" opacity=".25"/>',
                  line(a, b, LIGHT.ink, 1.2, "4 3"), line(d, c, LIGHT.ink, 1.2, "4 3"),
                  words(x - 8, y - 3, role, LIGHT, anchor="end", weight="bold"),
                  words(x - 8, y + 13, told[-1], LIGHT, anchor="end")]  # fmt: skip
    sentence = f"Front view. Expected below the {roles[0]}: "
    sentence += "; ".join(f"{role} {far}" for role, far in zip(roles[1:], told, strict=True)) + "."
    return Picture([_plate(view, exercise, sentence, "".join(drawn))])
