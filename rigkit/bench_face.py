"""The bench's face: which controls stand where, what each calls, and how all of it follows the work; sizes in px."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence

import ipywidgets as widgets
import numpy as np

from rigkit import bench_words
from rigkit.bench_controls import (
    FINE,
    HALF,
    LEFT,
    NEAR,
    REACH,
    STEP,
    Along,
    Call,
    Choice,
    Names,
    Place,
    Press,
    Switch,
    row_of,
)
from rigkit.bench_parts import WAYS
from rigkit.bench_plates import GAP, Plates
from rigkit.bench_pulls import Attempts, Goal, Helps, Rope, Target, Turn
from rigkit.bench_sheet import LARGE, sheet
from rigkit.bench_state import steps_of
from rigkit.bench_volume import SIZE, graphs
from rigkit.bench_work import Workpiece
from rigkit.measures.base import own
from rigkit.picture import THEMED
from rigkit.require import RigError

CONTROLS = ("place", "along", "below", "helps", "attempts", "flex", "goal", "goal-out", "target", "volume", "gauges",
            "bend", "names", "turn", "mirror", "check", "hint", "another")  # fmt: skip
PLACE = ("centring", "fold")
TAUGHT = {"place": PLACE, "along": PLACE, "names": ("names",), "bend": ("bend",), "mirror": ("mirror",)}
"""Criteria that a control teaches."""
BUTTONS = ("check", "hint", "helps", "mirror", "gauges", "another")
TALL, WORDS = 216, 318  # px, least height of the words and their width
ROW, BUTTON_ROW = 36, 40
CROWDED, AROUND = 6, 1.4  # joints of a limb that are too many for one look; how far a nearer look goes, in bones
BALLAST = 70_000  # blanks after each change, to nobody: servers hold a small last message back for 40 ms (measured)
SMALL = 0.016  # metres: flesh of a lesser local radius is a finger's or a toe's


class Face:
    """Everything of a bench that is seen; `box` holds it.

    panel: what becomes larger. names: the controls to show. calls: what those do that are more than a change of the
    work, by name. told: what stands first in the words, or "".
    """

    def __init__(self, work: Workpiece, panel: widgets.Box, views: Sequence[str], names: Sequence[str],
                 calls: Mapping[str, Call], told: str):  # fmt: skip
        self.work, self.panel, self.calls, self.told = work, panel, calls, told
        self.bends = "bend" in work.criteria
        self.plates = Plates(work.limb, work.start, views, self.bends)
        if {"place", "along"} & set(names) and work.exercise.helps["gauges"]:
            names = [*dict.fromkeys([*names, "gauges"])]  # quiet until asked
        self.names = tuple(names)
        self.parts = {name: part for name in names if (part := self._part(name)) is not None}
        self.gauges_on, self.close, self.framed = False, False, ""
        if {"place", "along", "helps"} & set(names):
            self.parts = {"choose": Choice(list(self.work.limb.roles), self.guard, work.choose)} | self.parts
        self.tools = self._tools()
        rows = [part.box for name, part in self.parts.items() if name not in BUTTONS and name != "below"]
        presses = [self.parts[name].box for name in BUTTONS if name in self.parts]
        controls = [*rows, *([row_of(presses)] if presses else []), row_of([tool.box for tool in self.tools.values()])]
        tall = max(TALL, sum(ROW * len(getattr(one, "children", (1,))) if isinstance(one, widgets.VBox) else ROW
                             for one in rows) + 2 * BUTTON_ROW)  # fmt: skip
        self.tall = tall
        self.words = widgets.HTML(layout=widgets.Layout(width=f"{WORDS}px", height=f"{tall}px", margin="0"))
        room = f"{SIZE[1]}px" if "volume" in names else "0"  # kept, so that nothing moves when the curve comes
        self.graphs = widgets.HTML(layout=widgets.Layout(width=f"{WORDS}px", min_height=room, margin="0"))
        self.ballast = widgets.HTML()
        graphs = [self.graphs] if {"gauges", "volume"} & set(names) else []
        left = widgets.VBox(controls, layout=widgets.Layout(width=f"{LEFT}px"))
        wrap = widgets.Layout(flex_flow="row wrap", grid_gap=f"{GAP}px", overflow="hidden")
        below = widgets.HBox([left, widgets.VBox([self.words, *graphs])], layout=wrap)
        self.box = widgets.VBox([sheet(), self.plates.box, below], layout=widgets.Layout(grid_gap=f"{GAP}px"))

    def _part(self, name: str):
        """The widgets of one control."""
        work, calls, guard = self.work, self.calls, self.guard
        names = {role: work.skeleton.names[number] for role, number in work.limb.roles.items()}
        pull = "pull the rope" if "wrist" in names else "pull"
        make: dict[str, Callable] = {
            "place": lambda: Place(guard, self._placed, any(self._reach(role) == NEAR for role in work.limb.roles)),
            "along": lambda: Along(guard, work.slide_chosen),
            "below": lambda: Switch("With all below", guard, lambda on: work.set(below=on)),
            "attempts": lambda: Attempts(guard, work.keep_attempt, work.compare, work.bring_back),
            "flex": lambda: Rope(pull, guard, calls["flex"]),
            "goal": lambda: Goal(("up", "forward"), guard, lambda at: calls["aim"](**at)),
            "goal-out": lambda: Goal(WAYS, guard, lambda at: calls["aim"](**at)),
            "target": lambda: Target(guard, calls["bend_target"]),
            "names": lambda: Names(names, guard, work.rename),
            "turn": lambda: Turn(guard, self._turned),
            "mirror": lambda: Press("Mirror", guard, calls["mirror"]),
            "gauges": lambda: Switch("Gauges", guard, self.gauge),
            "check": lambda: Press("Check", guard, calls["check"]),
            "hint": lambda: Press("Hint", guard, calls["hint"]),
            "another": lambda: Press("Another limb", guard, calls["another"]),
            "helps": lambda: Helps(guard, calls["help"]),
        }  # fmt: skip
        return make[name]() if name in make else None

    def _tools(self) -> dict:
        """What every bench has: a way back, and a size for the back row."""
        work, guard = self.work, self.guard
        tools: dict[str, Press | Switch] = {
            "back": Press("Take back", guard, work.take_back),
            "redo": Press("Redo", guard, work.redo),
            "reset": Press("Start again", guard, work.reset),
        }
        if {"place", "along"} & set(self.names):
            tools["fine"] = Switch("Small steps", guard, lambda on: work.set(fine=on))
        if len(work.limb.roles) > CROWDED:
            tools["closer"] = Switch("Closer", guard, self._closer)
        if "below" in self.parts:
            tools["below"] = self.parts["below"]
        return tools | {"larger": Switch("Larger", guard, self._large)}

    def guard(self, inner: Callable[..., None]) -> Callable[..., None]:
        """A callback that shows its error in the panel; widgets would swallow it."""

        def guarded(*given) -> None:
            try:
                inner(*given)
            except RigError as error:
                self.show((f"! {error}",))
            except Exception as error:  # noqa: BLE001 - the last place where a person can be told
                told = f"! Something in the workbook broke ({type(error).__name__}: {error})."
                self.show((f"{told} Your work is kept; run this cell again.",))

        return guarded

    def _placed(self, way: str, value: float) -> None:
        """Put the chosen joint to a value in one way; in the others it stays, also between two steps of a slider."""
        work, state = self.work, self.work.state
        steps = dict(zip(WAYS, steps_of(work.limb, state, work.start, state.chosen).tolist(), strict=True)) | {
            way: value
        }
        work.move(state.chosen, (steps["out"], steps["up"], steps["forward"]), state.below)

    def _turned(self, degrees: int) -> None:
        self.plates.turn(degrees)
        self.follow()

    def _large(self, on: bool) -> None:
        (self.panel.add_class if on else self.panel.remove_class)(LARGE)

    def _closer(self, on: bool) -> None:
        self.close = on
        self._frame()
        self.follow()

    def _frame(self) -> None:
        """Let the plates show the whole limb, or the chosen joint and its neighbours from near."""
        self.framed, work = self.work.state.chosen, self.work
        number, places = work.limb.roles[self.framed], work.skeleton.positions
        near = [*work.skeleton.children(number), work.skeleton.parents[number]]
        gaps = [float(np.linalg.norm(places[one] - places[number])) for one in near if one is not None]
        self.plates.closer(places[number], AROUND * max(gaps, default=0.1) if self.close else 0.0)

    def gauge(self, on: bool) -> None:
        """Show how far and which way the chosen joint lies off, or only whether."""
        self.gauges_on = on
        if "gauges" in self.parts:
            self.parts["gauges"].show(on)
        self.follow()

    # What is shown -----------------------------------------------------------------------------------

    def show(self, lines: Iterable[str]) -> None:
        """Show lines of words."""
        self.words.value = bench_words.feedback((self.told, *lines), self.tall, THEMED)

    def say(self, first: tuple[str, ...] = ()) -> None:
        """Show what is so, after some first lines."""
        work, names, chosen = self.work, self.names, self.work.state.chosen
        limb, skeleton = work.shown, work.skeleton
        places = bool({"place", "along"} & set(names))
        first_these = bench_words.neighbours_first(limb, skeleton) if self.bends and places else ""
        lines = [first_these or bench_words.bend_sentence(limb, skeleton)] if self.bends else []
        if work.exercise.helps["gauges"] and places:
            told = bench_words.place_sentences if self.gauges_on else bench_words.quiet_sentences
            lines += told(limb, skeleton, chosen, after_bend=self.bends and not first_these)
        if "names" in names:
            lines.append(bench_words.names_told(limb, skeleton))
        pulled = (
            bench_words.pull_sentences(limb, skeleton, work.state.pull)
            if {"flex", "goal", "goal-out", "target"} & set(names)
            else []
        )
        if lines and work.state.pull.target is None and not any(work.state.pull.aside):
            pulled = []
        hint = (work.hinted,) if work.hinted and not first else ()  # stays in sight while it is followed
        self.show((*first, *hint, *lines, *pulled, work.note))

    def _reach(self, role: str) -> float:
        """How far the sliders go: less where the flesh is small."""
        here, number = own(self.work.exercise)[role], self.work.limb.roles[role]
        way = float(np.linalg.norm(here.middle - self.work.start.positions[number]))
        return NEAR if here.radius is not None and here.radius < SMALL and way < SMALL else REACH

    def follow(self) -> None:
        """Make controls, plates and words agree with the work."""
        work, state, parts = self.work, self.work.state, self.parts
        limb, role = work.limb, state.chosen
        reach = self._reach(role)
        step = FINE if state.fine else HALF if reach == NEAR else STEP
        if "choose" in parts:
            parts["choose"].show(role)
        if "place" in parts:
            steps = steps_of(limb, state, work.start, role)
            parts["place"].show(dict(zip(WAYS, steps.tolist(), strict=True)), reach, step)
        if "along" in parts:
            parts["along"].show({"along": work.slid_by}, NEAR, step)
        if "flex" in parts and round(100 * state.pull.amount) != parts["flex"].slider.value:
            parts["flex"].show(100 * state.pull.amount)
        for name in ("goal", "goal-out"):
            if name in parts:
                parts[name].show(dict(zip(WAYS, state.pull.aside, strict=True)))
        if "target" in parts:
            parts["target"].show(state.pull.target)
        if "names" in parts:
            parts["names"].show({one: state.skeleton.names[number] for one, number in limb.roles.items()})
        if "attempts" in parts:
            shown = int(state.ghost_name.removeprefix("attempt ")) if state.ghost_name.startswith("attempt ") else 0
            parts["attempts"].show(work.store.attempts() if work.store else (), shown)
        self.tools["back"].button.disabled = not state.history.past
        self.tools["redo"].button.disabled = not state.history.taken_back
        if self.close and self.framed != role:
            self._frame()
        self.plates.draw(work.shown, state)
        if {"gauges", "volume"} & set(self.names):
            self.graphs.value = graphs(work.shown, state, self.gauges_on, "volume" in self.names, self.bends)
        self.say()
        self.ballast.value = f"{id(state)}{' ' * BALLAST}"
