"""Lesson 12's bent skin: what its prose says in numbers is what the code measures; a trip to another desk."""

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
from rigkit.vectors import length

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
    mesh, places = arm.bent(0)
    assert np.abs(mesh.vertices - arm.mesh.vertices).max() < 1e-12 and np.array_equal(places, arm.joints)
    _, places = arm.bent(100)
    assert np.allclose(length(np.diff(places, axis=0)), length(np.diff(arm.joints, axis=0)))
    assert places[2][2] > arm.joints[2][2] + 0.1  # the hand comes forward


def test_the_forearm_carries_nothing_above_and_all_below():
    share = skin_lesson.orlo().lower_share(np.array([-0.15, 0.0, 0.15]), by_heat=True)
    assert share[0] < 0.05 and 0.4 < share[1] < 0.6 and share[2] > 0.95


def test_what_another_desk_did_is_told_and_asked(bench):
    lesson.export(bench)
    skin_lesson.another_desk(bench)
    told = repr(lesson.bring_back(bench, skin_lesson.DESK))
    assert "joint_2 moved by 12 mm" in told and "joint_3 is called wrist now" in told
    assert skin_lesson.check_back(bench, "joint_2", 12, "joint_3").state == "right"
    for moved, mm, renamed in (("joint_1", 12, "joint_3"), ("joint_2", 3, "joint_3"), ("joint_2", 12, "joint_2")):
        assert skin_lesson.check_back(bench, moved, mm, renamed).state == "look again"
    assert skin_lesson.check_back(None, "joint_2", 12, "joint_3").state == "not yet"
    assert repr(lesson.bring_back(bench)).startswith("brought back: Nothing differs")


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
