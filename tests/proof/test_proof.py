"""The proof of the marks at a sample size; `HYPOTHESIS_PROFILE=slow` takes the full one, `python -m tests.proof` prints it."""

import os

import pytest

from tests.proof import faults, lines, matrix, outside, parts, right, same, student

FULL = os.environ.get("HYPOTHESIS_PROFILE") == "slow"
COUNTS = parts.FULL if FULL else parts.SAMPLE
each_limb = pytest.mark.parametrize(("kind", "seed"), parts.LIMBS[FULL])


def test_every_finding_has_a_mutator_and_every_mutator_a_finding():
    assert set(faults.listed()) == set(faults.MUTATORS) | set(faults.NAMES) | faults.NOT_YET


@each_limb
def test_every_fault_is_found_on_its_joint_and_paid_once(kind, seed):
    rows = matrix.examine(kind, seed, COUNTS["matrix"])
    assert not matrix.found_all(rows)
    assert not matrix.paid_once(rows)


@each_limb
def test_right_layouts_have_no_finding(kind, seed):
    assert not right.wrong(right.examine(kind, seed, COUNTS["right"]))


@each_limb
def test_no_step_straight_home_lowers_the_mark(kind, seed):
    rows = lines.examine(kind, seed, COUNTS["lines"])
    assert not lines.falls(rows)
    assert all(row["marks"][-1] == 100.0 for row in rows)


@each_limb
def test_the_same_work_has_the_same_mark(kind, seed):
    assert not same.differing(same.examine(kind, seed, COUNTS["same"]))


def test_the_number_of_jobs_changes_nothing():
    assert not same.differing(parts.with_jobs(FULL))


@each_limb
def test_the_mends_words_are_enough(kind, seed):
    assert not student.unmended(student.examine(kind, seed, COUNTS["student"]))


@each_limb
def test_sections_agree_with_trimesh(kind, seed):
    rows = outside.examine(kind, seed, COUNTS["outside"])
    assert rows and not outside.disagreeing(rows)


def test_hanim_bends_as_the_reference_states():
    """In mm and degrees, to the one digit that is stated; more of it in tests/reference/test_anatomy_outside.py."""
    for _, millimetres, degrees, verdict in outside.hanim():
        assert max(abs(millimetres), abs(degrees)) < 0.05 and verdict == "right way"


SEEN_LINES = [("finger", 101, 15), ("finger", 103, 8), ("finger", 104, 20), ("toe_walker", 104, 14)]
SEEN_STUDENTS = [("hips", 100, 17), ("hips", 100, 21), ("hips", 100, 24), ("hips", 101, 9), ("arm", 100, 20)]
SEEN_ORDERS = [("arm", 101, 0), ("shoulder_arm", 101, 0)]


@pytest.mark.parametrize(("kind", "seed", "number"), [("leg", 102, 7), ("finger", 100, 3), ("arm", 100, 4)])
def test_lines_that_rise_since_the_dearer_is_paid_and_what_is_optional_caps_nothing(kind, seed, number):
    assert not lines.falls(lines.examine(kind, seed, [number]))


@pytest.mark.parametrize(("kind", "seed", "number"), SEEN_LINES)
def test_lines_on_which_the_mark_fell_once(kind, seed, number):
    assert not lines.falls(lines.examine(kind, seed, [number]))


@pytest.mark.parametrize(("kind", "seed", "number"), SEEN_STUDENTS)
def test_students_who_were_not_helped_once(kind, seed, number):
    rows = student.examine(kind, seed, [number])
    assert not student.unmended(rows) and not student.lowered(rows)


def test_a_twist_joint_in_the_palm_near_the_joint_of_another_finger_is_no_double_of_it():
    assert not right.wrong(right.examine("creature_arm", 104, [8]))


def test_two_joints_missing_one_above_the_other():
    assert not student.unmended(student.examine("hips", 104, [10]))


@pytest.mark.parametrize(("kind", "seed", "number"), SEEN_ORDERS)
def test_hand_ins_whose_mark_hung_on_the_order_of_joints_once(kind, seed, number):
    assert not same.differing(same.examine(kind, seed, [number]))


def test_a_joint_too_many_half_way_between_two():
    assert not same.differing(same.examine("finger", 103, [1]))
