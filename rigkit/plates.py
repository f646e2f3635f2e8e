"""Ink over a plate: bones, joints, a folded limb and a slice as SVG text, made from arrays (n, 3) and a `View`.

Overlays are the only part of a plate that changes while a slider moves, so they are plain text without ids or styles of
their own. Every SVG is one picture to a screen reader, with one sentence that says what it shows now.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

import numpy as np

from rigkit.mesh import Mesh
from rigkit.outline import Edges, contour_lines, front_facing
from rigkit.picture import FONTS_ON_SCREEN, LIGHT, SMALL_TEXT, Sign, Style, View
from rigkit.skeleton import Skeleton

THICK, THIN = 3.3, 0.2  # px: half width of a bone at its ends, and where the curves of its shaft aim at in the middle
LETTER = 6.9  # px, width of a letter of 12 px text, to choose the side of a label


@dataclass(frozen=True)
class Fold:
    """A limb folded by so much: skin vertices (n, 3), joint places (j, 3) as in the skeleton, the verdict it shows."""

    vertices: np.ndarray
    positions: np.ndarray
    verdict: str


@dataclass(frozen=True)
class BendMark:
    """A rest bend to be drawn: joint numbers, the nearest point (3,) of their line to the middle, verdict, words."""

    root: int
    middle: int
    end: int
    foot: np.ndarray
    verdict: str
    words: str


def svg(size: tuple[int, int], sentence: str, body: Sequence[str], paper: str = "none") -> str:
    """One SVG of fixed size, named for screen readers by its sentence."""
    width, height = size
    ground = f'<rect width="{width}" height="{height}" fill="{paper}"/>' if paper != "none" else ""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" aria-label="{escape(sentence)}" width="{width}" '
        f'height="{height}" viewBox="0 0 {width} {height}" style="display:block" font-size="{SMALL_TEXT}" '
        f'font-family="{FONTS_ON_SCREEN}">{ground}{"".join(body)}</svg>'
    )


def words(
    x: float, y: float, text: str, style: Style, colour: str = "", anchor: str = "start", weight: str = "normal"
) -> str:
    """Text with a rim of paper, so that it reads on flesh and ink."""
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" font-weight="{weight}" fill="{colour or style.ink}" '
        f'stroke="{style.paper}" stroke-width="4" stroke-linejoin="round" paint-order="stroke">{escape(text)}</text>'
    )


def line(a, b, colour: str, width: float, dash: str = "") -> str:
    """A straight stroke from pixel a to pixel b."""
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<line x1="{a[0]:.1f}" y1="{a[1]:.1f}" x2="{b[0]:.1f}" y2="{b[1]:.1f}" stroke="{colour}" '
        f'stroke-width="{width}" stroke-linecap="round"{dashed}/>'
    )


def flesh_path(flat: np.ndarray, triangles: np.ndarray) -> str:
    """Triangles (m, 3) of projected vertices (n, 2) as one path in tenths of a pixel."""
    corners = np.rint(flat[triangles] * 10).astype(int)
    corners[:, 2] -= corners[:, 1]
    corners[:, 1] -= corners[:, 0]
    return ("M%d %dl%d %d %d %dz" * len(corners)) % tuple(corners.ravel().tolist())


def flesh(
    view: View, vertices: np.ndarray, triangles: np.ndarray, edges: Edges, style: Style, contour: str = ""
) -> str:
    """Skin as one path of the triangles that face the eye (stroke below, fill above) and the contours within."""
    flat, depth = view.project(vertices), view.depth(vertices)
    front = front_facing(flat, triangles)
    seen, _ = contour_lines(edges, flat, depth, front, triangles, view.size)
    rounded = np.rint(seen * 10).astype(int).reshape(-1, 4)
    inner = ("M%d %dL%d %d" * len(rounded)) % tuple(rounded.ravel().tolist())
    colour = contour or style.contour
    return (
        f'<g transform="scale(.1)" stroke-linejoin="round" stroke-linecap="round">'
        f'<path d="{flesh_path(flat, triangles[front])}" '
        f'fill="{style.flesh}" stroke="{colour}" stroke-width="32" paint-order="stroke"/>'
        f'<path d="{inner}" fill="none" stroke="{colour}" stroke-width="16"/></g>'
    )


def bones(places: np.ndarray, parents: Sequence[int | None], colour: str, dash: str = "", opacity: float = 0.92) -> str:
    """Long bones from each joint to its children, from pixels (j, 2): slender shafts, wider at both ends; dashed lines
    where `dash` is given."""
    drawn = []
    for child, parent in enumerate(parents):
        if parent is None:
            continue
        start, end = places[parent], places[child]
        along = end - start
        length = float(np.hypot(*along))
        if length < 1.0:
            continue
        across = np.array([-along[1], along[0]]) / length
        middle, wide, thin = (start + end) / 2, THICK * across, THIN * across
        points = [start + wide, middle + thin, end + wide, end - wide, middle - thin, start - wide]
        a, b, c, d, e, f = (f"{x:.1f},{y:.1f}" for x, y in points)
        if dash:
            drawn.append(line(start, end, colour, 3.0, dash))
        else:
            drawn.append(
                f'<path d="M{a}Q{b} {c}L{d}Q{e} {f}Z" fill="{colour}" stroke="{colour}" stroke-width=".8" '
                f'stroke-linejoin="round" opacity="{opacity}"/>'
            )
    return "".join(drawn)


def _joints(places: np.ndarray, chosen: int | None, style: Style, colour: str = "") -> str:
    ink = colour or style.ink
    drawn = [
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4.2" fill="{style.paper}" stroke="{ink}" stroke-width="1.7"/>'
        for number, (x, y) in enumerate(places)
        if number != chosen
    ]
    if chosen is not None:
        x, y = places[chosen]
        drawn.append(
            f'<circle cx="{x:.1f}" cy="{y:.1f}" r="8.5" fill="none" stroke="{style.paper}" stroke-width="4"/>'
            f'<circle cx="{x:.1f}" cy="{y:.1f}" r="8.5" fill="none" stroke="{ink}" stroke-width="1.6"/>'
            f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4.4" fill="{ink}"/>'
        )
    return "".join(drawn)


def _label(view: View, place: np.ndarray, lines: Sequence[tuple[str, str]], style: Style, gap: float = 17) -> str:
    """Lines of (text, colour) beside a joint, on the side of the plate that has room; never beyond its edge."""
    widest = max(LETTER * len(text) for text, _ in lines)
    rightward = place[0] + gap + widest < view.size[0] - 4 or place[0] < view.size[0] / 2
    least, most = 4 + (0 if rightward else widest), view.size[0] - 4 - (widest if rightward else 0)
    x = min(max(place[0] + (gap if rightward else -gap), least), max(most, least))
    below = 16 * (len(lines) - 1)
    top = min(max(place[1] + 4 - below / 2, 16), view.size[1] - 6 - below)
    return "".join(
        words(x, top + 16 * row, text, style, colour, "start" if rightward else "end", "bold" if row == 0 else "normal")
        for row, (text, colour) in enumerate(lines)
    )


def _bend_lines(view: View, places: np.ndarray, bend: BendMark, sign: Sign, style: Style) -> str:
    foot = view.project(bend.foot)[0]
    return line(places[bend.root], places[bend.end], style.ink, 1, "1 3") + line(
        foot, places[bend.middle], sign.colour, 2.4, sign.dash if bend.verdict != "right way" else ""
    )


def overlay(
    view: View,
    skeleton: Skeleton,
    chosen: int | None = None,
    label: str = "",
    sentence: str = "",
    bend: BendMark | None = None,
    folds: Sequence[Fold] = (),
    mesh: Mesh | None = None,
    edges: Edges | None = None,
    style: Style = LIGHT,
) -> str:
    """What lies over one plate: SVG text as large as the view.

    view, skeleton: as drawn. chosen: number of the joint that is filled, ringed and labelled. bend: draws the line from
    root to end and the middle joint's offset from it. folds: none leaves the limb at rest; one is drawn as flesh with
    the rest pose as its ghost; two are the ways a limb may go when it is too straight to tell, dotted. mesh, edges: the
    skin at rest, needed with folds. sentence: what a screen reader says.
    """
    places = view.project(skeleton.positions)
    body = []
    if folds and mesh is not None and edges is not None:
        width, height = view.size
        body.append(f'<rect y="46" width="{width}" height="{height - 104}" fill="{style.paper}" opacity=".62"/>')
        if len(folds) == 1:
            body.append(flesh(view, folds[0].vertices, mesh.triangles, edges, style))
        else:  # one veil over both, so that it is no darker where they overlap
            ways = "".join(_possible(view, fold, mesh, style) for fold in folds)
            body.append(f'<g transform="scale(.1)" opacity=".32">{ways}</g>')
        body.append(bones(places, skeleton.parents, style.ink, opacity=0.28))
        for fold in folds:
            sign = style.sign(fold.verdict)
            moved = view.project(fold.positions)
            told = (
                bend is not None or len(folds) > 1
            )  # where the bend is no matter yet, the fold is shown without verdict
            body.append(
                bones(moved, skeleton.parents, *((sign.colour, sign.dash) if told and sign.dash else (style.ink,)))
            )
            body.append(_joints(moved, chosen, style))
            if told:
                middle = moved[bend.middle] if bend else moved[len(moved) // 2]
                text = f"{sign.mark} {sign.words}" if len(folds) == 1 else sign.mark
                body.append(_label(view, middle, [(text, sign.ink)], style))
        return svg(view.size, sentence, body)
    sign = style.sign(bend.verdict) if bend else style.right
    body.append(bones(places, skeleton.parents, style.ink))
    if bend:
        body.append(_bend_lines(view, places, bend, sign, style))
    body.append(_joints(places, chosen, style))
    if chosen is not None:
        lines = [(label or skeleton.names[chosen], style.ink)]
        if bend and chosen == bend.middle:
            lines.append((f"{sign.mark} {bend.words}", sign.ink))
        body.append(_label(view, places[chosen], lines, style))
    return svg(view.size, sentence, body)


def _possible(view: View, fold: Fold, rest: Mesh, style: Style) -> str:
    """A way the limb might go: flesh without contour."""
    flat = view.project(fold.vertices)
    path = flesh_path(flat, rest.triangles[front_facing(flat, rest.triangles)])
    return f'<path d="{path}" fill="{style.contour}"/>'
