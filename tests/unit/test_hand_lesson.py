"""Lesson 7's limbs and pictures: the stored folders, the hinges of a healthy hand, and what a zigzag does to a fist."""

import numpy as np
import pytest

from rigkit.bench_parts import Limb
from rigkit.files.layout import read_layout
from rigkit.marking import mark
from rigkit.openings import open_exercise
from rigkit.tables import data_folder
from rigkit.taught import hand_lesson
from rigkit.taught.posing import carried, turned
from rigkit.vectors import angle_between
from tests.lessons.limbs.hand_piece import FINGERS, OUT, ROLES, hand_piece, write_finger, write_hand


@pytest.mark.parametrize("name, write", [("left-hand", write_hand), ("left-finger", write_finger)])
def test_the_stored_folder_is_what_is_written_and_its_key_is_right(name, write, tmp_path):
    stored, made = data_folder() / "exercises" / name, write(tmp_path / name)
    assert {one.name for one in stored.iterdir()} == {one.name for one in made.iterdir()}
    for one in made.iterdir():
        assert one.read_bytes() == (stored / one.name).read_bytes(), one.name
    key = read_layout((stored / "key.json").read_bytes(), "key.json")
    assert mark(key, open_exercise(name)).mark == 100


def test_a_hand_is_closed_and_its_knuckles_lie_nearer_to_the_back():
    hand = hand_piece()
    assert hand.mesh.is_closed and hand.mesh.volume > 0 and hand.roles == ROLES
    for finger in FINGERS:
        back = hand.landmarks[f"{finger}_1_back"]
        joint = hand.key.positions[hand.roles.index(f"{finger} 1")]
        under = (back - joint) @ OUT
        through = (back - hand.landmarks[f"{finger}_1_under"]) @ OUT
        assert 0.004 < under < 0.52 * through and hand.mesh.bounds[0] @ OUT < joint @ OUT - 1.8 * under


def test_the_hinges_of_a_healthy_finger_are_parallel_and_the_thumb_s_are_turned():
    exercise = open_exercise("left-hand")
    key = read_layout((data_folder() / "exercises/left-hand/key.json").read_bytes(), "key.json").skeleton
    limb = Limb.of(exercise, key)
    hinges = {digit: hand_lesson._hinges(limb, key, digit) for digit in hand_lesson.DIGITS}
    assert max(angle_between(*pair) for pair in hinges.values()) < np.radians(6)
    assert np.degrees(angle_between(hinges["thumb"][0], hinges["index"][0])) == pytest.approx(63, abs=2)
    assert "134 degrees apart" in repr(hand_lesson.finger_table("left-hand", "middle", "pell"))


def test_a_fist_holds_together_and_a_zigzag_leaves_it():
    picture = hand_lesson.curled("left-hand", "pell", 70, views=("front",))
    assert len(picture.plates) == 1 and "Closed by 70 per cent" in repr(picture)
    assert hand_lesson.curled("left-hand", "pell", 0, views=("front",)).plates != picture.plates


def test_turning_no_joint_moves_nothing_and_a_turn_keeps_lengths():
    hand = hand_piece()
    frames, places = turned(hand.key, {})
    assert np.allclose(places, hand.key.positions, atol=1e-12)
    assert np.allclose(carried(hand.mesh, hand.key, frames).vertices, hand.mesh.vertices, atol=1e-9)
    _, places = turned(hand.key, {1: (np.array([0.0, 0, 1]), 1.0)})
    bones = [(child, parent) for child, parent in enumerate(hand.key.parents) if parent is not None]
    for child, parent in bones:
        long = np.linalg.norm(hand.key.positions[child] - hand.key.positions[parent])
        assert np.linalg.norm(places[child] - places[parent]) == pytest.approx(long, abs=1e-12)
    moved = np.any(np.abs(places - hand.key.positions) > 1e-9, axis=1)
    assert {hand.roles[joint] for joint in np.flatnonzero(moved)} == {"middle 2", "middle 3", "middle tip"}


def test_published_shares_are_half_and_two_quarters():
    for row in hand_lesson.published().rows:
        if row[0] != "thumb":
            first, second, third = (float(cell.split()[0]) for cell in row[2:])
            assert 45 <= first <= 50 and 22 <= second <= 30 and 22 <= third <= 30


def test_an_unknown_digit_is_refused_in_words():
    with pytest.raises(ValueError, match="a digit of this hand"):
        hand_lesson.finger_table("left-hand", "index_1", "pell")
