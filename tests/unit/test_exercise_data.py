"""The stored exercise left-arm: made again byte for byte; and exercises of every kind, which their own keys pass."""

import hashlib
import json
import re
import tomllib
from pathlib import Path

import numpy as np
import pytest

from rigkit.bench_controls import REACH
from rigkit.exercise_text import key_of
from rigkit.files.exercise import read_exercise
from rigkit.files.gltf import read_gltf
from rigkit.files.layout import Layout, read_layout
from rigkit.kinematics import rest_bend
from rigkit.limbs import KINDS, practice_limb
from rigkit.limbs.base import SIDES
from rigkit.make_exercise import ARM, exercise_id, make_exercise
from rigkit.marking import mark
from rigkit.matching import match
from rigkit.naming import read_rule
from rigkit.require import RigError
from rigkit.section import Plane, cut
from rigkit.skeleton import Skeleton

STORED = Path(__file__).parents[2] / "data" / "exercises" / "left-arm"
SEED = 7
FILES = ["exercise.toml", "key.json", "mesh.glb", "start-forward.json", "start-resting.json", "start-scattered.json"]
GRID = 1e-5  # metres: places are stored to a hundredth of a millimetre


def layout(name):
    return read_layout((STORED / name).read_bytes(), name).skeleton


def test_the_stored_exercise_is_what_the_code_makes(tmp_path):
    made = make_exercise(
        tmp_path / "left-arm", practice_limb("arm", SEED), ARM, "left-arm", "Orlo's left arm", bundled=True
    )
    assert sorted(path.name for path in made.iterdir()) == FILES
    for name in FILES:
        assert (made / name).read_bytes() == (STORED / name).read_bytes(), f"{name} differs: make the exercise again"


def test_the_checksum_is_the_meshs():
    table = tomllib.loads((STORED / "exercise.toml").read_text())
    assert table["mesh_sha256"] == hashlib.sha256((STORED / "mesh.glb").read_bytes()).hexdigest()


def test_the_mesh_file_holds_no_joints():
    scene = read_gltf((STORED / "mesh.glb").read_bytes(), "mesh.glb")
    assert scene.skeleton is None and scene.notices == ()
    assert scene.mesh.is_closed and scene.mesh.volume > 0


def test_the_exercise_reads_and_asks_for_three_joints():
    exercise = read_exercise(STORED)
    assert [joint.role for joint in exercise.joints] == ["shoulder", "elbow", "wrist"]
    assert [joint.parent for joint in exercise.joints] == [None, "shoulder", "elbow"]
    assert exercise.asked("shoulder").place == "region"
    assert set(exercise.landmarks) == {"shoulder_top", "armpit", "shoulder_front", "shoulder_back", "trunk_middle"}


@pytest.mark.parametrize("role", ["elbow", "wrist"])
def test_the_key_is_centred_in_the_stored_mesh_and_plane(role):
    exercise, key = read_exercise(STORED), layout("key.json")
    joint = key.positions[key.index(f"left_{role}")]
    asked = exercise.asked(role)
    held = cut(exercise.mesh, Plane(joint, asked.plane)).holding(joint)
    assert held.state == "inside"
    assert np.linalg.norm(held.loop.centroid - joint) < 1e-3
    upper, lower = (asked.stretch - joint) @ asked.plane
    assert upper < 0 < lower


def test_the_key_is_the_practice_arms_and_bent_the_right_way():
    key = layout("key.json")
    np.testing.assert_allclose(key.positions, practice_limb("arm", SEED).key.positions[:3], rtol=0, atol=GRID / 100)
    bend = rest_bend(*key.positions, [0, 0, -1])
    assert bend.verdict == "right way"
    assert 0.018 - GRID <= bend.along <= 0.019 + GRID
    share = bend.along / np.linalg.norm(key.positions[2] - key.positions[0])
    fold = read_exercise(STORED).asked("elbow").fold
    assert fold.least < share < fold.most


def test_the_forward_start_is_wrong_in_the_elbows_fold_alone():
    key, start = layout("key.json"), layout("start-forward.json")
    bend = rest_bend(*start.positions, [0, 0, -1])
    assert bend.verdict == "wrong way"
    assert bend.along == pytest.approx(-0.015, abs=GRID / 2)
    assert abs(bend.sideways) < 2 * GRID
    np.testing.assert_array_equal(start.positions[[0, 2]], key.positions[[0, 2]])
    np.testing.assert_array_equal(start.positions[1, :2], key.positions[1, :2])
    assert start.names == key.names and start.parents == key.parents


def test_the_scattered_start_is_named_right_and_placed_wrong():
    exercise, key, start = read_exercise(STORED), layout("key.json"), layout("start-scattered.json")
    assert start.names == key.names and start.parents == key.parents
    assert np.linalg.norm(start.positions - key.positions, axis=1).min() > 0.03
    elbow = start.positions[1]
    held = cut(exercise.mesh, Plane(elbow, exercise.asked("elbow").plane)).holding(elbow)
    assert held.state == "outside the flesh"
    assert elbow[2] > key.positions[1, 2]
    wrist = start.positions[2]
    assert cut(exercise.mesh, Plane(wrist, exercise.asked("wrist").plane)).holding(wrist).state == "inside"


@pytest.mark.parametrize("name", ["key.json", "start-forward.json", "start-resting.json", "start-scattered.json"])
def test_layouts_say_what_they_are_and_leave_nothing_to_notice(name):
    table = json.loads((STORED / name).read_text())
    assert table["id"] == name.removesuffix(".json") and table["exercise"] == "left-arm"
    assert read_layout((STORED / name).read_bytes(), name).notices == ()


def test_a_right_arm_can_be_made_too(tmp_path):
    folder = make_exercise(tmp_path / "right-arm", practice_limb("arm", SEED, "right"), ARM)
    exercise = read_exercise(folder)
    assert exercise.side == "right"
    np.testing.assert_allclose(
        exercise.asked("elbow").plane, read_exercise(STORED).asked("elbow").plane * [-1, 1, 1], atol=1e-9
    )
    assert read_layout((folder / "key.json").read_bytes(), "key.json").skeleton.names[1] == "right_elbow"


def test_a_folder_that_cannot_be_made_is_told_in_words(tmp_path):
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(RigError, match="Choose another folder"):
        make_exercise(tmp_path / "file", practice_limb("arm", SEED))
    with pytest.raises(RigError, match="a role of the exercise"):
        make_exercise(tmp_path / "arm", practice_limb("arm", SEED), ("shoulder", "tail"))


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize(("seed", "side"), [(0, "left"), (7, "right"), (11, "left")])
def test_the_own_key_gets_full_marks_with_and_without_what_is_optional(tmp_path, kind, seed, side):
    limb = practice_limb(kind, seed, side)
    exercise = read_exercise(make_exercise(tmp_path / "made", limb))
    assert (exercise.id, exercise.side) == (exercise_id(limb), side)
    assert [joint.role for joint in exercise.joints] == list(limb.roles)
    assert {joint.role for joint in exercise.joints if joint.fold} == set(limb.away)
    assert not any(pattern == "*_tip" for pattern in exercise.ignored) or "tip" not in limb.roles[-1]
    needed = key_of(limb, tuple(role for role in limb.roles if role not in limb.optional))
    for skeleton in (exercise.key.skeleton, needed):
        marked = mark(Layout("wren", exercise.id, 1, skeleton), exercise, file="wren.json")
        assert (marked.mark, marked.findings, marked.notices) == (100.0, (), ())


def test_a_finger_put_wrong_is_found_and_nothing_else(tmp_path):
    limb = practice_limb("arm", SEED)
    exercise = read_exercise(make_exercise(tmp_path / "made", limb))
    number = limb.roles.index("index 2")
    put = limb.key.moved(number, limb.key.positions[number] - 0.009 * limb.away["index 2"])
    found = mark(Layout("wren", exercise.id, 1, put), exercise, file="wren.json").findings
    assert ("index 2", "bends-wrong-way") in {(one.joint, one.finding) for one in found}
    assert {one.joint for one in found} <= {"index 2", "index 3"}, "the line that index 3 is bent against moves too"


def test_a_hand_alone_can_be_asked_for(tmp_path):
    roles = ("wrist", "index 1", "index 2", "index 3", "index tip")
    limb = practice_limb("arm", SEED)
    exercise = read_exercise(make_exercise(tmp_path / "made", limb, roles))
    assert [joint.role for joint in exercise.joints] == list(roles)
    assert [joint.parent for joint in exercise.joints] == [None, *roles[:-1]]
    assert all(joint.need == "required" for joint in exercise.joints)
    assert "index_1_back" in exercise.landmarks and "thumb_tip" not in exercise.landmarks
    assert mark(exercise.key, exercise, file="key.json").mark == 100.0


def test_limbs_of_one_kind_have_ids_and_titles_of_their_own(tmp_path):
    made = [read_exercise(make_exercise(tmp_path / str(seed), practice_limb("finger", seed))) for seed in range(4)]
    assert len({one.id for one in made}) == len({one.title for one in made}) == 4
    for one in made:
        mark_of_it = re.fullmatch("left-finger-([0-9a-f]{6})", one.id).group(1)
        assert one.title == f"A ferryman's left index finger, {mark_of_it}"


def test_an_exercise_is_never_written_over_another(tmp_path):
    folder = make_exercise(tmp_path / "one", practice_limb("finger", 1))
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    assert make_exercise(folder, practice_limb("finger", 1)) == folder
    with pytest.raises(RigError, match=f"one that holds {read_exercise(folder).id}"):
        make_exercise(folder, practice_limb("finger", 2))
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before
    for spoilt in (b"id = ", b"\xff"):
        (folder / "exercise.toml").write_bytes(spoilt)
        with pytest.raises(RigError, match="an exercise without an id"):
            make_exercise(folder, practice_limb("finger", 1))


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("seed", range(4))
def test_no_joint_of_a_start_is_right_and_each_is_still_known_by_its_place(tmp_path, kind, seed):
    limb = practice_limb(kind, seed, SIDES[seed % 2])
    exercise = read_exercise(make_exercise(tmp_path / "made", limb))
    start = exercise.start("scattered")
    assert dict(match(start.skeleton, exercise).joints) == {role: i for i, role in enumerate(limb.roles)}
    assert {one.joint for one in mark(start, exercise).findings} >= set(limb.roles)
    assert start.skeleton.names == limb.key.names
    off = np.abs(start.skeleton.positions - limb.key.positions)
    assert off.max() < REACH / 1000, "a bench's sliders reach the answer"


def test_the_right_limbs_start_is_the_mirror_image_of_the_lefts(tmp_path):
    for kind, asked in (("arm", ARM), ("leg", ())):
        left, right = (
            read_exercise(make_exercise(tmp_path / f"{kind}-{side}", practice_limb(kind, 5, side), asked))
            for side in SIDES
        )
        for start in ("scattered", "forward") if kind == "arm" else ("scattered",):
            np.testing.assert_allclose(
                right.start(start).skeleton.positions,
                left.start(start).skeleton.positions * [-1, 1, 1],
                rtol=0,
                atol=2 * GRID,
            )


# What a learner is allowed: 6 mm at a finger's end, 10 mm at a toe's (common practice); a fifth of the region's radius.
@pytest.mark.parametrize(
    ("kind", "role", "right", "wrong"), [("finger", "index tip", 5.5, 6.5), ("leg", "toe tip", 9.5, 10.5)]
)
def test_an_end_may_lie_in_the_flesh_or_a_little_beyond(tmp_path, kind, role, right, wrong):
    limb = practice_limb(kind, SEED)
    exercise = read_exercise(make_exercise(tmp_path / "made", limb))
    number, above = limb.roles.index(role), limb.key.parents[limb.roles.index(role)]
    assert exercise.asked(role).need == "optional"
    bone = limb.key.positions[number] - limb.key.positions[above]
    bone = bone / np.linalg.norm(bone)
    for far, good in ((right, True), (-right, True), (wrong, False)):
        put = limb.key.moved(number, limb.key.positions[number] + far / 1000 * bone)
        found = mark(Layout("wren", exercise.id, 1, put), exercise).findings
        assert (("off-centre", role) not in {(one.finding, one.joint) for one in found}) == good, far


@pytest.mark.parametrize(("kind", "spared"), [("leg", ("left_heel",)), ("hips", ("left_heel", "right_hip", "r_knee"))])
def test_good_practice_beside_the_asked_joints_is_spared(tmp_path, kind, spared):
    limb = practice_limb(kind, SEED)
    exercise = read_exercise(make_exercise(tmp_path / "made", limb))
    key, ankle = limb.key, limb.roles.index("ankle")
    places = {"left_heel": key.positions[ankle] + [0, -0.02, -0.06]}
    places |= dict.fromkeys(("right_hip", "r_knee"), key.positions[limb.roles.index("hip")] * [-1, 1, 1])
    whole = Skeleton(
        (*key.names, *spared),
        (*key.parents, *(ankle if name == "left_heel" else 0 for name in spared)),
        np.vstack([key.positions, *(places[name] for name in spared)]),
    )
    marked = mark(Layout("wren", exercise.id, 1, whole), exercise)
    assert (marked.mark, marked.findings, marked.notices) == (100.0, (), ())


def test_names_of_pelvis_and_foot_are_known_to_both_rules():
    plain, hanim = read_rule("plain"), read_rule("hanim")
    for role, word, other in (
        ("pelvis", "pelvis", "sacroiliac"),
        ("ball", "left_ball", "l_metatarsophalangeal_2"),
        ("toe tip", "left_toe_tip", "l_toe_tip"),
    ):
        side = None if role == "pelvis" else "left"
        assert (plain.name_for(role, side), hanim.name_for(role, side)) == (word, other)
        for rule in (plain, hanim) if role != "toe tip" else (plain,):
            kinds = {one.kind for one in rule.check(rule.name_for(role, "left"), "knee", "left")}
            assert kinds == {"part-other"}, "a word of the rule, for another joint"
