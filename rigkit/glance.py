"""Glance: a Class, and the one before it, -> what an instructor wants to know first, as numbers and a few sentences."""

import json
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

from rigkit.feedback import LESSONS, charged
from rigkit.files.rubrics import CRITERIA, FindingKind, read_finding_kinds
from rigkit.marking import Class
from rigkit.require import RigError
from rigkit.schema import likely, schema_of
from rigkit.word import MARK, set_by_word

LARGEST_BEFORE = 1_000_000_000  # bytes of an earlier results.json; a class of a thousand hands has about 60 MB
NOT_COUNTED = "Not counted:"
NOT_EXPECTED = "This id is not on the roster."
LEAST_LOST = 0.005  # points, as costs are kept
SURE = 2  # students: what one alone got wrong is no reason to teach it again
LITTLE = 1.0  # points: whoever lost less in a lesson needs no teaching in it (ours: a mark is told to a tenth)
MOST_TALKS = 4  # students named for a talk


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


@dataclass(frozen=True)
class Lost:
    """What a class lost of what one lesson teaches: its number, the kinds of findings, dearest first, the points of
    each student who lost any, limits included."""

    lesson: int
    rows: tuple[Row, ...]
    points: Mapping[str, float]

    @property
    def title(self) -> str:
        """The lesson by number and title."""
        return lesson_of(self.rows[0].kind)

    @property
    def whole(self) -> float:
        """All points together."""
        return round(sum(self.points.values()), 1)

    @property
    def plainly(self) -> tuple[str, ...]:
        """The ids of those who lost a point or more, who lost most first."""
        ids = [name for name, points in self.points.items() if points >= LITTLE]
        return tuple(sorted(ids, key=lambda name: (-self.points[name], name)))


def found_in(room: Class, before: Before | None = None) -> tuple[Row, ...]:
    """The kinds of findings in a class, those that took most points first. What an instructor's word set is left out,
    as in `charged`."""
    kinds = read_finding_kinds()
    who: dict[str, set[str]] = {}
    points: dict[str, float] = defaultdict(float)
    joints: dict[str, dict[str, set[str]]] = {}
    for one in room.counting:
        for kind, joint, cost in charged(one):
            who.setdefault(kind, set()).add(one.id)
            points[kind] += cost
            if joint:
                joints.setdefault(kind, {}).setdefault(joint, set()).add(one.id)
    rows = [
        Row(kinds[kind], frozenset(ids), {joint: frozenset(some) for joint, some in joints.get(kind, {}).items()},
            round(points[kind], 2), None if before is None else len(before.who.get(kind, ())))
        for kind, ids in who.items()
    ]  # fmt: skip
    return tuple(sorted(rows, key=lambda row: (-row.points, -len(row.who), row.kind.id)))


def by_lesson(room: Class, before: Before | None = None) -> tuple[Lost, ...]:
    """What a class lost, lesson by lesson, the dearest first."""
    kinds = read_finding_kinds()
    points: dict[int, dict[str, float]] = {}
    for one in room.counting:
        for kind, _, cost in charged(one):
            lesson = points.setdefault(kinds[kind].lesson, {})
            lesson[one.id] = lesson.get(one.id, 0.0) + cost
    rows = found_in(room, before)
    lost = [Lost(lesson, tuple(row for row in rows if row.kind.lesson == lesson), some)
            for lesson, some in points.items()]  # fmt: skip
    return tuple(sorted(lost, key=lambda one: (-one.whole, -len(one.plainly), one.lesson)))


def hardest(room: Class) -> tuple[str, float] | None:
    """The criterion that took the largest share of what it could give, limits left out, and that share; None where
    nobody lost anything."""
    can: dict[str, float] = defaultdict(float)
    lost: dict[str, float] = defaultdict(float)
    for one in room.counting:
        if MARK in set_by_word(one):
            continue
        scores = {name: score for name, score in (one.criteria or {}).items() if score.judged}
        whole = sum(score.weight for score in scores.values())
        for name, score in scores.items():
            can[name] += 100 * score.weight / whole
            lost[name] += 100 * score.weight / whole * (1 - (score.score or 0.0))
    shares = {name: lost[name] / can[name] for name in CRITERIA if can[name] and lost[name] > LEAST_LOST}
    return max(shares.items(), key=lambda item: item[1]) if shares else None


def monday(room: Class, named: bool = True) -> str:
    """What to teach the whole class again, the lesson in which most lost a point or more; and what cost most, where
    that is another, and, if they may be named, with whom it is for a talk."""
    marked = sum(one.mark is not None for one in room.counting)
    lost = by_lesson(room)
    if not marked:
        return "Nothing was marked, so there is nothing to say about what to teach."
    if not any(one.plainly for one in lost):
        return "Nothing has to be taught again: in no lesson did anybody lose as much as a point."
    often, dear = max(lost, key=lambda one: (len(one.plainly), one.whole)), lost[0]
    talks, more = dear.plainly[:MOST_TALKS], len(dear.plainly) - MOST_TALKS
    who = f" For a talk: {', '.join(talks)}{f' and {more} more' if more > 0 else ''}." if named and talks else ""
    cost = f"Dearest: {dear.title}, {dear.whole:.1f} points.{who}"
    if len(often.plainly) < SURE:
        alone = "One was marked" if marked == 1 else "No two lost a point or more in the same lesson"
        return f"{alone}. {cost}"
    first = f"Teach again on Monday: {often.title}. {len(often.plainly)} of {marked} lost a point or more there"
    if often is dear:
        return f"{first}, {dear.whole:.1f} points in all, more than any other lesson cost."
    return f"{first}, {often.whole:.1f} points in all. {cost}"


def strangers(room: Class) -> dict[str, str]:
    """The ids that were handed in and are not on the roster; for each the most alike of those on it that are missing,
    or ""."""
    absent = room.absent or ()
    return {one.id: likely(one.id, absent) for one in room.counting if NOT_EXPECTED in one.notices}


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
