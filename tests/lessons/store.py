"""Run lessons and store their outputs, as nbval and a first-time reader need them: `python -m tests.lessons.store [04]`.

Widget views and what a guess must not be told (cells tagged `after-guess`) are left out, and a cell without a stored
output looks as if it had not been run. Student work of the one who runs this is not touched.
"""

import sys
import tempfile
from pathlib import Path

import nbformat

from tests.lessons.books import BOOKS, LESSONS, NOT_YET, errors, run, tags, text_of

WIDGET = "application/vnd.jupyter.widget-view+json"


def tidy(book: nbformat.NotebookNode) -> nbformat.NotebookNode:
    """The notebook as it is to be stored."""
    book.metadata.pop("widgets", None)
    book.metadata["language_info"] = {"name": "python"}
    for cell in book.cells:
        cell.metadata.pop("execution", None)
        if cell.cell_type != "code":
            continue
        kept = [] if "after-guess" in tags(cell) and not text_of(cell).startswith(NOT_YET) else cell.outputs
        cell.outputs = [one for one in kept if one.get("name") != "stderr"]
        for one in cell.outputs:
            one.get("data", {}).pop(WIDGET, None)
        if not cell.outputs:
            cell.execution_count = None
    return book


def main() -> None:
    """Store the lessons whose file names begin as the arguments say, or all."""
    for name in (*BOOKS, "progress.ipynb"):
        if sys.argv[1:] and not name.startswith(tuple(sys.argv[1:])):
            continue
        with tempfile.TemporaryDirectory() as folder:
            book = run(name, {}, Path(folder))
        nbformat.write(tidy(book), LESSONS / name)
        print(name, *errors(book), sep="\n  ")


if __name__ == "__main__":
    main()
