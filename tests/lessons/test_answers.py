"""Lessons solved: every check turns right. Lessons answered wrongly: the check says so and tells the next step."""

import json

import pytest

from rigkit.files.exercise import read_exercise
from rigkit.files.layout import read_layout
from rigkit.marking import mark
from rigkit.tables import data_folder
from tests.lessons.answers import RIGHT, WRONG
from tests.lessons.books import BOOKS, NOT_YET, Kernel, checks, errors, guess_all, lesson_of, read, run, tags, text_of


def book_of(lesson: str) -> str:
    return next(name for name in BOOKS if lesson_of(name) == lesson)


def test_every_lesson_has_answers():
    assert {lesson_of(name) for name in BOOKS} == set(RIGHT)
    for name in BOOKS:
        assert {cell.id for cell in read(name).cells if "answer" in tags(cell)} == set(RIGHT[lesson_of(name)])


@pytest.mark.parametrize("lesson", RIGHT)
def test_a_solved_lesson_is_right_throughout(lesson, tmp_path):
    guess_all(book_of(lesson), tmp_path)
    book = run(book_of(lesson), RIGHT[lesson], tmp_path)
    assert errors(book) == []
    said = checks(book)
    assert said
    assert not [cell.id for cell in book.cells if cell.cell_type == "code" and text_of(cell).startswith(NOT_YET)]
    for cell, words in said.items():
        assert words.startswith("✓ right:") or "lies in hand-ins/" in words or "✗" not in words and lesson == "00", (
            f"{cell}: {words}"
        )
    if lesson == "04":
        (file,) = (tmp_path / "hand-ins").iterdir()
        layout = read_layout(file.read_bytes(), file.name)
        result = mark(layout, read_exercise(data_folder() / "exercises" / "left-arm"))
        assert (layout.id, layout.attempt, result.mark) == ("wren", 1, 100.0)


@pytest.mark.parametrize("lesson", RIGHT)
def test_an_unsolved_lesson_says_not_yet_and_never_right(lesson, tmp_path):
    book = run(book_of(lesson), {}, tmp_path)
    assert errors(book) == []
    for cell, words in checks(book).items():
        if cell != "report":
            assert words.startswith("? not yet:"), f"{cell}: {words}"


@pytest.fixture(scope="session")
def kernels(tmp_path_factory):
    """A kernel for each lesson, kept while its answers are tried."""
    there: dict[str, Kernel] = {}

    def kernel(lesson: str) -> Kernel:
        if lesson not in there:
            there[lesson] = Kernel(book_of(lesson), tmp_path_factory.mktemp(f"lesson-{lesson}"))
        return there[lesson]

    yield kernel
    for one in there.values():
        one.open.close()


TRIES = [
    pytest.param(*case, marks=pytest.mark.xdist_group(f"lesson-{case[0]}"), id=f"{case[0]}-{case[2]}-{number}")
    for number, case in enumerate(WRONG)
]


@pytest.mark.parametrize("lesson, answers, cell, words", TRIES)
def test_a_wrong_answer_gets_its_own_words(lesson, answers, cell, words, kernels):
    book = kernels(lesson).run(answers, cell)
    assert errors(book) == []
    said = checks(book)[cell]
    assert words in said and not said.startswith("✓"), said


def test_a_mistake_in_an_answer_cell_is_told_in_words(tmp_path):
    """A misspelt joint: the student sees one sentence, no traceback, and the checks still answer."""
    book = run(book_of("04"), {"bend-answer": 'bench.move("elbwo", forward=-33)'}, tmp_path)
    cell = next(cell for cell in book.cells if cell.id == "bend-answer")
    shown = json.dumps(cell.outputs)
    assert "elbow" in shown and "site-packages" not in shown and "line " not in shown
    assert checks(book)["bend-check"].startswith("? not yet")
