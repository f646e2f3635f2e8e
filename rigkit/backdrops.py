"""Backdrops: a mesh (n, 3) seen from one side with what is written round it, as SVG text that overlays can lie on."""

from __future__ import annotations

import numpy as np

from rigkit.mesh import Mesh
from rigkit.outline import Edges
from rigkit.picture import EDGE, TITLE_TEXT, Style, View, bar_length
from rigkit.plates import flesh, line, svg, within, words

ARROW, HEAD = 26, 7  # px: length of a direction's arrow, and of its head


def backdrop(mesh: Mesh, edges: Edges, view: View, side: str, style: Style, sentence: str) -> str:
    """The mesh in one view with title, directions and a bar of its scale; sentence: its name for screen readers."""
    return svg(view.size, sentence, [ground(mesh, edges, view, side, style)])


def ground(mesh: Mesh, edges: Edges, view: View, side: str, style: Style) -> str:
    """The same as the inside of an SVG."""
    width, height = view.size
    paper = f'<rect width="{width}" height="{height}" fill="{style.paper}"/>'
    skin = flesh(view, mesh.vertices, mesh.triangles, edges, style, hidden=True)
    return paper + within(view.size, [skin]) + _round(view, side, style)


def _round(view: View, side: str, style: Style) -> str:
    """Title, side, directions and bar: what is written on the paper round the flesh."""
    width, height = view.size
    drawn = [words(EDGE, 23, view.title, style, weight="bold", size=TITLE_TEXT)]
    if view.name in ("front", "above"):
        drawn.append(words(width - EDGE, 23, "the character's left →", style, anchor="end"))
    if view.name == "side":
        drawn.append(words(EDGE, 40, f"seen from the character's {side}", style))
        facing = "facing this way →" if side == "right" else "← facing this way"
        drawn.append(words(width - EDGE, 23, facing, style, anchor="end"))
    return "".join(drawn) + _directions(view, side, style) + _bar(view, style)


def _directions(view: View, side: str, style: Style) -> str:
    """Small arrows with their words; a direction that points at the eye has none."""
    outward = (-1.0 if side == "right" else 1.0, 0.0, 0.0)
    arrows = []
    for word, direction in (("up", (0.0, 1.0, 0.0)), ("out", outward), ("forward", (0.0, 0.0, 1.0))):
        step = np.array([np.dot(direction, view.right), -np.dot(direction, view.up)])
        if np.linalg.norm(step) > 0.2:
            arrows.append((word, step))
    left = max([0.0] + [ARROW * -step[0] + 8 * len(word) for word, step in arrows if step[0] < -0.3])
    falls = any(step[1] > 0.5 for _, step in arrows)
    root = np.array([EDGE + 8 + left, view.size[1] - (46 if falls else 16)])
    drawn = []
    for word, step in arrows:
        tip, way = root + ARROW * step, step / np.linalg.norm(step)
        across = np.array([-way[1], way[0]])
        corners = [tip, tip - HEAD * way + 3 * across, tip - HEAD * way - 3 * across]
        drawn.append(line(root, tip - 0.5 * HEAD * way, style.ink, 1.3))
        drawn.append(f'<polygon points="{" ".join(f"{x:.1f},{y:.1f}" for x, y in corners)}" fill="{style.ink}"/>')
        steep = abs(step[1]) > abs(step[0])
        beyond = tip + (np.array([0.0, 9 * np.sign(step[1])]) if steep else np.array([5 * np.sign(step[0]), 0.0]))
        across_word = "middle" if steep else ("start" if step[0] > 0 else "end")
        anchor = "start" if steep and beyond[0] < 30 else across_word
        drawn.append(words(beyond[0], beyond[1] + 4, word, style, anchor=anchor))
    return "".join(drawn)


def _bar(view: View, style: Style) -> str:
    """A bar as long as it says."""
    mm, (width, height) = bar_length(view.scale), view.size
    long, right, foot = mm / 1000 * view.scale, width - EDGE, height - 14
    left = right - long
    bar = f"M{left:.1f} {foot - 4}v4H{right:.1f}v-4"
    label = words((left + right) / 2, foot - 8, f"{mm} mm", style, anchor="middle")
    return f'<path d="{bar}" fill="none" stroke="{style.ink}" stroke-width="1.4"/>{label}'
