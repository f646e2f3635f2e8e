"""The instructor's word: marks and scores set by hand, by student and criterion, kept in a CSV file beside the class.

Marking again reads the file again, so a word survives it; whatever it changes is told as a notice, with its note.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from rigkit import require
from rigkit.files.layout import plain_text
from rigkit.files.rubrics import CRITERIA
from rigkit.marking import Result
from rigkit.mends import half_up
from rigkit.require import RigError
from rigkit.rubric import Score
from rigkit.tables import read_rows

COLUMNS = ("id", "criterion", "value", "note")
MARK = "mark"
SAID, THE_MARK = "The instructor's word: ", "the mark is"


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
    table = read_rows(path, "a table of words")
    if missing := [name for name in COLUMNS if name not in table.names]:
        raise RigError(f"the columns {', '.join(COLUMNS)}", f"none called {', '.join(missing)}", where=path.name)
    found: dict[str, list[Word]] = {}
    for line, row in table.rows:
        where = f"{path.name}, line {line}"
        name, criterion, value, note = (row[column] for column in COLUMNS)
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
    return {name: tuple(words) for name, words in found.items()}


def with_words(result: Result, words: tuple[Word, ...]) -> Result:
    """A result with an instructor's words: scores set, the mark worked out anew with its caps, or set as well.

    Findings stay as they were found; a notice for each word says what it changed and why. A hand-in that could not be
    read takes a mark only; then it counts as marked, and keeps its reason.
    """
    criteria, notices, mark, caps = dict(result.criteria or {}), list(result.notices), result.mark, result.caps
    said = {word.criterion: word for word in words}
    for name in [name for name in CRITERIA if name in said and name in criteria and criteria[name].weight > 0]:
        was = criteria[name]
        criteria[name] = replace(was, score=said[name].value / 100, judged=True)
        before = "not judged" if was.score is None else f"{half_up(100 * was.score):g} %"
        notices.append(_told(f"{name} {said[name].value:g} % instead of {before}", said[name]))
    if len(notices) > len(result.notices):
        whole = _whole(criteria)
        mark = half_up(min([whole, *(cap["cap"] for cap in caps)]), 1)
        off = half_up(half_up(whole, 1) - mark, 1)  # the first limit is the lowest, which takes it all
        caps = tuple(cap | {"before": half_up(whole, 1), "took": 0.0 if number else off}
                     for number, cap in enumerate(caps))  # fmt: skip
    if MARK in said:
        before = "none" if mark is None else f"{mark:.1f}"
        mark = half_up(said[MARK].value, 1)
        notices.append(_told(f"{THE_MARK} {mark:.1f} instead of {before}", said[MARK]))
    status = "marked" if mark is not None else result.status
    told = tuple(notices[len(result.notices) :])
    return replace(result, status=status, criteria=criteria or None, mark=mark, notices=tuple(notices), words=told,
                   caps=caps)  # fmt: skip


def _whole(criteria: Mapping[str, Score]) -> float:
    """The mark that criteria give, before limits and not rounded."""
    judged = [one for one in criteria.values() if one.judged]
    whole = sum(one.weight for one in judged)
    return 100 * sum(one.weight * (one.score or 0.0) for one in judged) / whole if whole else 0.0


def set_by_word(result: Result) -> frozenset[str]:
    """What an instructor's words set in a result: criteria, and "mark"."""
    said = [one.removeprefix(SAID) for one in result.words]
    return frozenset(MARK if one.startswith(THE_MARK) else one.partition(" ")[0] for one in said)


def by_rubric(result: Result) -> float | None:
    """The mark that a result would have without a word that sets the mark itself; None where it could not be read."""
    if result.criteria is None:
        return None
    return half_up(min([_whole(result.criteria), *(cap["cap"] for cap in result.caps)]), 1)


def _told(what: str, word: Word) -> str:
    return f"{SAID}{what}{f' ({word.note})' if word.note else ''}."
