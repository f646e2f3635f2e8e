"""Lesson 7's limbs and pictures: the stored folders, the hinges of a healthy hand, and what a zigzag does to a fist."""

from pathlib import Path

import numpy as np
import pytest

from rigkit import lesson
from rigkit.bench_parts import Limb
from rigkit.files.layout import read_layout
from rigkit.marking import mark
from rigkit.openings import open_exercise
from rigkit.progress import pages
from rigkit.tables import data_folder
from rigkit.taught import hand_lesson
from rigkit.taught.posed_plates import FAINT
from rigkit.taught.posing import carried, turned
from rigkit.told import LOOK_AGAIN, NOT_YET, RIGHT
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


def test_only_the_fingers_that_a_picture_is_about_are_strong():
    drawn = {}
    for strong in (hand_lesson.DIGITS, ("middle",)):
        svg = hand_lesson.curled("left-hand", "pell", 70, ("side",), strong).plates[0][0]
        drawn[strong] = svg.count(f'opacity="{FAINT:g}"')
    assert list(drawn.values()) == [0, 16]  # four joints of four other digits


def test_a_knuckle_has_twice_the_ring_since_its_depth_is_a_choice():
    exercise, hand = open_exercise("left-hand"), hand_piece()
    for finger in FINGERS:
        marks = [hand.landmarks[f"{finger}_1_{end}"] for end in ("back", "under")]
        half = np.linalg.norm(marks[0] - marks[1]) / 2
        assert exercise.asked(f"{finger} 1").radius == pytest.approx(2 * half, abs=1e-4)


def finger_with(index_2: dict, index_3: dict):
    bench = lesson.open_bench("left-finger", "zigzag", "07", ("side",), ("place",))
    bench.move("index 2", **index_2)
    bench.move("index 3", **index_3)
    return bench


def test_a_corkscrew_within_the_rings_is_not_flat(tmp_path, monkeypatch):
    monkeypatch.setenv("RIGKIT_WORK", str(tmp_path))
    rings = ("bend", "centring", "fold")
    wound = finger_with({"out": 4, "forward": -2.9}, {"out": -2.5, "up": -3, "forward": 2.9})
    assert lesson.check(wound, rings).state == RIGHT
    told = hand_lesson.check(wound, "index", rings)
    assert told.state == LOOK_AGAIN and "57 degrees apart" in told.found
    parted = [
        np.degrees(angle_between(*hand_lesson._hinges(bench.limb, bench.skeleton, "index")))
        for bench in (finger_with({"out": 5, "forward": -3}, {"out": -2, "up": -3, "forward": 4}),
                      finger_with({"out": 5, "forward": -4}, {"out": -2, "up": -3, "forward": 5}))
    ]  # fmt: skip
    assert all(20 <= one <= 30.5 for one in parted)  # a millimetre to one side, as the lesson says
    assert (
        hand_lesson.check(finger_with({"out": 5, "forward": -4}, {"out": -2, "up": -3, "forward": 4}), "index").state
        == RIGHT
    )
    assert hand_lesson.check(None, "index").state == NOT_YET


def test_no_bench_of_the_lesson_has_a_check_that_does_not_know_flatness():
    (page,) = (one for one in pages(Path(__file__).parents[2] / "lessons") if one.number == "7")
    benches = [source for source in page.cells if "open_bench" in source]
    assert len(benches) == 3 and not [source for source in benches if '"check"' in source]


def test_within_its_ring_thumb_2_leaves_the_hinge_as_wide_as_the_lesson_says(tmp_path, monkeypatch):
    monkeypatch.setenv("RIGKIT_WORK", str(tmp_path))
    bench, found = lesson.open_bench("left-hand", "pell", "07", ("side",), ("place",)), []
    for out, forward in ((-8, 3), (-6, 2), (-4, 0)):
        bench.move("thumb 2", out=out, forward=forward)
        assert lesson.check(bench, ("bend", "centring", "fold"), ("thumb 2",)).state == RIGHT
        first = [hand_lesson._hinges(bench.limb, bench.skeleton, digit)[0] for digit in ("thumb", "index")]
        found.append(np.degrees(angle_between(*first)))
    assert found == pytest.approx([75, 63, 50], abs=1)


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
