"""Second marker: marks given by hand for a sample of hand-ins, beside the tool's -> how far they agree, and where not.

The sample is drawn by ids alone, spread over the marks, so that nobody chooses whose marks are looked at.
"""

import csv
import hashlib
import io
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from rigkit import require
from rigkit.agreement import icc, icc_range, weighted_kappa
from rigkit.files.rubrics import read_finding_kinds
from rigkit.gradebook import safe
from rigkit.marking import Result
from rigkit.mends import half_up
from rigkit.require import RigError
from rigkit.retuned import grade
from rigkit.tables import read_rows
from rigkit.word import COLUMNS, MARK, Word, read_words

LEAST = 10  # hand-ins marked by both: with fewer, the range of either number is wider than what it could tell (ours)
BANDS: Mapping[str, float] = {f"{ten} to {ten + 9 if ten < 90 else 100}": float(ten) for ten in range(0, 100, 10)}
"""Grades where a school names none: bands of ten marks, each with its least."""
CANNOT_TELL = "cannot tell"
MOST_CHARGED = 6  # charges told of one hand-in


@dataclass(frozen=True)
class Both:
    """One hand-in marked by both, 0 to 100 each: the tool's mark and its grade, the one by hand and its grade, the
    note beside it, and what the tool charged, in words."""

    id: str
    tool: float
    hand: float
    tool_grade: str
    hand_grade: str
    note: str
    charged: tuple[str, ...]

    @property
    def gap(self) -> float:
        """How much more the tool gave; below 0: less."""
        return half_up(self.tool - self.hand, 1)


@dataclass(frozen=True)
class Agreement:
    """How far tool and second marker agree in the mark, or in a criterion (per cent of it). both: each hand-in, the
    largest gap first; kappa: of grades, quadratically weighted; icc: ICC(2,1) of marks, with its range at 95 %; bias:
    how much more the tool gives on average; None where it cannot be told, and why_not says why. left_out: (id, reason)
    of what was marked by hand and could not be compared."""

    criterion: str
    both: tuple[Both, ...]
    kappa: float | None
    icc: float | None
    icc_range: tuple[float, float] | None
    bias: float | None
    why_not: str
    left_out: tuple[tuple[str, str], ...]

    def lines(self, most: int = 20) -> list[str]:
        """All of it in lines to be read; at most so many hand-ins to be looked at again."""
        what = "the mark" if self.criterion == MARK else f"{self.criterion}, per cent of it"
        told = [f"Of {what}, {len(self.both)} hand-in{'s were' if len(self.both) != 1 else ' was'} marked by both."]
        if self.why_not:
            told.append(f"How far tool and hand agree: {CANNOT_TELL}, since {self.why_not}.")
        else:
            sure = f" (95 % sure: {self.icc_range[0]:.2f} to {self.icc_range[1]:.2f})" if self.icc_range else ""
            told.append(f"Marks: ICC(2,1) {_two(self.icc)}{sure}. Grades: weighted kappa {_two(self.kappa)}. "
                        "Each is 1 where all agree and 0 where chance would do as well.")  # fmt: skip
        if self.bias is not None:
            way = f"{abs(self.bias):.1f} {'more' if self.bias > 0 else 'less'} than" if self.bias else "as much as"
            told.append(f"On average the tool gives {way} the hand.")
        apart = [one for one in self.both if one.gap]
        told += ["To look at again, the largest difference first:"] if apart else []
        for one in apart[:most]:
            grades = "" if one.tool_grade == one.hand_grade else f", {one.tool_grade} and {one.hand_grade}"
            note, charged = f" ({one.note})" if one.note else "", "; ".join(one.charged) or "nothing"
            told.append(f"  {one.id}: tool {one.tool:g}, hand {one.hand:g}{grades}{note}. The tool charged {charged}.")
        told += [f"  and {len(apart) - most} more."] if len(apart) > most else []
        return told + [f"Left out: {name}, {reason}." for name, reason in self.left_out]


def _two(number: float | None) -> str:
    return CANNOT_TELL if number is None else f"{number:.2f}"


def read_hand(path: str | Path) -> Mapping[str, tuple[Word, ...]]:
    """Marks given by hand, by id, from a CSV file: the sheet, with the columns id, mark and, if there is one, note; or
    a table of words, with id, criterion, value and, if there is one, note. Lines without a mark are passed over.

    Raises RigError with the line, as `read_words`, which reads both.
    """
    path, found = Path(path), read_rows(path, "marks given by hand")
    need = ("id", MARK) if MARK in found.names else COLUMNS[:3]
    if not set(need) <= set(found.names):
        raise RigError("the columns id and mark, or id, criterion and value", ", ".join(found.names) or "none",
                       where=path.name)  # fmt: skip
    table, lines, said = io.StringIO(), 1, 0
    writer = csv.writer(table, lineterminator="\n")
    writer.writerow(COLUMNS)
    for line, row in found.rows:
        name, note = (row.get(key, "") for key in ("id", "note"))
        name = name[1:] if name.startswith("'") and safe(name[1:]) == name else name
        criterion, value = (MARK, row[MARK]) if MARK in found.names else (row["criterion"], row["value"])
        table.write("\n" * (line - lines - 1))  # so that a line has the number that it has in the file
        lines, said = line, said + bool(value)
        writer.writerow((name, criterion, value, " ".join(note.split())) if value else ("",) * 4)
    if not said:
        raise RigError("a mark by hand", "none", "the sheet was not filled in, or not saved",
                       f"Write marks into its column {need[-1]}", path.name)  # fmt: skip
    with TemporaryDirectory() as folder:
        copy = Path(folder) / path.name
        copy.write_text(table.getvalue(), encoding="utf-8", newline="")
        return read_words(copy)


def agreements(
    results: Iterable[Result], hand: Mapping[str, tuple[Word, ...]], grades: Mapping[str, float] = BANDS
) -> tuple[Agreement, ...]:
    """One Agreement for the mark and for each criterion that was marked by hand.

    results: the hand-ins that count, marked without the instructor's words. hand: as `read_hand` gives it. grades: the
    least mark of each grade, 0 to 100.
    """
    found = {one.id: one for one in results}
    criteria = dict.fromkeys(word.criterion for words in hand.values() for word in words)
    return tuple(_agreement(name, found, hand, grades)
                 for name in sorted(criteria, key=lambda name: name != MARK))  # fmt: skip


def _agreement(criterion: str, found: Mapping[str, Result], hand: Mapping, grades: Mapping[str, float]) -> Agreement:
    both, left = [], []
    for name, word in ((name, word) for name, words in hand.items() for word in words if word.criterion == criterion):
        one = found.get(name)
        tool, reason = (None, "there is no hand-in of that id") if one is None else _tools(one, criterion)
        if one is None or tool is None:
            left.append((name, reason))
        else:
            names = grade(tool, grades), grade(word.value, grades)
            both.append(Both(name, tool, word.value, *names, word.note, _charged(one, criterion)))
    both.sort(key=lambda one: (-abs(one.gap), one.id))
    table = np.array([(one.tool, one.hand) for one in both]).reshape(-1, 2)
    why = ""
    if len(both) < LEAST:
        why = f"it takes {LEAST}"
    elif alike := [who for who, marks in zip(("the tool", "the hand"), table.T, strict=True) if not np.ptp(marks)]:
        why = f"{' and '.join(alike)} gave all the same, so there is nothing to agree in"
    ranks = np.array([[sum(mark >= least for least in grades.values()) for mark in row] for row in table])
    bias = half_up(float(np.mean(table[:, 0] - table[:, 1])), 1) if both else None
    told = not why
    kappa = weighted_kappa(*ranks.T) if told and np.ptp(ranks, axis=0).all() else None
    return Agreement(criterion, tuple(both), kappa, icc(table) if told else None, icc_range(table) if told else None,
                     bias, why, tuple(left))  # fmt: skip


def _tools(one: Result, criterion: str) -> tuple[float | None, str]:
    """What the tool gave, 0 to 100; else None and why."""
    if one.words:
        return None, "its mark was set by hand before"
    if criterion == MARK:
        return one.mark, "the tool gave it no mark"
    score = (one.criteria or {}).get(criterion)
    if score is None or score.score is None or not score.judged:
        return None, "the tool did not judge it"
    return half_up(100 * score.score, 1), ""


def _charged(one: Result, criterion: str) -> tuple[str, ...]:
    """What the tool charged, the dearest first: "Off centre, elbow: 12.5"; caps by what they took off."""
    kinds = read_finding_kinds()
    costs = [(cap["took"], f"limit of {cap['cap']:g} for {kinds[cap['finding']].title.lower()}")
             for cap in one.caps if criterion == MARK and cap["took"] > 0]  # fmt: skip
    costs += [(found.cost, f"{kinds[found.finding].title.lower()}, {found.joint}")
              for found in one.findings if criterion in (MARK, found.criterion)]  # fmt: skip
    told = [f"{words}: {half_up(cost, 1):g}" for cost, words in sorted(costs, key=lambda cost: -cost[0])]
    return tuple(told[:MOST_CHARGED] + ([f"and {len(told) - MOST_CHARGED} more"] if len(told) > MOST_CHARGED else []))


def sample(results: Iterable[Result], size: int, exercise: str = "") -> tuple[str, ...]:
    """Ids of hand-ins to mark by hand, sorted: one from each of `size` runs of neighbours in the order of marks.

    Who it is in a run the ids alone decide (with the exercise's, so that it is not the same people each week): the same
    class gives the same sample, and in a run all have the same chance. Raises RigError for a size that is no number
    from 1 up. A class smaller than that is taken whole.
    """
    size = require.whole(size, "the size of a sample", 1, 10_000)
    marks = {one.id: one.mark for one in results if one.mark is not None}
    seed = "\n".join([exercise, *sorted(marks)])
    lot = {name: hashlib.sha256(f"{seed}\n\n{name}".encode("utf-8", "replace")).hexdigest() for name in marks}
    order = sorted(marks, key=lambda name: (marks[name], lot[name]))
    count = min(size, len(order))
    runs = [order[i * len(order) // count : (i + 1) * len(order) // count] for i in range(count)]
    return tuple(sorted(min(run, key=lot.__getitem__) for run in runs))


def sheet_csv(names: Iterable[str]) -> str:
    """The text of a sheet to mark by hand, id, mark and note: the tool's marks are not on it.

    >>> sheet_csv(["heron", "wren"]).split()
    ['id,mark,note', 'heron,,', 'wren,,']
    """
    text = io.StringIO()
    csv.writer(text, lineterminator="\r\n").writerows([("id", MARK, "note"), *((safe(name), "", "") for name in names)])
    return text.getvalue()


def read_grades(words: str) -> Mapping[str, float]:
    """Grades from words such as "A=85,B=70,C=0": the least mark of each. Raises RigError.

    >>> read_grades("A=85, B=0")
    {'A': 85.0, 'B': 0.0}
    """
    found: dict[str, float] = {}
    for part in words.split(","):
        name, _, least = (one.strip() for one in part.partition("="))
        try:
            found[name] = require.number(float(least), "a least mark", 0, 100)
        except ValueError:
            name = ""
        if not name:
            raise RigError("grades such as A=85,B=70,C=0", require.shown(words), where="grades")
    if len(set(found.values())) < 2:
        raise RigError("two grades or more, each with a least mark of its own", require.shown(words), where="grades")
    return found
