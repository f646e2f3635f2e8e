"""Twist joints, judged: which joints are any, what is wrong with one, and that a right one or another joint costs nothing."""

from dataclasses import replace

import numpy as np
import pytest

from rigkit.files.exercise import read_exercise
from rigkit.files.layout import Layout
from rigkit.files.rubrics import read_rubric
from rigkit.limbs import practice_limb
from rigkit.make_exercise import make_exercise
from rigkit.marking import mark
from rigkit.mended import mended
from rigkit.skeleton import Skeleton
from rigkit.tables import data_folder
from tests.arms import arm

KEY = arm().key.skeleton
FOREARM = KEY.positions[2] - KEY.positions[1]


def with_more(*rows, key=KEY, child=None):
    """Joints more, each (name, parent, station on the forearm or place); child: (joint, its new parent)."""
    names, parents, places = list(key.names), list(key.parents), list(key.positions)
    for name, parent, place in rows:
        names.append(name)
        parents.append(parent)
        places.append(key.positions[1] + place * FOREARM if isinstance(place, float) else place)
    if child:
        parents[child[0]] = child[1]
    return Layout("wren", "", 1, Skeleton(tuple(names), tuple(parents), np.array(places)))


def found(layout, exercise=None, rubric=None):
    return [(one.joint, one.finding) for one in mark(layout, exercise or arm(), rubric).findings]


BESIDE = KEY.positions[1] + 0.5 * FOREARM + np.array([0.0, 0.0, 0.016])  # half a radius off the line


@pytest.mark.parametrize(("rows", "child", "faults"), [
    ([("left_wrist_twist", 1, 0.5)], None, []),
    ([("left_wrist_twist", 1, 0.5)], (2, 3), []),  # the wrist may hang on it: a chain is as good
    ([("a_twist", 1, 1 / 3), ("b_twist", 1, 2 / 3)], None, []),
    ([("b_twist", 1, 2 / 3), ("a_twist", 1, 1 / 3)], (2, 3), []),
    ([("a_twist", 1, 0.25), ("b_twist", 3, 0.5), ("c_twist", 4, 0.75)], (2, 5), []),
    ([("left_wrist_twist", 1, 0.59)], None, []),
    ([("left_wrist_twist", 1, 0.61)], None, [("left_wrist_twist", "twist-uneven")]),
    ([("left_forearm_roll", 1, 0.25)], None, [("left_forearm_roll", "twist-uneven")]),
    ([("joint_7", 1, 0.25)], None, [("joint_7", "twist-uneven")]),  # its place says what it is
    ([("left_elbow_2", 1, 0.25)], (2, 3), [("left_elbow_2", "twist-uneven")]),
    ([("left_radius", 1, 0.25)], (2, 3), []),  # its name says something else
    ([("left_elbow_helper", 1, 0.25)], None, []),
    ([("left_wrist_twist", 2, 0.25)], None, []),  # it follows the wrist, and shares no turn of the forearm's
    ([("a_twist", 1, 0.05), ("b_twist", 1, 0.5)], None, [("a_twist", "twist-uneven"), ("b_twist", "twist-uneven")]),
    ([("left_wrist_twist", 1, BESIDE)], None, [("left_wrist_twist", "twist-off-line")]),
    ([("joint_7", 1, BESIDE)], None, []),  # beside the bone a joint without a word is a helper
    ([("left_wrist_twist", 1, 0.5), ("cuff", 3, BESIDE)], None, [("left_wrist_twist", "twist-carries")]),
    ([("left_wrist_twist", 1, 0.5), ("left_wrist_twist_end", 3, BESIDE)], None, []),  # ignored by name
    ([("left_wrist_twist", 1, 0.5), ("fin", 3, KEY.positions[1] + [0, 0, -0.12])], None, [("fin", "joint-extra")]),
    ([("left_wrist_twist", 1, KEY.positions[2] + [0, 0.003, 0])], None, [("left_wrist_twist", "joint-doubled")]),
])  # fmt: skip
def test_what_is_a_twist_joint_and_what_is_wrong_with_it(rows, child, faults):
    assert sorted(found(with_more(*rows, child=child))) == faults


def test_it_costs_little_and_its_mend_leaves_nothing():
    layout = with_more(("left_wrist_twist", 1, 0.25))
    result = mark(layout, arm(), after=True)
    (one,) = result.findings  # 0.25 off, 0.1 allowed, 0.3 failing: three quarters of a tenth of 15 of 100
    assert one.cost == pytest.approx(0.75 * 0.1 * 15, abs=0.01) and one.mark_after == 100.0
    assert one.measured == pytest.approx(250 * np.linalg.norm(FOREARM), abs=0.01)
    assert one.mend.startswith("Slide the joint left_wrist_twist along its bone: down ")
    assert not any("left_wrist_twist" in notice for notice in result.notices)  # "do no harm" is for the others
    done = mended(layout, arm(), result.findings).skeleton
    assert np.linalg.norm(done.positions[3] - KEY.positions[1] - 0.5 * FOREARM) < 0.001
    strict = mark(layout, arm(), read_rubric("strict"))
    assert strict.mark < result.mark < mark(layout, arm(), read_rubric("first-week")).mark


def test_what_hangs_on_it_is_hung_on_the_joint_above():
    layout = with_more(("left_wrist_twist", 1, 0.5), ("cuff", 3, BESIDE))
    (one,) = mark(layout, arm(), after=True).findings
    assert (one.measured, one.mend, one.mark_after) == ("cuff", "Make the elbow the cuff's parent.", 100.0)
    assert mended(layout, arm(), [one]).skeleton.parents == (None, 0, 1, 1, 1)


@pytest.mark.parametrize("shift", [[0.05, 0, 0], [0, 0, 0.05], [0.0, -0.06, 0.02]])
def test_a_misplaced_elbow_does_not_misplace_the_twist_joints_of_its_bones(shift):
    """They stand where they stood, or went along: either is right."""
    moved = KEY.moved(1, KEY.positions[1] + shift)
    places = KEY.positions, moved.positions
    for where in places:
        twist = ("left_wrist_twist", 1, 0.5 * (where[1] + where[2]))
        upper = ("left_elbow_twist", 0, 0.5 * (where[0] + where[1]))
        assert {joint for joint, _ in found(with_more(twist, upper, key=moved))} == {"elbow"}


def test_a_hand_has_joints_of_its_own_in_the_palm(tmp_path):
    hand = read_exercise(make_exercise(tmp_path / "hand", practice_limb("arm", 5, "left")))
    key, roles = hand.key.skeleton, [joint.role for joint in hand.joints]
    wrist, knuckle = roles.index("wrist"), roles.index("middle 1")
    bone = key.positions[knuckle] - key.positions[wrist]

    def with_palm(name, station, carries=knuckle):
        place = key.positions[wrist] + station * bone
        parents = [len(key) if i == carries else p for i, p in enumerate(key.parents)]
        return Layout("wren", "", 1, Skeleton((*key.names, name), (*parents, wrist), np.vstack([key.positions, place])))

    assert found(with_palm("left_middle_metacarpal", 0.25), hand) == []
    assert found(with_palm("joint_20", 0.25), hand) == []
    assert found(with_palm("left_middle_1_twist", 0.5), hand) == []
    assert found(with_palm("left_middle_1_twist", 0.25), hand) == [("left_middle_1_twist", "twist-uneven")]
    faults = found(with_palm("left_middle_1_twist", 0.5, carries=roles.index("ring 1")), hand)
    assert faults == [("left_middle_1_twist", "twist-carries")]


def test_a_rubric_without_a_word_of_twist_joints_does_not_judge_them(tmp_path):
    lines = (data_folder() / "rubrics" / "standard.toml").read_text("utf-8").splitlines()
    path = tmp_path / "older.toml"
    path.write_text("\n".join(line for line in lines if not line.startswith(("twist", "scale")) or "roll" in line
                              or line.startswith("twist_failing = 60")))  # fmt: skip
    older = read_rubric(path)
    assert (older["structure.twist"], older["frames.twist_failing"]) == (0.0, 60.0)
    layout = with_more(("left_wrist_twist", 1, 0.25))
    assert mark(layout, arm(), older).findings == () and mark(layout, replace(arm(), rubric=older)).mark == 100.0
