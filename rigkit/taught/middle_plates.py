"""Plates of lesson 5: a line of sight, an outline's points, slices that run on, three answers; arrays to SVG."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from rigkit.bench import Bench
from rigkit.outline import Edges, front_facing
from rigkit.picture import LIGHT, View, standard_view
from rigkit.plates import flesh, line, svg, words
from rigkit.section import Loop
from rigkit.sight import line_of_sight
from rigkit.slices import MM, flat_axes
from rigkit.stills import Picture
from rigkit.taught.middle_ways import (
    FRONT,
    SIDE,
    answers_of,
    at_root,
    elbow_loop,
    limb_with,
    sighted,
    slice_loop,
    spread,
    true_place,
)
from rigkit.vectors import length

SIZE = (262, 320)  # px; three lie side by side in a notebook
HEAD, FOOT = 52, 34  # px kept free of flesh
TALL = 0.17  # metres of limb that a close-up shows


def _cross(place, arm: float, turned: bool = False) -> str:
    """A plus, or turned a cross."""
    arms = np.array([[1, 1], [1, -1]]) * 0.7 * arm if turned else np.array([[arm, 0], [0, arm]])
    return "".join(line(place - one, place + one, LIGHT.paper, 4) for one in arms) + "".join(
        line(place - one, place + one, LIGHT.ink, 1.8) for one in arms
    )


def _ring(place, radius: float = 5.0, filled: bool = True) -> str:
    fill = LIGHT.ink if filled else LIGHT.paper
    return (f'<circle cx="{place[0]:.1f}" cy="{place[1]:.1f}" r="{radius}" fill="{fill}" stroke="{LIGHT.ink}" '
            f'stroke-width="1.6"/>')  # fmt: skip


def _diamond(place) -> str:
    x, y = place
    return (f'<rect x="{x - 5:.1f}" y="{y - 5:.1f}" width="10" height="10" fill="{LIGHT.paper}" '
            f'stroke="{LIGHT.wrong.colour}" stroke-width="2" transform="rotate(45 {x:.1f} {y:.1f})"/>')  # fmt: skip


def _plate(title: str, under: str, sentence: str, body: Sequence[str], key: Sequence[tuple[str, str]]) -> str:
    """A plate with its title, a line under it, and the signs with their words in a row at the foot."""
    bands = ((0, HEAD - 6), (SIZE[1] - FOOT + 4, FOOT))
    drawn = [*body, *(f'<rect y="{y}" width="{SIZE[0]}" height="{tall}" fill="{LIGHT.paper}"/>' for y, tall in bands),
             words(12, 21, title, LIGHT, weight="bold"), words(12, 39, under, LIGHT)]  # fmt: skip
    x, foot = 16.0, SIZE[1] - 11
    for sign, word in key:
        here = np.array([x, foot - 4.0])
        drawn.append({"plus": _cross(here, 5), "cross": _cross(here, 6, True), "dot": _ring(here, 4.4),
                      "circle": _ring(here, 4.4, False), "diamond": _diamond(here)}[sign])  # fmt: skip
        drawn.append(words(x + 11, foot, word, LIGHT))
        x += 26 + 7.0 * len(word)
    return svg(SIZE, sentence, drawn, LIGHT.paper)


def _close_up(name: str, side: str, centre: np.ndarray, tall: float = TALL) -> View:
    view = standard_view(name, side)
    return replace(view, centre=tuple(np.asarray(centre).tolist()), scale=(SIZE[1] - HEAD - FOOT) / tall, size=SIZE)


def sights_picture() -> Picture:
    """Two lines of sight: through a joint that lies a little off in Orlo's slanting forearm, looked at from the side;
    and through the joint in his thumb, which lies in the middle of it, looked at from the front."""
    return Picture([_sight("elbow", "side", np.array([0.015, 0.015, 0.010])), _sight("thumb 2", "front", np.zeros(3))])


def _sight(role: str, seen_from: str, shift: np.ndarray) -> tuple[str, str]:
    """A line of sight through a joint a shift (3,) from its place, drawn square to the look: where it enters and leaves
    the flesh, half-way between, and the middle of the slice through the joint."""
    limb, place = limb_with(role), true_place(role) + shift
    look, name = (FRONT, "side") if seen_from == "front" else (SIDE, "front")
    heights = line_of_sight(limb.mesh, place, look)
    enters, leaves = place + np.array([[heights[heights <= 0].max()], [heights[heights > 0].min()]]) * look
    seen, loop = sighted(limb.mesh, place, look), slice_loop(limb.mesh, place, limb.planes[role])
    view, off = _close_up(name, limb.side, loop.centroid), MM * float(length(seen - loop.centroid))
    at = view.project(np.array([place, loop.centroid, seen, enters, leaves]))
    row = at[0][1]
    body = [flesh(view, limb.mesh.vertices, limb.mesh.triangles, Edges.of(limb.mesh.triangles), LIGHT),
            line((8, row), (SIZE[0] - 8, row), LIGHT.wrong.colour, 1.8, "7 4"),
            *(line(end - [0, 8], end + [0, 8], LIGHT.wrong.colour, 2.4) for end in at[3:]),
            _ring(at[0]), _cross(at[1], 7), _diamond(at[2])]  # fmt: skip
    part = role.split()[0]
    sentence = (f"A line of sight from the {seen_from} through the {part}. Half-way between where it enters and leaves "
                f"the flesh is a place {off:.0f} mm from the middle of the slice through the joint.")  # fmt: skip
    key = (("dot", "joint"), ("diamond", "half-way"), ("plus", "middle"))
    return _plate(
        f"{part.capitalize()}, looked at from the {seen_from}", f"{off:.0f} mm apart", sentence, body, key
    ), sentence


def _laid(loop: Loop, outward: float) -> tuple[np.ndarray, tuple[str, str, str, str]]:
    """What lays a slice flat, world (3,) to mm (2,): right and down as columns; and the words for its edges."""
    right, fall, edges = flat_axes(loop.plane.normal, outward)
    return MM * np.stack([right, fall], axis=1), edges


def _slice(loop: Loop, outward: float) -> tuple[list[str], np.ndarray, float, np.ndarray]:
    """An outline to scale: what is drawn, the frame that lays it flat, px a mm, its middle on the plate."""
    frame, edges = _laid(loop, outward)
    flat = (loop.points - loop.centroid) @ frame
    spans = np.ptp(flat, axis=0)
    scale = min((SIZE[0] - 84) / spans[0], (SIZE[1] - HEAD - FOOT - 46) / spans[1])
    middle = np.array([SIZE[0] / 2, (HEAD + SIZE[1] - FOOT) / 2]) - scale * (flat.max(axis=0) + flat.min(axis=0)) / 2
    corners = " ".join(f"{x:.1f},{y:.1f}" for x, y in middle + scale * flat)
    body = [f'<polygon points="{corners}" fill="{LIGHT.flesh}" stroke="{LIGHT.contour}" stroke-width="2"/>',
            words(SIZE[0] - 8, SIZE[1] / 2 + 4, edges[0], LIGHT, anchor="end"),
            words(8, SIZE[1] / 2 + 4, edges[2], LIGHT),
            words(SIZE[0] / 2, SIZE[1] - FOOT - 2, edges[1], LIGHT, anchor="middle"),
            words(SIZE[0] / 2, HEAD + 14, edges[3], LIGHT, anchor="middle"), _bar(scale)]  # fmt: skip
    return body, frame, scale, middle


def _bar(scale: float) -> str:
    """A bar of 10 mm, or of 50 mm where that would be too short to see, at the lower left; scale: px a mm."""
    mm, low = 10 if 10 * scale >= 14 else 50, SIZE[1] - FOOT - 6
    ends = np.array([[12.0, low], [12.0 + mm * scale, low]])
    return line(ends[0], ends[1], LIGHT.ink, 2.4) + words(12, low - 7, f"{mm} mm", LIGHT)


def outline_picture() -> Picture:
    """The slice through Orlo's elbow with points on its outline, evenly spaced, crowded at the back, and crowded alike
    but eight times as many: their mean, and the middle of the flesh."""
    loop, plates = elbow_loop(), []
    for count, crowded in ((32, False), (32, True), (256, True)):
        body, frame, scale, middle = _slice(loop, 1.0)
        points = spread(loop, count, crowded)
        off = MM * float(length(points.mean(axis=0) - loop.centroid))
        at = middle + scale * ((points - loop.centroid) @ frame)
        size = 2.4 if count < 100 else 1.2
        body += [_ring(one, size) for one in at] + [_cross(middle, 7), _diamond(at.mean(axis=0))]
        how = "half of them at the back" if crowded else "evenly spaced"
        sentence = (
            f"The slice through the elbow with {count} points on its outline, {how}: their mean is {off:.0f} mm off."
        )
        key = (("plus", "middle"), ("diamond", f"mean, {off:.0f} mm off"))
        plates.append((_plate(f"{count} points", how, sentence, body, key), sentence))
    return Picture(plates)


def roots_picture() -> Picture:
    """Slices through shoulder, hip and knuckle: the middle of each, and where the joint belongs."""
    plates = []
    for role, name in {"shoulder": "shoulder", "hip": "hip", "index 1": "knuckle"}.items():
        place, loop, state = at_root(role)
        body, frame, scale, middle = _slice(loop, 1.0)
        off = MM * float(length(place - loop.centroid))
        body += [_cross(middle, 7), _cross(middle + scale * ((place - loop.centroid) @ frame), 8, True)]
        sentence = f"A slice through the {name} {state}: its middle lies {off:.0f} mm from where the joint belongs."
        key = (("plus", "of the slice"), ("cross", "the joint"))
        plates.append((_plate(f"Slice at the {name}", f"{off:.0f} mm apart", sentence, body, key), sentence))
    return Picture(plates)


def answers_picture(what: Bench | str, role: str, start: str = "") -> Picture:
    """Three answers about a joint: flesh and anatomy in the slice through it; the loops in a close-up from the side,
    with the edges of the mesh."""
    limb, found = answers_of(what, role, start)
    mesh, side = limb.exercise.mesh, limb.exercise.side
    body, frame, scale, middle = _slice(found.loop, limb.outward)
    here, anatomy, *knobs = (
        middle + scale * ((one - found.flesh) @ frame) for one in (found.here, found.anatomy, *found.knobs)
    )
    body += [line(knobs[0], knobs[1], LIGHT.contour, 1.4, "2 4"), *(_ring(knob, 3.4, False) for knob in knobs),
             _ring(here), _cross(middle, 7), _cross(anatomy, 8, True)]  # fmt: skip
    apart = MM * float(length(found.anatomy - found.flesh))
    said = f"The slice through the {role}: flesh and anatomy lie {apart:.0f} mm apart."
    key = (("plus", "flesh"), ("cross", "anatomy"), ("dot", "joint"))
    plates = [(_plate(f"Across the {role}", "small rings: the knobs", said, body, key), said)]
    view = _close_up("side", side, found.here, 0.2)
    flat = view.project(mesh.vertices)
    body = [flesh(view, mesh.vertices, mesh.triangles, Edges.of(mesh.triangles), LIGHT), _edges(view, mesh, flat)]
    joint = view.project(found.here[None])[0]
    told = "no place where the loops lie close"
    if found.fold is not None:
        fold = view.project((found.here + found.fold * found.along)[None])[0]
        body += [line((30, fold[1]), (SIZE[0] - 30, fold[1]), LIGHT.right.colour, 2.4),
                 words(SIZE[0] - 30, fold[1] - 7, "loops", LIGHT, LIGHT.right.ink, "end", "bold")]  # fmt: skip
        told = f"the loops lie close {abs(MM * found.fold):.0f} mm {'below' if found.fold > 0 else 'above'} the joint"
    said = f"The {role} from the side, with the edges of the mesh: {told}."
    plates.append((_plate("Along the limb", "from the side", said, [*body, _ring(joint)], (("dot", "joint"),)), said))
    return Picture(plates)


def _edges(view: View, mesh, flat: np.ndarray) -> str:
    """The edges of the mesh that face the eye within the plate, as a modeller laid them: no diagonals of quads."""
    triangles = mesh.triangles[front_facing(flat, mesh.triangles)]
    inside = np.all((flat > 0) & (flat < view.size), axis=1)
    triangles = triangles[inside[triangles].any(axis=1)]
    ends = np.stack([triangles, np.roll(triangles, -1, axis=1)], axis=2)
    sizes = length(mesh.vertices[ends[..., 1]] - mesh.vertices[ends[..., 0]])
    kept = sizes < sizes.max(axis=1, keepdims=True)
    path = "".join(f"M{a[0]:.1f} {a[1]:.1f}L{b[0]:.1f} {b[1]:.1f}" for a, b in flat[ends[kept]])
    return f'<path d="{path}" stroke="{LIGHT.contour}" stroke-width=".6" fill="none"/>'
