"""Differences between two skeletons: each kind alone, none where nothing differs, and a limb carried out and back."""

import numpy as np
import pytest

from rigkit.changes import changes
from rigkit.files.gltf import read_gltf
from rigkit.files.gltf_write import skinned_glb
from rigkit.frames import quaternion_from_rotation, rotation_about
from rigkit.limbs import KINDS, practice_limb
from rigkit.skeleton import Skeleton

TURN = quaternion_from_rotation(rotation_about([0, 0, 1], 0.3))
ARM = Skeleton(
    ["shoulder", "elbow", "wrist"], [None, 0, 1], [[0, 1.4, 0], [0.2, 1.2, 0], [0.4, 1, 0]], [TURN, TURN, None]
)


def kinds(before, after):
    return [(one.joint, one.what) for one in changes(before, after)]


def with_parts(names=ARM.names, parents=ARM.parents, positions=ARM.positions, rotations=ARM.rotations):
    return Skeleton(names, parents, positions, rotations)


def test_nothing_differs_from_itself():
    assert changes(ARM, ARM) == ()


def test_a_quaternion_and_its_negative_are_one_turn():
    assert changes(ARM, with_parts(rotations=[-TURN, TURN, None])) == ()


@pytest.mark.parametrize("angle", [0.01, 1.0, 3.0, np.pi - 1e-9])
def test_a_turn_is_told_with_its_angle(angle):
    turned = quaternion_from_rotation(rotation_about([0, 0, 1], 0.3) @ rotation_about([1, 0, 0], angle))
    (found,) = changes(ARM, with_parts(rotations=[TURN, turned, None]))
    assert (found.joint, found.what) == ("elbow", "turned")
    assert found.amount == pytest.approx(angle, abs=1e-7)  # atan2 near a half turn of quaternions: round-off


def test_each_kind_of_difference_is_told_alone():
    assert kinds(ARM, ARM.moved(1, [0.2, 1.2, -0.01])) == [("elbow", "moved")]
    assert kinds(ARM, ARM.renamed(1, "ellbow")) == [("elbow", "renamed")]
    assert kinds(ARM, with_parts(parents=[None, 0, 0])) == [("wrist", "hung elsewhere")]
    assert kinds(ARM, with_parts(rotations=[TURN, None, None])) == [("elbow", "frame lost")]
    assert kinds(ARM, with_parts(rotations=[TURN, TURN, TURN])) == [("wrist", "frame new")]
    more = Skeleton([*ARM.names, "hand"], [None, 0, 1, 2], [*ARM.positions, [0.5, 0.9, 0]], [*ARM.rotations, None])
    assert kinds(ARM, more) == [("hand", "new")]
    assert kinds(more, ARM) == [("hand", "gone")]


def test_a_joint_lost_in_between_leaves_its_child_hung_elsewhere():
    gone = Skeleton(["shoulder", "wrist"], [None, 0], ARM.positions[[0, 2]], [TURN, None])
    assert kinds(ARM, gone) == [("elbow", "gone"), ("wrist", "hung elsewhere")]


def test_a_new_root_above_is_told_for_the_joint_below_it():
    root = Skeleton(["root", *ARM.names], [None, 0, 1, 2], [[0, 0, 0], *ARM.positions], [None, *ARM.rotations])
    assert kinds(ARM, root) == [("shoulder", "hung elsewhere"), ("root", "new")]


def test_order_and_names_that_stand_twice_do_not_matter():
    twins = Skeleton(["tip", "tip", "palm"], [2, 2, None], [[0.1, 0, 0], [0.2, 0, 0], [0, 0, 0]])
    other = Skeleton(["palm", "tip", "tip"], [None, 0, 0], [[0, 0, 0], [0.1, 0, 0], [0.2, 0, 0]])
    assert changes(twins, other) == ()


def test_moved_and_renamed_at_once_is_one_gone_and_one_new():
    other = ARM.renamed(2, "hand").moved(2, [0.5, 0.9, 0])
    assert kinds(ARM, other) == [("wrist", "gone"), ("hand", "new")]


@pytest.mark.parametrize("kind", KINDS)
def test_a_limb_carried_out_as_glb_comes_back_the_same(kind):
    limb = practice_limb(kind, 5, "right")
    scene = read_gltf(skinned_glb(limb.mesh, limb.key), "out.glb")
    assert changes(limb.key, scene.skeleton) == ()
    assert [(n, p) for n, p in zip(scene.skeleton.names, scene.skeleton.parents, strict=True)] == list(
        zip(limb.key.names, limb.key.parents, strict=True)
    )
    assert scene.weights.shape == (len(limb.mesh.vertices), len(limb.key))
    assert np.all(np.count_nonzero(scene.weights, axis=1) <= 4)
