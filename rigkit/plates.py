"""What plates are drawn with: strokes, words, flesh and bones as SVG text, made from arrays (n, 3) and a `View`.

Every SVG is one picture to a screen reader, with one sentence that says what it shows now.
"""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

import numpy as np

from rigkit.outline import Edges, contour_lines, front_facing, rim_loops
from rigkit.picture import FONTS_ON_SCREEN, FOOT_STRIP, SMALL_TEXT, TITLE_STRIP, Style, View

SPARE = 6  # px that strokes may reach into the strips
THICK, THIN = 3.3, 0.2  # px: half width of a bone at its ends, and where the curves of its shaft aim at in the middle


def svg(size: tuple[int, int], sentence: str, body: Sequence[str], paper: str = "none") -> str:
    """One SVG of fixed size, named for screen readers by its sentence."""
    width, height = size
    ground = f'<rect width="{width}" height="{height}" fill="{paper}"/>' if paper != "none" else ""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" aria-label="{escape(sentence)}" width="{width}" '
        f'height="{height}" viewBox="0 0 {width} {height}" style="display:block" font-size="{SMALL_TEXT}" '
        f'font-family="{FONTS_ON_SCREEN}">{ground}{"".join(body)}</svg>'
    )


def within(size: tuple[int, int], body: Sequence[str]) -> str:
    """What is drawn on a plate, kept off the strips for title and scale."""
    width, height = size[0], size[1] - TITLE_STRIP - FOOT_STRIP + 2 * SPARE
    room = f'y="{TITLE_STRIP - SPARE}" width="{width}" height="{height}"'
    return f'<svg {room} viewBox="0 {TITLE_STRIP - SPARE} {width} {height}" overflow="hidden">{"".join(body)}</svg>'


def words(
    x: float, y: float, text: str, style: Style, colour: str = "", anchor: str = "start", weight: str = "normal",
    size: int = 0,
) -> str:  # fmt: skip
    """Text with a rim of paper, so that it reads on flesh and ink. size: px, where it is not the usual one."""
    large = f'font-size="{size}" ' if size else ""
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" {large}text-anchor="{anchor}" font-weight="{weight}" '
        f'fill="{colour or style.ink}" '
        f'stroke="{style.paper}" stroke-width="4" stroke-linejoin="round" paint-order="stroke">{escape(text)}</text>'
    )


def line(a, b, colour: str, width: float, dash: str = "") -> str:
    """A straight stroke from pixel a to pixel b."""
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<line x1="{a[0]:.1f}" y1="{a[1]:.1f}" x2="{b[0]:.1f}" y2="{b[1]:.1f}" stroke="{colour}" '
        f'stroke-width="{width}" stroke-linecap="round"{dashed}/>'
    )


def flesh_path(flat: np.ndarray, triangles: np.ndarray, edges: Edges, front: np.ndarray) -> str:
    """What the triangles (m, 3) that face the eye cover, of projected vertices (n, 2): their rim as one path in tenths
    of a pixel; of a mesh whose triangles do not agree which side is out, the triangles themselves."""
    rounded = np.rint(flat * 10).astype(int)
    loops = rim_loops(edges, front) if edges.even else list(triangles[front])
    parts = []
    for loop in loops:
        places = rounded[loop]
        steps = np.diff(places, axis=0)
        parts.append(("M%d %d" + "l%d %d" * len(steps) + "z") % (*places[0].tolist(), *steps.ravel().tolist()))
    return "".join(parts)


def flesh(
    view: View, vertices: np.ndarray, triangles: np.ndarray, edges: Edges, style: Style, hidden: bool = False
) -> str:
    """Skin as its rim (stroke below, fill above) and the contours within. hidden: those behind other flesh, too."""
    flat, depth = view.project(vertices), view.depth(vertices)
    front = front_facing(flat, triangles)
    seen, behind = contour_lines(edges, flat, depth, front, triangles, view.size)
    drawn = [
        f'<path d="{flesh_path(flat, triangles, edges, front)}" fill="{style.flesh}" stroke="{style.contour}" '
        'stroke-width="32" paint-order="stroke"/>'
    ]
    if hidden:
        drawn.append(f'<path d="{_pieces(behind)}" fill="none" stroke="{style.faint}" stroke-width="8"/>')
    drawn.append(f'<path d="{_pieces(seen)}" fill="none" stroke="{style.contour}" stroke-width="16"/>')
    return f'<g transform="scale(.1)" stroke-linejoin="round" stroke-linecap="round">{"".join(drawn)}</g>'


def _pieces(pieces: np.ndarray) -> str:
    rounded = np.rint(pieces * 10).astype(int).reshape(-1, 4)
    return ("M%d %dL%d %d" * len(rounded)) % tuple(rounded.ravel().tolist())


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
