"""The two sheets that are written out of the lessons: the glossary, and what an instructor should have in one place."""

import ast
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import nbformat

from rigkit.tables import data_folder, read_table
from tests.lessons.answers import RIGHT, lesson_a, lesson_b
from tests.lessons.books import BOOKS, lesson_of, read, tags

TERM = Path(__file__).with_name("term.md")
TOLD = lesson_a.TOLD | lesson_b.TOLD  # where a cell works the outcome out, what it comes to for the demo class
ANSWERS = re.compile(r"\*Answers to the quick questions:?\*:?\s*(.*)", re.S)


@dataclass(frozen=True)
class Word:
    """One entry of a `words` cell: its bold terms, all that stands before the colon, the meaning, the notebook."""

    terms: tuple[str, ...]
    head: str
    meaning: str
    book: str


def without(text: str, line: str) -> str:
    """A text without one of its lines."""
    return "\n".join(one for one in text.splitlines() if one.strip() != line).rstrip()


def called(name: str) -> str:
    """How people speak of a notebook: "lesson 4", "instructor C"."""
    return f"{'lesson' if name[0].isdecimal() else 'instructor'} {lesson_of(name).lstrip('0') or '0'}"


def one_line(text: str) -> str:
    """A text with each run of spaces and line ends as one space."""
    return " ".join(text.split())


def words_of(name: str) -> list[Word]:
    """The entries of a notebook's `words` cell, each written `**term**: meaning`, with ` · ` between them."""
    (source,) = [cell.source for cell in read(name).cells if cell.id == "words"]
    body = one_line(source.removeprefix("## Words to know").split("All words")[0])
    found = []
    for entry in re.split(r" ?·? (?=\*\*)(?<=·.)", f" {body}"):
        head, _, meaning = entry.strip(" ·").partition(": ")
        terms = tuple(re.findall(r"\*\*(.+?)\*\*", head))
        assert terms and meaning, f"{name}, words: not `**term**: meaning`: {entry}"
        found.append(Word(terms, head, meaning.rstrip(" ."), name))
    return found


def sheet(*cells: tuple[str, str]) -> nbformat.NotebookNode:
    """A notebook of Markdown cells, each with its id."""
    book = nbformat.v4.new_notebook()
    book.cells = [nbformat.v4.new_markdown_cell(source, id=name) for name, source in cells]
    book.metadata = read("contents.ipynb").metadata
    return book


def glossary() -> nbformat.NotebookNode:
    """All words of the course in the order of the alphabet, each with the lesson that first tells it."""
    entries: dict[str, str] = {}
    for word in (one for name in BOOKS for one in words_of(name)):
        first, *others = word.terms
        if first not in entries or entries[first].startswith(f"**{first}**: see "):
            entries[first] = f"{word.head}: {word.meaning} ([{called(word.book)}]({word.book}))"
        for other in others:
            entries.setdefault(other, f"**{other}**: see **{first}**")
    letters: dict[str, list[str]] = {}
    for term in sorted(entries, key=lambda one: (one.lower(), one)):
        letters.setdefault(term[0].upper(), []).append(f"- {entries[term]}")
    head = (
        "# Glossary\n\nEvery word that a lesson asks you to know, with the lesson that first explains it.\n\n"
        "[Contents](contents.ipynb)"
    )
    return sheet(
        ("title", head),
        *((f"letter-{letter.lower()}", "\n".join([f"## {letter}", "", *lines])) for letter, lines in letters.items()),
    )


def calls(name: str, function: str) -> Iterator[ast.Call]:
    """Calls of `lesson.predict` or `lesson.compare` in a notebook's code cells."""
    for cell in read(name).cells:
        if cell.cell_type == "code" and f"{function}(" in cell.source:
            for node in ast.walk(ast.parse(cell.source)):
                if isinstance(node, ast.Call) and getattr(node.func, "attr", "") == function:
                    yield node


def guesses(name: str) -> list[tuple[str, tuple[str, ...], str]]:
    """Each guess of a notebook: the question, the choices, and what happened."""
    told = read_table(data_folder() / "outcomes.toml") | TOLD
    outcomes = {(key := ast.literal_eval(call.args[0])): told[key] for call in calls(name, "compare")}
    found = []
    for call in calls(name, "predict"):
        key, question, choices = (ast.literal_eval(argument) for argument in call.args)
        found.append((question, tuple(choices), outcomes.get(key, "told by the cell below it")))
    return found


def numbered(text: str) -> list[str]:
    """The items of a text numbered 1., 2., 3., each in one line."""
    items, rest = [], f" {one_line(text)} "
    while f" {len(items) + 1}. " in rest:
        before, _, rest = rest.partition(f" {len(items) + 1}. ")
        items += [before.strip()] if items or before.strip() else [""]
    return [*items, rest.strip()][1:]


def quick_questions(name: str) -> list[tuple[str, str]]:
    """The quick questions of a lesson with their answers."""
    cells = [cell.source for cell in read(name).cells if cell.cell_type == "markdown"]
    asked = next((source for source in cells if source.startswith("## Three quick questions")), "")
    told = next((found.group(1) for source in cells if (found := ANSWERS.search(source))), "")
    return list(zip(numbered(asked[asked.find("\n1. ") :]), numbered(told), strict=True))


def exercises(name: str) -> Iterator[tuple[str, str]]:
    """The heading above each cell for an answer, and the answer."""
    head = ""
    for cell in read(name).cells:
        if cell.cell_type == "markdown":
            head = ([head] + re.findall(r"^#+ (.+)$", cell.source, re.M))[-1]
        elif "answer" in tags(cell):
            yield head, RIGHT[lesson_of(name)][cell.id]


def title_of(name: str) -> str:
    """The first line of a notebook, with signs that a link within a page can hold ("Lesson 4, Make it bend")."""
    return read(name).cells[0].source.splitlines()[0].removeprefix("# ").replace(" · ", ", ")


def answers_of(name: str) -> str:
    """What an instructor needs of one notebook: quick questions, guesses, answers."""
    lines = [f"## {title_of(name)}", "", f"[Open it]({name})"]
    if asked := quick_questions(name):
        lines += ["", "**Quick questions**", ""]
        lines += [f"{number}. {question} *{answer}*" for number, (question, answer) in enumerate(asked, 1)]
    if guessed := guesses(name):
        lines += ["", "**Guesses**, never marked", ""]
        for question, choices, outcome in guessed:
            lines += [f"- {question} ({'; '.join(choices)}) *{outcome}*"]
    lines += ["", "**Exercises**"]
    for head, answer in exercises(name):
        lines += ["", f"*{head}*", "", "```python", answer, "```"]
    return "\n".join(lines)


def for_instructors() -> nbformat.NotebookNode:
    """The plan for a term, and all answers of all notebooks."""
    answers = [(f"answers-{lesson_of(name).lower()}", answers_of(name)) for name in BOOKS]
    first, *plan = TERM.read_text(encoding="utf-8").strip().split("\n---\n")
    heads = [re.search(r"^## (.+)$", part, re.M).group(1) for part in plan]
    ways = [(one, one) for one in heads], [(called(name).split()[-1], title_of(name)) for name in BOOKS]
    rows = [" · ".join(f"[{words}](#{head.replace(' ', '-')})" for words, head in row) for row in ways]
    first = f"{first}\n\nOn this page: {rows[0]}\n\nAnswers: {rows[1]}"
    return sheet(*((f"plan-{number}", part.strip()) for number, part in enumerate([first, *plan])), *answers)
