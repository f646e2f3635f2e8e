"""What the notebook "Tune a rubric" calls: the desk, tables and pictures of a rubric, and checks of what was tuned.

A wrong answer is told in words by the check below it, never by a traceback.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from rigkit.charts import curves
from rigkit.classroom import mark_class
from rigkit.files.rubrics import read_finding_kinds, read_rubric
from rigkit.lesson import safely
from rigkit.marking import Class
from rigkit.measures.base import own
from rigkit.require import RigError, choice, number
from rigkit.retuned import changes, marked_again, number_of, retuned, rubric_text, sheets
from rigkit.rubric_place import falling
from rigkit.stills import Picture, picture
from rigkit.taught.class_desk import found
from rigkit.taught.tuning_desk import ALLOWED, LIMITS, SETTINGS, WEIGHTS, Desk, marked, open_desk
from rigkit.told import LOOK_AGAIN, NOT_YET, RIGHT, Table, Told

__all__ = ["ALLOWED", "LIMITS", "WEIGHTS", "marked", "open_desk"]


def rubric_table(rubric: str = "standard") -> Table:
    """The numbers of a rubric that the desk has: as the file has them, and as the desk shows them."""
    read = read_rubric(rubric)
    rows = []
    for key, setting in SETTINGS.items():
        value = number_of(read, key)
        if value is not None:
            rows.append((key, f"{value:g}", setting.words, f"{value * setting.per_one:g} {setting.unit}".strip()))
    return Table(("in the file", "", "on the desk", ""), rows)


def line_of(room: Class, students: Sequence[str], joint: str = "elbow") -> Picture:
    """How centring falls from full to nothing with the distance from the middle, and where some students lie."""
    allowed, failing = (room.rubric[f"centring.{key}"] for key in ("allowed", "failing"))
    x = np.linspace(0.0, 1.25 * failing, 101)
    kept = [100 * falling(one, allowed, failing) for one in x]
    lie = {}
    for one in room.counting:
        facts = {m.measure: m.value for m in one.measurements if m.joint == joint}
        if one.id in students and isinstance(value := facts.get("offset-radius"), float):
            lie[one.id] = 100 * value
    told = "; ".join(f"{name}'s {joint} lies {value:.0f} % off" for name, value in lie.items())
    sentence = (f"A joint keeps all of its centring up to {100 * allowed:g} % of a radius, nothing from "
                f"{100 * failing:g} % on, and between them a straight line falls. {told}.")  # fmt: skip
    across, up = "distance from the middle, % of the local radius", "% of centring kept"
    return curves((100 * x).tolist(), {"kept": kept}, across, up, sentence, lie)


def in_millimetres(room: Class, per_cent: float) -> Table:
    """What a share of the local radius is at each joint of the exercise."""
    if room.asked is None:
        raise RigError("a class that knows its exercise", "none")
    share = number(per_cent, "per_cent", 0, 1000) / 100
    rows = [(role, f"{1000 * one.radius:.0f} mm", f"{1000 * share * one.radius:.1f} mm")
            for role, one in own(room.asked).items() if one.radius]  # fmt: skip
    return Table(("joint", "local radius", f"{per_cent:g} % of it"), rows)


def all_doubled(room: Class) -> str:
    """What becomes of a class's marks when every weight is doubled, in words."""
    papers, rubric = sheets(room), room.rubric
    double = {f"weights.{name}": 2.0 * weight for name, weight in rubric.weights.items() if weight}
    after = marked_again(papers, retuned(rubric_text(rubric.id), double)[1])
    changed = changes(marked_again(papers, rubric), after)
    return f"{'stay as they are' if not changed else 'change'}: {len(changed)} of {len(papers)} marks change"


def beside(room: Class, rubrics: Sequence[str], students: Sequence[str] = ()) -> Table:
    """The marks of a class, or of some of it, under several rubrics; the order is that of the first."""
    papers = [one for one in sheets(room) if not students or one.id in students]
    marks = [marked_again(papers, read_rubric(rubric)) for rubric in rubrics]
    names = sorted((one.id for one in papers), key=lambda name: -(marks[0][name].mark or 0.0))
    rows = [
        (name, *("none" if done[name].mark is None else f"{done[name].mark:.1f}" for done in marks)) for name in names
    ]
    return Table(("id", *rubrics), rows)


def by_eye(room: Class, student: str) -> Picture:
    """A hand-in without its mark, to be marked by eye: its joints in the mesh, and a slice through each."""
    there = {one.id: one for one in room.counting if one.skeleton is not None}
    one, asked = there[choice(student, "a student's id", tuple(there))], room.asked
    if one.skeleton is None or asked is None:
        raise RigError("a class that knows its exercise", "none")
    whole = picture(asked, one.skeleton, ("front", "side"), (), 0.0, False)
    slices = picture(asked, one.skeleton, ("slice",), [joint.role for joint in asked.joints], 0.0, False)
    return Picture([*whole.plates, *slices.plates])


def _on(desk: Desk, answer: Callable[[], Told]) -> Told:
    """What a check says of a desk: first what was refused, then whether anything was moved, then its answer."""

    def first() -> Told:
        if not isinstance(desk, Desk):
            raise RigError("the desk", "something else", next_step="Run the cell that opens it, then this one")
        if refused := desk.misread or desk.refused:
            return Told(LOOK_AGAIN, f"This was refused: {refused}", "Put it right on the desk or in the cell above.")
        if not desk.numbers:
            return Told(NOT_YET, "The rubric is as it was.", "Move a slider, or take the # away in the cell above.")
        return answer()

    return safely(first)


def check_cost(desk: Desk, student: str, finding: str, at_least: float, key: str) -> Told:
    """Whether one number alone was raised to the least whole value by which a student's finding costs so much."""

    def cost(value: float) -> float:
        rubric = retuned(desk.text, desk.numbers | {key: value}, desk.room.asked)[1]
        found = marked_again([one for one in desk.papers if one.id == student], rubric)[student].findings
        return sum(one.cost for one in found if one.finding == finding)

    def answer() -> Told:
        others = [one for one in desk.numbers if one != key]
        if others:
            return Told(
                LOOK_AGAIN, f"{', '.join(others)} changed too.", f"Press As the rubric is, and change {key} alone."
            )
        value = desk.numbers[key]
        whole = sum(desk.rubric.weights[one] for one in _judged(desk))
        title = read_finding_kinds()[finding].title.lower()
        told = f'With {value:g}, of {whole:g} in all, "{title}" costs {student} {cost(value):.2f}.'
        if cost(value) < at_least - 1e-9:
            return Told(LOOK_AGAIN, f"{told} That is less than {at_least:g}.", "A weight is a share of the sum: go on.")
        if cost(value - 1) >= at_least - 1e-9:
            return Told(LOOK_AGAIN, f"{told} A smaller weight would do.", "Go back, one at a time.")
        return Told(RIGHT, told, "Look who else changed.")

    return _on(desk, answer)


def _judged(desk: Desk) -> list[str]:
    first = next(iter(desk.now.values()))
    return [name for name, score in (first.criteria or {}).items() if score.judged]


def check_widest(desk: Desk, key: str = "centring.allowed") -> Told:
    """Whether an allowance stands at the last step of its slider before the rubric contradicts itself."""

    def answer() -> Told:
        setting = SETTINGS[key]
        value = desk.numbers.get(key, number_of(desk.base, key) or 0.0)
        shown = f"{setting.per_one * value:g} {setting.unit}"
        try:
            retuned(desk.text, desk.numbers | {key: value + setting.step / setting.per_one}, desk.room.asked)
        except RigError as error:
            return Told(
                RIGHT,
                f"{setting.per_one * value:g} {setting.unit} is the widest. One more is refused: {error}",
                "Go on.",
            )
        return Told(LOOK_AGAIN, f"{shown} is a rubric, and one more is one still.", "Go on widening.")

    return _on(desk, answer)


def check_limit(desk: Desk, student: str, least: float) -> Told:
    """Whether a student is under the least mark of a pass, and nobody else's mark changed."""

    def answer() -> Told:
        mark = desk.now[student].mark or 0.0
        others = [one.id for one in desk.changes if one.id != student]
        if mark >= least:
            return Told(LOOK_AGAIN, f"{student} has {mark:g}, and {least:g} is a pass.", "Lower the limit further.")
        if others:
            return Told(LOOK_AGAIN, f"{student} has {mark:g}, but {_listed(others)} changed too.",
                        "Leave all but the limit for bending the wrong way as it was.")  # fmt: skip
        if mark == 0.0:
            return Told(LOOK_AGAIN, f"{student} has nothing, as if nothing had been handed in.",
                        "Leave something for what is right.")  # fmt: skip
        return Told(RIGHT, f"{student} has {mark:g} and does not pass; nobody else changed.", "Go on.")

    return _on(desk, answer)


def _listed(names: Sequence[str]) -> str:
    return ", ".join(names[:3]) + (f" and {len(names) - 3} more" if len(names) > 3 else "")


def check_saved(desk: Desk, handins: str = "demo-class", exercise: str = "left-arm") -> Told:
    """Mark the hand-ins themselves by the file that was saved: the marks must be those on the desk."""

    def answer() -> Told:
        if not desk.saved:
            return Told(NOT_YET, "Nothing was saved yet.", 'Write desk.save("week-3") under it.')
        room = mark_class([found(handins, "")], found(exercise, "exercises"), desk.saved)
        marks = {one.id: one.mark for one in room.counting if one.id in desk.now}
        off = [name for name, mark in marks.items() if mark != desk.now[name].mark]
        if off:
            return Told(LOOK_AGAIN, f"The desk was changed since: {_listed(off)} would get another mark by the file.",
                        "Save it again.")  # fmt: skip
        return Told(RIGHT, f"{len(marks)} hand-ins were marked from their files by {room.rubric.id}.toml: the same "
                    "marks as on the desk.", "Go on.")  # fmt: skip

    return _on(desk, answer)
