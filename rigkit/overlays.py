"""Ink over a plate: joints (j, 3), their bones, a pulled limb and a ghost to compare with, as SVG text on a backdrop.

Overlays are the only part of a plate that changes while a slider moves, so they are plain text without ids or styles of
their own. A joint that can be chosen carries its number in the list of choices, for the page to pick it by.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from rigkit.mesh import Mesh
from rigkit.outline import Edges, front_facing
from rigkit.picture import LIGHT, Sign, Style, View
from rigkit.plates import bones, flesh, flesh_path, line, svg, within, words
from rigkit.skeleton import Skeleton

LETTER = 6.9  # px, width of a letter of 12 px text, to choose the side of a label
CROWD = 8  # joints of a limb from which a bend is told beside the plates alone: there is no room for it among fingers
PICKED = 13  # px about a joint within which a click means it


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


@dataclass(frozen=True)
class Extra:
    """What is drawn beside joints and flesh. ghost: joints to compare with, dotted, and what they are called. goal,
    target: where the end is pulled to, and where the bend target stands, (3,), or None. picks: numbers of the joints
    that a click chooses, in the order of the choices."""

    ghost: Skeleton | None = None
    ghost_name: str = ""
    goal: np.ndarray | None = None
    target: np.ndarray | None = None
    picks: tuple[int, ...] = ()


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
    """Lines of (text, colour) beside a joint, on the side of the plate that has room, else below it or above; never
    beyond the plate's edge."""
    (width, height), widest = view.size, max(LETTER * len(text) for text, _ in lines)
    below = 16 * (len(lines) - 1)
    anchor, x, top = "start", place[0] + gap, place[1] + 4 - below / 2
    if x + widest > width - 4:
        anchor, x = "end", place[0] - gap
        if x - widest < 4:
            anchor, x = "middle", float(np.clip(place[0], 4 + widest / 2, max(width - 4 - widest / 2, 4 + widest / 2)))
            top = place[1] + gap + 9 if place[1] + gap + 9 + below < height - 64 else place[1] - gap - below
    least, most = {"start": (4, width - 4 - widest), "end": (4 + widest, width - 4)}.get(anchor, (x, x))
    x, top = min(max(x, least), max(most, least)), min(max(top, 16), height - 6 - below)
    return "".join(
        words(x, top + 16 * row, text, style, colour, anchor, "bold" if row == 0 else "normal")
        for row, (text, colour) in enumerate(lines)
    )


def _bend_lines(view: View, places: np.ndarray, bend: BendMark, sign: Sign, style: Style) -> str:
    foot = view.project(bend.foot)[0]
    return line(places[bend.root], places[bend.end], style.ink, 1, "1 3") + line(
        foot, places[bend.middle], sign.colour, 2.4, sign.dash if bend.verdict != "right way" else ""
    )


def _ghost(view: View, ghost: Skeleton, name: str, style: Style) -> str:
    """Joints as they were: dotted bones, small dotted rings, and their name once, beside the last."""
    places = view.project(ghost.positions)
    rings = "".join(
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="5" fill="none" stroke="{style.unsure.ink}" stroke-width="1.4" '
        'stroke-dasharray="2 2"/>'
        for x, y in places
    )
    lines = "".join(
        line(places[parent], places[child], style.unsure.ink, 1.4, "1 4")
        for child, parent in enumerate(ghost.parents)
        if parent is not None
    )
    return lines + rings + _label(view, places[-1], [(name, style.unsure.ink)], style)


def _aims(view: View, extra: Extra, middle: np.ndarray | None, style: Style) -> str:
    """The goal as a small open square, the bend target as a cross with a dotted line from the joint that it steers."""
    drawn = []
    if extra.goal is not None:
        x, y = view.project(extra.goal)[0]
        drawn.append(f'<rect x="{x - 7:.1f}" y="{y - 7:.1f}" width="14" height="14" fill="none" stroke="{style.ink}" '
                     'stroke-width="1.6"/>')  # fmt: skip
        drawn.append(_label(view, np.array([x, y + 16]), [("goal", style.ink)], style, 9))
    if extra.target is not None:
        at = view.project(extra.target)[0]
        for arm in (np.array([6.0, 6.0]), np.array([6.0, -6.0])):
            drawn.append(line(at - arm, at + arm, style.ink, 2))
        if middle is not None:
            drawn.append(line(middle, at, style.ink, 1, "1 4"))
        drawn.append(_label(view, at + np.array([0.0, 20.0]), [("bend target", style.ink)], style, 10))
    return "".join(drawn)


def _picks(places: np.ndarray, picks: Sequence[int], chosen: int | None) -> str:
    """Unseen rounds over the joints that a click chooses; the chosen one lies lowest: another is wanted."""
    order = sorted(range(len(picks)), key=lambda choice: picks[choice] != chosen)
    return "".join(
        f'<circle cx="{places[picks[choice]][0]:.1f}" cy="{places[picks[choice]][1]:.1f}" r="{PICKED}" '
        f'fill="transparent" data-joint="{choice}"/>'
        for choice in order
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
    extra: Extra | None = None,
) -> str:
    """What lies over one plate: SVG text as large as the view.

    view, skeleton: as drawn. chosen: number of the joint that is filled, ringed and labelled. bend: draws the line from
    root to end and the middle joint's offset from it. folds: none leaves the limb at rest; one is drawn as flesh with
    the rest pose as its ghost; two are the ways a limb may go when it is too straight to tell, dotted. mesh, edges: the
    skin at rest, needed with folds. sentence: what a screen reader says.
    """
    extra = extra or Extra()
    places = view.project(skeleton.positions)
    body = []
    if folds and mesh is not None and edges is not None:
        body.append(_pulled(view, skeleton, chosen, bend, folds, mesh, edges, style))
        moved = view.project(folds[0].positions)
        body.append(_aims(view, extra, moved[bend.middle] if bend else None, style))
        body.append(_picks(moved, extra.picks, chosen))
        return svg(view.size, sentence, [within(view.size, body)])
    if extra.ghost is not None:
        body.append(_ghost(view, extra.ghost, extra.ghost_name, style))
    sign = style.sign(bend.verdict) if bend else style.right
    body.append(bones(places, skeleton.parents, style.ink))
    if bend:
        body.append(_bend_lines(view, places, bend, sign, style))
    body.append(_joints(places, chosen, style))
    if chosen is not None:
        lines = [(label or skeleton.names[chosen], style.ink)]
        if bend and chosen == bend.middle and len(skeleton) <= CROWD:
            lines.append((f"{sign.mark} {bend.words}", sign.ink))
        body.append(_label(view, places[chosen], lines, style))
    body.append(_picks(places, extra.picks, chosen))
    return svg(view.size, sentence, [within(view.size, body)])


def _pulled(view: View, skeleton: Skeleton, chosen: int | None, bend: BendMark | None, folds: Sequence[Fold],
            mesh: Mesh, edges: Edges, style: Style) -> str:  # fmt: skip
    """The pulled limb over the pale rest pose; two ways under one veil, so that it is no darker where they overlap."""
    width, height = view.size
    body = [f'<rect y="46" width="{width}" height="{height - 104}" fill="{style.paper}" opacity=".62"/>']
    if len(folds) == 1:
        body.append(flesh(view, folds[0].vertices, mesh.triangles, edges, style))
    else:
        ways = "".join(_possible(view, fold, mesh, edges, style) for fold in folds)
        body.append(f'<g transform="scale(.1)" opacity=".32">{ways}</g>')
    body.append(bones(view.project(skeleton.positions), skeleton.parents, style.ink, opacity=0.28))
    told = bend is not None or len(folds) > 1  # where the bend is no matter yet, the fold is shown without verdict
    for fold in folds:
        sign, moved = style.sign(fold.verdict), view.project(fold.positions)
        body.append(bones(moved, skeleton.parents, *((sign.colour, sign.dash) if told and sign.dash else (style.ink,))))
        body.append(_joints(moved, chosen, style))
        if told:
            middle = moved[bend.middle] if bend else moved[len(moved) // 2]
            text = f"{sign.mark} {sign.words}" if len(folds) == 1 else sign.mark
            body.append(_label(view, middle, [(text, sign.ink)], style))
    return "".join(body)


def _possible(view: View, fold: Fold, rest: Mesh, edges: Edges, style: Style) -> str:
    """A way the limb might go: flesh without contour."""
    flat = view.project(fold.vertices)
    path = flesh_path(flat, rest.triangles, edges, front_facing(flat, rest.triangles))
    return f'<path d="{path}" fill="{style.contour}"/>'
