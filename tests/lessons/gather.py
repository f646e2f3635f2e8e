"""Bind the lessons into a course: `python -m tests.lessons.gather` writes, from the notebooks that there are,

- the links in each notebook's `ways` cell (before, contents, next) and the glossary's line in its `words` cell;
- the tables of lessons in `lessons/contents.ipynb` and README.md;
- `lessons/glossary.ipynb` and `lessons/for_instructors.ipynb` (see `sheets`).

Title and time ("About 40 minutes") come from the title cell. What you will be able to do is a short phrase that is kept in
the table of contents.ipynb, to be written there by hand; a notebook that is new there begins with its first bullet. Running
it again changes nothing; a test holds that.
"""

import re
from pathlib import Path

import nbformat

from tests.lessons import sheets
from tests.lessons.books import BOOKS, LESSONS, read

README = LESSONS.parent / "README.md"
TITLE = re.compile(r"^# (Lesson|Instructor) (\d+|[A-Z]) · (.+)$", re.M)
ALL_WORDS = "All words of the course: [glossary](glossary.ipynb)"


def is_lesson(name: str) -> bool:
    """Whether a notebook is for students."""
    return name[0].isdecimal()


def title_of(name: str) -> tuple[str, str, str]:
    """What a notebook calls itself, such as ("Lesson", "4", "Make it bend the right way")."""
    return TITLE.search(read(name).cells[0].source).groups()


def gist_of(name: str) -> str:
    """What you will be able to do, in a short phrase: that of contents.ipynb, or the first bullet of the title cell."""
    kept = re.search(rf"^\|[^|]*\({re.escape(name)}\) \| ([^|]+) \|", read("contents.ipynb").cells[0].source, re.M)
    first = re.search(r"^- (.+(?:\n  .+)*)", read(name).cells[0].source, re.M)
    return " ".join((kept or first).group(1).split()).rstrip(";.")


def minutes_of(name: str) -> str:
    """How long it takes, such as "40 min", short enough for a narrow column."""
    return re.search(r"\*About (\d+ min)utes", read(name).cells[0].source).group(1)


def link(name: str, sign: str = "{}") -> str:
    """A link to a notebook, by its title."""
    return f"[{sign.format('{} {} · {}'.format(*title_of(name)))}]({name})"


def ways(name: str) -> str:
    """The links to the notebooks before and after one of the same kind, and to the contents."""
    kind = [one for one in BOOKS if is_lesson(one) == is_lesson(name)]
    place = kind.index(name)
    before = [link(kind[place - 1], "← {}")] if place else []
    after = [link(kind[place + 1], "{} →")] if place + 1 < len(kind) else []
    return " · ".join([*before, "[Contents](contents.ipynb)", *after])


def table(head: str, rows: list[str]) -> str:
    """A table in Markdown."""
    return "\n".join([head, "|" + "---|" * (head.count("|") - 1), *rows])


def in_contents(lessons: bool) -> str:
    """The table of contents.ipynb: of lessons, or of the instructors' notebooks."""
    rows = [
        f"| [{title_of(name)[1]} · {title_of(name)[2]}]({name}) | {gist_of(name)} | {minutes_of(name)} |"
        for name in BOOKS
        if is_lesson(name) == lessons
    ]
    return table(f"| {'lesson' if lessons else 'notebook'} | what you will be able to do | time |", rows)


def in_readme(lessons: bool) -> str:
    """The table of README.md: of lessons, or of the instructors' notebooks."""
    rows = [
        f"| [{title_of(name)[1]} {title_of(name)[2]}](lessons/{name}) | {gist_of(name)} | {minutes_of(name)} |"
        for name in BOOKS
        if is_lesson(name) == lessons
    ]
    return table(f"| {'lesson' if lessons else 'for instructors'} | what you will be able to do | time |", rows)


def with_tables(text: str, *tables: str) -> str:
    """A text with its tables of lessons, known by their heads, put anew."""
    for new in tables:
        head = re.escape(new.splitlines()[0])
        text, times = re.subn(rf"^{head}\n(?:\|.*(?:\n|\Z))+", lambda _, new=new: f"{new}\n", text, flags=re.M)
        assert times == 1, f"there is no table with the head {new.splitlines()[0]}"
    return text


def notebooks() -> dict[Path, nbformat.NotebookNode]:
    """All notebooks as they should be, by path."""
    books = {}
    for name in BOOKS:
        book = books[LESSONS / name] = read(name)
        for cell in book.cells:
            if cell.id == "ways":
                cell.source = ways(name)
            if cell.id == "words":
                cell.source = f"{sheets.without(cell.source, ALL_WORDS)}\n\n{ALL_WORDS}"
    contents = books[LESSONS / "contents.ipynb"] = read("contents.ipynb")
    cell = contents.cells[0]
    cell.source = with_tables(f"{cell.source}\n", in_contents(True), in_contents(False)).rstrip("\n")
    books[LESSONS / "glossary.ipynb"] = sheets.glossary()
    books[LESSONS / "for_instructors.ipynb"] = sheets.for_instructors()
    return books


def main() -> list[str]:
    """Write what is not yet as it should be; returns the names of the files written."""
    written = []
    for path, book in notebooks().items():
        if not path.exists() or nbformat.read(path, as_version=4) != book:
            nbformat.write(book, path)
            written.append(path.name)
    before = README.read_text(encoding="utf-8")
    after = with_tables(before, in_readme(True), in_readme(False))
    if after != before:
        README.write_text(after, encoding="utf-8")
        written.append(README.name)
    return written


if __name__ == "__main__":
    print(*main() or ["nothing changed"], sep="\n")
