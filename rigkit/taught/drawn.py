"""Words drawn where they are first used: section, local radius, fold direction, skew; on the bundled arm, in px."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from rigkit import require
from rigkit.bench_parts import Limb
from rigkit.openings import open_exercise
from rigkit.outline import Edges
from rigkit.picture import EDGE, LIGHT, TITLE_TEXT, View, fit_views
from rigkit.plates import bones, flesh, line, svg, words
from rigkit.require import RigError, choice
from rigkit.section import Loop, Plane, cut
from rigkit.slices import MM, flat_axes
from rigkit.stills import Picture
from rigkit.vectors import off_line

SIZE = (300, 330)  # px
TURNED, HIGH = 35.0, 58.0  # degrees from which a cut is looked at
ARROW = 8  # px, the head of an arrow


def word(*names: str) -> Picture:
    """The words drawn side by side, each with a sentence. Raises RigError for a word that has no drawing."""
    drawn = []
    for name in names:
        body, sentence = DRAWN[choice(name, "a word that is drawn", DRAWN)](_arm())
        paper = f'<rect width="{SIZE[0]}" height="{SIZE[1]}" fill="{LIGHT.paper}"/>'
        title = words(EDGE, 23, name.capitalize(), LIGHT, weight="bold", size=TITLE_TEXT)
        drawn.append((svg(SIZE, sentence, [paper, body, title]), sentence))
    return Picture(drawn)


def _arm() -> Limb:
    exercise = open_exercise("left-arm")
    return Limb.of(exercise, exercise.start("resting").skeleton)


def _seen(limb: Limb, name: str, pitch: float = 0.0) -> tuple[View, str]:
    """The arm in one view, with its bones at the middles of its joints; pitch: degrees from above, of a turned one."""
    mesh, places = limb.exercise.mesh, np.array([joint.middle for joint in limb.exercise.joints])
    view = fit_views(mesh, {name: SIZE}, limb.exercise.side)[name]
    if pitch:
        up, down = np.radians(TURNED), np.radians(pitch)
        toward = np.array([np.sin(up) * np.cos(down), np.sin(down), np.cos(up) * np.cos(down)])
        right = np.array([np.cos(up), 0.0, -np.sin(up)])
        middle = tuple(mesh.bounds.mean(axis=0).tolist())
        view = replace(view, right=tuple(right), up=tuple(np.cross(toward, right)), centre=middle)
    skin = flesh(view, mesh.vertices, mesh.triangles, Edges.of(mesh.triangles), LIGHT)
    return view, skin + bones(view.project(places), (None, 0, 1), LIGHT.ink)


def _arrow(start: np.ndarray, end: np.ndarray, colour: str) -> str:
    way = (end - start) / np.hypot(*(end - start))
    across = np.array([-way[1], way[0]])
    head = [end, end - ARROW * way + 4 * across, end - ARROW * way - 4 * across]
    corners = " ".join(f"{x:.1f},{y:.1f}" for x, y in head)
    return line(start, end - 4 * way, colour, 2.2) + f'<polygon points="{corners}" fill="{colour}"/>'


def _polygon(points: np.ndarray, fill: str, stroke: str, dash: str = "") -> str:
    corners = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    return f'<polygon points="{corners}" fill="{fill}" stroke="{stroke}" stroke-width="2"{dashed}/>'


def _cut(limb: Limb) -> tuple[Loop, np.ndarray]:
    """The elbow's section, and the normal of its plane."""
    asked = limb.exercise.asked("elbow")
    normal = require.direction(asked.plane, "the elbow's plane")
    loop = cut(limb.exercise.mesh, Plane(asked.middle, normal)).holding(asked.middle).loop
    if loop is None:
        raise RigError("flesh at the elbow", "none", where=limb.exercise.title)
    return loop, normal


def _section(limb: Limb) -> tuple[str, str]:
    view, body = _seen(limb, "turned", HIGH)
    rim = view.project(_cut(limb)[0].points)
    sheet = rim.mean(axis=0) + 2.6 * (rim - rim.mean(axis=0))
    told = words(sheet[:, 0].max() + 6, rim[:, 1].mean() + 4, "the cut", LIGHT)
    body += _polygon(sheet, "none", LIGHT.unsure.colour, "2 4") + _polygon(rim, LIGHT.paper, LIGHT.ink) + told
    return body, "A section: the arm sawn through at the elbow, square to the limb; the cut is an oval."


def _flat(limb: Limb, scale: float) -> tuple[np.ndarray, float]:
    """The elbow's section laid flat round its middle in px, and its local radius in mm."""
    loop, normal = _cut(limb)
    right, down, _ = flat_axes(normal)
    flat = MM * (loop.points - loop.centroid) @ np.stack([right, down], axis=1)
    return np.array([150.0, 175.0]) + scale * flat, MM * loop.radius


def _local_radius(limb: Limb) -> tuple[str, str]:
    scale = 2.2
    outline, radius = _flat(limb, scale)
    x, y = 150.0, 175.0
    body = _polygon(outline, LIGHT.flesh, LIGHT.contour)
    body += (f'<circle cx="{x}" cy="{y}" r="{scale * radius:.1f}" fill="none" stroke="{LIGHT.ink}" stroke-width="1.6" '
             'stroke-dasharray="6 4"/>')  # fmt: skip
    body += _arrow(np.array([x, y]), np.array([x + scale * radius, y]), LIGHT.ink)
    body += words(x + scale * radius / 2, y - 8, f"{radius:.0f} mm", LIGHT, anchor="middle")
    body += words(x, 315, "a circle as large as the flesh", LIGHT, anchor="middle")
    return body, f"The local radius: a dashed circle with as much area as the slice; its radius is {radius:.0f} mm."


def _bent(limb: Limb) -> tuple[np.ndarray, ...]:
    root, middle, end = (joint.middle for joint in limb.exercise.joints)
    return root, middle, end, middle - off_line(middle, root, end)


def _fold_direction(limb: Limb) -> tuple[str, str]:
    view, body = _seen(limb, "side")
    root, middle, end, foot = _bent(limb)
    a, b, at = view.project(np.array([root, end, foot]))
    to = at + np.array([70.0, 0.0])
    body += line(a, b, LIGHT.ink, 1.4, "1 4") + _arrow(at, to, LIGHT.right.colour)
    body += words(to[0] + 4, to[1] + 4, "back", LIGHT, LIGHT.right.ink, weight="bold")
    body += words(EDGE, 315, "dotted: the shoulder–wrist line", LIGHT)
    return body, "The fold direction of an elbow: back, away from the dotted line between shoulder and wrist."


def _skew(limb: Limb) -> tuple[str, str]:
    foot, scale = np.array([110.0, 210.0]), 4.0
    along, aside = 18.0, 24.0
    joint = foot + scale * np.array([aside, -along])
    up, right = np.array([0.0, -1.0]), np.array([1.0, 0.0])
    body = _arrow(foot, foot + 110 * up, LIGHT.right.colour)
    body += words(foot[0], foot[1] - 120, "back: its fold direction", LIGHT, LIGHT.right.ink, "middle")
    body += line(foot, foot + 150 * right, LIGHT.unsure.colour, 1.4, "1 4")
    body += words(foot[0] + 150, foot[1] + 18, "sideways", LIGHT, anchor="end")
    body += line(foot, joint, LIGHT.wrong.colour, 2.4, LIGHT.wrong.dash)
    angle = np.degrees(np.arctan2(aside, along))
    bow = foot + 46 * np.array([np.sin(np.radians(angle)), -np.cos(np.radians(angle))])
    start = foot + 46 * up
    body += (f'<path d="M{start[0]:.1f} {start[1]:.1f}A46 46 0 0 1 {bow[0]:.1f} {bow[1]:.1f}" fill="none" '
             f'stroke="{LIGHT.ink}" stroke-width="1.4"/>')  # fmt: skip
    body += words(foot[0] + 30, foot[1] - 52, f"{angle:.0f}°", LIGHT)
    body += f'<circle cx="{joint[0]:.1f}" cy="{joint[1]:.1f}" r="5" fill="{LIGHT.ink}"/>'
    body += words(joint[0] + 10, joint[1] + 4, "elbow", LIGHT, weight="bold")
    body += (
        f'<rect x="{foot[0] - 4}" y="{foot[1] - 4}" width="8" height="8" fill="{LIGHT.paper}" stroke="{LIGHT.ink}"/>'
    )
    body += words(EDGE, 295, "looking down the shoulder–wrist line,", LIGHT)
    body += words(EDGE, 312, "which is the small square", LIGHT)
    lies = f"{along:.0f} mm back and {aside:.0f} mm sideways of it"
    return body, f"Skew: seen along the line, the elbow lies {lies}, which is {angle:.0f} degrees out of its plane."


DRAWN: dict[str, Callable[[Limb], tuple[str, str]]] = {
    "section": _section, "local radius": _local_radius, "fold direction": _fold_direction, "skew": _skew,
}  # fmt: skip
