"""Laws of local frames, twist and twist joints: they follow the limb wherever it is carried, and never turn over."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from rigkit.axes import BEND, CARRIED, CHOSEN, GIVEN, TIP, WAYS, check_axes, local_axes, posed
from rigkit.edits import branched, reparented
from rigkit.frames import mirror_matrix, quaternion_from_rotation, rotation_about, rotation_from_quaternion
from rigkit.kinematics import RIGHT, rest_bend
from rigkit.require import RigError
from rigkit.skeleton import Skeleton
from rigkit.tolerance import STRAIGHT_SHARE
from rigkit.twist import LESS_THAN_HALF, check_twist_joints, twist_about, twist_between, twist_joints
from rigkit.vectors import angle_between, any_square_to
from tests.shapes import random_frame

ROUND_OFF = 1e-12
CLOSE = 1e-9  # a hinge is a cross product over the straight share: round-off times 1 / 0.004, and a margin
seeds = st.integers(0, 10**6)
number = st.floats(-3, 3, allow_nan=False, width=16)  # few digits: coinciding and folded joints do turn up


def chain(places) -> Skeleton:
    count = len(places)
    return Skeleton([f"j{i}" for i in range(count)], [None, *range(count - 1)], np.asarray(places, float))


@st.composite
def trees(draw):
    count = draw(st.integers(1, 9))
    parents = [None if i == 0 else draw(st.integers(0, i - 1)) for i in range(count)]
    places = np.array([draw(st.tuples(number, number, number)) for _ in range(count)])
    return Skeleton([f"j{i}" for i in range(count)], parents, places * draw(st.sampled_from([1e-6, 1.0, 3e4])))


def curl(count: int, turn: float, sideways: float = 0.0) -> Skeleton:
    """A chain of bones of 0.1 m that bends by `turn` at every joint, and winds out of its plane by `sideways`."""
    heading, places = np.eye(3), [np.zeros(3)]
    for _ in range(count - 1):
        places.append(places[-1] + heading @ [0.1, 0, 0])
        heading = heading @ rotation_about([1, 0, 0], sideways) @ rotation_about([0, 0, 1], turn)
    return chain(places)


axis_pairs = st.tuples(st.sampled_from(list(WAYS)), st.sampled_from(list(WAYS))).filter(lambda p: p[0][-1] != p[1][-1])


@settings(max_examples=60)
@given(trees(), axis_pairs, st.booleans(), st.data())
def test_every_tree_gets_frames_with_one_axis_along_the_bone_and_one_across_it(tree, axes, keep, data):
    roots = data.draw(st.sets(st.integers(0, len(tree) - 1), max_size=2))
    frames = local_axes(tree, *axes, roots=roots, keep_sign=keep)
    for j, (rotation, told) in enumerate(zip(frames.rotations, frames.told, strict=True)):
        assert np.allclose(rotation @ rotation.T, np.eye(3), atol=CLOSE) and np.linalg.det(rotation) > 0.999
        apart = [c for c in tree.children(j) if np.linalg.norm(tree.positions[c] - tree.positions[j]) >= 1e-9]
        if not apart:
            assert told == (CHOSEN if tree.parents[j] is None else TIP)
            if tree.parents[j] is not None:
                assert np.allclose(rotation, frames.rotations[tree.parents[j]], atol=CLOSE)
            continue
        bone = tree.positions[apart[0]] - tree.positions[j]
        assert angle_between(rotation @ WAYS[axes[0]], bone) < CLOSE
        if told == BEND:
            above = tree.positions[j] - tree.positions[tree.parents[j]]
            assert abs(rotation @ WAYS[axes[1]] @ above) < CLOSE * np.linalg.norm(above) + 1e-15


def test_a_joint_alone_has_the_worlds_axes():
    for bone, hinge in (("x", "z"), ("-y", "x"), ("z", "y")):
        assert np.allclose(local_axes(chain([[1, 2, 3]]), bone, hinge).rotations[0], np.eye(3))


@settings(max_examples=40)
@given(seeds, st.integers(3, 7))
def test_frames_travel_with_the_limb_and_mirror_as_same_direction(seed, count):
    rng = np.random.default_rng(seed)
    limb = chain(rng.uniform(-1, 1, (count, 3)))
    here = local_axes(limb).rotations
    frame = random_frame(seed)
    assert np.allclose(local_axes(limb.transformed(frame)).rotations, frame.rotation @ here, atol=1e-8)
    normal = rng.normal(size=3)
    other = local_axes(limb.mirrored(rng.normal(size=3), normal)).rotations
    # A positive turn about the hinge folds both sides, so the hinge alone is reversed: diag(+, +, -).
    assert np.allclose(other, mirror_matrix(normal) @ here @ np.diag([1, 1, -1]), atol=1e-8)


@settings(max_examples=40)
@given(st.floats(0.03, 1.5), st.integers(3, 8), seeds)
def test_without_signs_kept_a_positive_turn_folds_every_bend_further(turn, count, seed):
    rng = np.random.default_rng(seed)
    places = [np.zeros(3)]
    for i in range(count):
        places.append(places[-1] + rotation_about(rng.normal(size=3), turn) @ [0.1, 0.03 * i, 0.0])
    limb = chain(places)
    frames = local_axes(limb, keep_sign=False)
    for j in (j for j, told in enumerate(frames.told) if told == BEND):
        before, after = limb.positions[j] - limb.positions[j - 1], limb.positions[j + 1] - limb.positions[j]
        hinge = frames.rotations[j][:, 2]
        assert angle_between(before, rotation_about(hinge, 0.01) @ after) > angle_between(before, after)


def test_an_s_curve_keeps_its_hinge_or_turns_it_over_as_asked():
    s = chain([[0, 0, 0], [1, 0, 0], [2, 0.5, 0], [3, 0.5, 0], [4, 0, 0], [5, 0, 0], [6, 0.4, 0]])
    kept = local_axes(s).rotations[:, :, 2]
    assert np.allclose(kept, [0, 0, 1], atol=ROUND_OFF)
    assert local_axes(s, keep_sign=False).rotations[1:6, 2, 2].round(9).tolist() == [1, -1, -1, 1, 1]
    turned_over = [twist_between(a, b, [1, 0, 0]) for a, b in zip(*(2 * [local_axes(s).rotations]), strict=True)]
    assert np.allclose(turned_over, 0, atol=ROUND_OFF)


@settings(max_examples=40)
@given(st.floats(0.05, 0.6), st.floats(-0.5, 0.5), st.integers(4, 12))
def test_a_winding_chain_twists_by_just_what_it_winds(turn, sideways, count):
    """Each bend plane is turned about the bone by `sideways` against the one before."""
    frames = local_axes(curl(count, turn, sideways)).rotations
    twists = [twist_between(a, b, [1, 0, 0]) for a, b in zip(frames[1:-2], frames[2:-1], strict=True)]
    assert np.allclose(twists, sideways, atol=1e-7)


@settings(max_examples=40)
@given(seeds)
def test_jitter_within_the_straight_share_turns_no_hinge(seed):
    """Ten joints nearly on one line, bent clearly at one: all the others take its hinge, whatever the jitter."""
    rng = np.random.default_rng(seed)
    places = np.column_stack([np.arange(10) * 0.1, np.zeros(10), np.zeros(10)])
    places[6:, 1] += np.arange(1, 5) * 0.03
    places[:, 1:] += rng.uniform(-1, 1, (10, 2)) * 0.2 * STRAIGHT_SHARE * 0.2  # a fifth of the share of 0.2 m
    frames = local_axes(chain(places))
    assert frames.told.count(BEND) == 1 and frames.told[5] == BEND and CHOSEN not in frames.told
    swing = [angle_between(h, frames.rotations[5][:, 2]) for h in frames.rotations[:, :, 2]]
    assert max(swing) < 0.02  # radians: only as far as the bones themselves are tilted by the jitter


@pytest.mark.parametrize("turn", [0.0, 1e-12, 1e-6, 1e-3, 0.1, np.pi - 1e-6, np.pi - 1e-12, np.pi])
def test_a_bend_of_any_angle_gives_finite_frames_and_no_turn_over(turn):
    limb = chain([[0, 0, 0], [1, 0.2, 0], [2, 0.2, 0], [2 + np.cos(turn), 0.2 - np.sin(turn), 0]])
    for seed in range(5):
        frame = random_frame(seed)
        hinges = local_axes(limb.transformed(frame)).rotations[:, :, 2]
        assert np.allclose(hinges, frame.rotation @ [0, 0, -1], atol=1e-6)


def test_a_tail_takes_its_hinge_from_the_spine_only_where_it_leaves_by_less_than_a_right_angle():
    for way, told in (([0.5, 0.1, 0.2], CARRIED), ([0.5, -0.1, 0.2], CHOSEN)):
        places = [[0, -1, 0.2], [0, 0, 0], [0, 1, 0], [0, 0, 0], way, np.multiply(2, way)]
        tree = Skeleton([f"j{i}" for i in range(6)], [None, 0, 1, 1, 3, 4], places)
        assert local_axes(tree).told[3] == told


def test_a_fold_direction_tells_the_hinge_where_the_limb_is_straight_and_its_sign_where_it_is_bent():
    for bend in (0.0, 0.001, 0.02, -0.02):
        places = np.array([[0, 1.4, 0], [0, 1.1, -bend], [0, 0.85, 0]])
        away = np.array([0, 0, -1.0])
        frames = local_axes(chain(places), away={1: away})
        assert frames.told[1] == (BEND if abs(bend) > 0.01 else GIVEN)
        # Whichever way it lies, a great positive turn folds it the right way.
        places[2] = places[1] + rotation_about(frames.rotations[1][:, 2], 0.6) @ (places[2] - places[1])
        assert rest_bend(*places, away).verdict == RIGHT
    with pytest.raises(RigError, match="across the bone"):
        local_axes(chain(np.zeros((3, 3)) + [[0, 2, 0], [0, 1, 0], [0, 0, 0]]), away={1: [0, -1, 0]})
    straight = local_axes(chain([[0, 2, 0], [0, 1, 0], [0, 0, 0]]))
    assert straight.told == (CHOSEN, CARRIED, TIP) and np.allclose(straight.rotations[0], straight.rotations[1])


def test_where_a_limb_begins_the_hinge_comes_from_below_and_a_leg_takes_none_from_the_spine():
    arm = chain([[0.02, 1.45, 0], [0.18, 1.45, 0], [0.2, 1.15, -0.02], [0.2, 0.9, 0]])
    own, limb = local_axes(arm), local_axes(arm, roots=[1])
    assert own.told[1] == BEND and abs(own.rotations[1][2, 2]) > 0.9  # the bend of the clavicle: forward or back
    assert limb.told[1] == CARRIED
    assert np.allclose(limb.rotations[1][:, 2], limb.rotations[2][:, 2], atol=ROUND_OFF)
    figure = chain([[0, 1, 0], [0, 1.2, 0.02], [0, 1.4, 0]])
    for name, x in (("left", 0.1), ("right", -0.1)):
        figure = branched(branched(figure, 0, f"{name}_hip", [x, 0.9, 0]), len(figure), f"{name}_knee", [x, 0.5, 0.03])
        figure = branched(figure, len(figure) - 1, f"{name}_ankle", [x, 0.1, 0])
    frames = local_axes(figure, roots=[3, 6])
    mirrored = np.diag([-1, 1, 1]) @ frames.rotations[3:6] @ np.diag([1, 1, -1])
    assert np.allclose(frames.rotations[6:9], mirrored, atol=ROUND_OFF)
    assert np.allclose(frames.rotations[3:6, 0, 2], 1, atol=1e-3)


def opens_or_folds(limb: Skeleton, frames, j: int) -> int:
    """1 where a small positive turn about joint j's hinge folds it further, -1 where it opens it."""
    before, after = limb.positions[j] - limb.positions[j - 1], limb.positions[j + 1] - limb.positions[j]
    turned = rotation_about(frames.rotations[j][:, 2], 0.01) @ after
    return int(np.sign(angle_between(before, turned) - angle_between(before, after)))


def test_a_positive_turn_folds_the_first_bend_and_those_below_only_where_they_are_told_apart():
    """A creature's hind leg: knee forward, ankle back, ball of the foot forward."""
    leg = chain([[0, 1.0, 0], [0, 0.7, 0.08], [0, 0.35, -0.12], [0, 0.05, -0.02], [0, 0, 0.1]])
    away = {1: [0, 0, 1], 2: [0, 0, -1], 3: [0, -1, 0]}
    for frames, expected in (
        (local_axes(leg), [1, -1, -1]),
        (local_axes(leg, keep_sign=False), [1, 1, 1]),
        (local_axes(leg, away=away), [1, 1, 1]),
    ):
        assert [opens_or_folds(leg, frames, j) for j in (1, 2, 3)] == expected


@pytest.mark.parametrize("joint", [99, -1, 1.0])
def test_joints_that_are_not_there_are_refused(joint):
    limb = curl(4, 0.3)
    limb = replace(limb, rotations=local_axes(limb).quaternions)
    for work in (
        lambda: check_axes(limb, joints=[joint]),
        lambda: local_axes(limb, roots=[joint]),
        lambda: local_axes(limb, away={joint: [0, 1, 0]}),
        lambda: local_axes(limb, child={joint: 1}),
        lambda: posed(limb, {joint: np.eye(3)}),
        lambda: check_twist_joints(limb, joint, 1, [2]),
        lambda: check_twist_joints(limb, 0, joint, [2]),
        lambda: check_twist_joints(limb, 0, 1, [2, joint]),
    ):
        with pytest.raises(RigError, match="a joint's number: expected a whole number from 0 to 3"):
            work()


def test_the_bone_runs_to_the_child_that_is_chosen_and_never_to_one_in_the_same_place():
    palm = Skeleton(["palm", "twin", "thumb", "index"], [None, 0, 0, 0], [[0, 0, 0], [0, 0, 0], [0, 0, 1], [1, 0, 0]])
    assert np.allclose(local_axes(palm).rotations[0][:, 0], [0, 0, 1])
    assert np.allclose(local_axes(palm, child={0: 3}).rotations[0][:, 0], [1, 0, 0])
    with pytest.raises(RigError, match="one of its children"):
        local_axes(palm, child={1: 3})
    with pytest.raises(RigError, match="two different axes"):
        local_axes(palm, "x", "-x")


# Twist ---------------------------------------------------------------------------------------------


@settings(max_examples=60)
@given(seeds, st.floats(-np.pi + 1e-9, np.pi), st.floats(0, np.pi - 1e-3))
def test_twist_is_what_is_left_when_the_bend_is_taken_out(seed, turn, bend):
    rng = np.random.default_rng(seed)
    bone = rng.normal(size=3)
    bone /= np.linalg.norm(bone)
    square = rotation_about(bone, rng.uniform(0, 7)) @ any_square_to(bone)
    lower = rotation_about(square, bend) @ rotation_about(bone, turn)
    assert np.isclose(np.remainder(twist_about(lower, bone) - turn + 1, 2 * np.pi), 1, atol=1e-9)
    base = random_frame(seed).rotation
    assert np.isclose(np.remainder(twist_between(base, base @ lower, bone) - turn + 1, 2 * np.pi), 1, atol=1e-9)
    assert twist_about(lower.T, bone) == pytest.approx(-twist_about(lower, bone), abs=1e-9) or abs(turn) > 3.14


@pytest.mark.parametrize("turn", [0.0, 1e-12, -1e-12, 3.0, np.pi - 1e-12, np.pi, -np.pi])
def test_twist_near_nought_and_half_a_turn(turn):
    found = twist_about(rotation_about([0, 1, 0], turn), [0, 1, 0])
    assert -np.pi < found <= np.pi and np.isclose(np.cos(found - turn), 1, atol=1e-14)
    assert found == pytest.approx(turn, abs=1e-14) or abs(turn) > 3.1
    assert twist_about(rotation_about([0, 0, 1], np.pi) @ rotation_about([0, 1, 0], turn), [0, 1, 0]) == 0.0


@settings(max_examples=40)
@given(seeds, st.integers(1, 6), st.floats(-LESS_THAN_HALF, LESS_THAN_HALF))
@example(0, 3, LESS_THAN_HALF)
@example(1, 3, -LESS_THAN_HALF)
def test_twist_joints_stand_evenly_on_the_line_and_share_the_turn(seed, count, turn):
    rng = np.random.default_rng(seed)
    start, end = rng.uniform(-1, 1, (2, 3))
    rotation = random_frame(seed).rotation
    places, turned = twist_joints(start, end, count, turn, rotation)
    axis = (end - start) / np.linalg.norm(end - start)
    whole = rotation_about(axis, turn) @ rotation
    quaternions = [quaternion_from_rotation(r) for r in (rotation, whole, *turned)]
    order = rng.permutation(count)
    limb = Skeleton(
        ["start", "end", *(f"roll{i}" for i in order)], [None, 0, *[0] * count],
        [start, end, *places[order]], [*quaternions[:2], *(quaternions[2 + i] for i in order)],
    )  # fmt: skip
    found = check_twist_joints(limb, 0, 1, range(2, 2 + count))
    assert [f.joint - 2 for f in found] == np.argsort(order).tolist()
    for i, one in enumerate(found, start=1):
        assert one.station == pytest.approx(i / (count + 1), abs=ROUND_OFF) and one.carries == 0
        assert max(abs(one.uneven), one.off, abs(one.turn_off)) < 1e-9


def test_what_is_wrong_with_twist_joints_is_measured():
    limb = Skeleton(
        ["elbow", "wrist", "roll1", "roll2", "thumb"], [None, 0, 0, 2, 3],
        [[0, 1, 0], [0, 0, 0], [0.01, 0.75, 0], [0, 0.25, 0], [0, 0.2, 0.1]],
        [[0, 0, 0, 1], None, [0, 0, 0, 1], [0, np.sin(0.2), 0, np.cos(0.2)], None],
    )  # fmt: skip
    first, second = check_twist_joints(limb, 0, 1, [3, 2])
    assert (first.joint, first.off, first.station) == (2, pytest.approx(0.01), pytest.approx(0.25))
    assert first.uneven == pytest.approx(0.25 - 1 / 3) and first.carries == 0 and first.turn_off is None
    assert second.carries == 1 and second.uneven == pytest.approx(0.75 - 2 / 3)
    at_rest = replace(limb, rotations=(*limb.rotations[:1], limb.rotations[0], *limb.rotations[2:]))
    first, second = check_twist_joints(at_rest, 0, 1, [3, 2])
    assert first.turn_off == pytest.approx(0) and second.turn_off == pytest.approx(-0.4)  # the bone points down
    with pytest.raises(RigError):
        check_twist_joints(reparented(limb.moved(1, [0, 1, 0]), 4, None), 0, 1, [2])
    for count in (0, 65, 1.5, True):
        with pytest.raises(RigError, match="1 to 64"):
            twist_joints([0, 0, 0], [1, 0, 0], count)
    for turn, words in ((1.5 * np.pi, "got 270 degrees"), (-np.pi, "got -180 degrees"), (90, "for radians")):
        with pytest.raises(RigError, match=f"less than half a turn.*{words}"):
            twist_joints([0, 0, 0], [1, 0, 0], 3, turn)


@pytest.mark.parametrize("bad", [np.full((3, 3), np.nan), np.diag([-1.0, 1, 1]), np.diag([1.0, 2, 3]), np.eye(4)])
def test_what_is_no_rotation_is_refused_in_words(bad):
    good = np.eye(3)
    for work in (
        lambda: twist_about(bad, [1, 0, 0]),
        lambda: twist_between(good, bad, [1, 0, 0]),
        lambda: twist_between(bad, good, [1, 0, 0]),
        lambda: twist_joints([0, 0, 0], [1, 0, 0], 2, 0.3, bad),
        lambda: quaternion_from_rotation(bad),
    ):
        with pytest.raises(RigError, match="frame's axes: expected (a rotation|finite numbers|rows of three)"):
            work()
    for turn in (np.nan, np.inf):
        with pytest.raises(RigError, match="a rotation's angle: expected a finite number"):
            rotation_about([0, 0, 1], turn)


# Frames that came with a hand-in -------------------------------------------------------------------


@settings(max_examples=40)
@given(seeds, axis_pairs, st.integers(4, 7))
def test_frames_that_were_made_are_recognised(seed, axes, count):
    limb = chain(np.cumsum(np.random.default_rng(seed).uniform(0.2, 1, (count, 3)), axis=0))
    limb = replace(limb, rotations=local_axes(limb, *axes).quaternions)
    check = check_axes(limb)
    assert check.bone == axes[0] and (check.hinge == axes[1][-1] or BEND not in local_axes(limb).told)
    for one in check.joints[:-1]:
        assert one.own == axes[0] and one.bone_off < 1e-7 and (one.hinge_off or 0) < 1e-6
    assert check.joints[-1].own is None and check.joints[-1].bone_off is None
    assert abs(check.joints[-1].twist) < 1e-7 and check.joints[0].twist is None


def test_what_is_wrong_with_frames_is_measured():
    limb = curl(6, 0.4)
    good = local_axes(limb)
    quaternions = list(good.quaternions)
    quaternions[2] = quaternion_from_rotation(good.rotations[2] @ rotation_about([1, 0, 0], 0.3))  # turned on its bone
    quaternions[3] = quaternion_from_rotation(good.rotations[3] @ rotation_about([0, 0, 1], 2.0))  # off its bone
    quaternions[4] = None
    check = check_axes(replace(limb, rotations=tuple(quaternions)))
    assert (check.bone, check.hinge) == ("x", "z") and [one.joint for one in check.joints] == [0, 1, 2, 3, 5]
    by_joint = {one.joint: one for one in check.joints}
    assert by_joint[2].twist == pytest.approx(0.3, abs=1e-9) and by_joint[2].hinge_off == pytest.approx(0.3, abs=1e-9)
    assert by_joint[2].bone_off == pytest.approx(0, abs=1e-9)
    assert by_joint[3].bone_off == pytest.approx(2.0, abs=1e-9) and by_joint[3].own == "-y"
    assert by_joint[5].twist is None
    assert check_axes(limb).bone is None and check_axes(limb).joints == ()


def test_the_side_that_same_numbers_mirrors_points_up_its_bones():
    limb = curl(5, 0.3)
    limb = replace(limb, rotations=local_axes(limb).quaternions)
    assert check_axes(limb.mirrored([0, 0, 0], [1, 0.2, 0])).bone == "-x"
    assert np.allclose(rotation_from_quaternion(limb.rotations[1])[:, 2], [0, 0, 1], atol=1e-9)
