"""A class as an instructor marks it in a notebook: hand-ins, roster and own words in, pages and tables out, in `work/`.

Answers that an instructor gives are kept here, and judged by the checks of `class_lesson`.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory

from rigkit.classroom import find_handins, mark_class, read_roster, write_class
from rigkit.files.handin import read_handin
from rigkit.files.layout import write_layout
from rigkit.lesson import safely
from rigkit.marking import Class, Result
from rigkit.mended import mended
from rigkit.openings import open_exercise
from rigkit.require import RigError, number, shown
from rigkit.schema import likely
from rigkit.tables import data_folder
from rigkit.told import NOT_YET, Told
from rigkit.word import COLUMNS, MARK, Word, read_words
from rigkit.work import WORK, own_folder, safe_name, write_whole

ABSENT = ("osier", "smew", "alder", "ruff")  # the first two that did not hand in are on the demo's roster


class Marking:
    """A class on a marking evening: where everything lies, the class as marked last, what the instructor answers."""

    def __init__(self, handins: Sequence[Path], exercise: str, rubric: str, roster: str, out: str = "marked"):
        self.handins, self.exercise, self.rubric, self.roster = tuple(handins), exercise, rubric, roster
        self.answers: dict[str, str] = {}
        self.cost: tuple[str, float] | None = None
        self.refused = ""
        self.words_file = own_folder(WORK) / "class" / f"{self.handins[0].name}-words.csv"
        self.out = own_folder(WORK) / safe_name(out, "marked")
        self.room = self._marked()

    def _marked(self) -> Class:
        roster = read_roster(self.roster) if self.roster else None
        folder = found(self.exercise, "exercises")
        room = mark_class(self.handins, folder, self.rubric or None, roster=roster, words=self.words())
        write_class(room, self.out)
        return room

    def __repr__(self) -> str:
        marks = [one.mark for one in self.room.counting if one.mark is not None]
        unread = len(self.room.counting) - len(marks)
        absent = "" if self.room.absent is None else f", {len(self.room.absent)} not handed in"
        refused = f" Your word was refused: {self.refused}" if self.refused else ""
        span = f", from {min(marks):g} to {max(marks):g}" if marks else ""
        return (f"{self.room.title}, by the rubric {self.room.rubric.title}: {len(marks)} marked{span}; "
                f"{unread} could not be read{absent}.{refused}")  # fmt: skip

    def again(self) -> Marking:
        """Mark again: hand-ins, roster and words are read anew, and all files written anew."""
        self.room = self._marked()
        return self

    def add(self, folder: str) -> Marking:
        """Another marking, of the same hand-ins and a folder of those that came later."""
        return Marking([*self.handins, Path(folder)], self.exercise, self.rubric, self.roster, self.out.name)

    def words(self) -> Mapping[str, tuple[Word, ...]]:
        """The instructor's words as they stand in their file now, by id."""
        return read_words(self.words_file) if self.words_file.exists() else {}

    def result(self, student: str) -> Result:
        """The hand-in of a student that counts. Raises RigError where there is none."""
        by_id = {one.id: one for one in self.room.counting}
        if student not in by_id:
            meant = likely(student, by_id) if isinstance(student, str) else ""
            raise RigError(f"the id of a hand-in{f', such as {meant}' if meant else ''}", shown(student))
        return by_id[student]

    def word(self, student: str, criterion: str, value: float | None, note: str = "") -> Told:
        """Write a word of your own into the table of words: a score in per cent, or the mark itself, and why; None for
        the value takes it back."""
        self.refused = ""

        def answer() -> Told:
            self.result(student)
            rows, name = _rows(self.words_file), str(criterion).strip().lower()
            place = "/".join(self.words_file.parts[-3:])
            if value is None:
                rows.pop((student, name), None)
                _written(self.words_file, rows)
                return Told("written", f"{place} holds no {name} for {student}.", "Mark again.")
            if name == MARK and 0 < number(value, "the mark", 0, 100) < 1:
                raise RigError(f"a mark out of 100, such as {100 * value:g}", f"{value:g}", "it is a share of one")
            if note and not any(letter.isalpha() for letter in note):
                raise RigError("why, in words", shown(note), next_step="It will stand on the student's page")
            rows[student, name] = (student, name, f"{value}", note)
            with TemporaryDirectory() as folder:  # read as it will be, before it takes the old one's place
                asked = Path(folder) / self.words_file.name
                _written(asked, rows)
                read_words(asked)
            _written(self.words_file, rows)
            return Told("written", f"{place} now says: {student}, {name}, {value}, {note}.", "Mark again.")

        told = safely(answer)
        self.refused = told.found if told.state == NOT_YET else ""
        return told

    def monday(self, often: str = "", dear: str = "") -> None:
        """Your answer: the criterion that most students lost something in, and the one that cost the class most."""
        self.answers |= {"often": often, "dear": dear}

    def argue(self, student: str, cost: float) -> None:
        """Your answer: how many points a student's finding costs, worked out by hand."""
        self.cost = (student, cost)

    def counts(self, file: str) -> None:
        """Your answer: the file that counts."""
        self.answers["counts"] = file


def found(name: str, kind: str) -> Path:
    """A folder of one's own, or one of the project's data by its name."""
    own = Path(name)
    return own if own.exists() else data_folder() / kind / name


Rows = dict[tuple[str, str], tuple[str, ...]]


def _rows(path: Path) -> Rows:
    if not path.exists():
        return {}
    return {(name, word.criterion): (name, word.criterion, f"{word.value:g}", word.note)
            for name, words in read_words(path).items() for word in words}  # fmt: skip


def _written(path: Path, rows: Rows) -> None:
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows([COLUMNS, *rows.values()])
    write_whole(path, text.getvalue())


def demo_roster() -> str:
    """Write a roster of the demo class, with two who did not hand in; returns the file's place."""
    there = {path.stem for path in (data_folder() / "demo-class").iterdir()}
    ids = sorted(there | set([name for name in ABSENT if name not in there][:2]))
    path = own_folder(WORK) / "class" / "roster.csv"
    write_whole(path, "id\n" + "".join(f"{name}\n" for name in ids))
    return str(path)


def demo_late(marking: Marking, student: str = "dunlin") -> str:
    """Two more files of a student of the demo class: the next attempt, mended as the page said, and the old one,
    under a grand name; returns their folder."""
    files = dict(find_handins(marking.handins)[0])
    one = next(one for one in marking.room.results if one.id == student and one.file in files)
    first = read_handin(files[one.file], one.file)
    done = mended(first, open_exercise(marking.exercise), one.findings)
    folder = own_folder(WORK) / "class" / "late"
    write_whole(folder / f"{student}-again.json", write_layout(replace(done, attempt=first.attempt + 1)))
    write_whole(folder / f"{student}-the-final-one.json", write_layout(first))
    return str(folder)


def mark(
    handins: str = "demo-class", exercise: str = "left-arm", roster: str = "", rubric: str = "", out: str = "marked"
) -> Marking:
    """Mark a folder of hand-ins by an exercise (folders of your own, or of the project's data by name).

    out: the folder in `work` that all is written to; what an earlier marking wrote there is written over.
    """
    return Marking([found(handins, "")], exercise, rubric, roster, out)
