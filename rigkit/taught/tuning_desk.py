"""A desk of sliders over a rubric, which shows at once whose mark changes, and why.

It computes nothing of its own: `retuned` marks the class again, `tuning_plates` draws it.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from time import perf_counter

import ipywidgets as widgets

from rigkit.classroom import mark_class
from rigkit.files.rubrics import Rubric
from rigkit.lesson import Shown, safely
from rigkit.marking import Class
from rigkit.require import RigError, choice, number
from rigkit.retuned import Change, changes, marked_again, number_of, retuned, rubric_from, rubric_text, sheets
from rigkit.tables import data_folder
from rigkit.taught.class_desk import found
from rigkit.taught.tuning_plates import page, refusal
from rigkit.told import LOOK_AGAIN, NOT_YET, Told
from rigkit.work import WORK, own_folder, safe_name, write_whole

GRADES = {"A": 85.0, "B": 70.0, "C": 55.0, "D": 40.0, "E": 0.0}  # Saltreed's, an example: least marks; D passes
WIDE, HIGH, ROW = 848, 372, 30  # px of what the desk shows, and of a row of sliders: all stand on a laptop's screen


@dataclass(frozen=True)
class Setting:
    """A number of a rubric on the desk: its words, its unit for people, how many of those make one, and its range."""

    words: str
    unit: str
    per_one: float
    low: float
    high: float
    step: float = 1.0


def _weight(name: str) -> Setting:
    return Setting(f"weight of {name}", "", 1, 0, 60)


def _limit(words: str) -> Setting:
    return Setting(f"limit, {words}", "marks", 1, 0, 100)


SETTINGS = {
    "weights.structure": _weight("structure"), "weights.centring": _weight("centring"), "weights.fold": _weight("fold"),
    "weights.bend": _weight("bend"), "weights.names": _weight("names"),
    "centring.allowed": Setting("centring, right up to", "% radius", 100, 5, 60),
    "centring.failing": Setting("centring, nothing from", "% radius", 100, 40, 150, 5),
    "fold.allowed": Setting("place, right up to", "% radius", 100, 0, 60),
    "fold.failing": Setting("place, nothing from", "% radius", 100, 40, 200, 5),
    "bend.sideways_allowed": Setting("sideways, right up to", "% line", 100, 1, 10, 0.5),
    "names.side_missing": Setting("a missing side takes", "% name", 100, 0, 100, 5),
    "names.misspelt": Setting("a slip in spelling takes", "% name", 100, 0, 100, 5),
    "caps.bends-wrong-way": _limit("bends wrong way"), "caps.wrong-parent": _limit("wrong parent"),
    "caps.joint-missing": replace(_limit("joint missing"), unit="× share"),
}  # fmt: skip
"""What can be tuned, by the rubric's "table.key". Everything else is changed in the file, with any text editor."""
WEIGHTS = tuple(key for key in SETTINGS if key.startswith("weights."))
ALLOWED = ("centring.allowed", "centring.failing", "fold.allowed", "bend.sideways_allowed")
LIMITS = tuple(key for key in SETTINGS if key.startswith("caps."))


def marked(handins: str = "demo-class", exercise: str = "left-arm") -> Class:
    """A class marked by its exercise's own rubric, measured once; nothing is written."""
    return mark_class([found(handins, "")], found(exercise, "exercises"))


class Desk:
    """A rubric on the desk, and a class that is marked again each time a number changes.

    `numbers` are those that differ from the rubric it began with, in the file's own units; `now` the class by them;
    `refused` why they are no rubric, `misread` why what was asked for last was not done.
    """

    def __init__(self, room: Class, keys: Sequence[str], rubric: str, grades: Mapping[str, float]):
        self.room, self.grades, self.name = room, grades, rubric
        self.text, self.papers = rubric_text(rubric), sheets(room)
        self.base = rubric_from(self.text, room.asked)
        self.before = self.now = marked_again(self.papers, self.base, mends=False)
        self.rubric, self.numbers = self.base, dict[str, float]()
        self.refused = self.misread = self.saved = ""
        self.rows = {key: Row(key, self.base, self._moved) for key in keys}
        self.shown = widgets.HTML(layout=widgets.Layout(width=f"{WIDE}px", height=f"{HIGH}px", margin="0"))
        column = widgets.Layout(width=f"{WIDE}px", flex_flow="row wrap", margin="0 0 4px 0")
        back = widgets.Button(description="As the rubric is", layout=widgets.Layout(width="226px", margin="1px 4px"))
        back.on_click(lambda _pressed: self.reset())
        self.box = widgets.VBox(
            [widgets.HBox([*(row.box for row in self.rows.values()), back], layout=column), self.shown]
        )
        self._draw()

    def reset(self) -> None:
        """Put every slider back to what the rubric has."""
        self.misread = ""
        for key, row in self.rows.items():
            row.show(round((number_of(self.base, key) or 0.0) * SETTINGS[key].per_one, 6), key)

    def set(self, key: str, value: float) -> None:
        """Put a slider to a value, in the unit that stands beside it; what cannot be is told by the checks."""
        self.misread = ""
        try:
            setting = SETTINGS[choice(key, "a number of the desk", tuple(self.rows))]
            if setting.per_one == 100 and 0 < number(value, key) < 1:
                raise RigError(f"per cent, such as {100 * value:g}", f"{value:g}", "it is a share of one",
                               f"Write {100 * value:g}", key)  # fmt: skip
            self.rows[key].show(number(value, key, setting.low, setting.high), key)
        except RigError as error:
            self.misread = str(error)

    def _moved(self, key: str, value: float) -> None:
        self.numbers[key] = round(value / SETTINGS[key].per_one, 9)
        if abs(self.numbers[key] - (number_of(self.base, key) or 0.0)) < 1e-9:
            del self.numbers[key]
        self._draw()

    def _draw(self) -> None:
        start, self.refused = perf_counter(), ""
        try:
            _, self.rubric = retuned(self.text, self.numbers, self.room.asked)
            self.now = marked_again(self.papers, self.rubric, mends=False)
            under = f"{len(self.now)} hand-ins marked again in {1000 * (perf_counter() - start):.0f} ms."
            self.shown.value = page(self.before, self.now, self.changes, self.grades, under, WIDE, HIGH)
        except Exception as error:  # noqa: BLE001 - what fails in a slider's call would fail in silence
            broke = f"Something in the workbook broke ({type(error).__name__}: {error})."
            self.refused = told(error) if isinstance(error, RigError) else broke
            self.shown.value = refusal(self.refused, WIDE, HIGH)

    @property
    def changes(self) -> tuple[Change, ...]:
        """Whose mark differs from what it was by the rubric the desk began with."""
        return changes(self.before, self.now)

    def save(self, name: str) -> Told:
        """Write the rubric on the desk as a file, if it is one: read again first, as marking reads it."""

        def answer() -> Told:
            self.saved = ""
            stem = safe_name(name.removesuffix(".toml") if isinstance(name, str) else "", "")
            if not stem:
                raise RigError("a name for the file, in quotes", repr(name), next_step='Write desk.save("week-3")')
            if (data_folder() / "rubrics" / f"{stem}.toml").exists():
                raise RigError("a name of your own", f"{stem}, a rubric of the workbook's",
                               next_step='Choose another, such as "week-3"')  # fmt: skip
            head = [f'Made from the rubric "{self.base.id}". What differs from it:']
            head += [
                f"{key} {value:g} instead of {number_of(self.base, key) or 0:g}" for key, value in self.numbers.items()
            ]
            text, _ = retuned(self.text, self.numbers, self.room.asked, stem, head)
            path = own_folder(WORK) / "rubrics" / f"{stem}.toml"
            write_whole(path, text)
            self.saved = str(path)
            place = "/".join(path.parts[-3:])
            many = "1 number differs" if len(self.numbers) == 1 else f"{len(self.numbers)} numbers differ"
            return Told("written", f"{place}: {many} from {self.base.id}.", "Run the check.")

        done = safely(answer)
        self.misread = done.found if done.state == NOT_YET else ""
        return Told(LOOK_AGAIN, done.found, done.next_step) if self.misread else done

    def __repr__(self) -> str:
        return f"Desk: {self.base.title} on {len(self.papers)} hand-ins. Run this cell (Shift+Enter) to open it."

    def _repr_mimebundle_(self, **_given) -> dict:
        return Shown(self.box, repr(self))._repr_mimebundle_()


def told(error: RigError) -> str:
    """Why numbers are no rubric; of a ring that is too wide (see `agree`) what it holds, not how wide it may be."""
    about = re.match(r"centring.allowed up to .* for the (.+) of ", error.expected)
    lengths = re.findall(r"[\d.]+ mm", error.got)
    if about is None or len(lengths) != 3:
        return str(error)
    return (f"Too wide: the ring reaches {lengths[0]}. The {about[1]}'s middle is bent by {lengths[1]}, and up to "
            f"{lengths[2]} it is too straight to tell, so a joint in the ring could bend the wrong way.")  # fmt: skip


class Row:
    """One number: a box with its name, a slider in step with it, and the unit."""

    def __init__(self, key: str, rubric: Rubric, moved):
        setting = SETTINGS[choice(key, "a number of the desk", tuple(SETTINGS))]
        value = round((number_of(rubric, key) or 0.0) * setting.per_one, 6)
        whole = value.is_integer() and float(setting.step).is_integer()  # a box of floats shows digits that nobody set
        text, slide = (
            (widgets.BoundedIntText, widgets.IntSlider) if whole else (widgets.BoundedFloatText, widgets.FloatSlider)
        )
        numbers = {
            "min": min(setting.low, value),
            "max": max(setting.high, value),
            "step": setting.step,
            "value": value,
        }
        ranged = {name: int(one) if whole else one for name, one in numbers.items()}
        wide = widgets.Layout(width="226px", margin="0 4px")
        named = {"description": setting.words, "style": {"description_width": "158px"}}
        self.box_of = text(layout=wide, **named, **ranged)
        self.slider = slide(readout=False, layout=widgets.Layout(width="112px", margin="0 4px"), **ranged)
        self.slider.add_class(f"rigkit-{key.replace('.', '-')}")
        widgets.link((self.slider, "value"), (self.box_of, "value"))
        self.slider.observe(lambda change: moved(key, change["new"]), "value")
        unit = widgets.Label(setting.unit, layout=widgets.Layout(width="58px", margin="0"))
        self.box = widgets.HBox([self.box_of, self.slider, unit], layout=widgets.Layout(
            width=f"{WIDE // 2 - 4}px", height=f"{ROW}px", align_items="center", overflow="hidden"))  # fmt: skip

    def show(self, value: float, key: str) -> None:
        """Put the widgets to a value; the change calls back as a hand's would. Raises RigError between two steps."""
        whole = isinstance(self.slider, widgets.IntSlider)
        if whole and not value.is_integer():
            raise RigError("a whole number", f"{value:g}", where=key)
        self.slider.value = int(value) if whole else value


def open_desk(room: Class, tune: Sequence[str] = tuple(SETTINGS), rubric: str = "standard",
              grades: Mapping[str, float] | None = None) -> Desk:  # fmt: skip
    """A desk with some numbers of a rubric, by "table.key", over a class."""
    return Desk(room, tuple(tune), rubric, grades or GRADES)
