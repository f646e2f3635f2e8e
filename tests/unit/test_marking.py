"""Marking one layout: the contract's entry, the faults of the tree, the limb elsewhere, other exercises."""

import json
from dataclasses import replace

import numpy as np
import pytest

from rigkit.files.layout import Layout
from rigkit.files.rubrics import read_finding_kinds
from rigkit.marking import mark
from rigkit.require import RigError
from rigkit.skeleton import Skeleton
from tests.arms import arm, layout, named, with_joint


def found(result) -> set[tuple[str, str]]:
    return {(one.joint, one.finding) for one in result.findings}


def test_the_key_has_full_marks():
    result = mark(arm().key, arm())
    assert (result.mark, result.status, result.findings, result.notices) == (100.0, "marked", (), ())


def test_the_entry_is_the_contracts():
    entry = mark(named("a", "left_elbow", "left_wrist"), arm(), file="wren.json").to_dict()
    assert set(entry) == {
        "id",
        "file",
        "status",
        "reason",
        "mark",
        "criteria",
        "caps",
        "measurements",
        "findings",
        "notices",
    }
    assert set(entry["criteria"]) == {"structure", "centring", "fold", "bend", "frames", "names", "mirror"}
    for score in entry["criteria"].values():
        assert set(score) == {"score", "weight", "judged"}
        assert score["score"] is None or 0 <= score["score"] <= 1
    for one in entry["findings"]:
        assert set(one) == {"finding", "joint", "criterion", "measured", "allowed", "unit", "cost", "message", "mend"}
        kind = read_finding_kinds()[one["finding"]]
        assert (one["criterion"], one["unit"]) == (kind.criterion, kind.unit)
    for one in entry["measurements"]:
        assert set(one) == {"joint", "measure", "value", "unit"}
    json.dumps(entry, allow_nan=False)


def test_no_wrist():
    key = arm().key.skeleton
    result = mark(layout(Skeleton(key.names[:2], key.parents[:2], key.positions[:2])), arm())
    assert found(result) == {("wrist", "joint-missing")}
    assert result.mark == 60.0
    assert not result.criteria["bend"].judged
    # structure 2/3 of 15, the rest of what can be judged right: 100 x (10 + 30 + 15 + 15) / 75
    assert result.caps == ({"finding": "joint-missing", "cap": 60.0, "before": 93.3, "took": 33.3},)


def test_the_elbow_alone():
    key = arm().key.skeleton
    result = mark(layout(Skeleton(key.names[1:2], (None,), key.positions[1:2])), arm())
    assert found(result) == {("shoulder", "joint-missing"), ("wrist", "joint-missing")}
    assert (result.mark, result.caps[0]["cap"]) == (30.0, 30.0)


def test_a_joint_in_its_place_under_an_ignored_name_is_charged_for_its_name_alone():
    result = mark(named("left_clavicle", "left_elbow", "left_wrist_end"), arm())
    assert {one.joint for one in result.findings} == {"shoulder", "wrist"}
    assert {one.criterion for one in result.findings} == {"names"}
    assert result.mark > 85


@pytest.mark.parametrize(("turn", "words"), [
    (np.diag([-1.0, 1.0, 1.0]), "the joints lie on the character's right side, about 720 mm from this limb"),
    (np.diag([1.0, -1.0, 1.0]), "the joints lie about 2300 mm from this limb"),
])  # fmt: skip
def test_the_whole_limb_elsewhere_is_one_finding(turn, words):
    key = arm().key.skeleton
    result = mark(layout(key.at(key.positions @ turn.T)), arm())
    assert found(result) == {("limb", "limb-elsewhere")}
    assert result.mark == 0.0 and result.notices == ()
    assert words in result.findings[0].message
    assert result.findings[0].mend == "Check the side, the axes and the units of the export, and export it again."


def test_two_joints_in_one_place_cap_the_mark():
    key = arm().key.skeleton
    for gap, coincide in ((0.0, True), (0.0009, True), (0.0011, False)):
        result = mark(layout(key.moved(1, key.positions[0] + [0, gap, 0])), arm())
        assert (("elbow", "joints-coincide") in found(result)) == coincide
        assert (result.mark == 40.0) == coincide


@pytest.mark.parametrize(("change", "finding", "cap"), [
    ("outside", ("wrist", "outside-flesh"), 60.0), ("elsewhere", ("wrist", "elsewhere"), 60.0),
    ("parent", ("wrist", "wrong-parent"), 60.0),
])  # fmt: skip
def test_gross_faults_cap_the_mark(change, finding, cap):
    key = arm().key.skeleton
    down = arm().asked("wrist").plane
    skeleton = {
        "outside": key.moved(2, key.positions[2] + [0, 0, 0.08]),
        "elsewhere": key.moved(2, key.positions[2] - 0.05 * down),
        "parent": replace(key, parents=(None, 0, 0)),
    }[change]
    result = mark(layout(skeleton), arm())
    assert finding in found(result) and result.mark == cap
    assert (result.caps[0]["finding"], result.caps[0]["cap"]) == (finding[1], cap)
    taken = sum(one.cost for one in result.findings) + result.caps[0]["took"]
    assert taken + result.mark == pytest.approx(100, abs=0.1)


def test_no_shoulder_is_charged_once():
    key = arm().key.skeleton
    result = mark(layout(Skeleton(key.names[1:], (None, 0), key.positions[1:])), arm())
    assert found(result) == {("shoulder", "joint-missing")}


def test_nothing_but_ignored_joints():
    result = mark(layout(Skeleton(("root",), (None,), np.zeros((1, 3)))), arm())
    assert found(result) == {(role, "joint-missing") for role in ("shoulder", "elbow", "wrist")}
    assert result.mark == 0.0


@pytest.mark.parametrize(
    ("parents", "wrong"),
    [
        ((None, 0, 0), {"wrist"}),
        ((None, None, 1), {"elbow"}),
        ((None, None, None), {"elbow", "wrist"}),
        ((1, None, 1), {"shoulder", "elbow"}),
        ((None, 2, 0), {"elbow", "wrist"}),
    ],
)
def test_wrong_parents(parents, wrong):
    result = mark(layout(replace(arm().key.skeleton, parents=parents)), arm())
    assert found(result) == {(role, "wrong-parent") for role in wrong}


KEY = np.array([[0.19, 1.3906, 0.0], [0.3751, 1.12869, -0.01801], [0.51956, 0.92429, 0.0]])


@pytest.mark.parametrize(
    ("extra", "finding", "noticed"),
    [
        (("left_clavicle", None, KEY[0] - [0.08, 0, 0], 0), None, False),  # good practice, ignored by name
        (("left_hand_end", 2, KEY[2] + [0.05, -0.07, 0]), None, False),
        (("left_scapula", None, KEY[0] - [0.08, 0, 0], 0), None, True),  # above the exercise's top
        (("left_thumb", 2, KEY[2] + [0.03, -0.03, 0.03]), None, True),  # below its last joint
        (("left_elbow_twist", 1, 0.5 * (KEY[1] + KEY[2])), None, True),  # on the bone's line, nothing below
        (("left_elbow_helper", 1, KEY[1] + [0, 0, -0.03]), None, True),  # in the flesh beside a bone
        (("fin", 1, KEY[1] + [0, 0, -0.08]), ("fin", "joint-extra"), False),  # in the limb's chain, off in the air
        (("left_forearm", 1, 0.5 * (KEY[1] + KEY[2]), 2), None, True),  # on the bone's line, between two asked ones
        (("bump", 1, 0.5 * (KEY[1] + KEY[2]) + [0, 0, 0.04], 2), ("bump", "joint-extra"), False),
        (("stray", None, KEY[1] + [0.1, 0, 0.3]), None, True),  # in no chain of the limb
        (("left_elbow", None, KEY[1] * [-1, 1, 1]), None, True),
        (("joint_4", 1, KEY[2] + [0, 0.002, 0]), ("joint_4", "joint-doubled"), False),
        (("left_wrist", 2, KEY[2] + [0.05, -0.07, 0]), ("left_wrist (joint 3)", "joint-doubled"), False),
        (("elbow", 2, KEY[1] + [0.001, 0, 0]), ("elbow (joint 3)", "joint-doubled"), False),
    ],
)
def test_joints_that_were_not_asked_for(extra, finding, noticed):
    result = mark(with_joint(*extra), arm())
    assert found(result) == ({finding} if finding else set())
    assert len(result.notices) == noticed
    assert result.mark == (97.0 if finding else 100.0)


def test_the_rest_of_the_body_costs_nothing_and_is_one_notice():
    key = arm().key.skeleton
    names = ("chest", "neck", "head", "right_shoulder", "right_elbow", "right_wrist", *key.names)
    parents = (None, 0, 1, 0, 3, 4, 0, 6, 7)
    trunk = np.array([[0, 1.3, 0], [0, 1.5, 0], [0, 1.6, 0]])
    positions = np.vstack([trunk, key.positions * [-1, 1, 1], key.positions])
    result = mark(layout(Skeleton(names, parents, positions)), arm())
    assert (result.mark, result.findings, len(result.notices)) == (100.0, (), 1)
    assert result.notices[0] == ("Joints that were not asked for and do no harm: chest, head, neck, right_elbow, "
                                 "right_shoulder, right_wrist.")  # fmt: skip


def test_many_joints_too_many_are_one_finding():
    key = arm().key.skeleton
    spikes = [KEY[1] + [0, 0, -0.1 - 0.01 * i] for i in range(12)]
    skeleton = Skeleton((*key.names, *(f"spike_{i:02}" for i in range(12))), (*key.parents, *[1] * 12),
                        np.vstack([key.positions, spikes]))  # fmt: skip
    result = mark(layout(skeleton), arm())
    assert [one.finding for one in result.findings] == ["joint-extra"]
    assert result.findings[0].message == "12 joints were not asked for: spike_00, spike_01, spike_02 and 9 more."
    assert result.mark == 85.0


def test_another_exercise_is_refused():
    with pytest.raises(RigError, match="a hand-in for left-arm, got one for right-leg"):
        mark(Layout("wren", "right-leg", 1, arm().key.skeleton), arm())
    assert mark(Layout("wren", "", 1, arm().key.skeleton), arm()).mark == 100.0


def test_joints_in_one_place_are_marked_not_refused():
    key = arm().key.skeleton
    result = mark(layout(key.at(np.tile(key.positions[1], (3, 1)))), arm())
    assert result.status == "marked"
    assert result.criteria["bend"].score == 0.0
    assert ("elbow", "too-straight") in found(result)
    assert result.mark < 60


def test_numbers_are_the_same_for_the_right_side():
    """Mirrored exercise and hand-in: same mark, same measurements, the same words with in and out."""
    exercise = arm()
    flip = np.array([-1.0, 1.0, 1.0])
    joints = []
    for asked in exercise.joints:
        fold = asked.fold and replace(asked.fold, away=asked.fold.away * flip)
        joints.append(replace(
            asked, fold=fold, plane=None if asked.plane is None else asked.plane * flip,
            stretch=None if asked.stretch is None else asked.stretch * flip,
            centre=None if asked.centre is None else asked.centre * flip,
        ))  # fmt: skip
    mesh = exercise.mesh.mirrored(np.zeros(3), np.array([1.0, 0.0, 0.0]))
    right = replace(exercise, side="right", joints=tuple(joints), mesh=mesh)
    skeleton = exercise.key.skeleton
    skeleton = skeleton.at(skeleton.positions + [[0.03, 0, 0], [0.02, 0.01, 0.03], [0, 0.05, 0]])
    names = tuple(name.replace("left", "right") for name in skeleton.names)
    other = replace(skeleton, names=names, positions=skeleton.positions * flip)
    one, two = mark(layout(skeleton), exercise), mark(layout(other), right)
    assert one.mark == two.mark
    assert [f.mend for f in one.findings] == [f.mend for f in two.findings]
    assert any(" in " in f.mend for f in one.findings)


STORED_MM = 0.005  # the key's places are written to 0.01 mm, the mesh to float32


def test_the_key_lies_in_the_middle_that_is_measured():
    facts = {(m.joint, m.measure): m.value for m in mark(arm().key, arm()).measurements}
    assert facts["elbow", "offset"] < STORED_MM
    assert facts["wrist", "offset"] < STORED_MM
    # the elbow's line and bend from the key's numbers alone: 18.01 mm behind a line of |wrist - shoulder|
    assert facts["elbow", "bend"] == pytest.approx(18.01, abs=STORED_MM)
    assert facts["elbow", "bend-line"] == pytest.approx(1000 * np.linalg.norm(KEY[2] - KEY[0]), abs=STORED_MM)


@pytest.mark.parametrize(("role", "millimetres", "words"), [
    ("wrist", 40, "too far down the limb, below"), ("wrist", -40, "too far up the limb, above"),
    ("elbow", 60, "too far down the limb, below"), ("elbow", -60, "too far up the limb, above"),
])  # fmt: skip
def test_station_along_the_limb(role, millimetres, words):
    asked = arm().asked(role)
    span = asked.stretch[1] - asked.stretch[0]
    half = 500 * np.linalg.norm(span)
    key = arm().key.skeleton
    number = key.index(f"left_{role}")
    place = asked.middle + span / np.linalg.norm(span) * millimetres / 1000
    result = mark(layout(key.moved(number, place)), arm())
    told = next(one for one in result.findings if one.finding == "off-station")
    assert told.joint == role
    assert told.measured == pytest.approx(abs(millimetres) - half, abs=STORED_MM)
    assert words in told.message
