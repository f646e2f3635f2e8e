"""Exercise folders: read whole and frozen; what is wrong in one is said with its file and key."""

import shutil
from dataclasses import FrozenInstanceError

import numpy as np
import pytest

from rigkit.files.exercise import read_exercise
from rigkit.files.rubrics import read_finding_kinds, read_rubric
from rigkit.require import RigError
from tests.arms import FOLDER, arm


def test_the_left_arm():
    exercise = arm()
    assert (exercise.id, exercise.side, exercise.naming.id, exercise.rubric.id) == (
        "left-arm",
        "left",
        "plain",
        "standard",
    )
    assert [joint.role for joint in exercise.joints] == ["shoulder", "elbow", "wrist"]
    assert [joint.parent for joint in exercise.joints] == [None, "shoulder", "elbow"]
    elbow = exercise.asked("elbow")
    assert elbow.fold.between == ("shoulder", "wrist")
    np.testing.assert_array_equal(elbow.fold.away, [0, 0, -1])
    np.testing.assert_allclose(np.linalg.norm(elbow.plane), 1.0, atol=1e-12)
    marks = exercise.landmarks
    mean = sum(marks[name] for name in ("shoulder_top", "armpit", "shoulder_front", "shoulder_back")) / 4
    np.testing.assert_allclose(exercise.asked("shoulder").centre, mean, atol=1e-12)
    assert exercise.key.skeleton.names == ("left_shoulder", "left_elbow", "left_wrist")
    assert dict(exercise.helps) == {"snap": True, "gauges": True, "hints": True}
    assert len(exercise.start("forward").skeleton) == 3


def test_frozen():
    exercise = arm()
    with pytest.raises(FrozenInstanceError):
        exercise.id = "other"
    with pytest.raises(TypeError):
        exercise.landmarks["armpit"] = None
    with pytest.raises(ValueError, match="read-only"):
        exercise.asked("elbow").plane[0] = 9


def test_roles_and_starts_that_are_not_there():
    with pytest.raises(RigError, match="one of shoulder, elbow, wrist"):
        arm().asked("knee")
    with pytest.raises(RigError, match="forward"):
        arm().start("sideways")


@pytest.fixture
def copy(tmp_path):
    folder = tmp_path / "left-arm"
    shutil.copytree(FOLDER, folder)
    return folder


def test_the_students_copy_has_no_key(copy):
    (copy / "key.json").unlink()
    assert read_exercise(copy).key is None


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('side = "left"', 'side = "upper"', "left-arm/exercise.toml, side: expected one of left, right, middle"),
        ('side = "left"', "", "left-arm/exercise.toml: expected the key side"),
        ('side = "left"', 'side = "left"\nsnap = 1', "'snap'"),
        ("version = 1", "version = 9", "left-arm/exercise.toml: expected version 1, got version 9. Probably written by a newer"),
        ('naming = "plain"', 'namng = "plain"', "left-arm/exercise.toml: expected the key naming, got the key 'namng'"),
        ("radius = 0.05", "radus = 0.05", "joint 0 (shoulder): expected the key radius, got the key 'radus'"),
        ("radius = 0.05", 'radius = "0.05"', "joint 0 (shoulder), radius: expected a number from 0.000001 to 1000, got '0.05'. Probably the"),
        ("radius = 0.05", "radius = 1979-05-27", "joint 0 (shoulder), radius: expected a number from"),
        ("radius = 0.05", "radius = nan", "joint 0 (shoulder), radius: expected a finite number"),
        ("shoulder_top = [0.19949,", "shoulder_top = [", "left-arm/exercise.toml, landmarks.shoulder_top: expected three numbers"),
        ("away = [0.0, 0.0, -1.0], ", "", "joint 1 (elbow), fold: expected the key away"),
        ('place = "flesh"', 'place = "region"', "joint 1 (elbow): expected the key landmarks"),
        ('units = "m"', 'units = "cm"', "left-arm/exercise.toml, units"),
        ('naming = "plain"', 'naming = "../plain"', "left-arm/exercise.toml, naming"),
        ('naming = "plain"', 'naming = "own.toml"', "own.toml"),
        ('rubric = "standard"', 'rubric = "harsh"', "harsh.toml"),
        ('mesh_sha256 = "a', 'mesh_sha256 = "b', "left-arm/mesh.glb: expected the mesh whose checksum"),
        ("radius = 0.05", "radius = -1", "left-arm/exercise.toml, joint 0 (shoulder), radius: expected a number from 0.000001 to 1000, got -1"),
        ('"shoulder_back"]', '"shoulder_blade"]', "left-arm/exercise.toml, joint 0 (shoulder), landmarks"),
        ('parent = "shoulder"', 'parent = "wrist"', "left-arm/exercise.toml, joint 1 (elbow), parent"),
        ('role = "wrist"', 'role = "elbow"', "left-arm/exercise.toml, joint 2 (elbow), role"),
        ('between = ["shoulder", "wrist"]', 'between = ["shoulder", "knee"]', "joint 1 (elbow), fold.between"),
        ("least = 0.02", "least = 0.06", "left-arm/exercise.toml, joint 1 (elbow), fold: expected straight < least < most"),
        ("away = [0.0, 0.0, -1.0]", "away = [0.0, 0.0, 0.0]", "left-arm/exercise.toml, joint 1 (elbow), fold.away"),
        ("snap = true", 'snap = "yes"', "left-arm/exercise.toml, helps.snap"),
        ("[[joints]]", "[joints]", "left-arm/exercise.toml"),
    ],
)  # fmt: skip
def test_an_exercise_that_is_wrong_says_where(copy, old, new, said):
    path = copy / "exercise.toml"
    text = path.read_text()
    assert old in text
    path.write_text(text.replace(old, new))
    with pytest.raises(RigError) as error:
        read_exercise(copy)
    assert said in str(error.value)
    assert str(copy.parent) not in str(error.value)


def test_a_mesh_that_is_not_there(copy):
    (copy / "mesh.glb").unlink()
    with pytest.raises(RigError, match="left-arm/mesh.glb: expected the exercise's mesh"):
        read_exercise(copy)


def test_a_key_that_is_broken(copy):
    (copy / "key.json").write_text("{")
    with pytest.raises(RigError, match="key.json"):
        read_exercise(copy)


def test_a_folder_that_is_no_exercise(tmp_path):
    for folder in (tmp_path, tmp_path / "nowhere"):
        with pytest.raises(RigError, match="expected an exercise folder"):
            read_exercise(folder)


def test_own_rule_and_rubric_in_the_folder(copy):
    data = FOLDER.parent.parent
    shutil.copy(data / "naming" / "hanim.toml", copy / "mine.toml")
    shutil.copy(data / "rubrics" / "standard.toml", copy / "harsh.toml")
    path = copy / "exercise.toml"
    path.write_text(path.read_text().replace('"plain"', '"mine.toml"').replace('"standard"', '"harsh.toml"'))
    assert read_exercise(copy).naming.id == "hanim"


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("centring = 30", "centering = 30", "mine.toml, weights: expected the key centring, got the key 'centering'"),
        ("centring = 30", "centring = -1", "mine.toml, weights.centring"),
        ("failing = 0.80", "failing = 0.10", "centring.failing above centring.allowed"),
        ("misspelt = 0.25", "misspelt = nan", "mine.toml, names.misspelt"),
        ("bends-wrong-way = 50", "bends-wrong-way = 500", "mine.toml, caps.bends-wrong-way"),
        ("bends-wrong-way = 50", "too-late = 50", "mine.toml, caps: expected one of the keys joints-coincide"),
    ],
)
def test_a_rubric_that_is_wrong_says_where(tmp_path, old, new, said):
    text = (FOLDER.parent.parent / "rubrics" / "standard.toml").read_text()
    assert old in text
    path = tmp_path / "mine.toml"
    path.write_text(text.replace(old, new))
    with pytest.raises(RigError) as error:
        read_rubric(path)
    assert said in str(error.value)


def test_the_list_of_findings():
    kinds = read_finding_kinds()
    assert set(read_rubric("standard").caps) <= set(kinds)
    for kind in kinds.values():
        assert kind.unit in ("mm", "deg", "%", "text")
        assert kind.meaning.endswith(".")
        assert kind.lesson in range(1, 13)


@pytest.mark.parametrize(
    ("word", "way"), [("back", (0, 0, -1)), ("out", (1, 0, 0)), ("in", (-1, 0, 0)), ("up", (0, 1, 0))]
)
def test_a_fold_direction_may_be_a_word(word, way, tmp_path):
    folder = tmp_path / "arm"
    shutil.copytree(FOLDER, folder)
    text = (folder / "exercise.toml").read_text("utf-8")
    (folder / "exercise.toml").write_text(text.replace("away = [0.0, 0.0, -1.0]", f'away = "{word}"'), encoding="utf-8")
    assert read_exercise(folder).asked("elbow").fold.away.tolist() == list(way)
    (folder / "exercise.toml").write_text(
        text.replace("away = [0.0, 0.0, -1.0]", 'away = "sideways"'), encoding="utf-8"
    )
    with pytest.raises(RigError, match="out, in, up, down, forward or back"):
        read_exercise(folder)
