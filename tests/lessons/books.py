"""The notebooks as tests see them: copied away from the student's own work, run with answers put in."""

import json
import os
import shutil
from pathlib import Path

import nbformat
from nbclient import NotebookClient

LESSONS = Path(__file__).parents[2] / "lessons"
BOOKS = sorted(path.name for path in LESSONS.glob("[0-9A-Z]*_*.ipynb"))  # lessons, then instructors' notebooks
CELL_SECONDS = 60


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
