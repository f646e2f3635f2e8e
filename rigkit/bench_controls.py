"""The bench's controls: for each name a group of widgets and the calls it makes; numbers in mm and per cent.

A slider stands beside a number box in step with it; its description, out of sight, is its name for screen readers.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import partial

import ipywidgets as widgets

from rigkit.bench_parts import AGAINST, WAYS

REACH = 120  # mm that a slider moves a joint from where it lay at the lesson's start: a limb's width and some more
NEAR = 40  # mm, of small parts such as fingers
STEP, HALF, FINE = 1.0, 0.5, 0.2  # mm
SAME = 1e-6  # mm: less is the round-off that the page's own slider adds (float)
LEFT = 498  # px, width of the controls beneath the plates
ROOM = LEFT - 54  # px for the buttons that choose a joint
Call = Callable[..., None]
Guard = Callable[[Call], Call]


def text(content: str, width: int, align: str = "flex-start") -> widgets.Label:
    """Words of a fixed width in a row."""
    return widgets.Label(content, layout=widgets.Layout(width=f"{width}px", margin="0", justify_content=align))


def row(*children: widgets.Widget) -> widgets.HBox:
    """A row of fixed height."""
    return widgets.HBox(
        children, layout=widgets.Layout(align_items="center", height="36px", width=f"{LEFT}px", overflow="hidden")
    )


def row_of(buttons: Sequence[widgets.Widget]) -> widgets.HBox:
    """Buttons that wrap, in line with the sliders above them."""
    room = widgets.Layout(margin="0 0 0 48px", width=f"{LEFT - 48}px", flex_flow="row wrap")
    return widgets.HBox(buttons, layout=room)


def _tenths(value: float) -> float:
    return round(value, 1) + 0.0


class Dial:
    """A slider and its number box, in step; `box` is their row, `handle` the slider, `number` the box."""

    def __init__(self, name: str, word: str, before: str, unit: str, ends: tuple[float, float], step: float,
                 changed: Call, css: str, less: int = 0, wide: int = 60):  # fmt: skip
        low, high = ends
        self.handle = widgets.FloatSlider(
            value=min(max(0.0, low), high), min=low, max=high, step=step, description=name, readout=False,
            layout=widgets.Layout(width=f"{270 - less}px", margin="0 4px"),
        )  # fmt: skip
        self.handle.add_class(f"rigkit-{css}")
        self.number = widgets.BoundedFloatText(
            value=self.handle.value, min=low, max=high, step=step, description=word,
            style={"description_width": f"{wide}px"}, layout=widgets.Layout(width=f"{76 + wide}px", margin="0 4px 0 0"),
        )  # fmt: skip
        widgets.link((self.handle, "value"), (self.number, "value"), transform=(_tenths, float))
        self.handle.observe(lambda now: changed(now) if abs(now["new"] - now["old"]) >= SAME else None, "value")
        self.box = row(text(before, 48, "flex-end"), self.handle, self.number, text(unit, 28))

    def show(self, value: float) -> None:
        """Put it to the step nearest to a value, within its ends: anything else the page would put right, as if a hand
        had moved it."""
        step, ends = self.handle.step, (self.handle.min, self.handle.max)
        self._put(max(ends[0], min(ends[1], _tenths(round(value / step) * step))))

    @property
    def value(self) -> float:
        """What it stands at, in tenths."""
        return _tenths(self.handle.value)

    def _put(self, value: float) -> None:
        """Not where it is there but for round-off: to write that back would undo what a hand did meanwhile."""
        if abs(self.handle.value - value) >= SAME:
            self.handle.value = value


class Group:
    """Widgets that show what is so without calling back while they do; `box` holds them."""

    box: widgets.Widget
    quiet = False

    def calls(self, guard: Guard, call: Callable[[], None]) -> Call:
        """An observer that calls, unless the bench itself is putting the widgets right."""
        guarded = guard(lambda _change: call())
        return lambda change: None if self.quiet else guarded(change)

    def silently(self, act: Callable[[], None]) -> None:
        """Do something to the widgets without calling back."""
        before, self.quiet = self.quiet, True
        try:
            act()
        finally:
            self.quiet = before


class Choice(Group):
    """Choose a joint: buttons where there is room, else a list."""

    def __init__(self, roles: Sequence[str], guard: Guard, choose: Call):
        self.choice: widgets.ToggleButtons | widgets.Dropdown
        wide = max(66, *(20 + 8 * len(role) for role in roles))  # px that the longest name needs
        if len(roles) * (wide + 4) <= ROOM:
            tips = [f"work on the {role}" for role in roles]
            style = {"button_width": f"{wide}px"}
            self.choice = widgets.ToggleButtons(options=list(roles), style=style, tooltips=tips)
        else:
            style = {"description_width": "48px"}
            room = widgets.Layout(width="238px")
            self.choice = widgets.Dropdown(options=list(roles), description="joint", style=style, layout=room)
        self.choice.add_class("rigkit-choice")
        self.choice.observe(self.calls(guard, lambda: choose(self.choice.value)), "value")
        listed = isinstance(self.choice, widgets.Dropdown)
        self.box = row(self.choice) if listed else row(text("joint", 48, "flex-end"), self.choice)

    def show(self, role: str) -> None:
        """Show which is chosen."""
        self.silently(lambda: setattr(self.choice, "value", role))


class Dials(Group):
    """Sets of dials, far and near, in whole and in small steps, of which one is shown. A set never changes its ends:
    the page would answer with the old value, cut to fit."""

    def __init__(self, make: Callable[[float, float], dict[str, Dial]], sets: Sequence[tuple[float, float]]):
        self._sets = {(far, step): make(far, step) for far, step in sets}
        self.dials = self._sets[sets[0]]
        rows = [dial.box for dials in self._sets.values() for dial in dials.values()]
        self.box = widgets.VBox(rows, layout=widgets.Layout(width=f"{LEFT}px"))
        self.show({}, *sets[0])

    @property
    def sliders(self) -> dict[str, widgets.FloatSlider]:
        """The sliders by way."""
        return {way: dial.handle for way, dial in self.dials.items()}

    @property
    def boxes(self) -> dict[str, widgets.BoundedFloatText]:
        """The number boxes by way."""
        return {way: dial.number for way, dial in self.dials.items()}

    def show(self, steps: Mapping[str, float], far: float, step: float) -> None:
        """Put the dials where the joint is; they go so far, in such steps."""
        if any(abs(value) > far for value in steps.values()) and (REACH, step) in self._sets:
            far = REACH
        self.dials = self._sets.get((far, step), self.dials)

        def act() -> None:
            for way, value in steps.items():
                self.dials[way].show(value)

        self.silently(act)
        for dials in self._sets.values():
            for dial in dials.values():
                dial.box.layout.display = None if dials is self.dials else "none"


class Place(Dials):
    """Move the chosen joint out, up or forward; the call gets the one way that was moved, and to where."""

    def __init__(self, guard: Guard, move: Call, near: bool):
        def make(far: float, step: float) -> dict[str, Dial]:
            made: dict[str, Dial] = {}
            for way in WAYS:
                changed = self.calls(guard, partial(_told, move, way, made))
                name = f"{AGAINST[way]} or {way}, millimetres"
                made[way] = Dial(name, way, AGAINST[way], "mm", (-far, far), step, changed, way)
            return made

        small = [(REACH, HALF), (NEAR, HALF), (NEAR, FINE)] if near else []
        super().__init__(make, [(REACH, STEP), (REACH, FINE), *small])


class Along(Dials):
    """Slide the chosen joint along its bone, from where it lies when the slider stands at nought."""

    def __init__(self, guard: Guard, slide: Call):
        def make(far: float, step: float) -> dict[str, Dial]:
            made: dict[str, Dial] = {}
            changed, name = self.calls(guard, lambda: slide(made["along"].value)), "along the bone, millimetres"
            made["along"] = Dial(name, "to next", "to last", "mm", (-far, far), step, changed, "along")
            return made

        super().__init__(make, [(NEAR, STEP), (NEAR, HALF), (NEAR, FINE)])


class Names(Group):
    """One box for each joint's name."""

    def __init__(self, names: Mapping[str, str], guard: Guard, rename: Call):
        self.boxes = {}
        for role, name in names.items():
            box = widgets.Text(
                value=name, description=f"{role}'s name", style={"description_width": "120px"},
                layout=widgets.Layout(width="380px", margin="2px 0"),
            )  # fmt: skip
            box.observe(self.calls(guard, partial(_renamed, rename, role, box)), "value")
            self.boxes[role] = box
        self.box = widgets.VBox(list(self.boxes.values()), layout=widgets.Layout(width=f"{LEFT}px"))

    def show(self, names: Mapping[str, str]) -> None:
        """Show names by role."""

        def act() -> None:
            for role, name in names.items():
                self.boxes[role].value = name

        self.silently(act)


def _width(words: str) -> int:
    """px that a button needs for its words."""
    return max(66, 38 + 7 * len(words))


def _told(move: Call, way: str, dials: Mapping[str, Dial]) -> None:
    move(way, dials[way].value)


def _renamed(rename: Call, role: str, box: widgets.Text) -> None:
    rename(role, box.value)


class Press:
    """One button and what it does."""

    def __init__(self, words: str, guard: Guard, press: Call):
        room = widgets.Layout(width=f"{_width(words)}px", margin="4px 6px 4px 0")
        self.box = self.button = widgets.Button(description=words, tooltip=words, layout=room)
        self.button.on_click(guard(lambda _button: press()))


class Switch(Group):
    """A button that stays pressed."""

    def __init__(self, words: str, guard: Guard, switch: Call):
        room = widgets.Layout(width=f"{_width(words)}px", margin="4px 6px 4px 0")
        self.box = self.button = widgets.ToggleButton(description=words, tooltip=words, layout=room)
        self.button.observe(self.calls(guard, lambda: switch(self.button.value)), "value")

    def show(self, on: bool) -> None:
        """Show whether it is pressed."""
        self.silently(lambda: setattr(self.button, "value", on))
