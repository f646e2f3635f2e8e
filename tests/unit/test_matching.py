"""Matching: roles find their joints by place and tree, whatever the joints are called."""

from itertools import permutations

import numpy as np
import pytest

from rigkit.files.exercise import read_exercise
from rigkit.files.layout import Layout
from rigkit.limbs import practice_limb
from rigkit.make_exercise import make_exercise
from rigkit.marking import mark
from rigkit.matching import match
from rigkit.skeleton import Skeleton
from tests.arms import arm, layout, named, shifted, with_joint

KEY = {"shoulder": 0, "elbow": 1, "wrist": 2}


@pytest.mark.parametrize("names", [("a", "b", "c"), ("left_wrist", "left_shoulder", "left_elbow"), ("", "", "")])
def test_names_do_not_decide(names):
    assert dict(match(named(*names).skeleton, arm()).joints) == KEY


@pytest.mark.parametrize(
    ("role", "millimetres"),
    [
        ("elbow", (60, 0, 60)), ("elbow", (300, 0, 0)), ("wrist", (-40, 60, 0)), ("wrist", (0, -300, 0)),
        ("shoulder", (80, 0, 0)),
    ],
)  # fmt: skip
def test_a_joint_far_off_is_still_the_one(role, millimetres):
    assert dict(match(shifted(role, millimetres).skeleton, arm()).joints) == KEY


@pytest.mark.parametrize("order", list(permutations(range(3))))
def test_order_does_not_matter(order):
    key = arm().key.skeleton
    new = {old: number for number, old in enumerate(order)}
    parents = tuple(None if key.parents[old] is None else new[key.parents[old]] for old in order)
    mixed = Skeleton(tuple(key.names[old] for old in order), parents, key.positions[list(order)])
    assert dict(match(mixed, arm()).joints) == {role: new[old] for role, old in KEY.items()}


@pytest.mark.parametrize("missing", range(3))
def test_a_joint_that_is_missing(missing):
    key = arm().key.skeleton
    kept = [i for i in range(3) if i != missing]
    chain = Skeleton(tuple(key.names[i] for i in kept), (None, 0), key.positions[kept])
    assert set(match(chain, arm()).joints) == {role for role, i in KEY.items() if i != missing}


def test_ignored_names_stand_aside_also_in_the_right_place():
    key = arm().key.skeleton
    found = match(with_joint("left_clavicle", None, key.positions[0], above=0).skeleton, arm())
    assert dict(found.joints) == KEY
    assert found.ignored == {3}
    assert found.others == (3,)
    plain = with_joint("left_clavicle", None, key.positions[0], above=0).skeleton.renamed(0, "a")
    assert dict(match(plain.moved(0, key.positions[0] + [0.008, 0, 0]), arm()).joints) == KEY


def test_a_near_tie_is_broken_by_the_name():
    key = arm().key.skeleton
    found = match(with_joint("spare", 1, key.positions[2] + [0.0, 0.0, 0.002]).skeleton, arm())
    assert dict(found.joints) == KEY
    swapped = Skeleton(("left_shoulder", "left_elbow", "spare", "left_wrist"), (None, 0, 1, 1),
                       np.vstack([key.positions, key.positions[2] + [0.0, 0.0, 0.002]]))  # fmt: skip
    assert match(swapped, arm()).joints["wrist"] == 3


def test_one_joint_and_none_that_count():
    key = arm().key.skeleton
    assert dict(match(layout(Skeleton(("x",), (None,), key.positions[1:2])).skeleton, arm()).joints) == {"elbow": 0}
    assert dict(match(Skeleton(("root",), (None,), np.zeros((1, 3))), arm()).joints) == {}


@pytest.mark.parametrize(("role", "name"), [
    ("shoulder", "left_clavicle"), ("wrist", "left_wrist_end"), ("wrist", "spine_3"), ("shoulder", "root"),
])  # fmt: skip
def test_an_ignored_name_in_a_roles_place_is_that_joint(role, name):
    names = [f"left_{one}" if one != role else name for one in KEY]
    for shift in (0.0, 0.03):
        skeleton = named(*names).skeleton
        skeleton = skeleton.moved(KEY[role], skeleton.positions[KEY[role]] + [shift, 0, 0])
        found = match(skeleton, arm())
        assert (dict(found.joints), found.ignored) == (KEY, frozenset())


@pytest.mark.parametrize("missing", ["shoulder", "wrist"])
def test_an_ignored_name_elsewhere_takes_no_role(missing):
    key = arm().key.skeleton
    name, place = ("left_clavicle", [0.05, 1.4, 0.0]) if missing == "shoulder" else ("hand_end", [0.64, 0.75, 0.0])
    positions = key.positions.copy()
    positions[KEY[missing]] = place
    names = tuple(name if i == KEY[missing] else one for i, one in enumerate(key.names))
    found = match(Skeleton(names, key.parents, positions), arm())
    assert dict(found.joints) == {role: i for role, i in KEY.items() if role != missing}
    assert found.ignored == {KEY[missing]}


@pytest.mark.parametrize("kind", ["arm", "leg", "toe_walker", "bird_leg"])
def test_a_limb_laid_on_the_other_side_is_told_as_such(kind, tmp_path):
    limb, other = practice_limb(kind, 3), practice_limb(kind, 3, "right")
    exercise = read_exercise(make_exercise(tmp_path / "limb", limb))
    judged = mark(Layout("wren", exercise.id, 1, other.key), exercise)
    assert {one.finding for one in judged.findings} >= {"limb-elsewhere"} and judged.mark == 0.0
    assert "right side" in judged.findings[0].message
