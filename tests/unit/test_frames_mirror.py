"""Frames and mirrored pairs, judged: good ones cost nothing, each fault alone is found at its joint and nowhere else."""

import json
from dataclasses import replace

import numpy as np
import pytest

from rigkit.axes import local_axes
from rigkit.files.exercise import read_exercise
from rigkit.files.handin import read_handin
from rigkit.files.layout import Layout
from rigkit.files.rubrics import read_rubric
from rigkit.frames import mirror_matrix, quaternion_from_rotation, rotation_about, rotation_from_quaternion
from rigkit.limbs import practice_limb
from rigkit.make_exercise import make_exercise
from rigkit.marking import mark
from rigkit.mended import mended
from rigkit.mirror_axes import CONVENTIONS, mirrored_rotation
from rigkit.skeleton import Skeleton
from tests.arms import arm

X = np.array([1.0, 0.0, 0.0])
FRAMED = replace(arm(), frame_convention="either")
BOTH = replace(arm(), frame_convention="either", mirror=(np.zeros(3), X))


def framed(skeleton, bone="x", hinge="z"):
    return replace(skeleton, rotations=local_axes(skeleton, bone, hinge).quaternions)


def turned(skeleton, joint, axis, degrees):
    """One joint's frame turned about its own axis."""
    here = local_axes(skeleton).rotations[joint] @ rotation_about(np.eye(3)["xyz".index(axis)], np.radians(degrees))
    rotations = list(skeleton.rotations)
    rotations[joint] = quaternion_from_rotation(here)
    return replace(skeleton, rotations=tuple(rotations))


def both(skeleton, convention):
    """A limb and its mirror image across x = 0, as one layout."""
    count, flip = len(skeleton), mirror_matrix(X)
    frames = [mirrored_rotation(one, X, convention) for one in local_axes(skeleton).rotations]
    names = tuple(name.replace("left", "right") for name in skeleton.names)
    parents = tuple(None if p is None else p + count for p in skeleton.parents)
    return Skeleton(
        skeleton.names + names, skeleton.parents + parents, np.vstack([skeleton.positions, skeleton.positions @ flip]),
        skeleton.rotations + tuple(map(quaternion_from_rotation, frames)),
    )  # fmt: skip


def found(skeleton, exercise):
    result = mark(Layout("wren", "", 1, skeleton), exercise)
    return result, [(one.joint, one.finding) for one in result.findings]


KEY = framed(arm().key.skeleton)


@pytest.mark.parametrize(("bone", "hinge"), [("x", "z"), ("y", "x"), ("-y", "z"), ("z", "-x")])
def test_right_frames_cost_nothing_whichever_axes_are_used(bone, hinge):
    result, faults = found(framed(arm().key.skeleton, bone, hinge), FRAMED)
    assert (faults, result.mark) == ([], 100.0) and result.criteria["frames"].judged
    assert not result.criteria["mirror"].judged


@pytest.mark.parametrize("kind", ["leg", "arm", "bird_leg"])
def test_right_frames_of_other_limbs_cost_nothing(kind, tmp_path):
    made = read_exercise(make_exercise(tmp_path / "limb", practice_limb(kind, 4, "right")))
    away = {
        i: made.asked(role).fold.away for i, role in enumerate(j.role for j in made.joints) if made.asked(role).fold
    }
    key = made.key.skeleton
    key = replace(key, rotations=local_axes(key, away=away).quaternions)
    result, faults = found(key, replace(made, frame_convention="same-direction"))
    assert (faults, result.criteria["frames"].judged) == ([], True)


@pytest.mark.parametrize(("joint", "axis", "degrees", "finding", "score"), [
    (1, "z", 4, None, 1.0), (1, "z", 25, "axis-off-bone", 0.5), (1, "z", 44.99, "axis-off-bone", 0.0),
    (0, "y", 25, "axis-off-bone", 0.5), (0, "x", 100, None, 1.0),
])  # fmt: skip
def test_each_fault_of_a_frame_at_its_own_size(joint, axis, degrees, finding, score):
    """By hand: 5 degrees off the bone are right and 45 worth nothing, 25 half; the shoulder may roll as it likes."""
    result, faults = found(turned(KEY, joint, axis, degrees), FRAMED)
    role = ("shoulder", "elbow")[joint]
    assert [one for one in faults if one[1] == "axis-off-bone" or one[1] == finding] == (
        [(role, finding)] if finding else []
    )
    if not (joint == 0 and axis == "x"):  # a rolled shoulder twists the elbow against it
        assert result.criteria["frames"].score == pytest.approx((score + 1) / 2, abs=1e-3)


def test_a_rolled_elbow_is_beside_its_hinge():
    result, faults = found(turned(KEY, 1, "x", 37.5), FRAMED)  # 15 degrees are right and 60 worth nothing
    assert faults == [("elbow", "hinge-off")] and result.criteria["frames"].score == pytest.approx(0.75, abs=1e-3)
    assert result.findings[0].mend == "Turn the elbow about its x axis until its z axis lies along the hinge: by 38°."
    assert found(turned(KEY, 1, "x", 14), FRAMED)[1] == []


def test_a_rolled_joint_and_another_axis_are_told_once_on_a_leg(tmp_path):
    made = read_exercise(make_exercise(tmp_path / "limb", practice_limb("leg", 4)))
    made = replace(made, frame_convention="same-direction")
    key = framed(made.key.skeleton)
    ankle = [one.role for one in made.joints].index("ankle")
    assert found(turned(key, ankle, "x", 35), made)[1] == [("ankle", "hinge-off")]
    assert found(turned(key, ankle, "x", 180), made)[1] == [], "a hinge that points the other way is as good"
    assert found(turned(key, ankle, "y", 90), made)[1] == [("ankle", "axis-other")]


def test_a_joint_too_straight_for_a_hinge_is_held_against_the_joint_above():
    """35 degrees of roll: 10 are right and 60 worth nothing, so half of one of two frames."""
    places = arm().key.skeleton.positions.copy()
    places[1] = places[0] + 0.55 * (places[2] - places[0])
    straight = framed(arm().key.skeleton.at(places))
    rolled = local_axes(straight).rotations[1] @ rotation_about([1.0, 0, 0], np.radians(35))
    turn = (straight.rotations[0], quaternion_from_rotation(rolled), straight.rotations[2])
    result, faults = found(replace(straight, rotations=turn), FRAMED)
    assert ("elbow", "frame-twisted") in faults and result.criteria["frames"].score == pytest.approx(0.75, abs=1e-3)
    (told,) = [one for one in result.findings if one.finding == "frame-twisted"]
    assert told.mend == "Turn the elbow back about its x axis by 35°." and told.measured == pytest.approx(35, abs=1e-3)


def test_frames_are_not_judged_where_nobody_asks_or_the_file_has_none():
    for skeleton, exercise in ((KEY, arm()), (arm().key.skeleton, FRAMED)):
        result, faults = found(skeleton, exercise)
        assert (faults, result.mark, result.criteria["frames"].judged) == ([], 100.0, False)


@pytest.mark.parametrize("convention", CONVENTIONS)
@pytest.mark.parametrize("asked", [*CONVENTIONS, "either"])
def test_either_convention_is_right_if_kept_and_the_one_asked_for_counts(convention, asked):
    result, faults = found(both(KEY, convention), replace(BOTH, frame_convention=asked))
    assert result.criteria["mirror"].judged
    wrong = asked not in ("either", convention)
    assert faults == ([(role, "pair-frames") for role in ("shoulder", "elbow", "wrist")] if wrong else [])
    assert result.criteria["mirror"].score == pytest.approx(0.75 if wrong else 1.0)


def test_one_pair_that_leaves_the_convention_is_told():
    mixed = both(KEY, "same-numbers")
    other = both(KEY, "same-direction")
    mixed = replace(mixed, rotations=(*mixed.rotations[:4], other.rotations[4], mixed.rotations[5]))
    assert found(mixed, BOTH)[1] == [("elbow", "pair-frames")]


def filed(tmp, change, at=1, unit=0.01):
    """The framed key as a glTF gives it back, in other units, with a change in the frame of one joint and all below."""
    frames = [rotation_from_quaternion(one) for one in KEY.rotations]
    worlds = np.tile(np.eye(4), (3, 1, 1))
    for joint, place in enumerate(KEY.positions):
        lower = frames[at].T @ frames[joint] if joint >= at else np.eye(3)
        worlds[joint, :3, :3] = unit * (frames[at] @ change @ lower if joint >= at else frames[joint])
        worlds[joint, :3, 3] = place
    above = [np.diag([unit, unit, unit, 1.0]), *worlds[:2]]
    local = [np.linalg.solve(up, here).T.ravel().tolist() for up, here in zip(above, worlds, strict=True)]
    nodes = [{"name": KEY.names[i], "matrix": one, "children": [i + 2] if i < 2 else []} for i, one in enumerate(local)]
    nodes = [{"name": "units", "scale": [unit] * 3, "children": [1]}, *nodes]
    nodes[-1].pop("children")
    (tmp / "wren.gltf").write_text(json.dumps({"asset": {"version": "2.0"}, "nodes": nodes}))
    return read_handin(tmp / "wren.gltf", "wren.gltf")


SHEAR = np.array([[1.0, 0.2, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]])


@pytest.mark.parametrize(("change", "at", "faults", "size"), [
    (np.eye(3), 1, [], 0.0),
    (1.0005 * np.eye(3), 1, [], 0.05),  # rounding
    (2.5 * np.eye(3), 0, [], 0.0),  # the whole limb: units
    (1.1 * np.eye(3), 1, [("elbow", "frame-scaled")], 10.0),
    (np.diag([1.0, 1.0, 1.2]), 0, [("shoulder", "frame-scaled")], 20.0),
    (np.diag([1.0, 1.2, 1.0]), 1, [("elbow", "frame-scaled")], 20.0),
    (np.diag([0.9, 1.0, 1.0]), 2, [("wrist", "frame-scaled")], 10.0),  # where no bone begins, too
    (SHEAR, 1, [("elbow", "frame-scaled")], 100 * (0.1 + np.sqrt(1.01) - 1)),
    (np.diag([1.0, 1.0, -1.0]), 1, [("elbow", "frame-scaled")], 200.0),
])  # fmt: skip
def test_a_scale_in_a_frame_is_found_where_it_begins(change, at, faults, size, tmp_path):
    layout = filed(tmp_path, change, at)
    result = mark(layout, FRAMED)
    assert [(one.joint, one.finding) for one in result.findings] == faults
    told = {one.joint: one.value for one in result.measurements if one.measure == "frame-scale"}
    assert told[FRAMED.joints[at].role] == pytest.approx(size, abs=1e-4)
    assert sum(told.values()) == pytest.approx(size, abs=1e-4)
    for one in result.findings:
        assert one.unit == "%" and one.criterion == "frames" and one.mend.endswith("and export again.")
    assert mark(layout, arm()).findings == ()  # where frames are not judged


def test_a_layout_file_shows_no_scale_and_is_not_judged_for_it():
    assert not [one for one in found(KEY, FRAMED)[0].measurements if one.measure.startswith("frame-scale")]


def test_bases_follow_what_is_mended(tmp_path):
    layout = filed(tmp_path, np.diag([1.0, 1.2, 1.0]))
    more = replace(layout, skeleton=replace(layout.skeleton, names=(*layout.skeleton.names, "fin"),
                   parents=(*layout.skeleton.parents, 1), rotations=(*layout.skeleton.rotations, None),
                   positions=np.vstack([KEY.positions, KEY.positions[1] - [0, 0, 0.12]])),
                   bases=np.concatenate([layout.bases, [np.eye(3)]]))  # fmt: skip
    fin, _ = sorted(mark(more, FRAMED).findings, key=lambda one: one.finding != "joint-extra")
    done = mended(more, FRAMED, [fin])
    assert len(done.bases) == len(done.skeleton) == 3
    assert [one.finding for one in mark(done, FRAMED).findings] == ["frame-scaled"]


def test_a_rubric_that_does_not_weigh_frames_and_sides_needs_no_table_for_them():
    week = read_rubric("first-week")
    result = mark(Layout("wren", "", 1, both(KEY, "same-numbers")), BOTH, week)
    assert (result.mark, result.criteria["frames"].judged, result.criteria["mirror"].judged) == (100.0, False, False)


def test_each_fault_of_a_pair_is_found_at_its_joint_alone():
    good = both(KEY, "same-numbers")
    one_sided = Skeleton(good.names[:5], good.parents[:5], good.positions[:5], good.rotations[:5])
    assert found(one_sided, BOTH)[1] == [("wrist", "pair-missing")]
    assert found(good.renamed(4, "right_elbo"), BOTH)[1] == [("elbow", "pair-name")]
    result, faults = found(good.moved(4, good.positions[4] + [-0.011, 0, 0]), BOTH)
    assert faults == [("elbow", "pair-place")]
    (told,) = result.findings  # 11 mm: 2 are right, 20 worth nothing, so half of one of three pairs
    assert result.criteria["mirror"].score == pytest.approx((0.5 + 2) / 3, abs=1e-4)
    assert told.mend == "Move the partner of the elbow in 11 mm."
    assert "too far out" in told.message and told.measured == pytest.approx(11.0)


def test_a_joint_off_on_both_sides_is_paid_for_once():
    moved = KEY.moved(2, KEY.positions[2] + [0.0, 0.0, 0.012])
    _, faults = found(both(framed(moved), "same-numbers"), BOTH)
    assert faults == [("wrist", "off-centre")]


def test_a_middle_that_is_not_x_0_is_taken_from_the_exercise():
    shifted = both(KEY, "same-numbers")
    away = shifted.at(shifted.positions + np.array([[0, 0, 0]] * 3 + [[0.2, 0, 0]] * 3))
    assert {one[1] for one in found(away, BOTH)[1]} == {"pair-place"}
    assert found(away, replace(BOTH, mirror=(np.array([0.1, 0, 0]), X)))[1] == []
