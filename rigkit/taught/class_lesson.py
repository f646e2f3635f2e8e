"""What the notebook "Mark a class" calls: tables and pages of a marked class, and checks of what an instructor says.

A wrong answer is told in words by the check below it, never by a traceback.
"""

from __future__ import annotations

from rigkit.lesson import safely
from rigkit.require import number
from rigkit.rubric_place import shares
from rigkit.taught.class_desk import Marking, demo_late, demo_roster, mark
from rigkit.taught.class_tables import (
    by_criterion,
    by_joint,
    files_of,
    findings_of,
    losses,
    measured,
    most_often,
    page_of,
    picture_of,
    what_came_out,
    what_goes_in,
)
from rigkit.told import LOOK_AGAIN, NOT_YET, RIGHT, Told
from rigkit.word import MARK

__all__ = [
    "by_criterion", "by_joint", "check_cost", "check_counts", "check_monday", "check_word", "demo_late", "demo_roster",
    "files_of", "findings_of", "mark", "measured", "most_often", "page_of", "picture_of", "what_came_out",
    "what_goes_in",
]  # fmt: skip


def check_monday(marking: Marking) -> Told:
    """Which criterion most students lost something in, and which cost the class most: looked up in the marks."""

    def answer() -> Told:
        took = losses(marking.room)
        often, dear = (marking.answers.get(which, "").strip(" .").lower() for which in ("often", "dear"))
        if not often or not dear:
            return Told(NOT_YET, "Two words are asked for.", "Take the # away and write both between the quotes.")
        for said in (often, dear):
            if said not in took:
                return Told(LOOK_AGAIN, f'"{said}" is no criterion of the table.', f"Choose from {', '.join(took)}.")
        if (n := took[often].students) < max(one.students for one in took.values()):
            return Told(LOOK_AGAIN, f"{often} took something from {n} student{'' if n == 1 else 's'}, another "
                        "criterion from more.", "For often, compare the column students.")  # fmt: skip
        if took[dear].points < max(one.points for one in took.values()):
            return Told(LOOK_AGAIN, f"{dear} took {took[dear].points:.1f} points from the whole class; another "
                        "criterion took more.", "For dear, compare the column points.")  # fmt: skip
        *first, last = map(str, took[dear].lessons)
        lessons = f"lessons {', '.join(first)} and {last} teach" if first else f"lesson {last} teaches"
        return Told(RIGHT, f"{often} goes wrong most often, {dear} costs most: {lessons} it.", "Go on.")

    return safely(answer)


def check_cost(marking: Marking, student: str) -> Told:
    """What a student's joint off centre costs, worked out by hand."""

    def answer() -> Told:
        said_of, said = marking.cost or ("", 0)
        if said_of != student:
            return Told(NOT_YET, f"A number of points for {student} is asked for.", "Take the # away and write it.")
        said, one, rubric = number(said, "cost", 0, 100), marking.result(student), marking.room.rubric
        finding = next(f for f in one.findings if f.finding == "off-centre")
        facts: dict[str, dict] = {}
        for m in one.measurements:
            facts.setdefault(m.joint, {})[m.measure] = m.value
        joints = {role: row for role, row in facts.items() if row.get("found") == "yes" and "offset" in row}
        scores = (one.criteria or {}).values()
        whole = 100 * rubric.weights["centring"] / sum(score.weight for score in scores if score.judged)
        points = whole * shares(joints)[finding.joint]
        free, failing = rubric["centring.allowed"], rubric["centring.failing"]
        radii = float(facts[finding.joint]["offset-radius"])
        right = points * (radii - free) / (failing - free)
        slips = (
            (whole * right / points, f"That would be it if the {finding.joint} alone had all {whole:g} points.",
             f"{len(joints)} joints share them: {points:g} each."),
            (points - right, f"So much the {finding.joint} keeps.", "What is lost is asked for."),
            (right / points, "That is the share that is lost.", f"{points:g} points hang on it: multiply."),
            (points * radii / failing, f"The first {free:g} radii are free.", f"Count from {free:g} to {failing:g}."),
            (points * radii / (failing - free), f"The first {free:g} radii are free.", f"Take {free:g} off first."),
            (points * (radii - free) / failing, f"From {free:g} to {failing:g} the line falls.",
             f"Divide by {failing - free:g}."),
        )  # fmt: skip
        if abs(said - right) <= 0.06:
            return Told(RIGHT, f"{right:.2f} of 100, as the marks have it: {finding.cost:.2f}.", "Go on.")
        if said == 0:
            return Told(LOOK_AGAIN, "It did cost something.", "Begin with the share that is lost.")
        for value, words, step in slips:
            if abs(said - value) <= 0.02 * max(1.0, value):
                return Told(LOOK_AGAIN, words, step)
        return Told(LOOK_AGAIN, f"The marks took another number than {said}.",
                    "Do the three steps above one by one.")  # fmt: skip

    return safely(answer)


def check_word(marking: Marking, student: str, at_least: float) -> Told:
    """Whether a student's own word stands in the results that were written last, and gives such a mark."""

    def answer() -> Told:
        if marking.refused:
            return Told(LOOK_AGAIN, marking.refused, "Mend that and run both cells again.")
        said = marking.words().get(student, ())
        if not said:
            others = ", ".join(sorted(marking.words()))
            return Told(NOT_YET, f"There is no word for {student}" + (f", only for {others}." if others else "."),
                        "Take the # away in the cell above.")  # fmt: skip
        one = marking.result(student)
        if not one.words:
            return Told(LOOK_AGAIN, "The word stands in its file, and in no result yet.", "Mark again: evening.again()")
        if not all(any(letter.isalpha() for letter in word.note) for word in said):
            return Told(LOOK_AGAIN, "The word gives no reason.", "Write why: it stands on the student's page.")
        if one.mark is None or one.mark < at_least:
            held = [cap for cap in one.caps if cap["took"]] if all(word.criterion != MARK for word in said) else []
            why = (
                f"The limit of {held[0]['cap']:g} still holds: a score changes no limit."
                if held
                else "That is too little."
            )
            return Told(
                LOOK_AGAIN, f"The mark is {one.mark:g}. {why}", f'Set the "{MARK}" itself, to {at_least:g} or more.'
            )
        return Told(RIGHT, f"{one.words[-1]} It was marked again and the word held.", "Go on.")

    return safely(answer)


def check_counts(marking: Marking, student: str) -> Told:
    """Which of a student's files counts."""

    def answer() -> Told:
        files = {one.file: one for one in marking.room.results if one.id == student}
        said, counts = marking.answers.get("counts"), marking.result(student)
        if not said:
            return Told(NOT_YET, "A file's name is asked for.", "Take the # away and write it between the quotes.")
        if len(files) < 2:
            return Told(
                NOT_YET, f"There is one file of {student} so far.", "Run the cell above that takes in the late ones."
            )
        said = said if said in files else f"{said}.json"
        if said not in files:
            return Told(
                LOOK_AGAIN,
                f'There is no file "{marking.answers["counts"]}" of {student}.',
                f"There are {', '.join(sorted(files))}.",
            )
        if said != counts.file:
            return Told(LOOK_AGAIN, f"{said} says that it is attempt {files[said].attempt}.",
                        "The number of the attempt decides, not the file's name or date.")  # fmt: skip
        return Told(
            RIGHT,
            f"{said} counts, attempt {counts.attempt}, with {counts.mark:g}. The others stay on record.",
            "Go on.",
        )

    return safely(answer)
