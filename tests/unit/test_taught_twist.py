"""Lesson 9 says what is true: its numbers are the measured ones, its faults are the marks' own, its answers mend them."""

import re

import numpy as np
import pytest

from rigkit import progress
from rigkit.anatomy import range_of_motion
from rigkit.require import RigError
from rigkit.tables import data_folder, read_table
from rigkit.taught import axes_work, forearm_twist, own_axes, twist_work
from rigkit.taught.turning_panel import turn_by_hand
from rigkit.told import LOOK_AGAIN, RIGHT
from tests.lessons.books import LESSONS, read

BOOK = "09_give_it_axes_share_the_twist.ipynb"


def prose(cell: str) -> str:
    return " ".join(next(one.source for one in read(BOOK).cells if one.id == cell).split())


def test_the_prose_says_what_the_skin_keeps():
    kept = {(turn, count): forearm_twist.thinnest(turn, count) for turn in (90, 150) for count in range(4)}
    told = prose("table-read")
    assert f"from {kept[150, 0]} to {kept[150, 1]} per cent" in told
    assert f"The second brings {kept[150, 2]}, the third {kept[150, 3]}" in told
    assert f"At 90 degrees one alone keeps {kept[90, 1]}." in told
    assert f"{kept[150, 0]} per cent" in read_table(data_folder() / "outcomes.toml")["wrist-keeps"]


def test_the_prose_says_how_long_the_forearm_is_and_what_the_tables_have():
    assert f"forearm is {forearm_twist.length_mm()} mm long" in prose("stand")
    for motion, numbers in (("pronation", {80, 76}), ("supination", {80, 82})):
        span = range_of_motion("forearm", motion)
        assert {span.least, span.most} == numbers
    assert "80 degrees for either (AAOS), or 76 and 82 (Boone & Azen 1979" in prose("forearm")


@pytest.mark.parametrize("turn", [60, 90, 120, 150])
def test_a_step_keeps_the_cosine_of_its_half_at_the_wrist(turn):
    kept = forearm_twist._kept(turn, (), ())
    at_the_wrist = np.interp(1.0, forearm_twist.SLICES, kept)
    assert at_the_wrist == pytest.approx(100 * np.cos(np.radians(turn / 2)), abs=1.0)


def test_more_twist_joints_never_leave_a_thinner_place():
    kept = [forearm_twist.thinnest(150, count) for count in range(6)]
    assert kept == sorted(kept) and len(set(kept)) == 6


def test_a_positive_turn_brings_the_palm_to_the_back():
    """The thumb, in front at rest, goes in to the thigh: pronation."""
    rest, turned = forearm_twist.orlos_arm()[0], forearm_twist._turned(90.0, (), ())
    thumb = np.argmax(rest.vertices[:, 2] * (rest.vertices[:, 1] < 0.9))
    wrist = forearm_twist.orlos_arm()[1][2]
    step = turned.vertices[thumb] - rest.vertices[thumb]
    assert step[0] < -0.02 and turned.vertices[thumb][2] - wrist[2] < 0.02


def test_each_joint_has_the_one_fault_that_the_lesson_names():
    found = {one.joint: one.finding for one in own_axes.orlo().charges()}
    assert found == {"shoulder": "axis-other", "elbow": "hinge-off", "wrist": "axis-off-bone"}
    assert re.search(r"dotted arrow lies 40 degrees off", prose("why"))


def test_turning_back_what_was_done_is_right_and_turns_do_not_add_up():
    arm = own_axes.orlo()
    for joint, (about, degrees) in own_axes.ASKEW.items():
        arm.set_axes(joint, about, 17)
        arm.set_axes(joint, about, -degrees)
    assert axes_work.check(arm).state == RIGHT and arm.charges() == []


@pytest.mark.parametrize("degrees, state", [(-40, RIGHT), (320, RIGHT), (140, LOOK_AGAIN), (-220, LOOK_AGAIN)])
def test_a_hinge_that_points_the_other_way_is_not_right(degrees, state):
    arm = own_axes.orlo()
    for joint, (about, askew) in own_axes.ASKEW.items():
        arm.set_axes(joint, about, degrees if joint == "elbow" else -askew)
    carried = own_axes.posed(arm.skeleton, {1: own_axes._about("z", 60)})
    forward = (carried[1] @ arm.skeleton.positions[3] - arm.skeleton.positions[3])[2]
    assert axes_work.check(arm).state == state and (forward > 0.1) == (state == RIGHT)


def test_with_the_palm_to_the_thigh_the_wrist_s_z_tilts_to_the_thumb_and_y_nods():
    arm = own_axes.orlo()
    for joint, (about, degrees) in own_axes.ASKEW.items():
        arm.set_axes(joint, about, -degrees)
    skeleton, steps = arm.skeleton, {}
    for letter in "zy":
        carried = own_axes.posed(skeleton, {2: own_axes._about(letter, 60)})
        steps[letter] = carried[2] @ skeleton.positions[3] - skeleton.positions[3]
    assert steps["z"][2] > 0.06 > 0.01 > abs(steps["y"][2])  # the thumb points forward
    assert steps["y"][0] > 0.03 and np.hypot(*steps["y"][:2]) > 0.06  # the back of the hand faces out


@pytest.mark.parametrize("places, turns, above, right", [
    ((84, 167), (50, 100), "elbow", True), ((84, 167), (50, 50), "twist_2", True), ((84, 167), (50, 50), "elbow", False),
    ((84, 167), (50, 100), "twist_2", False), ((63, 126), (37, 38), "twist_2", False),
    ((126, 251), (75, 150), "elbow", False),
])  # fmt: skip
def test_twist_joints_stand_beside_the_wrist_or_in_line_with_their_own_steps(places, turns, above, right):
    forearm = twist_work.Forearm()
    forearm.put(*places)
    forearm.share(*turns)
    forearm.hang_wrist(on=above)
    assert (twist_work.check(forearm).state == RIGHT) == right


def test_in_line_and_beside_the_skin_is_the_same():
    pictures = []
    for turns, above in (((50, 100), "elbow"), ((50, 50), "twist_2")):
        forearm = twist_work.Forearm()
        forearm.put(84, 167)
        forearm.share(*turns)
        forearm.hang_wrist(on=above)
        pictures.append(forearm.picture().plates)
    assert pictures[0] == pictures[1]


def test_only_mended_axes_fold_the_elbow_straight_forward():
    askew, mended = own_axes.orlo(), own_axes.orlo()
    mended.set_axes("elbow", "x", -40)
    aside = []
    for arm in (askew, mended):
        skeleton = arm.skeleton
        carried = own_axes.posed(skeleton, {1: own_axes._about("z", 60)})
        forward = carried[1] @ skeleton.positions[3] - skeleton.positions[3]
        plane = np.cross(skeleton.positions[2] - skeleton.positions[0], [0.0, 0.0, 1.0])
        aside.append(abs(forward @ plane) / np.linalg.norm(plane))
        assert forward[2] > 0.1
    assert aside[0] > 0.1 and aside[1] < 0.005


def test_the_second_exercise_has_one_answer():
    said = []
    for count in range(7):
        said.append(twist_work.check_count(count).state == RIGHT)
    assert said == [False, False, False, True, False, False, False]


def test_the_panel_follows_its_controls_and_the_mended_axes():
    arm = own_axes.orlo()
    plates, *rows = turn_by_hand(arm).panel.children
    (joint, about), (slider, box) = (row.children for row in rows)
    assert all(control.description for control in (joint, about, slider, box)), "a control without a name"
    seen = [plates.value]
    for change in (lambda: setattr(box, "value", 40), lambda: setattr(about, "value", "x"),
                   lambda: setattr(joint, "value", "wrist"), lambda: setattr(slider, "value", -30)):  # fmt: skip
        change()
        seen.append(plates.value)
    assert len(set(seen)) == 5 and box.value == -30
    assert "wrist turned by -30° about x" in seen[-1]
    arm.set_axes("wrist", "y", -25)
    slider.value = 0
    slider.value = -30
    assert plates.value != seen[-1]


@pytest.mark.parametrize("joint, about, degrees", [
    (joint, about, degrees) for joint in own_axes.ASKEW for about in "xyz" for degrees in (-120, -40, 25, 100)
])  # fmt: skip
def test_the_check_sends_nobody_back_and_forth(joint, about, degrees):
    """Whoever follows it, by steps that grow smaller, arrives; or is told, at either sign, that the axis is another."""
    arm, step, told = own_axes.orlo(), 45.0, []
    for other, (way, askew) in own_axes.ASKEW.items():
        if other != joint:
            arm.set_axes(other, way, -askew)
    for _ in range(60):
        arm.set_axes(joint, about, degrees)
        told.append(axes_work.check(arm))
        if told[-1].state == RIGHT or "another axis" in told[-1].next_step:
            break
        if "180° more" in told[-1].next_step:
            degrees -= 180 if degrees > 0 else -180
            continue
        way = {"the other way": -np.sign(degrees), "further": np.sign(degrees), "less far": -np.sign(degrees)}
        degrees += step * next(sign for words, sign in way.items() if words in told[-1].next_step)
        degrees, step = degrees or 1.0, max(4.0, 0.7 * step)
    mends = about == own_axes.ASKEW[joint][0]
    assert told[-1].state == RIGHT if mends else "another axis" in told[-1].next_step, [one.next_step for one in told]


def test_a_refused_line_stops_its_cell_and_keeps_nothing():
    """Known wrong answer: an error in any line but the last vanished, and the check said right from values of before.

    A cell that stops is told in words, and its check waits (`progress`); each answer cell begins anew."""
    page = next(one for one in progress.pages(LESSONS) if one.number == "9")
    for check in ("axes-check", "own-check", "count-check", "place-check"):
        assert page.answers[check] == {check.replace("check", "answer")}
    arm = own_axes.orlo()
    arm.set_axes("Elbow", "X", -40)
    with pytest.raises(RigError, match="an axis of the elbow: expected one of x, y, z"):
        arm.set_axes("elbow", "w", -40)
    assert arm.turns == {}
    for wrong in (lambda: arm.set_axes("elbw", "x", 1), lambda: twist_work.Forearm().put(84),
                  lambda: twist_work.Forearm().put("84", "167"), lambda: twist_work.Forearm().hang_wrist("hand"),
                  lambda: twist_work.Forearm().share(-50, 100), lambda: arm.set_axes("elbow", "x", "40")):  # fmt: skip
        with pytest.raises(RigError):
            wrong()


def test_arrows_are_told_apart_in_the_turned_view():
    """40 degrees between any two arrows of a joint, as the module says, and none a stub."""
    view = own_axes._views(own_axes.orlo().exercise, own_axes.orlo().exercise.mesh.vertices)["turned"]
    for degrees in (0.0, 1.0):
        arm = own_axes.orlo()
        for joint, (about, askew) in own_axes.ASKEW.items():
            arm.set_axes(joint, about, -askew * degrees)
        for joint in arm.names:
            flat = arm.axes(joint).T @ np.stack([view.right, view.up], axis=1)
            long = np.linalg.norm(flat, axis=1)
            between = np.degrees(np.arccos((flat @ flat.T / np.outer(long, long))[np.triu_indices(3, 1)]))
            assert long.min() > 0.5 and between.min() > 40.0, joint


def test_with_equal_shares_there_are_two_pits():
    """As the lesson asks: one at the upper twist joint, one at the wrist."""
    forearm = twist_work.Forearm()
    forearm.put(84, 167)
    forearm.share(75, 75)
    forearm.hang_wrist(on="elbow")
    kept = forearm_twist._kept(twist_work.TURN, *forearm._stations)
    pits = [place for place in range(1, len(kept) - 1) if kept[place] < min(kept[place - 1], kept[place + 1])]
    places = forearm_twist.SLICES[pits] * forearm_twist.length_mm()
    assert places == pytest.approx([84, 251], abs=5)
