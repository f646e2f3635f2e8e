"""Report: a class's Results as self-contained HTML pages, one for the class and one for each student (Jinja2)."""

import hashlib
import re
from collections import defaultdict
from collections.abc import Mapping, Sequence
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

import numpy as np

from rigkit.class_plates import bars_of, everyone_in, heat_of
from rigkit.feedback import LESSONS, lessons_again, went_well
from rigkit.figures import PLACES, figure_of
from rigkit.files.rubrics import CRITERIA, read_finding_kinds
from rigkit.glance import LITTLE, Before, Row, by_lesson, compared, found_in, hardest, middle, monday, strangers
from rigkit.marking import Class, Result
from rigkit.rubric import Finding
from rigkit.spots import placed_in
from rigkit.word import MARK, by_rubric, set_by_word

MADE_BY = '<meta name="generator" content="rigkit">'
# What is charged under each criterion; a joint may also lie off without a charge, within what is allowed.
CRITERION_WORDS = {
    "structure": ("Structure", "joints missing, too many, in one place, or under the wrong parent"),
    "centring": ("Centring", "joints further off the middle than is allowed, where no other charge covers it"),
    "fold": ("Place along the limb", "joints beside the stretch of limb that folds"),
    "bend": ("Bend", "a limb at rest that is bent the wrong way, too little, too much or sideways"),
    "frames": ("Axes", "the joints' own axes"),
    "names": ("Names", "names that do not follow the naming rule"),
    "mirror": ("Mirror", "a side that is not the mirror image of the other"),
}
SIGNS = {"right": "\N{HEAVY CHECK MARK}", "mend": "\N{HEAVY MULTIPLICATION X}", "tell": "?", "little": ""}
MOST_FINDINGS = 20  # printed on a page; results.json has all
MOST_FIGURES = 6  # pictures on a page
MOST_NAMED, MOST_WHO = 4, 8  # joints named in a cell, and students
MOST_COLUMNS = 7  # findings in a map of joints: those of most students, and those that took most points
WHOLE_ID = 24  # letters of an id that are never broken over two lines
OTHER_JOINTS = "other joints"


def page_name(student: str) -> str:
    """A file name for a student's page: the id where that is safe everywhere, else a safe form with a checksum."""
    plain = re.fullmatch(r"[a-z0-9][a-z0-9_-]{0,39}", student)
    if plain and not re.fullmatch(r"con|prn|aux|nul|(com|lpt)[0-9]", student):
        return f"{student}.html"
    safe = re.sub(r"[^a-z0-9_-]+", "-", student.lower())[:40].strip("-") or "student"
    return f"{safe}-{hashlib.sha256(student.encode()).hexdigest()[:8]}.html"


def class_page(room: Class, before: Before | None = None, aliases: Mapping[str, str] | None = None) -> str:
    """The class at a glance: what to teach again, marks, findings by joint, everyone's joints, and a row for each
    student. before: the hand-in before, to compare with. aliases: names to show in place of ids; then nothing else that
    could tell who somebody is stands in the page either."""
    marks = sorted(one.mark for one in room.counting if one.mark is not None)
    asked = [joint.role for joint in room.example.joints] if room.example else []
    found = found_in(room, before)
    shown = [name for name in CRITERIA if any(_cell(one, name)["of"] for one in room.counting)]
    rows = [
        {
            "result": one,
            "name": aliases[one.id] if aliases else one.id,
            "page": "" if aliases else page_name(one.id),
            "cells": [_cell(one, name) for name in shown],
            "titles": _titles(one, asked if aliases else ()),
            "limit": sum(cap["took"] for cap in one.caps),
        }
        | _by_word(one)
        for one in room.counting
    ]
    names = aliases or {}
    rows.sort(key=lambda row: row["name"] if aliases else "")
    counted = {(one.id, one.file) for one in room.counting}
    past = [mark for mark in before.marks.values() if mark is not None] if before else []
    hard = hardest(room)
    return _template("class.html").render(
        room=room, rows=rows, shown=shown, marks=marks, middle=middle(marks), words=CRITERION_WORDS, signs=SIGNS,
        others=[one for one in room.results if (one.id, one.file) not in counted], most_passed=MOST_FINDINGS,
        limited=any(row["limit"] for row in rows), names=names, before=before, whole_id=WHOLE_ID,
        absent=None if room.absent is None else sorted(names.get(one, one) for one in room.absent),
        first=monday(room, not names), compared=compared(room, before) if before else "",
        hard=hard and (CRITERION_WORDS[hard[0]], hard[1]), strange=[] if names else _strange(room),
        strange_count=len(strangers(room)), found=found, columns=MOST_COLUMNS,
        again=[(one, [(row, _some(sorted(names.get(who, who) for who in row.who))) for row in one.rows])
               for one in by_lesson(room, before)],
        bars=bars_of(marks, past) if marks else "", heat=_heat(found, asked), limbs=_limbs(room),
    )  # fmt: skip


def _strange(room: Class) -> list[str]:
    """Ids that are not on the roster, in words, with what the roster may mean."""
    told = [f"{name} (the roster has {like})" if like else name for name, like in strangers(room).items()]
    return told[:MOST_WHO] + ([f"and {len(told) - MOST_WHO} more"] if len(told) > MOST_WHO else [])


def _by_word(result: Result) -> dict:
    """Whether an instructor's word set the mark, which criteria, and what the mark would be by the rubric alone."""
    said = set_by_word(result)
    rubric = by_rubric(result)
    instead = "not read by the tool" if rubric is None else f"{rubric:.1f} by the rubric"
    return {"by_word": MARK in said, "instead": instead, "rubric_mark": rubric, "settled": said - {MARK}}


def _some(names: Sequence[str]) -> str:
    return ", ".join(names[:MOST_WHO]) + (f" and {len(names) - MOST_WHO} more" if len(names) > MOST_WHO else "")


def _heat(found: Sequence[Row], asked: Sequence[str]) -> str:
    """The findings that most students have or that took most points, by joint, and in the last column everyone with
    any finding there; joints that were not asked for are one row."""
    often = sorted(found, key=lambda row: (-len(row.who), row.kind.id))
    turns = [row for pair in zip(often, found, strict=True) for row in pair]  # one from each list in turn
    chosen = {row.kind.id for row in list({row.kind.id: row for row in turns}.values())[:MOST_COLUMNS]}
    kinds = [row for row in often if row.kind.id in chosen]
    who: dict[tuple[str, str], frozenset[str]] = {}
    whole: dict[str, frozenset[str]] = {}
    for row in found:
        for name, ids in row.joints.items():
            joint = name if name in asked else OTHER_JOINTS
            whole[joint] = whole.get(joint, frozenset()) | ids
            if row.kind.id in chosen:
                who[joint, row.kind.title] = who.get((joint, row.kind.title), frozenset()) | ids
    joints = [one for one in (*asked, OTHER_JOINTS) if one in whole]
    counts = {key: len(ids) for key, ids in who.items()}
    return heat_of(joints, [row.kind.title for row in kinds], counts, {key: len(ids) for key, ids in whole.items()}
                   ) if counts else ""  # fmt: skip


def _limbs(room: Class) -> list[str]:
    """Everyone's joints in one limb."""
    if room.example is None:
        return []
    places: tuple[dict[str, list], dict[str, list]] = {}, {}
    for one in room.counting:
        off = {found.joint for found in one.findings if found.criterion in PLACES}
        for role, place in placed_in(room.example, one.spots).items():
            places[role in off].setdefault(role, []).append(place)
    right, wrong = ({role: np.array(some) for role, some in table.items()} for table in places)
    return everyone_in(room.example, right, wrong, room.own is not None) if right or wrong else []


def student_page(result: Result, room: Class, alias: str = "") -> str:
    """One student's page: the mark, what went well, each finding with its mend, the scores, all that was measured;
    and the alias under which the class sees it."""
    kinds = read_finding_kinds()
    extra = {one.joint for one in result.measurements if one.measure == "extra"}
    shown, rest = result.findings[:MOST_FINDINGS], result.findings[MOST_FINDINGS:]
    others = dict.fromkeys(kinds[one.finding].title.lower() for one in rest)
    alike = {one.finding for one in rest} <= {one.finding for one in shown}
    limits = {cap["finding"]: cap for cap in result.caps if cap["took"]}
    said = _by_word(result)
    rows = [
        {"found": one, "kind": kinds[one.finding], "joint": f"{'joint' if one.joint in extra else 'the'} {one.joint}",
         "figure": _figure(one, result, room, shown[:number]), "limit": limits.pop(one.finding, None),
         "settled": one.criterion in said["settled"]}
        for number, one in enumerate(shown)
    ]  # fmt: skip
    return _template("student.html").render(
        result=result, room=room, findings=rows, rest=rest,
        rest_words="more of the same kind" if alike else f"more: {', '.join(others)}",
        scores=[(name, cell) for name in CRITERIA if (cell := _cell(result, name))["of"]],
        by_rubric=sum(_cell(result, name)["off"] for name in CRITERIA), kinds=kinds, signs=SIGNS,
        words=CRITERION_WORDS, **said,
        others=[one for one in room.results if one.id == result.id], alias=alias, version=_version(),
        well=went_well(result), again=lessons_again([result]), lessons=defaultdict(str, LESSONS),
    )  # fmt: skip


def _figure(found: Finding, result: Result, room: Class, earlier: Sequence[Finding]) -> str:
    """The picture of a finding, safe as it is; one for each joint, as many as a page can bear."""
    drawn = {(one.joint, one.criterion in PLACES) for one in earlier}
    if result.skeleton is None or (found.joint, found.criterion in PLACES) in drawn or len(drawn) >= MOST_FIGURES:
        return ""
    exercise = room.exercise_of(result.id)
    return "" if exercise is None else figure_of(found, exercise, result.skeleton)


def _titles(result: Result, known: Sequence[str] = ()) -> list[tuple[str, bool]]:
    """What to mend in short: each finding's title once, with its joints, and whether it took less than a point; where
    some joints are `known`, others go unnamed."""
    joints: dict[str, list[str]] = {}
    points: dict[str, float] = defaultdict(float)
    limits = {cap["finding"] for cap in result.caps}
    for found in result.findings:
        name = found.joint if not known or found.joint in known else "another joint"
        title = read_finding_kinds()[found.finding].title
        joints.setdefault(title, []).append(name)
        points[title] += found.cost if found.finding not in limits else LITTLE
    named = []
    for title, names in joints.items():
        more = f" and {len(names) - MOST_NAMED} more" if len(names) > MOST_NAMED else ""
        named.append((f"{title} ({', '.join(names[:MOST_NAMED])}{more})", points[title] < LITTLE))
    return named


def _cell(result: Result, criterion: str) -> dict:
    """One criterion of one hand-in in points of 100: what it can give ("of"; 0 where it was not judged), what was
    taken off, by an instructor's word where there is one, and what was kept."""
    scores = result.criteria or {}
    score = scores.get(criterion)
    if score is None or score.score is None or not score.judged:
        return {"verdict": "tell", "sign": SIGNS["tell"], "of": 0.0, "off": 0.0, "kept": 0.0, "word": False}
    of = 100 * score.weight / sum(one.weight for one in scores.values() if one.judged)
    word = criterion in set_by_word(result)
    off = sum(one.cost for one in result.findings if one.criterion == criterion)
    off = of * (1 - score.score) if word else off
    verdict = "mend" if off >= LITTLE else "little" if off else "right"
    return {"verdict": verdict, "sign": SIGNS[verdict], "of": of, "off": off, "kept": max(of - off, 0.0), "word": word}


@cache
def _version() -> str:
    try:
        return version("rigkit")
    except PackageNotFoundError:
        return ""


@cache
def _template(name: str):
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    folder = Path(__file__).parent / "templates"
    world = Environment(loader=FileSystemLoader(folder), autoescape=True, undefined=StrictUndefined,
                        trim_blocks=True, lstrip_blocks=True)  # fmt: skip
    world.filters["points"] = lambda value: f"{value:.2f}".removesuffix("0")  # costs are kept to 0.01
    return world.get_template(name)
