"""What a student has passed and what keeps coming back: each check's answers, kept in `work/progress.json`.

A check below an answer cell that stopped with a mistake waits until that cell ran. The file is
`{"checks": {lesson: {cell id: {"state", "passed", "tries", "told", "faults": {"finding joint": times}}}}}`.
"""

from __future__ import annotations

import functools
import json
import re
from collections import Counter, defaultdict
from collections.abc import Callable
from contextlib import suppress
from contextvars import ContextVar
from dataclasses import dataclass, field
from html import escape
from pathlib import Path

from IPython.core.getipython import get_ipython

from rigkit.files.rubrics import read_finding_kinds
from rigkit.mistakes import WAITS, stopped, watch
from rigkit.told import LOOK_AGAIN, MARKS, NOT_YET, RIGHT, Table, Told
from rigkit.work import WORK, own_folder, put_aside, write_whole

KEPT = {"format": "rigkit-progress", "version": 1}
AGAIN = 2  # a fault that was told so often has come back
_INSIDE: ContextVar[bool] = ContextVar("inside", default=False)  # an answer that asks for another is one answer


@dataclass(frozen=True)
class Page:
    """A lesson as the progress page sees it: file name, "4", title, its cells' sources, its exercises by check cell,
    and for each of these the ids of the answer cells above it."""

    file: str
    number: str
    title: str
    cells: tuple[str, ...]
    checks: dict[str, tuple[str, str]]
    answers: dict[str, set[str]] = field(default_factory=dict)

    @property
    def name(self) -> str:
        """The lesson's number and title."""
        return f"{self.number} · {self.title}"


@functools.cache
def pages(folder: Path) -> tuple[Page, ...]:
    """The lessons in a folder, in their order; what cannot be read as a lesson is left out.

    An exercise is a cell tagged `check` below one tagged `answer`: its id, with its heading and its source.
    """
    found = []
    for path in sorted(folder.glob("[0-9]*_*.ipynb")):
        try:
            cells = json.loads(path.read_text(encoding="utf-8"))["cells"]
            sources = tuple("".join(cell["source"]).strip() for cell in cells)
            title = re.findall(r"^# Lesson (\d+) · (.+)$", sources[0], re.M)[0]
            head, checks, answers = "", {}, {}
            asked: set[str] = set()
            for cell, source in zip(cells, sources, strict=True):
                tags = cell["metadata"].get("tags", [])
                if cell["cell_type"] == "markdown":
                    head = ([head] + re.findall(r"^#+ (.+)$", source, re.M))[-1]
                elif "check" in tags and asked:
                    checks[cell["id"]], answers[cell["id"]], asked = (head, source), asked, set()
                asked |= {cell["id"]} if "answer" in tags else set()
        except (OSError, ValueError, LookupError, TypeError, AttributeError, RecursionError):
            continue
        found.append(Page(path.name, title[0], title[1], sources, checks, answers))
    return tuple(found)


def place(ran: list[str], lessons: tuple[Page, ...]) -> tuple[str, str] | None:
    """Which lesson's check the last of some run cells is, as its number and cell id; None where it is none of them.

    One check may stand in two lessons: that lesson counts of which more cells were run.
    """
    now, all_of_them = ran[-1].strip(), {source.strip() for source in ran}
    fits = [
        (len(all_of_them.intersection(page.cells)), page.number, cell)
        for page in lessons
        for cell, (_, source) in page.checks.items()
        if source == now
    ]
    return max(fits)[1:] if fits else None


def kept(answer: Callable[..., Told]) -> Callable[..., Told]:
    """A function that answers a check, so that its answers are kept; keeping them never stops or changes one. Below an
    answer cell that stopped with a mistake it says so instead: what that cell was to set is from before."""
    watch()

    @functools.wraps(answer)
    def keeping(*given, **named) -> Told:
        outermost = not _INSIDE.get()
        here = _here() if outermost else None
        if here is not None and stopped(here[0].answers.get(here[1], ())):
            return WAITS
        inside = _INSIDE.set(True)
        try:
            told = answer(*given, **named)
        finally:
            _INSIDE.reset(inside)
        if here is not None and isinstance(told, Told) and told.state != NOT_YET:
            with suppress(OSError, LookupError, TypeError, ValueError):  # no place: the bench tells of the folder
                keep(here[0].number, here[1], told)
        return told

    return keeping


def _here() -> tuple[Page, str] | None:
    """The lesson and the check cell that is run, or None."""
    try:
        shell, lessons = get_ipython(), pages(Path.cwd())
        found = shell and place(getattr(shell.history_manager, "input_hist_raw", []), lessons)
        return next(((page, found[1]) for page in lessons if page.number == found[0]), None) if found else None
    except (OSError, AttributeError, LookupError, TypeError, ValueError):
        return None


def keep(lesson: str, check: str, told: Told) -> None:
    """Keep the answer of a lesson's check. The same answer again is no new try; what was passed stays passed.

    Raises RigError where nothing can be written.
    """
    lessons, words = read(), repr(told)
    before = lessons.get(lesson, {}).get(check, {})
    if before.get("told") == words:
        return
    faults = dict(before.get("faults", {}))
    if told.fault:
        faults[" ".join(told.fault)] = faults.get(" ".join(told.fault), 0) + 1
    done = told.state != LOOK_AGAIN and not told.fault  # a hand-in with a fault is one to be mended
    now = {"state": told.state, "passed": done or before.get("passed", False),
           "tries": before.get("tries", 0) + 1, "told": words, "faults": faults}  # fmt: skip
    lessons[lesson] = lessons.get(lesson, {}) | {check: now}
    content = json.dumps(KEPT | {"checks": lessons}, ensure_ascii=False, indent=1, sort_keys=True)
    write_whole(own_folder(WORK) / "progress.json", content + "\n")


def read() -> dict[str, dict[str, dict]]:
    """What was kept: by lesson and check cell. A damaged file is put aside and counts as nothing."""
    path = own_folder(WORK) / "progress.json"
    try:
        table = json.loads(path.read_text(encoding="utf-8"))["checks"]
        if all(lesson.isdecimal() and all(map(_is_record, tried.values())) for lesson, tried in table.items()):
            return table
    except OSError:
        return {}
    except (ValueError, LookupError, TypeError, AttributeError, RecursionError):
        pass
    with suppress(OSError):
        put_aside(path)
    return {}


def _is_record(one: dict) -> bool:
    types = {"state": str, "passed": bool, "tries": int, "told": str, "faults": dict}
    fits = all(isinstance(one[key], type_) for key, type_ in types.items())
    return fits and all(isinstance(times, int) for times in one["faults"].values())


class Linked(Table):
    """A table in which names of lessons lead to them."""

    def _repr_html_(self) -> str:
        html = super()._repr_html_()
        for page in pages(Path.cwd()):
            html = html.replace(f">{escape(page.name)}<", f'><a href="{page.file}">{escape(page.name)}</a><')
        return html


def checks() -> Table | Told:
    """Each exercise of each lesson that was begun, whether it is passed, and how many answers it had."""
    lessons, known, rows, untouched = read(), pages(Path.cwd()), [], []
    for page in known:
        mine = lessons.get(page.number, {})
        if not mine:
            untouched.append(page.number)
            continue
        for number, (cell, (head, _)) in enumerate(page.checks.items()):
            one = mine.get(cell, {"state": NOT_YET, "passed": False, "tries": 0})
            sign = MARKS.get(one["state"], "")
            state = f"{MARKS[RIGHT]} passed" if one["passed"] else f"{sign} {one['state']}".strip()
            state += ", look again at what you changed" if one["passed"] and one["state"] == LOOK_AGAIN else ""
            rows.append(("" if number else page.name, head, state, str(one["tries"] or "")))
    if not rows:
        return Told(NOT_YET, "No exercise was tried yet.", "Open a lesson; its checks will be listed here.")
    done, all_of_them = sum(row[2].startswith(MARKS[RIGHT]) for row in rows), sum(len(page.checks) for page in known)
    under = [f"{done} of {all_of_them} exercises passed."]
    if untouched:
        under.append(f"Not begun: {'lessons' if len(untouched) > 1 else 'lesson'} {', '.join(untouched)}.")
    return Linked(("lesson", "exercise", "how it stands", "answers"), rows, under)


def faults() -> Table | Told:
    """The faults that checks told more than once: of which joint, how often, in which lesson to practise."""
    kinds, told, where = read_finding_kinds(), Counter[str](), defaultdict[str, set[str]](set)
    for lesson, tried in read().items():
        for one in tried.values():
            for fault, times in one["faults"].items():
                told[fault] += times
                where[fault].add(lesson)
    names = {page.number: page.name for page in pages(Path.cwd())}
    rows = []
    for fault in sorted(told, key=lambda one: (-told[one], one)):
        kind, _, joint = fault.partition(" ")
        if told[fault] >= AGAIN and kind in kinds:
            taught = str(kinds[kind].lesson)
            places = f"lesson{'s' * (len(where[fault]) > 1)} {', '.join(sorted(where[fault], key=int))}"
            rows.append((kinds[kind].title, joint, f"{told[fault]} times, in {places}",
                         names.get(taught, f"lesson {taught}")))  # fmt: skip
    if not rows:
        return Told(RIGHT, "No fault has come back.") if told else Told(NOT_YET, "No check has told a fault yet.")
    return Linked(("what came back", "joint", "how often", "practise in"), rows)
