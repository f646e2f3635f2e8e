"""Rubric files: those bundled, exceptions by joint, and rubrics that contradict themselves, refused with the numbers."""

from dataclasses import replace
from types import MappingProxyType

import numpy as np
import pytest

from rigkit.files.exercise import read_exercise
from rigkit.files.rubrics import read_rubric
from rigkit.limbs import KINDS, practice_limb
from rigkit.make_exercise import make_exercise
from rigkit.marking import mark
from rigkit.require import RigError
from rigkit.rubric_place import agree
from rigkit.tables import data_folder
from tests.arms import arm, shifted

BUNDLED = ("first-week", "standard", "strict")


def with_lines(tmp_path, *lines, base="standard"):
    path = tmp_path / "mine.toml"
    path.write_text((data_folder() / "rubrics" / f"{base}.toml").read_text("utf-8") + "\n" + "\n".join(lines) + "\n")
    return read_rubric(path)


@pytest.mark.parametrize("name", BUNDLED)
@pytest.mark.parametrize("kind", KINDS)
def test_every_bundled_rubric_agrees_with_every_kind_of_limb_and_gives_its_key_full_marks(name, kind, tmp_path):
    exercise = read_exercise(make_exercise(tmp_path / "limb", practice_limb(kind, 21)))
    assert mark(exercise.key, exercise, read_rubric(name)).mark == 100.0


@pytest.mark.parametrize("shift", [(0, 0, 33), (0, 0, -35), (12, 0, 0), (0, -60, 0), (25, 25, 10)])
def test_a_stricter_rubric_never_gives_more(shift):
    marks = [mark(shifted("elbow", shift), arm(), read_rubric(name)).mark for name in BUNDLED]
    assert marks == sorted(marks, reverse=True) and marks[0] > marks[-1]


def test_the_first_week_charges_no_bend_but_the_place():
    result = mark(shifted("elbow", (0, 0, 33)), arm(), read_rubric("first-week"))
    assert [one.finding for one in result.findings] == ["off-centre"] and not result.criteria["bend"].judged
    assert result.mark > 80.0


@pytest.mark.parametrize("name", BUNDLED)
def test_a_joint_in_its_own_ring_never_has_a_bend_finding(name):
    """Both edges of the ring along the fold, just inside, neighbours in their places."""
    rubric = read_rubric(name)
    radius = next(m.value for m in mark(arm().key, arm()).measurements if (m.joint, m.measure) == ("elbow", "radius"))
    for way in (1, -1):
        edge = way * (rubric["centring.allowed"] * radius - 0.1)
        assert mark(shifted("elbow", (0, 0, edge)), arm(), rubric).findings == ()


def test_a_ring_that_reaches_the_line_is_refused_with_both_numbers(tmp_path):
    """By hand: the elbow's middle lies 18.0 mm off a line of 571 mm, of which 2.3 are too straight; its radius is 42 mm.
    15.7 mm are 0.37 of it."""
    rubric = replace(arm().rubric, values=MappingProxyType(arm().rubric.values | {"centring.allowed": 0.4}))
    with pytest.raises(RigError) as error:
        mark(arm().key, arm(), rubric)
    told = str(error.value)
    assert "centring.allowed up to 0.37 for the elbow" in told and "0.4, a ring of 16.8 mm" in told
    assert "18.0 mm" in told and "2.3 mm are too straight" in told and "leave_out" in told
    for fine in (0.37, 0.3):
        agree(arm(), replace(rubric, values=MappingProxyType(rubric.values | {"centring.allowed": fine})))
    no_bend = replace(rubric, weights=MappingProxyType(rubric.weights | {"bend": 0.0}))
    agree(arm(), no_bend)
    for line in ('leave_out = ["bend"]', '"centring.allowed" = 0.2'):
        text = (
            (data_folder() / "rubrics" / "standard.toml").read_text("utf-8").replace("allowed = 0.20", "allowed = 0.40")
        )
        (tmp_path / "wide.toml").write_text(f"{text}\n[joints.elbow]\n{line}\n")
        agree(arm(), read_rubric(tmp_path / "wide.toml"))


def test_on_a_limb_modelled_straight_the_bend_outranks_the_ring():
    elbow = arm().asked("elbow")
    strict = replace(elbow, fold=replace(elbow.fold, least=0.06, most=0.08))
    agree(replace(arm(), joints=(arm().joints[0], strict, arm().joints[2])),
          replace(arm().rubric, values=MappingProxyType(arm().rubric.values | {"centring.allowed": 0.4})))  # fmt: skip


def test_exceptions_hold_for_their_joint_alone(tmp_path):
    wide = with_lines(tmp_path, "[joints.shoulder]", '"centring.allowed" = 0.6')
    for role, right in (("shoulder", True), ("wrist", False)):
        layout = shifted(role, np.array([0, 0, 20.0 if role == "shoulder" else 12.0]))
        assert (not mark(layout, arm(), wide).findings) == right
        assert mark(layout, arm()).findings
    spared = with_lines(tmp_path, "[joints.shoulder]", 'leave_out = ["centring", "names"]')
    moved = shifted("shoulder", (0, 0, 20))
    renamed = replace(moved, skeleton=moved.skeleton.renamed(0, "x"))
    assert mark(renamed, arm(), spared).findings == ()


@pytest.mark.parametrize(("lines", "words"), [
    (("[joints.shoulder]", '"centring.alowed" = 0.6'), "joints.shoulder: expected one of structure.wrong_parent"),
    (("[joints.shoulder]", '"centring.allowed" = 0.9'), "joints.shoulder: expected centring.failing above"),
    (("[joints.shoulder]", 'leave_out = ["structure"]'), "structure"),
    (("[joints.shoulder]", '"centring.allowed" = "wide"'), "a number"),
])  # fmt: skip
def test_exceptions_that_mean_nothing_are_refused(lines, words, tmp_path):
    with pytest.raises(RigError) as error:
        with_lines(tmp_path, *lines)
    assert words in str(error.value)


def test_a_weight_needs_its_table(tmp_path):
    text = (
        (data_folder() / "rubrics" / "first-week.toml")
        .read_text("utf-8")
        .replace("names = 20", "names = 20\nframes = 5")
    )
    (tmp_path / "mine.toml").write_text(text)
    with pytest.raises(RigError, match=r"a table \[frames\], since frames has a weight"):
        read_rubric(tmp_path / "mine.toml")


@pytest.mark.parametrize(("names", "kind"), [
    (("left_elbow", "left_shoulder", "left_wrist"), "part-other"), (("right_shoulder", "right_elbow", "right_wrist"), "side-wrong"),
])  # fmt: skip
def test_by_the_strict_rubric_names_that_break_a_mirror_cap_the_mark(names, kind):
    skeleton = replace(arm().key.skeleton, names=names)
    result = mark(replace(arm().key, skeleton=skeleton), arm(), read_rubric("strict"))
    assert result.mark == 75.0 and {cap["finding"] for cap in result.caps} == {kind}
