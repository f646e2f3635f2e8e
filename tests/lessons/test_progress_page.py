"""Checks that run in a real kernel are kept, and the progress page shows them; an unsolved page writes nothing."""

import json
import shutil

from tests.lessons.answers import RIGHT
from tests.lessons.books import BOOKS, errors, lesson_of, run, text_of

LESSON = "04"
FAULT = {"bend-answer": 'bench.move("elbow", forward=-5)'}


def said(book) -> str:
    return "\n".join(text_of(cell) for cell in book.cells if cell.cell_type == "code")


def test_what_a_student_passed_and_what_came_back_stands_on_the_page(tmp_path):
    name = next(one for one in BOOKS if lesson_of(one) == LESSON)
    run(name, RIGHT[LESSON], tmp_path / "monday")
    for day, before, answer in (("tuesday", "monday", FAULT), ("wednesday", "tuesday", RIGHT[LESSON])):
        shutil.copytree(tmp_path / before / "work", tmp_path / day / "work")
        run(name, answer, tmp_path / day)
    kept = json.loads((tmp_path / "wednesday" / "work" / "progress.json").read_text(encoding="utf-8"))["checks"]
    assert set(kept) == {"4"} and all(one["passed"] for one in kept["4"].values())
    assert kept["4"]["bend-check"]["faults"] == {"bends-wrong-way elbow": 1}
    assert kept["4"]["bend-check"]["tries"] == 3

    shutil.copytree(tmp_path / "wednesday" / "work", tmp_path / "thursday" / "work")
    page = run("progress.ipynb", {}, tmp_path / "thursday")
    assert errors(page) == []
    assert "4 · Make it bend the right way" in said(page) and f"{len(kept['4'])} of " in said(page)
    assert "No fault has come back" in said(page)


def test_a_page_that_nobody_solved_keeps_nothing_and_says_so(tmp_path):
    name = next(one for one in BOOKS if lesson_of(one) == LESSON)
    run(name, {}, tmp_path / "monday")
    assert not (tmp_path / "monday" / "work" / "progress.json").exists()
    page = run("progress.ipynb", {}, tmp_path / "tuesday")
    assert errors(page) == [] and "No exercise was tried yet" in said(page)
