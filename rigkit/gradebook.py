"""Gradebook: a Class -> results.json, gradebook.csv, class.html and a page for each student, whole or not at all."""

import csv
import io
import json
import shutil
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from pathlib import Path

from rigkit.aliases import aliases as hidden
from rigkit.files.exercise import Exercise
from rigkit.files.rubrics import CRITERIA, Rubric
from rigkit.glance import Before
from rigkit.kept import NAME, as_bytes, from_bytes
from rigkit.many import in_order, processes
from rigkit.marking import Class, Result
from rigkit.own_limbs import OwnLimbs, read_class_exercise
from rigkit.report import MADE_BY, class_page, page_name, student_page

RISKY = tuple("=+-@\t\r\n\uff1d\uff0b\uff0d\uff20")  # a spreadsheet takes a cell that begins so for a formula
MOST_LISTED = 20  # findings of one hand-in in a cell; results.json has all
STAGE = ".rigkit-writing"
"""Where new files lie until all are there; then they move to their places."""


def results_json(room: Class) -> str:
    """results.json's text, as in the contract; `not_handed_in` is added where there is a roster,
    `passed_over` where files of other kinds lay among the hand-ins."""
    return "".join(_results(room))


def _results(room: Class) -> Iterator[str]:
    """The same in pieces, a hand-in each, so that a large class never lies in memory as one text."""
    table = {"format": "rigkit-results", "version": 1, "exercise": room.exercise,
             "rubric": {"name": room.rubric.id, "sha256": room.rubric.sha256}}  # fmt: skip
    yield f'{_json(table).removesuffix(chr(10) + "}")},\n "handins": ['
    for number, one in enumerate(room.results):
        entry = one.to_dict()
        rows = [json.dumps(row, ensure_ascii=False, allow_nan=False) for row in entry.pop("measurements")]
        measured = ",\n    ".join(rows)
        text = _json(entry | {"measurements": []}).replace("\n", "\n  ")
        measured = f'"measurements": [\n    {measured}\n   ]' if rows else '"measurements": []'
        text = measured.join(text.rsplit('"measurements": []', 1))
        yield f"{',' if number else ''}\n  {text}"
    yield "\n ]" if room.results else "]"
    if room.absent is not None:
        yield ',\n "not_handed_in": ' + _json(list(room.absent)).replace("\n", "\n ")
    if room.passed_over:
        passed = [{"file": file, "reason": reason} for file, reason in room.passed_over]
        yield ',\n "passed_over": ' + _json(passed).replace("\n", "\n ")
    yield "\n}\n"


def _json(value: object) -> str:
    return json.dumps(value, ensure_ascii=False, indent=1, allow_nan=False)


def gradebook_csv(room: Class) -> str:
    """gradebook.csv's text: one row for each id, safe to open in a spreadsheet."""
    text = io.StringIO()
    rows = csv.writer(text, lineterminator="\r\n")
    rows.writerow(["id", "status", "mark", *CRITERIA, "findings", "notices"])
    for one in room.counting:
        scores = [(one.criteria or {}).get(name) for name in CRITERIA]
        rows.writerow([
            safe(one.id), one.status, "" if one.mark is None else f"{one.mark:.1f}",
            *("" if score is None or not score.judged else f"{score.score:.3f}" for score in scores),
            safe("; ".join(_listed([f"{found.finding} {found.joint}" for found in one.findings])) or one.reason),
            safe(" ".join(one.notices)),
        ])  # fmt: skip
    for name in room.absent or ():
        rows.writerow([safe(name), "not handed in", "", *([""] * len(CRITERIA)), "", ""])
    return text.getvalue()


def _listed(words: list[str]) -> list[str]:
    more = len(words) - MOST_LISTED
    return words if more <= 0 else [*words[:MOST_LISTED], f"and {more} more"]


def safe(cell: str) -> str:
    """A cell's text that no spreadsheet takes for a formula."""
    return "'" + cell if cell.startswith(RISKY) or cell.lstrip().startswith(RISKY) else cell


def write_class(
    room: Class, out: str | Path, *, jobs: int | None = 1, told: Callable[[str, int, int], None] | None = None,
    before: Before | None = None, aliases: bool = False,
) -> None:  # fmt: skip
    """Write results.json, gradebook.csv, class.html and students/*.html, whole or not at all.

    All are written beside their places first and moved there together, so that what an earlier run wrote stays as it
    is where something cannot be written. Pages of students who are no longer there go, and so does what was kept while
    marking. `jobs` processes share the pages (None: one for each core); `told` is told how many are done; `before` is
    the class's hand-in before, for class.html; `aliases`: other names there, told on each student's page. Raises
    OSError.
    """
    out = Path(out)
    names = hidden({one.id for one in room.results} | set(room.absent or ()), room.exercise) if aliases else {}
    stage, students = out / STAGE, out / "students"
    students.mkdir(parents=True, exist_ok=True)
    shutil.rmtree(stage, ignore_errors=True)  # left by a run that was stopped
    try:
        (stage / "students").mkdir(parents=True)
        pages = set(_pages(room, stage / "students", jobs, told or (lambda what, done, whole: None), names))
        _write(stage / "class.html", class_page(room, before, names))
        _write(stage / "gradebook.csv", gradebook_csv(room))
        with (stage / "results.json").open("wb") as file:
            file.writelines(piece.encode() for piece in _results(room))
        for name in (*(f"students/{page}" for page in sorted(pages)), "class.html", "gradebook.csv", "results.json"):
            (stage / name).replace(out / name)
    finally:
        shutil.rmtree(stage, ignore_errors=True)
    for path in students.glob("*.html"):
        if path.name not in pages and MADE_BY in path.read_text(encoding="utf-8", errors="replace")[:2000]:
            path.unlink()
    (out / NAME).unlink(missing_ok=True)


def _write(path: Path, text: str) -> None:
    path.write_bytes(text.encode())


def _pages(
    room: Class, folder: Path, jobs: int | None, told: Callable[[str, int, int], None], names: Mapping[str, str]
) -> Iterator[str]:
    """Write the page of each student; their names."""
    files: dict[str, list[tuple[str, float | None]]] = {}
    for one in room.results:
        files.setdefault(one.id, []).append((one.file, one.mark))
    rubric = Rubric(room.rubric.id, room.rubric.title, room.rubric.sha256, {}, {}, {})
    head = replace(room, rubric=rubric, results=(), counting=(), absent=None, passed_over=(), asked=None, own=None)
    known = room.own or room.asked
    place = known.folder if known else None
    work = ((as_bytes(one), files.get(one.id, []), names.get(one.id, "")) for one in room.counting)
    many = processes(jobs, len(room.counting)) if place else 1
    arguments = (folder, head, place if many > 1 else known)
    for done, name in enumerate(in_order(_page, work, many, _load, arguments), 1):
        yield name
        told("Pages written:", done, len(room.counting))


_loaded: dict[str, tuple[Path, Class]] = {}


def _load(folder: Path, head: Class, known: Path | Exercise | OwnLimbs | None) -> None:
    found = read_class_exercise(known) if isinstance(known, Path) else known
    own = found if isinstance(found, OwnLimbs) else None
    _loaded["now"] = folder, replace(head, asked=found if isinstance(found, Exercise) else None, own=own)


def _page(job: tuple[bytes, list[tuple[str, float | None]], str]) -> str:
    """Write one student's page; its name."""
    (folder, head), one = _loaded["now"], from_bytes(job[0])
    others = tuple(Result(one.id, file, "", mark=mark) for file, mark in job[1])
    name = page_name(one.id)
    _write(folder / name, student_page(one, replace(head, results=others), job[2]))
    return name
