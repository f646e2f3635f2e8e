"""Still pictures for prose: a layout in its exercise, drawn from one or more sides, as images with alternative text."""

from __future__ import annotations

import base64
from collections.abc import Sequence
from html import escape

import numpy as np

from rigkit.backdrops import ground
from rigkit.bench_folds import Pull, folds_of, room_for
from rigkit.bench_parts import Limb, bend_mark, slice_of
from rigkit.bench_plates import PLATE, VIEWS
from rigkit.bench_words import picture_sentence, told_place
from rigkit.files.exercise import Exercise
from rigkit.overlays import overlay
from rigkit.picture import LIGHT, as_image, fit_views
from rigkit.require import choice
from rigkit.skeleton import Skeleton
from rigkit.slices import slice_plate


class Picture:
    """Plates side by side: for each an SVG text and the sentence that says what it shows."""

    def __init__(self, plates: Sequence[tuple[str, str]]):
        self.plates = tuple(plates)

    def __repr__(self) -> str:
        return "\n".join(f"Picture: {sentence}" for _, sentence in self.plates)

    def _repr_html_(self) -> str:
        images = []
        for svg, sentence in self.plates:
            data = base64.b64encode(as_image(svg).encode()).decode()
            style = "display:inline-block;margin:0 8px 8px 0;vertical-align:top"
            images.append(f'<img alt="{escape(sentence)}" style="{style}" src="data:image/svg+xml;base64,{data}">')
        return f"<div>{''.join(images)}</div>"


def picture(
    exercise: Exercise, skeleton: Skeleton, views: Sequence[str], joints: Sequence[str], pulled: float, with_bend: bool
) -> Picture:
    """Plates of a layout: each view once with the first of the joints chosen, a slice for each of the joints.

    Without joints none is chosen, and what a screen reader says of a view tells no more than a first look would.
    pulled: 0 to 1. with_bend: whether the line between the neighbours and the verdict are drawn.
    """
    limb = Limb.of(exercise, skeleton)
    roles = [choice(role, "a joint", limb.roles) for role in joints]
    plates = []
    for view in views:
        if choice(view, "a view", VIEWS) == "slice":
            plates += [_slice(limb, skeleton, role, with_bend) for role in roles]
        else:
            plates.append(_view(limb, skeleton, view, roles[0] if roles else None, pulled, with_bend))
    return Picture(plates)


def _slice(limb: Limb, skeleton: Skeleton, role: str, with_bend: bool) -> tuple[str, str]:
    title = f"Slice through the {role}"
    sentence = f"{title}. {told_place(limb, skeleton, role)}"
    bend = bend_mark(limb, skeleton) if with_bend else None
    laid = slice_of(limb, skeleton, role, with_bend)
    return slice_plate(
        laid, PLATE["slice"], title, sentence, bend.verdict if bend else "", "seen along the limb, from the body"
    ), sentence


def _view(
    limb: Limb, skeleton: Skeleton, view: str, role: str | None, pulled: float, with_bend: bool
) -> tuple[str, str]:
    mesh, size = limb.exercise.mesh, PLATE[view]
    room = room_for(limb, skeleton) if pulled else np.zeros((0, 3))
    seen = fit_views(mesh, {view: size}, limb.exercise.side, room)[view]
    if role is None:
        said = f"{'Pulled' if pulled else 'At rest'}, with the joints {', '.join(skeleton.names)}."
    else:
        said = picture_sentence(limb, skeleton, role, pulled, with_bend)
    sentence = f"{seen.title} view. {said}"
    bend = bend_mark(limb, skeleton) if with_bend else None
    folds = folds_of(limb, skeleton, Pull(pulled))
    chosen = None if role is None else limb.roles[role]
    over = overlay(seen, skeleton, chosen, role or "", sentence, bend, folds, mesh, limb.edges)
    under = ground(mesh, limb.edges, seen, limb.exercise.side, LIGHT)
    head, _, body = over.partition(">")
    return f"{head}>{under}{body}", sentence
