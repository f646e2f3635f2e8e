"""What binds the lessons into a course: links, tables, glossary and the instructors' sheet are as `gather` writes them."""

import re

import nbformat
import pytest

from tests.lessons import gather, sheets
from tests.lessons.answers import RIGHT
from tests.lessons.books import BOOKS, LESSONS, lesson_of, read

README = gather.README.read_text(encoding="utf-8")


def text_of(name: str) -> str:
    return "\n".join(cell.source for cell in nbformat.read(LESSONS / name, as_version=4).cells)


def test_gathering_again_would_change_nothing():
    """Where this fails, run `python -m tests.lessons.gather`."""
    for path, book in gather.notebooks().items():
        stored = nbformat.read(path, as_version=4)
        assert [cell.source for cell in stored.cells] == [cell.source for cell in book.cells], path.name
        assert stored == book, path.name
    assert gather.with_tables(README, gather.in_readme(True), gather.in_readme(False)) == README


def test_instructors_notebooks_stand_apart():
    for text in (README, text_of("contents.ipynb")):
        tables = re.findall(r"(?:^\|.*\n)+", f"{text}\n", re.M)
        lessons, others = (one for one in tables if ".ipynb" in one)
        assert [name for name in BOOKS if name in lessons] == [name for name in BOOKS if name[0].isdecimal()]
        assert [name for name in BOOKS if name in others] == [name for name in BOOKS if not name[0].isdecimal()]


@pytest.mark.parametrize("name", BOOKS)
def test_the_time_in_the_tables_is_that_of_the_title(name):
    minutes = re.search(r"About (\d+) minutes", read(name).cells[0].source).group(1)
    for text in (README, text_of("contents.ipynb")):
        row = next(line for line in text.splitlines() if line.startswith("|") and name in line)
        assert row.endswith(f"| {minutes} min |")
        assert 20 < len(row.split("|")[2]) < 110, "a short phrase"


@pytest.mark.parametrize("name", BOOKS)
def test_words_lead_to_the_glossary(name):
    (words,) = [cell.source for cell in read(name).cells if cell.id == "words"]
    assert words.count("(glossary.ipynb)") == 1 and words.endswith(gather.ALL_WORDS)


def test_the_glossary_has_each_word_once_in_order_and_leads_to_its_first_lesson():
    text = text_of("glossary.ipynb")
    heads = re.findall(r"^- \*\*(.+?)\*\*", text, re.M)
    assert heads == sorted(heads, key=lambda one: (one.lower(), one)) and len(heads) == len(set(heads))
    first = {}
    for name in BOOKS:
        for word in sheets.words_of(name):
            for term in word.terms:
                first.setdefault(term, name)
    assert set(heads) == set(first)
    for line in text.splitlines():
        if line.startswith("- ") and "](" in line:
            term = re.match(r"- \*\*(.+?)\*\*", line).group(1)
            assert line.endswith(f"]({first[term]}))"), line


@pytest.mark.parametrize("name", ["contents.ipynb", "glossary.ipynb", "progress.ipynb", "for_instructors.ipynb"])
def test_pages_between_lessons_are_no_lessons_and_their_links_lead_to_files(name):
    assert name not in BOOKS
    targets = re.findall(r"\]\(([^)#:]+)\)", text_of(name))
    assert targets and all((LESSONS / target).exists() for target in targets)


@pytest.mark.parametrize("name", BOOKS)
def test_instructors_find_every_answer_in_one_place(name):
    (cell,) = [one for one in read("for_instructors.ipynb").cells if one.id == f"answers-{lesson_of(name).lower()}"]
    for answer in RIGHT[lesson_of(name)].values():
        assert answer in cell.source
    for question, choices, outcome in sheets.guesses(name):
        assert question in cell.source and outcome in cell.source and all(choice in cell.source for choice in choices)
    for question, answer in sheets.quick_questions(name):
        assert question in cell.source and answer in cell.source


@pytest.mark.parametrize("name", [name for name in BOOKS if lesson_of(name) != "00"])
def test_a_lesson_begins_with_three_quick_questions_that_it_answers(name):
    asked = sheets.quick_questions(name)
    assert len(asked) == 3 and all(question.endswith("?") or question.endswith(".") for question, _ in asked)
    assert all(len(answer) > 5 for _, answer in asked)
    assert not any("Answers to the quick" in cell.source for cell in read(name).cells[:10])


def test_the_plan_for_a_term_speaks_of_each_lesson():
    plan = "\n".join(cell.source for cell in read("for_instructors.ipynb").cells if cell.id.startswith("plan-"))
    weeks = re.findall(r"^\| (\d+) \| ([\d, ]+|none) \|", plan, re.M)
    assert [int(week) for week, _ in weeks] == list(range(1, 14))
    taught = [lesson.strip() for _, lessons in weeks for lesson in lessons.split(",")]
    assert taught == [str(int(lesson_of(name))) for name in BOOKS if name[0].isdecimal()] + ["none"]


def test_no_lesson_leads_students_to_the_answers():
    for name in BOOKS:
        assert name[0].isalpha() or "for_instructors" not in text_of(name)
