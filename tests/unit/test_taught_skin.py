"""Lesson 12's bent skin: what its prose says in numbers is what the code measures; a trip to another desk."""

import re

import numpy as np
import pytest

from rigkit import lesson
from rigkit.files.exercise import read_exercise
from rigkit.files.handin import read_handin
from rigkit.files.layout import read_layout
from rigkit.marking import mark
from rigkit.tables import data_folder
from rigkit.taught import skin_lesson
from rigkit.taught.skin_ways import Hung, hung
from rigkit.vectors import along_and_across, length, unit

LEFT_ARM = data_folder() / "exercises" / "left-arm"


@pytest.fixture
def bench(tmp_path, monkeypatch):
    monkeypatch.setenv("RIGKIT_WORK", str(tmp_path / "work"))
    monkeypatch.setenv("RIGKIT_HANDINS", str(tmp_path / "hand-ins"))
    return lesson.open_bench("ebbas-arm", "unfinished", "12", ("side",), ("place", "names"))


def kept(arm: Hung, degrees: float) -> int:
    return round(100 * arm.measured([degrees], skin_lesson.orlo().radius)[0].kept)


def test_orlos_elbow_lies_in_its_true_place_to_begin_with():
    key = read_layout((LEFT_ARM / "key.json").read_bytes(), "key.json").skeleton
    assert length(skin_lesson.orlo().joints - key.positions).max() < 0.0005


def test_the_outer_side_loses_flesh_and_the_inner_side_keeps_it():
    arm = skin_lesson.orlo()
    shifted = [kept(arm.moved(forward=mm), 90) for mm in (-25, -12, 0, 12)]
    assert shifted == sorted(shifted) and shifted[1:] == [69, 82, 93]
    assert kept(arm.moved(forward=-25), 120) == 49


def test_by_ninety_degrees_orlos_elbow_has_lost_flesh_and_ebbas_that_lies_in_front_not_yet():
    arm, ebba = skin_lesson.orlo(), hung("ebbas-arm", "unfinished")
    assert [kept(arm.moved(forward=mm), 90) < 100 for mm in (-25, -12, 0, 12)] == [True] * 4
    assert [round(100 * one.kept) for one in ebba.measured([45, 90, 120])] == [109, 102, 89]


def test_along_the_limb_the_numbers_are_blind():
    arm = skin_lesson.orlo()
    assert [kept(skin_lesson.slid(arm, mm), 90) for mm in (-30, 30)] == [82, 80]


def test_straight_the_skin_is_as_it_was_and_bent_the_bones_keep_their_lengths():
    arm = hung("ebbas-arm", "unfinished")
    straight, places = arm.bent(0), arm.bent(100).places
    assert np.abs(straight.mesh.vertices - arm.mesh.vertices).max() < 1e-12
    assert np.array_equal(straight.places, arm.joints)
    assert np.allclose(length(np.diff(places, axis=0)), length(np.diff(arm.joints, axis=0)))
    assert places[2][2] > arm.joints[2][2] + 0.1  # the hand comes forward


def test_what_a_picture_says_of_the_flesh_is_what_the_measures_say():
    arm = skin_lesson.orlo()
    for laid, degrees in ((arm, 90), (arm.moved(forward=12), 90), (arm.moved(forward=-25), 120)):
        bent, bulk = laid.bent(degrees), laid.measured([degrees], arm.radius)[0]
        assert (bent.kept(arm.radius), bent.stretched(arm.radius)) == pytest.approx(
            (bulk.kept, bulk.stretched), abs=1e-9
        )


def slid_to(panel, mm: int) -> str:
    """What the two plates of the panel say with its slider there."""
    plates, row = panel.panel.children
    row.children[0].value = mm
    assert row.children[1].value == mm
    return " ".join(re.findall(r'alt="([^"]+)"', plates.value))


def test_the_panel_says_what_the_lesson_says(bench):
    panel = skin_lesson.by_hand()
    there = {mm: slid_to(panel, mm) for mm in (0, -12, 12, 21)}
    assert all(told.startswith("In the middle, the elbow bent by 90°: keeps 82 % of its flesh, skin stretched 8 %")
               for told in there.values())  # fmt: skip
    assert "12 mm back, the outer side, the elbow bent by 90°: keeps 69 %" in there[-12]
    assert "12 mm forward, the inner side, the elbow bent by 90°: keeps 93 %" in there[12]
    assert (
        "21 mm forward, the inner side, the elbow bent by 90°: keeps 100 % of its flesh, skin stretched 15 %"
        in there[21]
    )
    assert "As you laid it" in slid_to(skin_lesson.by_hand(bench), 0)


def test_in_the_middle_the_elbow_lies_eighteen_mm_behind_its_line_and_21_forward_in_front():
    arm = skin_lesson.orlo()
    for mm, ahead in ((0, -18), (12, -6), (21, 3)):
        joints = arm.moved(forward=mm).joints
        across = along_and_across(joints[1] - joints[0], unit(joints[2] - joints[0]))[1]
        assert 1000 * across @ arm.limb.body[2] == pytest.approx(ahead, abs=0.5)


def test_the_forearm_carries_nothing_above_and_all_below():
    share = skin_lesson.orlo().lower_share(np.array([-0.15, 0.0, 0.15]), by_heat=True)
    assert share[0] < 0.05 and 0.4 < share[1] < 0.6 and share[2] > 0.95


def test_what_another_desk_did_is_told_and_asked(bench):
    lesson.export(bench)
    skin_lesson.another_desk(bench)
    told = repr(lesson.bring_back(bench, skin_lesson.DESK))
    assert "joint_2 moved by 12 mm" in told and "Also: joint_3 is called wrist now" in told
    assert skin_lesson.check_back(bench, "joint_2", 12, "joint_3").state == "right"
    for moved, mm, renamed in (("joint_1", 12, "joint_3"), ("joint_2", 3, "joint_3"), ("joint_2", 12, "joint_2"),
                               ("joint_2", float("nan"), "joint_3")):  # fmt: skip
        assert skin_lesson.check_back(bench, moved, mm, renamed).state == "look again"
    assert "without quotes" in skin_lesson.check_back(bench, "joint_2", "12", "joint_3").next_step
    assert skin_lesson.check_back(None, "joint_2", 12, "joint_3").state == "not yet"
    assert repr(lesson.bring_back(bench)).startswith("brought back: Nothing differs")


def test_the_table_shows_both_and_tells_nothing(bench):
    assert skin_lesson.side_by_side(bench).state == skin_lesson.side_by_side(None).state == "not yet"
    skin_lesson.another_desk(bench)
    upper, elbow, wrist = skin_lesson.side_by_side(bench).rows
    assert upper[:4] == upper[4:] and elbow[:3] == elbow[4:7] and wrist[1:4] == wrist[5:]
    assert int(elbow[7]) - int(elbow[3]) == 12 and (wrist[0], wrist[4]) == ("joint_3", "wrist")


def test_the_desks_file_is_read_with_the_same_eyes_as_hand_ins(bench, tmp_path):
    skin_lesson.another_desk(bench)
    back = read_handin(tmp_path / "hand-ins" / skin_lesson.DESK, skin_lesson.DESK)
    assert back.skeleton.names == ("joint_1", "joint_2", "wrist")


def test_ebbas_key_has_full_marks_and_her_start_has_each_fault_once():
    folder = data_folder() / "exercises" / "ebbas-arm"
    exercise = read_exercise(folder)
    assert mark(read_layout((folder / "key.json").read_bytes(), "key.json"), exercise).mark == 100.0
    found = {(one.joint, one.criterion) for one in mark(exercise.start("unfinished"), exercise).findings}
    assert {("shoulder", "centring"), ("elbow", "bend"), ("wrist", "centring"), ("elbow", "names")} <= found
