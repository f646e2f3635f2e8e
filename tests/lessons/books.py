"""The notebooks as tests see them: copied away from the student's own work, run with answers put in."""

import ast
import json
import os
import re
import shutil
from contextlib import ExitStack
from pathlib import Path

import nbformat
from nbclient import NotebookClient

LESSONS = Path(__file__).parents[2] / "lessons"
BOOKS = sorted(path.name for path in LESSONS.glob("[0-9A-Z]*_*.ipynb"))  # lessons, then instructors' notebooks
CELL_SECONDS = 60
NOT_YET = "? not yet"


def read(name: str) -> nbformat.NotebookNode:
    """A stored notebook."""
    return nbformat.read(LESSONS / name, as_version=4)


def lesson_of(name: str) -> str:
    """What a notebook's file name begins with: "04", or "C" for an instructor's."""
    return name.split("_")[0]


def tags(cell) -> list[str]:
    """Tags of a cell, such as "answer" or "check"."""
    return cell.metadata.get("tags", [])


def text_of(cell) -> str:
    """All the words that a code cell printed or showed."""
    words = []
    for output in cell.get("outputs", []):
        if output.output_type == "stream":
            words.append(output.text)
        elif output.output_type == "error":
            words.append(f"{output.ename}: {output.evalue}")
        else:
            words.append(output.get("data", {}).get("text/plain", ""))
    return "\n".join(words)


def own_room(folder: Path) -> dict[str, str]:
    """An environment in which student work and hand-ins go to folders of the test's own."""
    return os.environ | {"RIGKIT_WORK": str(folder / "work"), "RIGKIT_HANDINS": str(folder / "hand-ins")}


def guess_all(name: str, folder: Path) -> None:
    """Make a guess wherever a lesson asks for one, so that all its pictures are drawn."""
    keys = [key for cell in read(name).cells for key in re.findall(r'predict\(\s*"([\w-]+)"', cell.source)]
    (folder / "work").mkdir(parents=True)
    (folder / "work" / "guesses.json").write_text(json.dumps(dict.fromkeys(keys, "a guess")), encoding="utf-8")


def run(name: str, answers: dict[str, str], folder: Path) -> nbformat.NotebookNode:
    """Run a copy of a lesson with the sources of some cells (by id) put in place of the stored ones."""
    book = read(name)
    ids = {cell.id for cell in book.cells}
    assert set(answers) <= ids, f"{name} has no cells {set(answers) - ids}"
    for cell in book.cells:
        if cell.id in answers:
            cell.source = answers[cell.id]
    room = folder / "room"
    shutil.copytree(LESSONS, room, ignore=shutil.ignore_patterns("work", "hand-ins", ".*"))
    for attempt in range(3):
        client = NotebookClient(
            book,
            timeout=CELL_SECONDS,
            kernel_name="python3",
            resources={"metadata": {"path": str(room)}},
            allow_errors=True,
        )
        try:
            client.execute(env=own_room(folder))
            break
        except RuntimeError:  # a kernel lost its ports to another one that started at the same moment
            if attempt == 2:
                raise
    return book


class Kernel:
    """One kernel for many answers to a lesson: each is run in it from the top, with folders of its own, without what
    only draws. A lesson's cells can be run again, so this is what a student does who runs all anew."""

    def __init__(self, name: str, folder: Path):
        self.name, self.folder, self.count = name, folder, 0
        room = folder / "room"
        shutil.copytree(LESSONS, room, ignore=shutil.ignore_patterns("work", "hand-ins", ".*"))
        resources = {"metadata": {"path": str(room)}}
        self.client = NotebookClient(
            read(name), timeout=CELL_SECONDS, kernel_name="python3", resources=resources, allow_errors=True
        )
        self.open = ExitStack()
        self.open.enter_context(self.client.setup_kernel(env=own_room(folder)))

    def run(self, answers: dict[str, str], until: str) -> nbformat.NotebookNode:
        """The notebook run with these sources put in, down to a cell."""
        self.count += 1
        own = self.folder / str(self.count)
        book = read(self.name)
        assert {*answers, until} <= {cell.id for cell in book.cells}
        begin = nbformat.v4.new_code_cell(
            "import os; get_ipython().reset(new_session=False); import os\n"
            f"os.environ.update(RIGKIT_WORK={str(own / 'work')!r}, RIGKIT_HANDINS={str(own / 'hand-ins')!r})"
        )
        book.cells.insert(0, begin)
        self.client.nb = book
        for number, cell in enumerate(book.cells):
            cell.source = answers.get(cell.id, cell.source)
            if cell.cell_type == "code" and not (cell.id != until and _only_draws(cell)):
                self.client.execute_cell(cell, number)
            if cell.id == until:
                break
        assert errors(nbformat.v4.new_notebook(cells=[begin])) == []
        return book


def _only_draws(cell) -> bool:
    """Whether a cell shows a picture and leaves nothing behind."""
    if "nbval-ignore-output" not in tags(cell) or {"answer", "check"} & set(tags(cell)):
        return False
    return all(isinstance(one, ast.Expr) for one in ast.parse(cell.source).body)


def checks(book) -> dict[str, str]:
    """What each cell tagged "check" said, by cell id."""
    return {cell.id: text_of(cell) for cell in book.cells if "check" in tags(cell)}


def errors(book) -> list[str]:
    """Errors in any cell."""
    return [
        f"{cell.id}: {output.ename}: {output.evalue}"
        for cell in book.cells
        for output in cell.get("outputs", [])
        if output.output_type == "error"
    ]


def stored_json(name: str) -> dict:
    """The notebook file as plain JSON."""
    return json.loads((LESSONS / name).read_text())
