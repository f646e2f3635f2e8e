"""Lesson 11's limbs and pictures: the stored folders, a crouch over a foot that stays, letters and the words to them."""

import re

import numpy as np
import pytest

from rigkit.anatomy import folds
from rigkit.bench_parts import Limb
from rigkit.files.layout import read_layout
from rigkit.limbs import practice_limb
from rigkit.marking import mark
from rigkit.openings import open_exercise
from rigkit.tables import data_folder
from rigkit.taught import leg_lesson
from rigkit.told import LOOK_AGAIN, NOT_YET, RIGHT
from tests.lessons.limbs.leg_pieces import TITLES, as_human, write_leg


@pytest.mark.parametrize("kind", TITLES)
def test_the_stored_folder_is_what_is_written_and_its_key_is_right(kind, tmp_path):
    stored = data_folder() / "exercises" / f"left-{kind.replace('_', '-')}"
    made = write_leg(kind, tmp_path / stored.name)
    assert {one.name for one in stored.iterdir()} == {one.name for one in made.iterdir()}
    for one in made.iterdir():
        assert one.read_bytes() == (stored / one.name).read_bytes(), one.name
    key = read_layout((stored / "key.json").read_bytes(), "key.json")
    assert mark(key, open_exercise(stored.name)).mark == 100


@pytest.mark.parametrize("name, start", [("leg", "by-eye"), ("toe-walker", "too-low"), ("bird-leg", "too-low")])
def test_a_bench_s_start_is_wrong_but_each_joint_is_known(name, start):
    exercise = open_exercise(f"left-{name}")
    layout = exercise.start(start)
    assert tuple(Limb.of(exercise, layout.skeleton).roles.values()) == (0, 1, 2, 3, 4)
    assert {one.joint for one in mark(layout, exercise).findings} <= {"hip", "knee", "ankle"}


def test_of_a_leg_taken_for_a_person_s_the_marks_say_what_the_lesson_quotes():
    exercise = open_exercise("left-toe-walker")
    said = " ".join(one.message for one in mark(exercise.start("as-human"), exercise).findings)
    assert "There is no joint for the knee." in said
    assert 'The ankle, named "left_knee": it says knee, and this joint lies where the ankle should be.' in said


def test_a_crouch_keeps_lengths_and_leaves_the_foot_where_it_stands():
    rest = practice_limb("toe_walker", 5).key.positions
    places = leg_lesson._crouched(rest, np.radians(40))
    assert np.allclose(places[3:], rest[3:], atol=1e-12)
    long = [np.linalg.norm(np.diff(one[:4], axis=0), axis=1) for one in (rest, places)]
    assert np.allclose(*long, atol=1e-12)
    assert places[0][1] < rest[0][1] - 0.05 and places[1][2] > places[0][2] and places[2][2] < places[3][2]
    down, was = places[3] - places[0], rest[3] - rest[0]
    assert np.linalg.norm(np.cross(down, was)) == pytest.approx(0, abs=1e-12)
    assert np.allclose(leg_lesson._crouched(rest, 0), rest, atol=1e-12)


def test_a_target_in_front_of_the_wrong_joint_breaks_the_leg_forward():
    limb = practice_limb("toe_walker", 7)
    laid = as_human(limb)
    assert laid[1][2] < laid[0][2] and np.allclose(laid[1], limb.key.positions[2])
    picture = leg_lesson.as_a_knee()
    assert len(picture.plates) == 2 and "pushed forward" in repr(picture)


def test_each_leg_stands_beside_the_others_with_its_shares():
    said = [sentence for _, sentence in leg_lesson.side_by_side().plates]
    assert [one.split(". ")[1].rstrip(".") for one in said] == [
        "Thigh 43 %, shank 43 %, foot 14 %", "Thigh 33 %, shank 36 %, foot 31 %", "Thigh 18 %, shank 42 %, foot 40 %",
    ]  # fmt: skip
    assert all("heel" in one for one in said)
    words = [set(re.findall(r">([\w ]+)</text>", svg)) for svg, _ in leg_lesson.side_by_side().plates]
    assert [one & {"ankle", "heel"} for one in words] == [{"ankle", "heel"}, {"ankle", "heel"}, {"ankle"}]


def test_letters_are_checked_with_a_reason_for_each_wrong_one():
    letters = leg_lesson.Letters()
    assert letters.check().state == NOT_YET
    letters.say(knee="c", ankle=" A", heel="D")
    assert letters.check().state == RIGHT
    for (part, letter), words in leg_lesson.WRONG.items():
        letters.say(**({"knee": "C", "ankle": "A", "heel": "D"} | {part: letter}))
        told = letters.check()
        assert (told.state, told.found) == (LOOK_AGAIN, words)
    assert list(leg_lesson.LETTERS) != sorted(leg_lesson.LETTERS)  # else who reads A, B, C from the top is right
    letters.say(knee=3, ankle="A", heel="D")
    assert letters.check().state == NOT_YET


def test_the_lesson_s_table_of_folds_is_the_published_one():
    text = (data_folder().parent / "lessons" / "11_the_leg_and_legs_that_are_not_ours.ipynb").read_text("utf-8")
    for role in ("knee", "ankle"):
        assert "| {} | {} | {} |".format(*folds(role).about) in text
