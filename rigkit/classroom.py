"""Classroom: files and folders of hand-ins give Results, sorted, and are written as one class, whole or not at all."""

import csv
import io
import json
import os
from collections.abc import Iterable, Mapping
from dataclasses import replace
from pathlib import Path

from rigkit.files.exercise import Exercise, read_exercise
from rigkit.files.handin import ENDINGS, id_from, read_handin
from rigkit.files.rubrics import CRITERIA, Rubric, read_rubric
from rigkit.files.whole import write_whole
from rigkit.marking import Class, Result, mark
from rigkit.require import RigError
from rigkit.rubric_place import agree
from rigkit.standing import answered
from rigkit.word import Word, with_words

UNFORESEEN = (ArithmeticError, AttributeError, LookupError, MemoryError, RecursionError, TypeError, ValueError)
RISKY = tuple("=+-@\t\r\n\uff1d\uff0b\uff0d\uff20")  # a spreadsheet takes a cell that begins so for a formula
MOST_LISTED = 20  # findings of one hand-in in a cell; results.json has all
ADVICE, OTHERWISE = {".zip": "unpack it and mark again"}, "export as .glb, or hand in the workbook's .json"
WRITTEN = ("results.json", "gradebook.csv", "class.html")


def find_handins(
    given: Iterable[str | Path], out: Path | None = None
) -> tuple[list[tuple[str, Path]], list[tuple[str, str]]]:
    """The hand-ins among files and folders given: (label, path), the label relative to the folder, with `/`; and
    what is passed over: (label, reason).

    A hand-in ends in .json, .glb or .gltf. Links that lead out of their folder are passed over; hidden files, results
    of an earlier run and what lies in `out` are not looked at. Raises RigError where a given path is not there.
    """
    found: list[tuple[str, Path]] = []
    passed: list[tuple[str, str]] = []
    paths = [Path(one) for one in given]
    for one in paths:
        label = shown_name(one.name)
        if one.is_dir():
            _in_folder(one, out.resolve() if out else None, found, passed)
        elif one.exists() and one.suffix.lower() in ENDINGS:
            found.append((label, one))
        elif one.exists() and len(paths) > 1:
            passed.append((label, _why_not(one)))
        else:
            got = "another kind of file" if one.exists() else "nothing there"
            raise RigError(f"a folder, or a file ending in {', '.join(ENDINGS)}", got, where=label)
    once: dict[Path, tuple[str, Path]] = {}
    for label, path in found:
        once.setdefault(path.resolve(), (label, path))
    return list(once.values()), sorted(set(passed))


def _in_folder(folder: Path, out: Path | None, found: list[tuple[str, Path]], passed: list[tuple[str, str]]) -> None:
    root = folder.resolve()
    for here, folders, files in os.walk(root):
        there = Path(here)
        kept = there if there.name != "students" else there.parent  # an earlier run's results lie here, or above
        earlier = (kept / "gradebook.csv").exists() and (kept / "results.json").exists()
        folders[:] = sorted(f for f in folders if not f.startswith(".") and (there / f) != out)
        for name in sorted([*files, *(f for f in folders if (there / f).is_symlink())]):
            path = there / name
            label = shown_name(path.relative_to(root).as_posix())
            if name.startswith(".") or (earlier and (name in WRITTEN if kept == there else path.suffix == ".html")):
                continue
            if path.is_symlink() and (path.is_dir() or not path.resolve().is_relative_to(root)):
                passed.append((label, "a link that leads elsewhere is not followed; hand in the file itself"))
            elif path.suffix.lower() not in ENDINGS:
                passed.append((label, _why_not(path)))
            else:
                found.append((label, path))


def _why_not(path: Path) -> str:
    """Why a file of another kind is passed over, and what to do."""
    ending = shown_name(path.suffix.lower())
    what = f"files ending in {ending} are not read" if ending else "a file without an ending is not read"
    return f"{what}; {ADVICE.get(ending, OTHERWISE)}"


def shown_name(name: str) -> str:
    """A file's name as text that can be written anywhere, also where its bytes are no text."""
    return name.encode("utf-8", "surrogateescape").decode("utf-8", "replace")


def mark_file(label: str, path: Path, exercise: Exercise, rubric: Rubric | None = None,
              answers: Mapping[str, str] | None = None) -> Result:  # fmt: skip
    """Mark one file; whatever goes wrong gives an unreadable Result with its reason, never an error. `answers` are of
    units, up and facing, for a file that does not say so itself."""
    try:
        return mark(answered(read_handin(path, label), answers or {}), exercise, rubric, label, after=True)
    except RigError as error:
        reason = str(error)
    except UNFORESEEN as error:  # the last net: one hand-in must never stop the others
        reason = f"{label}: it could not be marked ({type(error).__name__}). Please pass the file on to the instructor."
    return Result(id_from(label), label, "unreadable", reason, attempt=-1)


_loaded: dict[str, tuple[Exercise, Rubric | None, Mapping[str, str] | None]] = {}


def _load(folder: str, rubric: str | None, answers: Mapping[str, str] | None) -> None:
    _loaded["now"] = (read_exercise(folder), read_rubric(rubric) if rubric else None, answers)


def _mark_loaded(job: tuple[str, Path]) -> Result:
    exercise, rubric, answers = _loaded["now"]
    return mark_file(*job, exercise, rubric, answers)


def mark_class(
    given: Iterable[str | Path], folder: str | Path, rubric: str | Path | None = None, *, jobs: int = 1,
    roster: Iterable[str] | None = None, out: Path | None = None, answers: Mapping[str, str] | None = None,
    words: Mapping[str, tuple[Word, ...]] | None = None,
) -> Class:  # fmt: skip
    """Mark all hand-ins among files and folders for the exercise in `folder`.

    `rubric` is a file, or a bundled rubric's name; `jobs` processes share the work and change nothing else; `roster`
    holds the ids that are expected; `answers` are as in `mark_file`; `words` the instructor's, by id, which hold for
    the hand-in of an id that counts. Raises RigError for an unusable exercise, rubric
    or path.
    """
    exercise = read_exercise(folder)
    judged_by = read_rubric(rubric) if rubric else exercise.rubric
    agree(exercise, judged_by)
    work, passed = find_handins(given, out)
    if jobs > 1 and len(work) > 1:
        from concurrent.futures import ProcessPoolExecutor
        from multiprocessing import get_context

        arguments = (str(folder), str(rubric) if rubric else None, answers)
        with ProcessPoolExecutor(min(jobs, len(work)), get_context("spawn"), _load, arguments) as pool:
            results = list(pool.map(_mark_loaded, work, chunksize=4))
    else:
        results = [mark_file(label, path, exercise, judged_by, answers) for label, path in work]
    results.sort(key=lambda one: (one.id, one.file))
    counting = {one.id: one for one in sorted(results, key=lambda one: (one.attempt, one.file))}
    for name in counting.keys() & (words or {}).keys():
        place = next(i for i, one in enumerate(results) if one is counting[name])
        results[place] = counting[name] = with_words(counting[name], (words or {})[name])
    results = [
        one if counting[one.id] is one
        else replace(one, notices=(*one.notices, f"Not counted: of this id {counting[one.id].file} counts."))
        for one in results
    ]  # fmt: skip
    absent = None if roster is None else tuple(sorted(set(roster) - set(counting)))
    return Class(exercise.id, exercise.title, judged_by, tuple(results),
                 tuple(counting[name] for name in sorted(counting)), absent, tuple(passed),
                 exercise)  # fmt: skip


def read_roster(path: str | Path) -> tuple[str, ...]:
    """The ids of a roster, a CSV file with a column named id. Raises RigError."""
    where = shown_name(Path(path).name)
    try:
        rows = csv.DictReader(io.StringIO(Path(path).read_bytes().decode("utf-8-sig")))
        if "id" not in (rows.fieldnames or ()):
            raise RigError("a column named id", f"columns {', '.join(rows.fieldnames or ()) or 'none'}", where=where)
        return tuple(name for row in rows if (name := (row["id"] or "").strip()))
    except OSError as error:
        raise RigError("a roster", (error.strerror or "an error").lower(), where=where) from None
    except (UnicodeDecodeError, csv.Error):
        raise RigError("a CSV file saved as UTF-8", "something else", where=where) from None


def results_json(room: Class) -> str:
    """results.json's text, as in the contract; `not_handed_in` is added where there is a roster,
    `passed_over` where files of other kinds lay among the hand-ins."""
    table = {
        "format": "rigkit-results", "version": 1, "exercise": room.exercise,
        "rubric": {"name": room.rubric.id, "sha256": room.rubric.sha256},
        "handins": [one.to_dict() for one in room.results],
    }  # fmt: skip
    if room.absent is not None:
        table["not_handed_in"] = list(room.absent)
    if room.passed_over:
        table["passed_over"] = [{"file": file, "reason": reason} for file, reason in room.passed_over]
    return json.dumps(table, ensure_ascii=False, indent=1, allow_nan=False) + "\n"


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


def write_class(room: Class, out: str | Path) -> None:
    """Write results.json, gradebook.csv, class.html and students/*.html, each whole or not at all.

    Pages of students who are no longer there go. Raises OSError where something cannot be written.
    """
    from rigkit.report import MADE_BY, class_page, page_name, student_page

    out = Path(out)
    pages = {page_name(one.id): student_page(one, room) for one in room.counting}
    for name, text in pages.items():
        write_whole(out / "students" / name, text)
    write_whole(out / "class.html", class_page(room))
    write_whole(out / "gradebook.csv", gradebook_csv(room))
    write_whole(out / "results.json", results_json(room))
    for path in (out / "students").glob("*.html"):
        if path.name not in pages and MADE_BY in path.read_text(encoding="utf-8", errors="replace")[:2000]:
            path.unlink()
