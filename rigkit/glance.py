"""Glance: a Class, and the one before it, -> what an instructor wants to know first, as numbers and one sentence."""

import json
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

from rigkit.feedback import LESSONS
from rigkit.files.rubrics import CRITERIA, FindingKind, read_finding_kinds
from rigkit.marking import Class
from rigkit.require import RigError
from rigkit.schema import schema_of

LARGEST_BEFORE = 1_000_000_000  # bytes of an earlier results.json; a class of a thousand hands has about 60 MB
NOT_COUNTED = "Not counted:"
LEAST_LOST = 0.005  # points, as costs are kept
SURE = 2  # students: what one alone got wrong is no reason to teach it again


@dataclass(frozen=True)
class Row:
    """A kind of finding in a class: who has it, and at which joint; how many points it took with its limits, and how
    many had it in the hand-in before (None where there is none)."""

    kind: FindingKind
    who: frozenset[str]
    joints: Mapping[str, frozenset[str]]
    points: float
    before: int | None = None


@dataclass(frozen=True)
class Before:
    """An earlier hand-in of a class: its exercise, the mark of each id (None: could not be read), and who had each
    finding."""

    exercise: str
    marks: Mapping[str, float | None]
    who: Mapping[str, frozenset[str]]


def found_in(room: Class, before: Before | None = None) -> tuple[Row, ...]:
    """The kinds of findings in a class, those that took most points first."""
    kinds = read_finding_kinds()
    who: dict[str, set[str]] = {}
    points: dict[str, float] = defaultdict(float)
    joints: dict[str, dict[str, set[str]]] = {}
    for one in room.counting:
        for found in one.findings:
            who.setdefault(found.finding, set()).add(one.id)
            joints.setdefault(found.finding, {}).setdefault(found.joint, set()).add(one.id)
            points[found.finding] += found.cost
        for cap in one.caps:
            points[cap["finding"]] += cap["took"]
    rows = [
        Row(kinds[kind], frozenset(ids), {joint: frozenset(some) for joint, some in joints[kind].items()},
            round(points[kind], 2), None if before is None else len(before.who.get(kind, ())))
        for kind, ids in who.items()
    ]  # fmt: skip
    return tuple(sorted(rows, key=lambda row: (-row.points, -len(row.who), row.kind.id)))


def hardest(room: Class) -> tuple[str, float] | None:
    """The criterion that took the largest share of what it could give, limits left out, and that share; None where
    nobody lost anything."""
    can: dict[str, float] = defaultdict(float)
    lost: dict[str, float] = defaultdict(float)
    for one in room.counting:
        scores = {name: score for name, score in (one.criteria or {}).items() if score.judged}
        whole = sum(score.weight for score in scores.values())
        for name, score in scores.items():
            can[name] += 100 * score.weight / whole
            lost[name] += 100 * score.weight / whole * (1 - (score.score or 0.0))
    shares = {name: lost[name] / can[name] for name in CRITERIA if can[name] and lost[name] > LEAST_LOST}
    return max(shares.items(), key=lambda item: item[1]) if shares else None


def monday(rows: Iterable[Row], marked: int) -> str:
    """What to teach again, and with which lesson, in a sentence."""
    rows = [row for row in rows if len(row.who) >= min(SURE, marked)]
    if not marked:
        return "Nothing was marked, so there is nothing to say about what to teach."
    if not rows:
        return "Nothing has to be taught again: no two students have the same thing to mend."
    first = rows[0]
    joint, count = max(((joint, len(ids)) for joint, ids in first.joints.items()), key=lambda item: (item[1], item[0]))
    where = f", most at the {joint} ({count})" if len(first.joints) > 1 else f", at the {joint}"
    return (
        f"Teach again on Monday: {lesson_of(first.kind)}. {len(first.who)} of {marked} have to mend "
        f"\u201c{first.kind.title}\u201d{where}; nothing took more points from the class."
    )


def lesson_of(kind: FindingKind) -> str:
    """The lesson that teaches how to mend a finding, by number and title."""
    return ", ".join(filter(None, (f"lesson {kind.lesson}", LESSONS.get(kind.lesson, ""))))


def compared(room: Class, before: Before) -> str:
    """How the marks went since the hand-in before, in a sentence."""
    pairs = [(was, one.mark) for one in room.counting
             if one.mark is not None and (was := before.marks.get(one.id)) is not None]  # fmt: skip
    if not pairs:
        return "Nobody has a mark both in this hand-in and in the one before."
    rose, fell = (sum(way * (now - was) > 0.05 for was, now in pairs) for way in (1, -1))
    was, now = middle([pair[0] for pair in pairs]), middle([pair[1] for pair in pairs])
    return (f"Of {len(pairs)} with a mark in both hand-ins {rose} rose and {fell} fell; half of them had {was:.1f} or "
            f"more, and now have {now:.1f} or more.")  # fmt: skip


def middle(marks: Iterable[float]) -> float | None:
    """The median; None of nothing.

    >>> middle([50, 100, 80, 70])
    75.0
    """
    row = sorted(marks)
    return (row[(len(row) - 1) // 2] + row[len(row) // 2]) / 2 if row else None


def read_before(path: str | Path) -> Before:
    """An earlier results.json of the class, of this exercise or another. Raises RigError for another kind of file."""
    path = Path(path)
    try:
        if path.stat().st_size > LARGEST_BEFORE:
            raise RigError("results of a class", f"a file of {path.stat().st_size / 1e9:.1f} GB", where=path.name)
        table = json.loads(path.read_bytes().decode("utf-8-sig"))
    except OSError as error:
        raise RigError("results.json", (error.strerror or "an error").lower(), where=path.name) from None
    except RigError:
        raise
    except (ValueError, RecursionError):
        raise RigError("results.json", "something else", "another kind of file", where=path.name) from None
    if not isinstance(table, dict) or table.get("format") != "rigkit-results" or table.get("version") != 1:
        raise RigError("results.json, as mark writes it", "something else", "another kind of file", where=path.name)
    known = schema_of("results")["properties"]["handins"]["items"]["required"]
    marks: dict[str, float | None] = {}
    who: dict[str, set[str]] = {}
    try:
        for entry in table["handins"]:
            if any(key not in entry for key in known):
                raise KeyError
            if any(str(one).startswith(NOT_COUNTED) for one in entry["notices"]):
                continue
            name, mark = str(entry["id"]), entry["mark"]
            marks[name] = None if mark is None else float(mark)
            for found in entry["findings"]:
                who.setdefault(str(found["finding"]), set()).add(name)
    except (AttributeError, KeyError, TypeError, ValueError):
        raise RigError("results.json, as mark writes it", "one that was changed", where=path.name) from None
    return Before(str(table.get("exercise", "")), marks, {kind: frozenset(ids) for kind, ids in who.items()})
