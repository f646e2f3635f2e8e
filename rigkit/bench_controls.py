"""The bench's controls: for each name a group of widgets and the calls it makes; numbers in mm and per cent.

Sliders have no name for screen readers, so each stands beside a number box that has one and is kept in step.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence

import ipywidgets as widgets

from rigkit.bench_parts import AGAINST, WAYS

CONTROLS = ("place", "flex", "bend", "names", "turn", "check", "hint", "another")
TURNED = 35  # degrees that the turned view begins with
REACH = 120  # mm that a slider moves a joint from where it lay at the lesson's start: a limb's width and some more
LEFT = 514  # px, width of the controls beneath the plates
ROOM, LEAST_BUTTON = LEFT - 54, 66  # px for the buttons that choose a joint, and the narrowest that can be read
Call = Callable[..., None]


def _text(content: str, width: int, align: str = "flex-start") -> widgets.Label:
    return widgets.Label(content, layout=widgets.Layout(width=f"{width}px", margin="0", justify_content=align))


def _row(*children: widgets.Widget) -> widgets.HBox:
    return widgets.HBox(
        children, layout=widgets.Layout(align_items="center", height="36px", width=f"{LEFT}px", overflow="hidden")
    )


class Place:
    """Choose a joint; move it out, up and forward."""

    def __init__(self, roles: Sequence[str], guard: Callable[[Call], Call], choose: Call, move: Call):
        if len(roles) <= ROOM // LEAST_BUTTON:
            wide = min(92, ROOM // len(roles) - 4)
            self.choice = widgets.ToggleButtons(
                options=list(roles),
                style={"button_width": f"{wide}px"},
                tooltips=[f"move the {role}" for role in roles],
            )
        else:
            self.choice = widgets.Dropdown(options=list(roles), layout=widgets.Layout(width="190px"))
        self.sliders: dict[str, widgets.IntSlider] = {}
        self.boxes: dict[str, widgets.BoundedIntText] = {}
        self.quiet = False
        rows = [_row(_text("joint", 48, "flex-end"), self.choice)]
        for way in WAYS:
            slider = widgets.IntSlider(
                min=-REACH, max=REACH, readout=False, layout=widgets.Layout(width="286px", margin="0 4px")
            )
            slider.add_class(f"rigkit-{way}")
            box = widgets.BoundedIntText(
                min=-REACH,
                max=REACH,
                description=way,
                style={"description_width": "60px"},
                layout=widgets.Layout(width="136px", margin="0 4px 0 0"),
            )
            widgets.link((slider, "value"), (box, "value"))
            slider.observe(guard(self._moved(move)), "value")
            self.sliders[way], self.boxes[way] = slider, box
            rows.append(_row(_text(AGAINST[way], 48, "flex-end"), slider, box, _text("mm", 28)))
        self.choice.observe(guard(lambda change: None if self.quiet else choose(change["new"])), "value")
        self.box = widgets.VBox(rows, layout=widgets.Layout(width=f"{LEFT}px"))

    def _moved(self, move: Call) -> Call:
        def moved(_change) -> None:
            if not self.quiet:
                move({way: slider.value for way, slider in self.sliders.items()})

        return moved

    def show(self, role: str, steps: Mapping[str, float]) -> None:
        """Put the widgets where the skeleton is, without calling back."""
        self.quiet = True
        try:
            self.choice.value = role
            for way, step in steps.items():
                self.sliders[way].value = int(max(-REACH, min(REACH, round(step))))
        finally:
            self.quiet = False


class Pull:
    """Pull the end of the limb towards its root, by hand or by itself: 0 to 100 %."""

    def __init__(self, title: str, guard: Callable[[Call], Call], pull: Call):
        self.slider = widgets.IntSlider(
            min=0, max=100, readout=False, layout=widgets.Layout(width="150px", margin="0 4px")
        )
        self.slider.add_class("rigkit-pull")
        self.box_of = widgets.BoundedIntText(
            min=0,
            max=100,
            description="pulled",
            style={"description_width": "60px"},
            layout=widgets.Layout(width="136px", margin="0 4px 0 0"),
        )
        self.play = widgets.Play(
            min=0, max=100, step=2, interval=60, show_repeat=False, layout=widgets.Layout(width="88px", margin="0")
        )
        widgets.link((self.slider, "value"), (self.box_of, "value"))
        widgets.jslink((self.play, "value"), (self.slider, "value"))
        self.slider.observe(guard(lambda change: pull(change["new"])), "value")
        self.box = _row(_text(title, 96, "center"), self.play, self.slider, self.box_of, _text("%", 28))

    def show(self, per_cent: float) -> None:
        """Put the slider to an amount; the change calls back as a hand's would."""
        self.slider.value = round(per_cent)


class Names:
    """One box for each joint's name."""

    def __init__(self, names: Mapping[str, str], guard: Callable[[Call], Call], rename: Call):
        self.boxes = {}
        for role, name in names.items():
            box = widgets.Text(
                value=name,
                description=f"{role}'s name",
                style={"description_width": "120px"},
                layout=widgets.Layout(width="380px", margin="2px 0"),
            )
            box.observe(guard(lambda change, role=role: rename(role, change["new"])), "value")
            self.boxes[role] = box
        self.box = widgets.VBox(list(self.boxes.values()), layout=widgets.Layout(width=f"{LEFT}px"))


class Turn:
    """Turn the turned view about the upright."""

    def __init__(self, start: int, guard: Callable[[Call], Call], turn: Call):
        self.slider = widgets.IntSlider(
            value=start,
            min=-180,
            max=180,
            step=15,
            readout=False,
            continuous_update=False,
            layout=widgets.Layout(width="236px", margin="0 4px"),
        )
        self.box_of = widgets.BoundedIntText(
            value=start,
            min=-180,
            max=180,
            step=15,
            description="turned",
            style={"description_width": "64px"},
            layout=widgets.Layout(width="136px", margin="0"),
        )
        widgets.link((self.slider, "value"), (self.box_of, "value"))
        self.slider.observe(guard(lambda change: turn(change["new"])), "value")
        self.box = _row(_text("turn the view", 96, "flex-end"), self.slider, self.box_of, _text("degrees", 60))


def row_of(buttons: Sequence[widgets.Widget]) -> widgets.HBox:
    """Buttons in one row, in line with the sliders above them."""
    return widgets.HBox(buttons, layout=widgets.Layout(margin="0 0 0 48px"))


class Press:
    """One button and what it does."""

    def __init__(self, words: str, guard: Callable[[Call], Call], press: Call):
        self.button = widgets.Button(description=words, layout=widgets.Layout(width="140px", margin="4px 8px 4px 0"))
        self.button.on_click(guard(lambda _button: press()))
        self.box = self.button


def made(asked: Iterable[str], names: dict[str, str], guard: Callable, called: Mapping[str, Callable]) -> dict:
    """The controls asked for, by name; names: those of the joints, by role; called: what each of them does."""
    pull = "pull the rope" if "wrist" in names else "pull"
    make = {
        "place": lambda: Place(list(names), guard, called["choose"], called["place"]),
        "flex": lambda: Pull(pull, guard, called["flex"]),
        "names": lambda: Names(names, guard, called["names"]),
        "turn": lambda: Turn(TURNED, guard, called["turn"]),
        "check": lambda: Press("Check", guard, called["check"]),
        "hint": lambda: Press("Hint", guard, called["hint"]),
        "another": lambda: Press("Another limb", guard, called["another"]),
    }
    return {name: make[name]() for name in asked if name in make}
