"""The bench's plates as widgets: a backdrop drawn once, and over it SVG text that alone changes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import ipywidgets as widgets
import numpy as np

from rigkit.backdrops import backdrop
from rigkit.bench_folds import folds_of, goal_of, room_for, target_place
from rigkit.bench_parts import Limb, bend_mark, slice_of
from rigkit.bench_state import State
from rigkit.bench_words import neighbours_first, picture_sentence, told_place
from rigkit.overlays import Extra, overlay
from rigkit.picture import EDGE, FOOT_STRIP, THEMED, TITLE_STRIP, fit_views, standard_view
from rigkit.skeleton import Skeleton
from rigkit.slices import slice_plate

VIEWS = ("front", "side", "above", "turned", "slice")
# px; three plates and their gaps fit a notebook's output in a window of 1280 with the file list open (848), beside a
# scroll bar of 17, too
PLATE = {"front": (292, 404), "side": (256, 404), "above": (278, 404), "turned": (278, 404), "slice": (256, 404)}
GAP = 8


class Plates:
    """The plates of some views of a limb; `box` holds them, `overlays` is what changes, by view."""

    def __init__(self, limb: Limb, start: Skeleton, views: Sequence[str], teaches_bend: bool):
        self.limb, self.teaches_bend = limb, teaches_bend
        sizes = {name: PLATE[name] for name in views if name != "slice"}
        exercise = limb.exercise
        self.seen = fit_views(exercise.mesh, sizes, exercise.side, room_for(limb, start)) if sizes else {}
        self._whole = dict(self.seen)
        self.overlays = {name: _layer(PLATE[name]) for name in views}
        self.backdrops = {name: _layer(PLATE[name]) for name in self.seen}
        for name in self.seen:
            self._draw_backdrop(name)
        stacks = []
        for name in views:
            below = [self.backdrops[name]] if name in self.backdrops else []
            stacks.append(_stacked(PLATE[name], *below, self.overlays[name]))
        row = widgets.Layout(flex_flow="row wrap", grid_gap=f"{GAP}px", overflow="hidden")
        self.box = widgets.HBox(stacks, layout=row)

    def closer(self, centre: np.ndarray, far: float) -> None:
        """Look at a place (3,) from near: what lies within so many metres of it fills the plates; 0 shows the limb."""
        self.seen = dict(self._whole)
        if far > 0.0:
            at = tuple(np.asarray(centre, dtype=float).tolist())
            for name, view in self._whole.items():
                room = min(view.size[0] - 2 * EDGE, view.size[1] - TITLE_STRIP - FOOT_STRIP) / 2
                self.seen[name] = replace(view, centre=at, scale=max(room / far, view.scale))
        for name in self.seen:
            self._draw_backdrop(name)

    def _draw_backdrop(self, name: str) -> None:
        view, exercise = self.seen[name], self.limb.exercise
        sentence = f"{exercise.title}, {view.title.lower()} view, at rest"
        self.backdrops[name].value = backdrop(exercise.mesh, self.limb.edges, view, exercise.side, THEMED, sentence)

    def turn(self, degrees: float) -> None:
        """Turn the turned view; its backdrop is drawn anew."""
        if "turned" in self.seen:
            turned = standard_view("turned", self.limb.exercise.side, degrees)
            self.seen["turned"] = replace(self.seen["turned"], right=turned.right, up=turned.up)
            self._whole["turned"] = replace(self._whole["turned"], right=turned.right, up=turned.up)
            self._draw_backdrop("turned")

    def draw(self, limb: Limb, state: State) -> None:
        """Let the overlays show the joints, the chosen one, and the limb as it is pulled."""
        skeleton, role, pull = state.skeleton, state.chosen, state.pull
        told = self.teaches_bend and not neighbours_first(limb, skeleton)
        bend = bend_mark(limb, skeleton) if told else None
        folds = folds_of(limb, skeleton, pull) if limb.folding is not None else ()
        goal = goal_of(limb, skeleton, pull) if folds and any(pull.aside) else None
        extra = Extra(
            state.ghost, state.ghost_name, goal, target_place(limb, skeleton, pull), tuple(limb.roles.values())
        )
        said = picture_sentence(limb, skeleton, role, pull.amount, self.teaches_bend)
        mesh, edges, chosen = limb.exercise.mesh, limb.edges, limb.roles[role]
        for name, view in self.seen.items():
            sentence = f"{view.title} view. {said}"
            self.overlays[name].value = overlay(
                view, skeleton, chosen, role, sentence, bend, folds, mesh, edges, THEMED, extra
            )
        if "slice" in self.overlays:
            title = f"Slice through the {role}"
            laid = slice_of(limb, skeleton, role, self.teaches_bend)
            sentence, verdict = f"{title}. {told_place(limb, skeleton, role)}", bend.verdict if bend else ""
            note = "seen along the limb, from the body"
            self.overlays["slice"].value = slice_plate(laid, PLATE["slice"], title, sentence, verdict, note, THEMED)


def _layer(size: tuple[int, int]) -> widgets.HTML:
    width, height = (f"{length}px" for length in size)
    place = widgets.Layout(width=width, height=height, margin="0", padding="0", grid_area="1 / 1 / 2 / 2")
    return widgets.HTML(layout=place)


def _stacked(size: tuple[int, int], *layers: widgets.HTML) -> widgets.GridBox:
    """Layers of one fixed size, the later ones over the earlier."""
    width, height = (f"{length}px" for length in size)
    grid = {"grid_template_columns": width, "grid_template_rows": height, "overflow": "hidden", "flex": "0 0 auto"}
    return widgets.GridBox(layers, layout=widgets.Layout(width=width, height=height, margin="0", **grid))
