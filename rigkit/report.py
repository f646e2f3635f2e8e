"""Report: a class's Results as self-contained HTML pages, one for the class and one for each student (Jinja2)."""

import hashlib
import math
import re
from functools import cache
from pathlib import Path

from rigkit.files.rubrics import CRITERIA, read_finding_kinds
from rigkit.marking import Class, Result

MADE_BY = '<meta name="generator" content="rigkit">'
CRITERION_WORDS = {
    "structure": ("Structure", "are the joints there, and do they hang on one another rightly"),
    "centring": ("Centring", "does each joint lie in the middle of the flesh"),
    "fold": ("Place along the limb", "does each joint lie where the limb folds"),
    "bend": ("Bend", "which way will the limb fold"),
    "frames": ("Axes", "the joints' own axes"),
    "names": ("Names", "do the names follow the naming rule"),
    "mirror": ("Mirror", "is the other side the mirror image"),
}
SIGNS = {"right": "\N{HEAVY CHECK MARK}", "mend": "\N{HEAVY MULTIPLICATION X}", "tell": "?"}
WORDS = {"right": "right", "mend": "to mend", "tell": "not judged"}


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
    shown = [name for name in CRITERIA if any((one.criteria or {}).get(name, _NOT).judged for one in room.counting)]
    rows = [
        {
            "result": one,
            "page": page_name(one.id),
            "cells": [_cell(one, name) for name in shown],
            "titles": _titles(one),
        }
        for one in room.counting
    ]
    others = [one for one in room.results if not any(one is counted for counted in room.counting)]
    return _template("class.html").render(
        room=room, rows=rows, again=again, shown=shown, marks=marks, middle=middle, words=CRITERION_WORDS,
        others=[one for one in others if (one.id, one.file) not in {(c.id, c.file) for c in room.counting}],
    )  # fmt: skip


def student_page(result: Result, room: Class) -> str:
    """One student's page: the mark, each finding with its mend, the scores, and all that was measured."""
    kinds = read_finding_kinds()
    findings = [{"found": one, "kind": kinds[one.finding]} for one in result.findings]
    scores = [(name, _cell(result, name), (result.criteria or {}).get(name)) for name in CRITERIA]
    return _template("student.html").render(
        result=result, room=room, findings=findings, scores=[row for row in scores if row[2] and row[2].judged],
        words=CRITERION_WORDS, kinds=kinds, signs=SIGNS, others=[one for one in room.results if one.id == result.id],
    )  # fmt: skip


def _titles(result: Result) -> list[str]:
    """What to mend in short: each finding's title once, with its joints."""
    joints: dict[str, list[str]] = {}
    for found in result.findings:
        joints.setdefault(read_finding_kinds()[found.finding].title, []).append(found.joint)
    return [f"{title} ({', '.join(names)})" for title, names in joints.items()]


class _NOT:
    judged = False


def _cell(result: Result, criterion: str) -> dict:
    score = (result.criteria or {}).get(criterion)
    if score is None or score.score is None or not score.judged:
        return {"verdict": "tell", "sign": SIGNS["tell"], "word": WORDS["tell"], "share": ""}
    verdict = "right" if score.score == 1.0 else "mend"
    share = f"{math.floor(100 * score.score)} %"  # never rounded up to all of it
    return {"verdict": verdict, "sign": SIGNS[verdict], "word": WORDS[verdict], "share": share}


@cache
def _template(name: str):
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    folder = Path(__file__).parent / "templates"
    world = Environment(loader=FileSystemLoader(folder), autoescape=True, undefined=StrictUndefined,
                        trim_blocks=True, lstrip_blocks=True)  # fmt: skip
    world.filters["amount"] = lambda value: value if isinstance(value, str) else f"{value:.1f}"
    return world.get_template(name)
