"""Report: a class's Results as self-contained HTML pages, one for the class and one for each student (Jinja2)."""

import hashlib
import re
from collections.abc import Sequence
from functools import cache
from pathlib import Path

from rigkit.figures import PLACES, figure_of
from rigkit.files.rubrics import CRITERIA, read_finding_kinds
from rigkit.marking import Class, Result
from rigkit.rubric import Finding

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
MOST_NAMED = 4  # joints named in a cell


def page_name(student: str) -> str:
    """A file name for a student's page: the id where that is safe everywhere, else a safe form with a checksum."""
    plain = re.fullmatch(r"[a-z0-9][a-z0-9_-]{0,39}", student)
    if plain and not re.fullmatch(r"con|prn|aux|nul|(com|lpt)[0-9]", student):
        return f"{student}.html"
    safe = re.sub(r"[^a-z0-9_-]+", "-", student.lower())[:40].strip("-") or "student"
    return f"{safe}-{hashlib.sha256(student.encode()).hexdigest()[:8]}.html"


def class_page(room: Class) -> str:
    """The class at a glance: what to teach again, and one row for each student."""
    marks = sorted(one.mark for one in room.counting if one.mark is not None)
    middle = (marks[(len(marks) - 1) // 2] + marks[len(marks) // 2]) / 2 if marks else None
    kinds = read_finding_kinds()
    who: dict[str, set[str]] = {}
    for one in room.counting:
        for found in one.findings:
            who.setdefault(found.finding, set()).add(one.id)
    again = [
        (kinds[kind], len(ids), ", ".join(sorted(ids)[:8]) + (" ..." if len(ids) > 8 else ""))
        for kind, ids in sorted(who.items(), key=lambda item: (-len(item[1]), item[0]))
    ]
    shown = [name for name in CRITERIA if any(_cell(one, name)["of"] for one in room.counting)]
    rows = [
        {
            "result": one,
            "page": page_name(one.id),
            "cells": [_cell(one, name) for name in shown],
            "titles": _titles(one),
            "limit": sum(cap["took"] for cap in one.caps),
        }
        for one in room.counting
    ]
    counted = {(one.id, one.file) for one in room.counting}
    return _template("class.html").render(
        room=room, rows=rows, again=again, shown=shown, marks=marks, middle=middle, words=CRITERION_WORDS,
        others=[one for one in room.results if (one.id, one.file) not in counted], most_passed=MOST_FINDINGS,
        limited=any(row["limit"] for row in rows), signs=SIGNS,
    )  # fmt: skip


def student_page(result: Result, room: Class) -> str:
    """One student's page: the mark, each finding with its mend, the scores, and all that was measured."""
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
        others=[one for one in room.results if one.id == result.id],
    )  # fmt: skip


def _figure(found: Finding, result: Result, room: Class, earlier: Sequence[Finding]) -> str:
    """The picture of a finding, safe as it is; one for each joint, as many as a page can bear."""
    drawn = {one.joint for one in earlier if one.criterion in PLACES}
    if room.asked is None or result.skeleton is None or found.joint in drawn or len(drawn) >= MOST_FIGURES:
        return ""
    return figure_of(found, room.asked, result.skeleton)


def _titles(result: Result) -> list[str]:
    """What to mend in short: each finding's title once, with its joints."""
    joints: dict[str, list[str]] = {}
    for found in result.findings:
        joints.setdefault(read_finding_kinds()[found.finding].title, []).append(found.joint)
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
def _template(name: str):
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    folder = Path(__file__).parent / "templates"
    world = Environment(loader=FileSystemLoader(folder), autoescape=True, undefined=StrictUndefined,
                        trim_blocks=True, lstrip_blocks=True)  # fmt: skip
    world.filters["points"] = lambda value: f"{value:.2f}".removesuffix("0")  # costs are kept to 0.01
    return world.get_template(name)
