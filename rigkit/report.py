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
from rigkit.glance import Before, Row, compared, found_in, hardest, lesson_of, middle, monday
from rigkit.marking import Class, Result
from rigkit.rubric import Finding
from rigkit.spots import placed_in

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
CAP_WORDS = {"bends-wrong-way": "a limb that bends the wrong way cannot pass"}  # others by the finding's title
SIGNS = {"right": "\N{HEAVY CHECK MARK}", "mend": "\N{HEAVY MULTIPLICATION X}", "tell": "?"}
MOST_FINDINGS = 20  # printed on a page; results.json has all
MOST_FIGURES = 6  # pictures on a page
MOST_NAMED, MOST_WHO = 4, 8  # joints named in a cell, and students
MOST_COLUMNS = 7  # findings in a heat map, those of most students
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
    often = max(found, key=lambda row: len(row.who), default=None)
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
        limited=any(row["limit"] for row in rows), names=names, lessons=defaultdict(str, LESSONS), before=before,
        absent=None if room.absent is None else sorted(names.get(one, one) for one in room.absent),
        first=monday(found, len(marks)), compared=compared(room, before) if before else "",
        hard=hard and (CRITERION_WORDS[hard[0]], hard[1]),
        again=[(row, _some(sorted(names.get(one, one) for one in row.who))) for row in found],
        often=often if often and len(often.who) > len(found[0].who) else None, lesson_of=lesson_of,
        bars=bars_of(marks, past) if marks else "", heat=_heat(found, asked), limbs=_limbs(room),
    )  # fmt: skip


def _some(names: Sequence[str]) -> str:
    return ", ".join(names[:MOST_WHO]) + (f" and {len(names) - MOST_WHO} more" if len(names) > MOST_WHO else "")


def _heat(found: Sequence[Row], asked: Sequence[str]) -> str:
    """The findings that most students have, by joint; joints that were not asked for are one row."""
    kinds = sorted(found, key=lambda row: (-len(row.who), row.kind.id))[:MOST_COLUMNS]
    who: dict[tuple[str, str], frozenset[str]] = {}
    whole: dict[str, frozenset[str]] = {}
    for row in kinds:
        for name, ids in row.joints.items():
            joint = name if name in asked else OTHER_JOINTS
            who[joint, row.kind.title] = who.get((joint, row.kind.title), frozenset()) | ids
            whole[joint] = whole.get(joint, frozenset()) | ids
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
    rows = [
        {"found": one, "kind": kinds[one.finding], "joint": f"{'joint' if one.joint in extra else 'the'} {one.joint}",
         "figure": _figure(one, result, room, shown[:number])}
        for number, one in enumerate(shown)
    ]  # fmt: skip
    return _template("student.html").render(
        result=result, room=room, findings=rows, rest=rest,
        rest_words="more of the same kind" if alike else f"more: {', '.join(others)}",
        scores=[(name, cell) for name in CRITERIA if (cell := _cell(result, name))["of"]],
        by_rubric=sum(one.cost for one in result.findings), kinds=kinds, signs=SIGNS, words=CRITERION_WORDS,
        cap_words={kind: one.title.lower() for kind, one in kinds.items()} | CAP_WORDS,
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


def _titles(result: Result, known: Sequence[str] = ()) -> list[str]:
    """What to mend in short: each finding's title once, with its joints; where some are `known`, others go unnamed."""
    joints: dict[str, list[str]] = {}
    for found in result.findings:
        name = found.joint if not known or found.joint in known else "another joint"
        joints.setdefault(read_finding_kinds()[found.finding].title, []).append(name)
    named = []
    for title, names in joints.items():
        more = f" and {len(names) - MOST_NAMED} more" if len(names) > MOST_NAMED else ""
        named.append(f"{title} ({', '.join(names[:MOST_NAMED])}{more})")
    return named


def _cell(result: Result, criterion: str) -> dict:
    """One criterion of one hand-in in points of 100: what it can give ("of"; 0 where it was not judged), what was
    taken off and what was kept."""
    scores = result.criteria or {}
    score = scores.get(criterion)
    if score is None or score.score is None or not score.judged:
        return {"verdict": "tell", "sign": SIGNS["tell"], "of": 0.0, "off": 0.0, "kept": 0.0}
    of = 100 * score.weight / sum(one.weight for one in scores.values() if one.judged)
    off = sum(one.cost for one in result.findings if one.criterion == criterion)
    verdict = "mend" if off else "right"
    return {"verdict": verdict, "sign": SIGNS[verdict], "of": of, "off": off, "kept": max(of - off, 0.0)}


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
