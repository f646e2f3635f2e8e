"""What a notebook imports: open a bench, guess, compare, check, hint, hand in; answers in words, never a traceback."""

from __future__ import annotations

import base64
from collections.abc import Callable, Collection, Sequence
from html import escape

import ipywidgets as widgets
import numpy as np

from rigkit import set_up
from rigkit.bench import Bench
from rigkit.bench_hints import first_to_mend, rungs
from rigkit.bench_parts import Limb, bend_mark, folds_of, room_for, slice_of
from rigkit.bench_plates import VIEWS
from rigkit.bench_words import feedback, picture_sentence
from rigkit.files.exercise import Exercise, read_exercise
from rigkit.files.layout import Layout
from rigkit.files.rubrics import CRITERIA
from rigkit.marking import mark
from rigkit.outline import Edges
from rigkit.picture import LIGHT, fit_views
from rigkit.plates import flesh, overlay, words
from rigkit.require import RigError, choice
from rigkit.slices import slice_plate
from rigkit.tables import data_folder
from rigkit.told import LOOK_AGAIN, NOT_YET, RIGHT, Told
from rigkit.work import Store, guesses, remember, write_hand_in

__all__ = [
    "Told",
    "check",
    "compare",
    "hand_in",
    "hint",
    "open_bench",
    "open_exercise",
    "picture_of",
    "predict",
    "set_up_report",
]


class Shown:
    """Something with widgets that a notebook stores as one fixed sentence."""

    def __init__(self, panel: widgets.Widget, sentence: str):
        self.panel, self.sentence = panel, sentence

    def __repr__(self) -> str:
        return self.sentence

    def _repr_mimebundle_(self, **_given) -> dict:
        return (self.panel._repr_mimebundle_() or {}) | {"text/plain": self.sentence}


def open_exercise(name: str) -> Exercise:
    """An exercise of the project's data folder by its id, such as "left-arm"; RigError lists the ids there are."""
    folder = data_folder() / "exercises"
    there = sorted(path.parent.name for path in folder.glob("*/exercise.toml"))
    return read_exercise(folder / choice(name, "the exercise", there))


def open_bench(
    name: str,
    start: str = "scattered",
    lesson: str = "",
    views: Sequence[str] = ("front", "side", "slice"),
    controls: Sequence[str] = ("place",),
) -> Bench:
    """The bench of an exercise, with the work kept for this lesson if there is some, else with the start layout."""
    exercise = open_exercise(name)
    return Bench(exercise, exercise.start(start), views, controls, Store.beside(exercise.id, lesson))


def predict(key: str, question: str, options: Sequence[str]) -> Shown:
    """Ask for a guess and remember it; nothing is marked."""
    kept = guesses().get(key)
    buttons = widgets.RadioButtons(
        options=list(options), value=kept if kept in options else None, layout=widgets.Layout(width="auto")
    )
    note = widgets.HTML("Kept; you can change it." if kept in options else "Choose one; nothing is marked.")

    def chosen(change) -> None:
        try:
            remember(key, change["new"])
            note.value = "Kept; you can change it until you look."
        except RigError as error:
            note.value = escape(str(error))

    buttons.observe(chosen, "value")
    head = widgets.HTML(f"<b>{escape(question)}</b>")
    return Shown(widgets.VBox([head, buttons, note]), f"Guess: {question}")


def compare(key: str, outcome: str) -> Told:
    """The guess kept under a key beside what happened."""
    guess = guesses().get(key)
    told = f"You guessed: {guess}." if guess else "You did not guess."
    return Told("compare", f"{told} What happened: {outcome}")


def _safely(answer: Callable[[], Told]) -> Told:
    """The answer, or the reason why there is none, in words."""
    try:
        return answer()
    except RigError as error:
        return Told(NOT_YET, str(error))
    except Exception as error:  # noqa: BLE001 - a check must never end in a traceback
        return Told(
            NOT_YET,
            f"Something in the workbook broke ({type(error).__name__}: {error}).",
            "Run the notebook from the top.",
        )


def _need_bench(bench: object) -> Bench:
    if not isinstance(bench, Bench):
        raise RigError(
            "the bench of this lesson", type(bench).__name__, next_step="Run the cell that opens it, then this one"
        )
    return bench


def check(bench: Bench, criteria: Collection[str] = ()) -> Told:
    """Look at the work on a bench by some criteria of the marks, or by those that the bench teaches.

    Tells "not yet" (nothing was moved), "look again" with one next step, or "right"; never raises.
    """
    return _safely(lambda: _check(_need_bench(bench), criteria))


def _check(bench: Bench, criteria: Collection[str]) -> Told:
    wanted = {
        choice(one, "a criterion", CRITERIA) for one in ([criteria] if isinstance(criteria, str) else criteria)
    } or bench.criteria
    finding = first_to_mend(mark(bench.layout, bench.exercise).findings, wanted, bench.limb)
    if finding is None:
        return Told(RIGHT, "Nothing here needs mending.", "Go on.")
    if not bench.touched:
        return Told(NOT_YET, "Everything still lies where the lesson put it.", "Choose a joint above and move it.")
    return Told(LOOK_AGAIN, finding.message, finding.mend)


def hint(bench: Bench) -> Shown:
    """A button that tells a little more each time it is pressed."""
    said = widgets.HTML(
        feedback(["Press for a first hint."], 96), layout=widgets.Layout(width="640px", height="96px", margin="0")
    )
    button = widgets.Button(description="Hint", layout=widgets.Layout(width="120px"))
    step = {"rung": 0, "head": ""}

    def pressed(_button) -> None:
        answer = _safely(lambda: _next_hint(_need_bench(bench), step))
        said.value = feedback([answer.found], 96)

    button.on_click(pressed)
    return Shown(widgets.HBox([button, said]), "Hint (open this lesson in JupyterLab to use it)")


def _next_hint(bench: Bench, step: dict) -> Told:
    finding = first_to_mend(bench.findings(), bench.criteria, bench.limb)
    ladder = rungs(finding, bench.limb, bench.skeleton, bench.start)
    if ladder[0] != step["head"]:
        step["rung"], step["head"] = 0, ladder[0]
    number = min(step["rung"], len(ladder) - 1)
    step["rung"] += 1
    return Told("hint", f"Hint {number + 1} of {len(ladder)}: {ladder[number]}" if len(ladder) > 1 else ladder[0])


def hand_in(bench: Bench, student: str = "") -> Told:
    """Write the work as a file to hand in, count the attempt up, and say where it lies; never raises."""

    def answer() -> Told:
        place, attempt = write_hand_in(_need_bench(bench).layout, student, bench.exercise.id)
        return Told("handed in", f"Attempt {attempt} lies in {place}.", "Give this file to your instructor.")

    return _safely(answer)


def set_up_report() -> Shown:
    """What this machine has and lacks for the lessons, and a button that shows whether widgets answer."""
    found = set_up.lines()
    button = widgets.Button(description="Press me", layout=widgets.Layout(width="160px"))
    button.on_click(lambda pressed: setattr(pressed, "description", "✓ It answers"))
    told = [f"{'✓' if good else '✗'} {line}" for good, line in found]
    seen = "Press the button. If there is none, or nothing happens, stop JupyterLab and start it as README.md says."
    panel = widgets.VBox(
        [widgets.HTML(feedback([*told, seen], 34 + 29 * (len(told) + 1)), layout=widgets.Layout(width="760px")), button]
    )
    return Shown(panel, "\n".join(told))


class Picture:
    """A still plate: one image with its sentence as alternative text."""

    def __init__(self, svg: str, alt: str):
        self.svg, self.alt = svg, alt

    def __repr__(self) -> str:
        return f"Picture: {self.alt}"

    def _repr_html_(self) -> str:
        data = base64.b64encode(self.svg.encode()).decode()
        return f'<img alt="{escape(self.alt)}" src="data:image/svg+xml;base64,{data}">'


def picture_of(
    exercise: Exercise,
    layout: Layout,
    view: str = "front",
    chosen: str = "",
    pull: float = 0,
    with_bend: bool = False,
    size: tuple[int, int] = (360, 460),
) -> Picture:
    """A still picture of a layout in its exercise: front, side, above, turned or slice; pull in per cent."""
    limb, skeleton = Limb.of(exercise, layout.skeleton), layout.skeleton
    role = choice(chosen or next(iter(limb.roles)), "a joint", limb.roles)
    alt = f"{exercise.title}. {picture_sentence(limb, skeleton, role, pull / 100, with_bend)}"
    bend = bend_mark(limb, skeleton) if with_bend else None
    if choice(view, "a view", VIEWS) == "slice":
        laid = slice_of(limb, skeleton, role, with_bend)
        return Picture(slice_plate(laid, size, f"Slice through the {role}", alt, bend.verdict if bend else ""), alt)
    room = room_for(limb, skeleton) if pull else np.zeros((0, 3))
    seen = fit_views(exercise.mesh, {view: size}, exercise.side, room)[view]
    over = overlay(
        seen,
        skeleton,
        limb.roles[role],
        role,
        alt,
        bend,
        folds_of(limb, skeleton, pull / 100),
        exercise.mesh,
        limb.edges,
    )
    under = flesh(seen, exercise.mesh.vertices, exercise.mesh.triangles, Edges.of(exercise.mesh.triangles), LIGHT)
    ground = f'<rect width="{size[0]}" height="{size[1]}" fill="{LIGHT.paper}"/>'
    head, _, body = over.partition(">")
    return Picture(f"{head}>{ground}{under}{words(14, 23, seen.title, LIGHT, weight='bold')}{body}", alt)
