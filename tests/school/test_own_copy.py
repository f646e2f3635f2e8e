"""A student's own copy of the lessons: what is new comes, what is a student's stays."""

import importlib.util
import json
import os
from pathlib import Path

import pytest

pytestmark = pytest.mark.skipif(os.name != "posix", reason="a school's hub runs on Linux")
PLACE = Path(__file__).parents[2] / "data" / "school" / "own_copy.py"
FIRST, CHANGED, OWN = b'{"cells": []}', b'{"cells": ["changed"]}', b'{"cells": ["a guess of my own"]}'


@pytest.fixture
def bring(tmp_path):
    """Bring a copy up to date: what lessons there are now (name -> bytes) gives the names written."""
    spec = importlib.util.spec_from_file_location("own_copy", PLACE)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    lessons = tmp_path / "school"
    lessons.mkdir()

    def now(**given: bytes) -> list[str]:
        for name, content in given.items():
            (lessons / f"{name}.ipynb").write_bytes(content)
        return module.own_copy(lessons, tmp_path / "rigkit", tmp_path / "hand-ins" / "wren")

    return now


@pytest.fixture
def copy(tmp_path) -> Path:
    """Where the student's lessons are."""
    return tmp_path / "rigkit" / "lessons"


def names(copy: Path) -> list[str]:
    return sorted(path.name for path in copy.glob("*.ipynb"))


def test_the_first_login_brings_all_lessons_and_a_private_folder_for_work(bring, copy, tmp_path):
    assert bring(one=FIRST, two=CHANGED) == ["one.ipynb", "two.ipynb"]
    assert (copy / "one.ipynb").read_bytes() == FIRST
    if os.name == "posix":
        assert {oct(place.stat().st_mode & 0o777) for place in (copy, copy / "work", copy.parent)} == {"0o700"}
    assert (copy / "hand-ins").readlink() == tmp_path / "hand-ins" / "wren"


def test_logging_in_again_writes_nothing(bring, copy):
    bring(one=FIRST)
    (copy / "one.ipynb").write_bytes(OWN)
    assert bring(one=FIRST) == []
    assert (copy / "one.ipynb").read_bytes() == OWN


def test_a_new_lesson_comes_and_an_untouched_one_is_replaced(bring, copy):
    bring(one=FIRST)
    assert bring(one=CHANGED, two=FIRST) == ["one.ipynb", "two.ipynb"]
    assert (copy / "one.ipynb").read_bytes() == CHANGED and names(copy) == ["one.ipynb", "two.ipynb"]


def test_a_changed_lesson_lies_beside_own_work_once_for_each_change(bring, copy):
    bring(one=FIRST)
    (copy / "one.ipynb").write_bytes(OWN)
    assert bring(one=CHANGED) == ["one.updated-1.ipynb"]
    assert bring(one=CHANGED) == []
    assert bring(one=CHANGED + b" ") == ["one.updated-2.ipynb"]
    assert (copy / "one.ipynb").read_bytes() == OWN
    assert (copy / "one.updated-1.ipynb").read_bytes() == CHANGED


def test_a_lesson_of_the_students_own_making_is_never_taken_for_a_given_one(bring, copy):
    bring(one=FIRST)
    (copy / "two.ipynb").write_bytes(OWN)
    assert bring(two=FIRST) == ["two.updated-1.ipynb"]
    assert (copy / "two.ipynb").read_bytes() == OWN


def test_a_deleted_lesson_comes_anew(bring, copy):
    bring(one=FIRST)
    (copy / "one.ipynb").unlink()
    assert bring() == ["one.ipynb"]


@pytest.mark.parametrize("damage", ["", "[]", '{"one.ipynb": 3}', "no json"])
def test_a_damaged_list_of_what_was_given_loses_nothing(bring, copy, damage):
    bring(one=FIRST, two=FIRST)
    (copy / "one.ipynb").write_bytes(OWN)
    (copy.parent / ".given.json").write_text(damage)
    assert bring() == ["one.updated-1.ipynb"]
    assert (copy / "one.ipynb").read_bytes() == OWN and (copy / "two.ipynb").read_bytes() == FIRST
    assert set(json.loads((copy.parent / ".given.json").read_text())) == {"one.ipynb", "two.ipynb"}


def test_a_link_in_a_lessons_place_is_not_written_through(bring, copy, tmp_path):
    bring(one=FIRST)
    another = tmp_path / "another.txt"
    another.write_bytes(FIRST)
    (copy / "one.ipynb").unlink()
    (copy / "one.ipynb").symlink_to(another)
    bring(one=CHANGED)
    assert another.read_bytes() == FIRST
