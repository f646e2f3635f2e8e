"""Lesson 5's ways to the middle: what its prose says in numbers is what the code measures."""

import numpy as np
import pytest

from rigkit.openings import open_exercise
from rigkit.section import Loop
from rigkit.taught.middle_lesson import RUNS_ON, check_deciders, check_verdict, roots_picture, settle, three_answers
from rigkit.taught.middle_ways import (
    ARM,
    LEG,
    answers_of,
    at_root,
    elbow_loop,
    every_way,
    limb_with,
    slice_loop,
    spread,
    true_place,
)
from rigkit.vectors import length


@pytest.mark.parametrize("kind, role, exercise", [(ARM, "elbow", "left-arm"), (LEG, "knee", "tansys-leg")])
def test_the_limbs_of_the_tables_are_those_of_the_exercises(kind, role, exercise):
    limb = limb_with(role)
    assert (limb.kind, limb.seed) == kind
    assert np.abs(limb.mesh.vertices - open_exercise(exercise).mesh.vertices).max() < 1e-5


def test_only_a_slice_moves_a_joint_across_the_limb_and_nowhere_else():
    found = every_way("elbow", np.array([0.015, 0.015, 0.010]))
    off, slid = found["by slice"]
    assert off < 0.01 and abs(slid) < 1e-9
    assert found["by eye, front and side view"][0] < 3 and found["by eye, front and side view"][1] < -10
    assert found["line of sight from the front"][0] > 15  # it knows nothing of how far out


def test_a_line_of_sight_through_the_thumb_ends_in_the_palm():
    off, slid = every_way("thumb 2", np.zeros(3))["line of sight from the front"]
    assert off > 15 and slid < -15


def test_by_eye_a_finger_behind_another_is_missed_and_a_limb_alone_is_not():
    eye = "by eye, front and side view"
    finger, knee = every_way("index 2", np.zeros(3))[eye][0], every_way("knee", np.zeros(3))[eye][0]
    assert 3.5 < finger < 4.5 and 3.5 < knee < 4.5


def test_the_mean_of_crowded_points_stays_off_at_any_density_and_the_centroid_does_not():
    loop = elbow_loop()
    means = [length(spread(loop, count, True).mean(axis=0) - loop.centroid) for count in (32, 256, 4096)]
    assert all(0.0120 < mean < 0.0135 for mean in means)
    assert length(spread(loop, 256, False).mean(axis=0) - loop.centroid) < 0.0005
    assert length(Loop(spread(loop, 32, True), True, loop.plane).centroid - loop.centroid) < 0.0005


def test_a_chain_settles_in_a_few_rounds_and_says_nothing_of_along():
    table = settle()
    moved = [[float(cell.split()[0]) for cell in row[1:]] for row in table.rows]
    assert moved[0][0] > 60 and max(moved[3]) < 0.05
    assert table.under == ("Now the bend loops lie 22 mm down the limb from the elbow.",)


def test_at_the_roots_of_limbs_a_slice_runs_on_and_its_middle_is_far_off():
    told = [sentence for _, sentence in roots_picture().plates]
    for role, sentence, off in zip(("shoulder", "hip", "index 1"), told, (67, 94, 26), strict=True):
        assert at_root(role)[2] == "runs into other flesh" and f"lies {off} mm from" in sentence


def test_what_a_slice_meets_in_a_hand_is_what_the_deciders_are_judged_by():
    off = {}
    for role, child in (("thumb 1", "thumb 2"), ("thumb 2", "thumb 3"), ("index 1", "index 2"), ("index 2", "index 3")):
        place = true_place(role)
        off[role] = length(slice_loop(limb_with(role).mesh, place, true_place(child) - place).centroid - place)
    assert {role for role, far in off.items() if far > 0.02} == RUNS_ON.keys() - {"hip"}
    assert max(off["thumb 2"], off["index 2"]) < 0.001


def test_the_three_answers_at_the_true_elbow_lie_within_five_millimetres():
    limb, found = answers_of("left-arm", "elbow", "resting")
    step = found.flesh - true_place("elbow")
    assert limb.exercise.id == "left-arm"
    assert length(step - (step @ found.along) * found.along) < 0.001
    assert 0.0015 < length(found.anatomy - found.flesh) < 0.003
    assert (found.anatomy - found.flesh) @ found.away < -0.0015  # the bony tip drags the flesh's middle back
    assert found.fold is not None and abs(found.fold) < 0.005
    assert "says nothing" in repr(three_answers("left-arm", "elbow", "resting"))


def test_checks_answer_nonsense_in_words():
    assert check_deciders({}).state == "not yet"
    assert check_deciders("flesh").state == "not yet"
    assert check_verdict(None, "knee", "flesh", "loops", "it shares the skin").state == "not yet"
    for why in ("x y z w v", "because the teacher said so"):
        assert check_verdict(None, "knee", "flesh", "loops", why).state == "look again"
    assert "flesh or anatomy or loops" in repr(check_verdict(None, "knee", 3, "loops", "x"))
