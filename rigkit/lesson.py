"""What a notebook imports: open a bench, guess, compare, check, hint, hand in; answers in words, never a traceback."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from pathlib import Path

import ipywidgets as widgets

from rigkit import progress, require, set_up
from rigkit.bench import Bench
from rigkit.bench_hints import findings_in, first_to_mend, learner, next_step
from rigkit.bench_parts import Limb, bend_of, in_front
from rigkit.bench_words import feedback
from rigkit.carry import brought_back, carry_out
from rigkit.files.rubrics import CRITERIA
from rigkit.guess import Shown, compare, once_guessed, predict
from rigkit.marking import mark
from rigkit.openings import another_limb, open_exercise
from rigkit.require import RigError, choice, number
from rigkit.stills import Picture, picture
from rigkit.told import LOOK_AGAIN, NOT_YET, RIGHT, Told
from rigkit.work import HAND_INS, Store, own_folder, write_hand_in

__all__ = [
    "Shown",
    "Told",
    "bend_at",
    "bring_back",
    "check",
    "check_pulled",
    "compare",
    "export",
    "hand_in",
    "once_guessed",
    "open_bench",
    "picture_of",
    "predict",
    "safely",
    "set_up_report",
]


def open_bench(
    name: str,
    start: str = "scattered",
    lesson: str = "",
    views: Sequence[str] = ("front", "side", "slice"),
    controls: Sequence[str] = ("place",),
) -> Bench:
    """The bench of an exercise, with the work kept for this lesson if there is some, else with the start layout."""
    exercise = open_exercise(name)
    another = another_limb(exercise, start, lesson)
    return Bench(exercise, exercise.start(start), views, controls, Store.beside(exercise.id, lesson), another)


@progress.kept
def safely(answer: Callable[[], Told]) -> Told:
    """The answer, or the reason why there is none, in words; what a check answers is kept for the progress page."""
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
            "the bench of this lesson", require.kind(bench), next_step="Run the cell that opens it, then this one"
        )
    return bench


def check(bench: Bench, criteria: Collection[str] = (), joints: Collection[str] = ()) -> Told:
    """Look at the work on a bench by some criteria of the marks (else by those it teaches), at some joints (else all).

    Tells "not yet" (nothing was moved), "look again" with one next step, or "right"; never raises.
    """
    return safely(lambda: _check(_need_bench(bench), criteria, joints))


def _check(bench: Bench, criteria: Collection[str], joints: Collection[str]) -> Told:
    wanted = {choice(one, "a criterion", CRITERIA) for one in criteria} or bench.criteria
    roles = [choice(one, "a joint", bench.limb.roles) for one in joints] or list(bench.limb.roles)
    found = findings_in(bench.layout, bench.exercise, wanted)
    finding = first_to_mend([one for one in found if one.joint in roles or not joints], bench.limb)
    if finding is None:
        return Told(RIGHT, "Nothing here needs mending.", "Go on.")
    if not bench.changed(roles):
        return Told(NOT_YET, "This still is as the lesson left it.", "Change it on the bench or in the cell above.")
    step = next_step(finding, bench.exercise)
    return Told(LOOK_AGAIN, learner(finding), step, fault=(finding.finding, finding.joint))


def check_pulled(bench: Bench, at_least: float) -> Told:
    """Whether the limb on a bench is pulled by so many per cent."""

    def answer() -> Told:
        pulled = round(100 * _need_bench(bench).pulled)
        if pulled >= at_least:
            return Told(RIGHT, f"The arm is pulled by {pulled} per cent.", "Go on.")
        state, step = (LOOK_AGAIN, "Pull further.") if pulled else (NOT_YET, "Put 60 in place of 0 and run both cells.")
        return Told(state, f"The arm is pulled by {pulled} per cent.", step)

    return safely(answer)


def hand_in(bench: Bench, student: str = "") -> Told:
    """Write the work as a file to hand in, count the attempt up, and say where it lies; never raises."""

    def answer() -> Told:
        layout, exercise = _need_bench(bench).layout, bench.exercise
        if not isinstance(student, str) or not student.strip():
            raise RigError(
                "your class id in quotes", repr(student), next_step='Write student = "wren" with your own id'
            )
        place, attempt = write_hand_in(layout, student, exercise.id)
        found = mark(layout, exercise).findings
        first, lies = first_to_mend(found, bench.limb), f"Attempt {attempt} lies in {place}."
        if first is None:
            return Told("handed in", f"{lies} Nothing is left to mend.", "Give this file to your instructor.")
        left = len({(one.joint, one.mend) for one in found})  # two faults with one mend are one thing to do
        many = "One thing is" if left == 1 else f"{left} things are"
        where = f"{', first' if left > 1 else ''} at the {first.joint}" if first.joint in bench.limb.roles else ""
        then = "Mend on and hand in again, or give this file to your instructor."
        told = f"{lies} {many} still to mend{where}."
        return Told("handed in", told, then, fault=(first.finding, first.joint))

    return safely(answer)


def export(bench: Bench, name: str = "") -> Told:
    """Write the work into the folder of hand-ins: as a GLB with mesh and skin weights, for other programs, or, where
    the name ends in .json, as a layout alone; never raises."""

    def answer() -> Told:
        exercise = _need_bench(bench).exercise
        path = carry_out(bench.layout, exercise, own_folder(HAND_INS) / Path(name or f"{exercise.id}.glb").name)
        holds, then = (
            "the mesh, the joints and the skin weights",
            "Go on with the cell below. Or open the file in a program of your own that reads glTF, and bring it back.",
        )
        if path.suffix == ".json":
            holds, then = "the joints alone", "It opens in any program that reads JSON."
        return Told("written", f"{path.parent.name}/{path.name} holds {holds}.", then)

    return safely(answer)


def bring_back(bench: Bench, name: str = "") -> Told:
    """What differs between the work on a bench and a file that came back from another program; never raises."""

    def answer() -> Told:
        exercise = _need_bench(bench).exercise
        first, *others = brought_back(
            bench.layout, own_folder(HAND_INS) / Path(name or f"{exercise.id}.glb").name, exercise
        )
        return Told("brought back", first, " ".join(others), "Also")

    return safely(answer)


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


def picture_of(
    what: Bench | str,
    start: str = "",
    views: Sequence[str] = ("front", "side"),
    joints: Sequence[str] = (),
    pulled: float = 0,
    with_bend: bool = False,
    front: float | None = None,
) -> Picture:
    """Still plates of a start layout of an exercise, or of the work on a bench.

    joints: which are cut for slices; the first is the chosen one in views, none without them. pulled: per cent.
    front: put the middle joint so many mm in front of its line first (see `bend_at`).
    """
    if isinstance(what, Bench):
        exercise, skeleton = what.exercise, what.skeleton
    else:
        exercise = open_exercise(what)
        skeleton = exercise.start(start).skeleton
    if front is not None:
        skeleton = in_front(Limb.of(exercise, skeleton), skeleton, front)
    chosen = tuple(joints) or ((Limb.of(exercise, skeleton).fold_role,) if with_bend else ())
    return picture(exercise, skeleton, views, chosen, number(pulled, "pulled", 0, 100) / 100, with_bend)


def bend_at(name: str, start: str, front: float) -> str:
    """What the verdict is with the middle joint so many mm in front of its line (behind it where negative)."""
    exercise = open_exercise(name)
    skeleton = exercise.start(start).skeleton
    limb = Limb.of(exercise, skeleton)
    there = f"{abs(front):g} mm {'in front' if front > 0 else 'behind'}" if front else "on the line"
    verdict = bend_of(limb, in_front(limb, skeleton, number(front, "front", -100, 100))).verdict
    return f"{there:>14}: {verdict}"
