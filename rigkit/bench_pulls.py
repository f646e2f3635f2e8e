"""The bench's controls that bend a limb or turn a view: pull, goal, bend target, attempts; per cent, mm, degrees."""

from __future__ import annotations

from collections.abc import Sequence

import ipywidgets as widgets

from rigkit.bench_controls import LEFT, STEP, Call, Dial, Group, Guard, Press, row, text
from rigkit.bench_parts import AGAINST

TURNED = 35  # degrees that the turned view begins with
ASIDE = 200  # mm that the goal goes to either side


class Rope(Group):
    """Pull the end of the limb towards its root, by hand or by itself: 0 to 100 %."""

    def __init__(self, title: str, guard: Guard, pull: Call):
        self.slider = widgets.IntSlider(
            min=0, max=100, description="pulled, per cent", readout=False,
            layout=widgets.Layout(width="150px", margin="0 4px"),
        )  # fmt: skip
        self.slider.add_class("rigkit-pull")
        self.box_of = widgets.BoundedIntText(
            min=0, max=100, description="pulled", style={"description_width": "60px"},
            layout=widgets.Layout(width="136px", margin="0 4px 0 0"),
        )  # fmt: skip
        self.play = widgets.Play(
            min=0, max=100, step=2, interval=60, show_repeat=False, layout=widgets.Layout(width="88px", margin="0")
        )
        widgets.link((self.slider, "value"), (self.box_of, "value"))
        widgets.jslink((self.play, "value"), (self.slider, "value"))
        self.slider.observe(guard(lambda change: pull(change["new"])), "value")
        self.box = row(text(title, 96, "center"), self.play, self.slider, self.box_of, text("%", 28))

    def show(self, per_cent: float) -> None:
        """Put the slider to an amount; the change calls back as a hand's would."""
        self.slider.value = round(per_cent)


class Goal(Group):
    """Put the goal of the limb's end beside the straight pull: in the side view, or in all three directions."""

    def __init__(self, ways: Sequence[str], guard: Guard, aim: Call):
        self.dials: dict[str, Dial] = {}
        for way in ways:
            changed = self.calls(guard, lambda: aim({way: dial.value for way, dial in self.dials.items()}))
            name = f"goal {AGAINST[way]} or {way}, millimetres"
            ends = (-ASIDE, ASIDE)
            self.dials[way] = Dial(
                name, f"goal {way}", AGAINST[way], "mm", ends, 5 * STEP, changed, f"goal-{way}", 30, 90
            )
        self.box = widgets.VBox([dial.box for dial in self.dials.values()], layout=widgets.Layout(width=f"{LEFT}px"))

    def show(self, aside: dict[str, float]) -> None:
        """Show where the goal is."""

        def act() -> None:
            for way, dial in self.dials.items():
                dial.show(aside[way])

        self.silently(act)


class Target(Group):
    """Set the bend target up, and turn it about the limb: 0 degrees is ahead of the fold, in its plane."""

    def __init__(self, guard: Guard, turn: Call):
        def told() -> None:
            turn(self.dial.value if self.on.value else None)

        room = widgets.Layout(width="112px", margin="0")
        self.on = widgets.ToggleButton(description="Bend target", tooltip="set up a bend target", layout=room)
        told_so = self.calls(guard, told)
        self.on.observe(told_so, "value")
        self.dial = Dial("bend target turned, degrees", "turned", "", "°", (-180.0, 180.0), 5.0, told_so, "target", 64)
        self.box = row(self.on, *self.dial.box.children[1:])

    def show(self, degrees: float | None) -> None:
        """Show how the bend target stands."""

        def act() -> None:
            self.on.value = degrees is not None
            self.dial.show(degrees or 0.0)

        self.silently(act)


class Turn(Group):
    """Turn the turned view about the upright."""

    def __init__(self, guard: Guard, turn: Call):
        changed = self.calls(guard, lambda: turn(int(self.dial.value)))
        ends = (-180.0, 180.0)
        self.dial = Dial("turn the view, degrees", "turned", "view", "°", ends, 5.0, changed, "turn")
        self.slider = self.dial.handle
        self.silently(lambda: self.dial.show(TURNED))
        self.box = self.dial.box


class Attempts(Group):
    """Keep the joints as an attempt; show one beside the joints of now; bring one back."""

    def __init__(self, guard: Guard, keep: Call, compare: Call, bring: Call):
        self.keep = Press("Keep this", guard, keep)
        style = {"description_width": "66px"}
        room = widgets.Layout(width="190px", margin="4px 6px 4px 0")
        self.choice = widgets.Dropdown(options=[("none", 0)], description="compare", style=style, layout=room)
        self.choice.observe(self.calls(guard, lambda: compare(self.choice.value)), "value")
        self.bring = Press("Bring it back", guard, lambda: bring(self.choice.value))
        self.box = row(text("", 48), self.keep.box, self.choice, self.bring.box)

    def show(self, kept: Sequence[int], shown: int) -> None:
        """Show which attempts there are, and which one is compared with."""

        def act() -> None:
            self.choice.options = [("none", 0), *((f"attempt {number}", number) for number in kept)]
            self.choice.value = shown if shown in kept else 0

        self.silently(act)


class Helps:
    """Put the chosen joint by lines of sight, or by its slice."""

    def __init__(self, guard: Guard, help_by: Call):
        self.sight = Press("By sight", guard, lambda: help_by("sight"))
        self.slice = Press("By slice", guard, lambda: help_by("slice"))
        self.box = widgets.HBox([self.sight.box, self.slice.box])
