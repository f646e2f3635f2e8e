"""The slice plate: a plane section laid flat, points (k, 2) in mm, with its centre, the joint and the allowed ring.

Seen from above (from the body's side of the limb), the front at the foot of the plate, as in the view from above.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rigkit.picture import EDGE, FOOT_STRIP, LIGHT, TITLE_STRIP, TITLE_TEXT, Style
from rigkit.plates import line, svg, within, words
from rigkit.section import Held, Section

MM = 1000.0
OFF_PLANE = 1.5  # mm; a joint nearer to the slice than a slider's step and some counts as in it
SCALES = (
    8.0,
    6.0,
    4.0,
    3.2,
    2.6,
    2.0,
    1.6,
    1.2,
    0.9,
    0.6,
)  # px a mm; few, so that a plate's scale seldom changes while a joint moves


@dataclass(frozen=True)
class Slice:
    """What a slice plate shows, all in mm from the section's centre, x to the right and y down.

    loops: outlines (k, 2); held: number of the one that the joint belongs to, or None. joint: (2,). ring: the allowed
    distance. edges: words at the right, lower, left and upper edge. pierced: where the line of the neighbours goes
    through the plane, or None. off: mm by which the joint lies off the plane, positive on the body's side. by_flesh:
    whether the centre is the flesh's (a plus) or the landmarks' (a cross). line: what the neighbours' line is called.
    """

    loops: tuple[np.ndarray, ...]
    held: int | None
    joint: np.ndarray
    ring: float
    edges: tuple[str, str, str, str]
    pierced: np.ndarray | None = None
    off: float = 0.0
    by_flesh: bool = True
    line: str = ""


def flat_axes(normal: np.ndarray, outward: float = 1.0) -> tuple[np.ndarray, np.ndarray, tuple[str, str, str, str]]:
    """Unit vectors (3,) that point right and down in a slice with this normal, and the words for its four edges.

    The two body directions that lie nearest to the plane are used: for a hanging limb right is the character's left and
    down is its front. outward: +1 where out is the character's left (+X), -1 where it is its right.
    """
    steepest = int(np.argmax(np.abs(normal)))
    across, down = {1: (0, 2), 0: (2, 1), 2: (0, 1)}[steepest]
    right = np.eye(3)[across] - normal * normal[across]
    right /= np.linalg.norm(right)
    fall = np.eye(3)[down] * (-1.0 if down == 1 else 1.0)
    fall = fall - normal * (fall @ normal) - right * (fall @ right)
    fall /= np.linalg.norm(fall)
    sides = {0: ("out", "in") if outward > 0 else ("in", "out"), 1: ("down", "up"), 2: ("forward", "back")}
    return right, fall, (sides[across][0], sides[down][0], sides[across][1], sides[down][1])


def lay_flat(
    section: Section,
    held: Held,
    joint: np.ndarray,
    centre: np.ndarray,
    ring: float,
    line_through: tuple[np.ndarray, np.ndarray] | None = None,
    outward: float = 1.0,
    by_flesh: bool = True,
    line: str = "",
) -> Slice:
    """Lay a section flat round the middle that decides, `centre` (3,); all lengths in metres, world frame."""
    normal = section.plane.normal
    right, fall, edges = flat_axes(normal, outward)
    frame = MM * np.stack([right, fall], axis=1)
    pierced = None
    if line_through is not None:
        start, run = line_through[0], line_through[1] - line_through[0]
        if abs(run @ normal) > 1e-6:
            pierced = (start + run * ((section.plane.origin - start) @ normal) / (run @ normal) - centre) @ frame
    number = next((i for i, loop in enumerate(section.loops) if loop is held.loop), None)
    loops = tuple((loop.points - centre) @ frame for loop in section.loops)
    return Slice(
        loops,
        number,
        (joint - centre) @ frame,
        MM * ring,
        edges,
        pierced,
        -MM * (joint - section.plane.origin) @ normal,
        by_flesh,
        line,
    )


def plate_scale(cut: Slice, size: tuple[int, int]) -> float:
    """Pixels for a millimetre: the largest of a few steps at which the held loop fits."""
    if cut.held is None:
        return SCALES[3]
    half = min(size[0] / 2 - 34, (size[1] - TITLE_STRIP - FOOT_STRIP) / 2 - 20)
    reach = float(np.abs(cut.loops[cut.held]).max())
    return next((scale for scale in SCALES if scale * reach <= half), SCALES[-1])


def slice_plate(
    cut: Slice,
    size: tuple[int, int],
    title: str,
    sentence: str,
    verdict: str = "",
    note: str = "",
    style: Style = LIGHT,
) -> str:
    """The slice to scale: SVG text. verdict colours the joint's offset from the line; note stands below the title."""
    scale = plate_scale(cut, size)
    middle = np.array([size[0] / 2, (TITLE_STRIP + size[1] - FOOT_STRIP) / 2])
    body = [words(EDGE, 23, title, style, weight="bold", size=TITLE_TEXT)]
    if note:
        body.append(words(EDGE, 40, note, style))
    loops = []
    for number, loop in enumerate(cut.loops):
        corners = " ".join(f"{x:.1f},{y:.1f}" for x, y in middle + scale * loop)
        fill, weight = (style.flesh, 2.2) if number == cut.held else (style.paper, 1)
        loops.append(
            f'<polygon points="{corners}" fill="{fill}" stroke="{style.contour}" stroke-width="{weight}" '
            'stroke-linejoin="round"/>'
        )
    body.append(within(size, loops))
    body.append(_edge_words(cut, size, middle, style))
    if cut.held is not None:
        body.append(
            f'<circle cx="{middle[0]:.1f}" cy="{middle[1]:.1f}" r="{scale * cut.ring:.1f}" fill="none" '
            f'stroke="{style.ink}" stroke-width="1"/>'
        )
        body += _centre_sign(cut, middle, 6.0, style)
    joint, beyond = _within(middle + scale * cut.joint, size)
    far = f", {np.hypot(*cut.joint):.0f} mm away" if beyond else ""
    if cut.pierced is not None:
        sign = style.sign(verdict)
        pierced, _ = _within(middle + scale * cut.pierced, size)
        body.append(line(pierced, joint, sign.colour, 2.4, sign.dash))
        x, y = pierced
        body.append(
            f'<rect x="{x - 4:.1f}" y="{y - 4:.1f}" width="8" height="8" fill="{style.paper}" stroke="{sign.colour}" '
            f'stroke-width="1.8" transform="rotate(45 {x:.1f} {y:.1f})"/>'
        )
    x, y = joint
    off = abs(cut.off) >= OFF_PLANE
    far = f", {abs(cut.off):.0f} mm {'above' if cut.off > 0 else 'below'}" if off else far
    fill, rim = (style.paper, style.ink) if off else (style.ink, style.paper)
    body.append(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="5" fill="{fill}" stroke="{rim}" stroke-width="1.6"/>')
    right, foot = size[0] - EDGE, size[1] - 14
    left = right - 10 * scale
    body.append(
        f'<path d="M{left:.1f} {foot - 4}v4h{10 * scale:.1f}v-4" fill="none" stroke="{style.ink}" stroke-width="1.4"/>'
    )
    body.append(
        words(
            (left + right) / 2 if 10 * scale > 40 else right,
            foot - 9,
            "10 mm",
            style,
            anchor="middle" if 10 * scale > 40 else "end",
        )
    )
    body.append(_key(cut, size, verdict, style, fill, far))
    return svg(size, sentence, body, style.paper)


def _key(cut: Slice, size: tuple[int, int], verdict: str, style: Style, fill: str, far: str) -> str:
    """The signs of a slice, each drawn with its word at the foot."""
    row, x = size[1] - 14.0, EDGE + 4.0
    dot = f'<circle cx="{x:.1f}" cy="{row - 4}" r="4.4" fill="{fill}" stroke="{style.ink}" stroke-width="1.4"/>'
    drawn = [dot, words(x + 10, row, f"joint{far}", style)]
    if cut.pierced is not None:
        row -= 20
        sign = style.sign(verdict)
        drawn += [
            f'<rect x="{x - 4:.1f}" y="{row - 8}" width="8" height="8" fill="{style.paper}" stroke="{sign.colour}" '
            f'stroke-width="1.8" transform="rotate(45 {x:.1f} {row - 4})"/>',
            words(x + 10, row, cut.line, style),
        ]
    if cut.held is not None:
        where = x + 56
        if far or not cut.by_flesh:  # no room beside the joint
            where, row = x, row - 20
        else:
            row = size[1] - 14.0
        drawn += _centre_sign(cut, np.array([where, row - 4.0]), 5.0, style)
        drawn.append(words(where + 11, row, "middle" if cut.by_flesh else "middle of the landmarks", style))
    return "".join(drawn)


def _centre_sign(cut: Slice, place: np.ndarray, arm: float, style: Style) -> list[str]:
    """A plus for the middle of the flesh, a cross for that of the landmarks."""
    arms = np.array([[arm, 0.0], [0.0, arm]] if cut.by_flesh else [[0.7 * arm, 0.7 * arm], [0.7 * arm, -0.7 * arm]])
    return [line(place - one, place + one, style.ink, 1.4) for one in arms]


def _edge_words(cut: Slice, size: tuple[int, int], middle: np.ndarray, style: Style) -> str:
    right, lower, left, upper = cut.edges
    foot = size[1] - FOOT_STRIP
    return (
        words(size[0] - 8, middle[1] + 4, f"{right} →", style, anchor="end")
        + words(8, middle[1] + 4, f"← {left}", style)
        + words(middle[0], foot + 2, f"{lower} ↓", style, anchor="middle")
        + words(middle[0], TITLE_STRIP + 12, f"{upper} ↑", style, anchor="middle")
    )


def _within(place: np.ndarray, size: tuple[int, int]) -> tuple[np.ndarray, bool]:
    """A pixel kept on the plate, and whether it had to be."""
    kept = np.clip(place, [12, TITLE_STRIP + 22], [size[0] - 12, size[1] - FOOT_STRIP - 18])
    return kept, bool(np.abs(kept - place).max() > 0.5)
