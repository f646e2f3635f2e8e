"""Laws of frames, skeletons and meshes: what undoes, what keeps lengths, what twice is nothing."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigkit.frames import (
    Frame,
    quaternion_from_rotation,
    rotation_about,
    rotation_between,
    rotation_from_quaternion,
)
from rigkit.require import RigError
from rigkit.skeleton import Skeleton
from rigkit.vectors import angle_between

ROUND_OFF = 1e-12  # a short chain of products of numbers near one

number = st.floats(-10, 10, allow_nan=False)
arrow = st.tuples(number, number, number).map(np.array).filter(lambda v: np.linalg.norm(v) > 1e-3)
angle = st.floats(-2 * np.pi, 2 * np.pi)
frame = st.builds(lambda axis, turn, origin: Frame(rotation_about(axis, turn), origin), arrow, angle, arrow)


@given(frame, arrow)
def test_the_inverse_undoes(a_from_b, point):
    assert np.allclose(a_from_b.inverse() @ (a_from_b @ point), point, atol=50 * ROUND_OFF)


@given(frame, frame, arrow)
def test_frames_compose(a_from_b, b_from_c, point):
    assert np.allclose((a_from_b @ b_from_c) @ point, a_from_b @ (b_from_c @ point), atol=50 * ROUND_OFF)


@given(arrow, angle)
def test_a_rotation_keeps_lengths_and_its_axis(axis, turn):
    rotation = rotation_about(axis, turn)
    assert np.allclose(rotation @ rotation.T, np.eye(3), atol=ROUND_OFF)
    assert np.allclose(rotation @ axis, axis, atol=50 * ROUND_OFF)


@given(arrow, arrow)
def test_rotation_between_carries_one_to_the_other_by_the_least_turn(start, end):
    rotation = rotation_between(start, end)
    assert angle_between(rotation @ start, end) < 1e-7  # square root of round-off: directions near opposite
    turn = np.arctan2(np.linalg.norm(rotation - rotation.T) / np.sqrt(8) * 1.0, (np.trace(rotation) - 1) / 2)
    assert turn == pytest.approx(angle_between(start, end), abs=1e-6)


@pytest.mark.parametrize("turn", [0.0, 1e-12, 1e-9, np.pi / 2, np.pi - 1e-12, np.pi])
@given(axis=arrow)
def test_quaternion_and_rotation_undo_each_other_also_at_zero_and_half_turns(turn, axis):
    rotation = rotation_about(axis, turn)
    assert np.allclose(rotation_from_quaternion(quaternion_from_rotation(rotation)), rotation, atol=ROUND_OFF)


@pytest.mark.parametrize("turn", [0.0, 1e-12, 1e-8, 1.0, np.pi - 1e-12, np.pi])
def test_angles_are_exact_where_acos_is_not(turn):
    assert angle_between(np.array([2.0, 0, 0]), np.array([np.cos(turn), np.sin(turn), 0])) == pytest.approx(
        turn, abs=1e-15
    )


@st.composite
def skeletons(draw):
    count = draw(st.integers(1, 8))
    parents = tuple(None if i == 0 else draw(st.integers(0, i - 1)) for i in range(count))
    turns = draw(st.lists(angle, min_size=count, max_size=count))
    rotations = tuple(quaternion_from_rotation(rotation_about([1.0, 2.0, -1.0], t)) for t in turns)
    return Skeleton(
        tuple(f"joint_{i}" for i in range(count)), parents, np.array([draw(arrow) for _ in range(count)]), rotations
    )


def same_turns(a: Skeleton, b: Skeleton) -> bool:
    return all(
        np.allclose(rotation_from_quaternion(p), rotation_from_quaternion(q), atol=100 * ROUND_OFF)
        for p, q in zip(a.rotations, b.rotations, strict=True)
    )


@given(skeletons(), arrow, arrow)
def test_mirror_twice_is_nothing(skeleton, point, normal):
    twice = skeleton.mirrored(point, normal).mirrored(point, normal)
    assert np.allclose(twice.positions, skeleton.positions, atol=100 * ROUND_OFF)
    assert same_turns(twice, skeleton)


@given(skeletons(), frame)
def test_carried_there_and_back_is_nothing(skeleton, new_from_old):
    back = skeleton.transformed(new_from_old).transformed(new_from_old.inverse())
    assert np.allclose(back.positions, skeleton.positions, atol=100 * ROUND_OFF)
    assert same_turns(back, skeleton)


@given(skeletons(), st.data(), arrow)
def test_moving_one_joint_leaves_all_others_and_moving_a_branch_carries_just_the_branch(skeleton, data, place):
    joint = data.draw(st.integers(0, len(skeleton) - 1))
    alone = skeleton.moved(joint, place)
    others = [i for i in range(len(skeleton)) if i != joint]
    assert np.array_equal(alone.positions[others], skeleton.positions[others])
    branch = skeleton.moved_branch(joint, place)
    inside = set(skeleton.branch(joint))
    shift = place - skeleton.positions[joint]
    for i in range(len(skeleton)):
        expected = skeleton.positions[i] + (shift if i in inside else 0.0)
        assert np.allclose(branch.positions[i], expected, atol=100 * ROUND_OFF)


def test_a_circle_of_parents_is_refused_with_the_joint_named():
    with pytest.raises(RigError, match=r"joint 1 \('b'\).*circle"):
        Skeleton(["a", "b", "c"], [None, 2, 1], np.zeros((3, 3)))
    with pytest.raises(RigError, match="circle"):
        Skeleton(["a"], [0], np.zeros((1, 3)))


def test_edits_leave_the_first_skeleton_as_it_was_and_arrays_cannot_be_written():
    arm = Skeleton(["a", "b"], [None, 0], [[0, 0, 0], [1, 0, 0]])
    arm.moved(1, [2, 0, 0]), arm.renamed(0, "z")
    assert arm.positions.tolist() == [[0, 0, 0], [1, 0, 0]] and arm.names == ("a", "b")
    with pytest.raises(ValueError):
        arm.positions[0, 0] = 5.0
