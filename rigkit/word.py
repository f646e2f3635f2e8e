"""The instructor's word: marks and scores set by hand, by student and criterion, kept in a CSV file beside the class.

Marking again reads the file again, so a word survives it; whatever it changes is told as a notice, with its note.
"""

import csv
import io
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from rigkit import require
from rigkit.files.layout import plain_text
from rigkit.files.rubrics import CRITERIA
from rigkit.marking import Result
from rigkit.mends import half_up
from rigkit.require import RigError

COLUMNS = ("id", "criterion", "value", "note")
MARK = "mark"
LONGEST = 1_000_000  # bytes; a class of a thousand with notes has about 100,000


@dataclass(frozen=True)
class Word:
    """One line: for a criterion a score in per cent of it, for "mark" the mark itself, 0 to 100; and why."""

    criterion: str
    value: float
    note: str


def read_words(path: str | Path) -> Mapping[str, tuple[Word, ...]]:
    """The words of a CSV file with the columns id, criterion, value and note, by id. Raises RigError with the line.

    Example line: `wren,centring,100,"the mesh has a fold there"`.
    """
    path = Path(path)
    try:
        if path.stat().st_size > LONGEST:
            raise RigError("a table of words", f"a file of {path.stat().st_size / 1e6:.1f} MB", where=path.name)
        rows = csv.DictReader(io.StringIO(path.read_bytes().decode("utf-8-sig")), strict=True)
        if missing := [name for name in COLUMNS if name not in (rows.fieldnames or ())]:
            raise RigError(f"the columns {', '.join(COLUMNS)}", f"none called {', '.join(missing)}", where=path.name)
        found: dict[str, list[Word]] = {}
        for row in rows:
            where = f"{path.name}, line {rows.line_num}"
            if not any((value or "").strip() for value in row.values() if not isinstance(value, list)):
                continue
            name, criterion, value, note = ((row[column] or "").strip() for column in COLUMNS)
            criterion = require.choice(criterion.lower(), f"{where}, criterion", (*CRITERIA, MARK))
            try:
                number = require.number(float(value.replace(",", ".")), f"{where}, value", 0, 100)
            except ValueError as error:
                raise error if isinstance(error, RigError) else RigError(
                    "a number from 0 to 100", require.shown(value), where=f"{where}, value") from None  # fmt: skip
            if criterion != MARK and 0 < number <= 1:
                raise RigError(f"a score in per cent, such as {100 * number:g}", f"{number:g}", "it is a share of one",
                               f"Write {100 * number:g}", f"{where}, value")  # fmt: skip
            if not name:
                raise RigError("a student's id", "none", where=f"{where}, id")
            if any(word.criterion == criterion for word in found.get(name, ())):
                raise RigError("one word for each criterion", f"two for {name}, {criterion}", where=where)
            found.setdefault(name, []).append(Word(criterion, number, plain_text(note, "", [])[:64]))
    except OSError as error:
        raise RigError("a table of words", (error.strerror or "an error").lower(), where=path.name) from None
    except (UnicodeDecodeError, csv.Error):
        raise RigError("a CSV file saved as UTF-8", "something else", where=path.name) from None
    return {name: tuple(words) for name, words in found.items()}


def with_words(result: Result, words: tuple[Word, ...]) -> Result:
    """A result with an instructor's words: scores set, the mark worked out anew with its caps, or set as well.

    Findings stay as they were found; a notice for each word says what it changed and why. A hand-in that could not be
    read takes a mark only; then it counts as marked.
    """
    criteria, notices, mark = dict(result.criteria or {}), list(result.notices), result.mark
    said = {word.criterion: word for word in words}
    for name in [name for name in CRITERIA if name in said and name in criteria and criteria[name].weight > 0]:
        was = criteria[name]
        criteria[name] = replace(was, score=said[name].value / 100, judged=True)
        before = "not judged" if was.score is None else f"{half_up(100 * was.score):g} %"
        notices.append(_told(f"{name} {said[name].value:g} % instead of {before}", said[name]))
    judged = [one for one in criteria.values() if one.judged]
    if judged and len(notices) > len(result.notices):
        whole = sum(one.weight for one in judged)
        mark = 100 * sum(one.weight * (one.score or 0.0) for one in judged) / whole
        mark = half_up(min([mark, *(cap["cap"] for cap in result.caps)]), 1)
    if MARK in said:
        before = "none" if mark is None else f"{mark:.1f}"
        mark = half_up(said[MARK].value, 1)
        notices.append(_told(f"the mark is {mark:.1f} instead of {before}", said[MARK]))
    status = "marked" if mark is not None else result.status
    told = tuple(notices[len(result.notices) :])
    return replace(result, status=status, criteria=criteria or None, mark=mark, notices=tuple(notices), words=told)


def _told(what: str, word: Word) -> str:
    return f"The instructor's word: {what}{f' ({word.note})' if word.note else ''}."
