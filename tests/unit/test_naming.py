"""Naming rules: good names have no problem, each fault has its own kind, sides swap and swap back."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigkit.naming import NamingRule, bundled_rules, read_rule
from rigkit.require import RigError

PLAIN = read_rule("plain")
HANIM = read_rule("hanim")
CAMEL = NamingRule(
    "camel", "camel", ("part", "side"), "", "camel", ("l", "r"), (("elbow", "elbow"), ("hand", "upper hand"))
)
UPPER = replace(PLAIN, case="upper", separator="-")
TITLE = replace(PLAIN, case="title", order=("part", "side"))
KIND = replace(PLAIN, order=("side", "part", "kind"), kind="joint")
FIRST = replace(TITLE, order=("kind", "part", "side"), kind="jnt")
RULES = [PLAIN, HANIM, CAMEL, UPPER, TITLE, KIND, FIRST]
ROLES = ("shoulder", "elbow", "wrist", "hip", "knee", "ankle", "hand")


@pytest.mark.parametrize(
    ("rule", "name"),
    list(
        zip(
            RULES,
            ["left_elbow", "l_elbow", "elbowL", "LEFT-ELBOW", "Elbow_Left", "left_elbow_joint", "Jnt_Elbow_Left"],
            strict=True,
        )
    ),
)
def test_the_name_that_a_rule_makes(rule, name):
    assert rule.name_for("elbow", "left") == name
    assert rule.check(name, "elbow", "left") == ()


def test_names_of_the_standard():
    # ISO/IEC 19774-1 joint names, from the PyPI package x3d 4.0
    assert [HANIM.name_for(role, "left") for role in ("shoulder", "elbow", "wrist")] == [
        "l_shoulder", "l_elbow", "l_radiocarpal",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("name", "kinds"),
    [
        ("elbow", ["side-missing"]),
        ("right_elbow", ["side-wrong"]),
        ("r_elbow", ["side-wrong"]),
        ("l_elbow", ["side-mark"]),
        ("lft_elbow", ["side-mark"]),
        ("left_elbwo", ["part-misspelt"]),
        ("left_ellbow", ["part-misspelt"]),
        ("left_wrist", ["part-other"]),
        ("left_wirst", ["part-other"]),
        ("left_banana", ["part-unknown"]),
        ("left", ["part-unknown"]),
        ("", ["side-missing", "part-unknown"]),
        ("elbow_left", ["order"]),
        ("Left_Elbow", ["case"]),
        ("LEFT_elbow", ["case"]),
        ("left-elbow", ["separator"]),
        ("left.elbow", ["separator"]),
        ("left elbow", ["separator"]),
        ("leftelbow", ["separator"]),
        ("left__elbow", ["separator"]),
        ("_left_elbow", ["separator"]),
        ("left_elbow ", ["separator"]),
        ("left_left_elbow", ["doubled"]),
        ("left_elbow_elbow", ["doubled"]),
        ("l_left_elbow", ["side-mark", "doubled"]),
        ("left_right_elbow", ["side-wrong"]),
        ("left_elbow_001", ["extra-word"]),
        ("left_elbow1", ["extra-word"]),
        ("left_elbow_jnt", ["extra-word"]),
        ("orlo:left_elbow", ["extra-word"]),
        ("orlo:left_elbwo", ["part-misspelt", "extra-word"]),
        ("Elbow1", ["side-missing", "extra-word", "case"]),
        ("joint_2", ["side-missing", "part-unknown"]),
        ("left_el_bow", ["separator"]),
        ("el_left_bow", ["order", "separator"]),
        ("leftElbow", ["case", "separator"]),
        ("elbow_l", ["side-mark", "order"]),
        ("ElbowL", ["side-mark", "order", "case", "separator"]),
        ("=left_elbow", ["separator"]),
        ("<b>left_elbow</b>", None),
    ],
)
def test_each_fault_has_its_kind(name, kinds):
    found = PLAIN.check(name, "elbow", "left")
    if kinds is not None:
        assert [one.kind for one in found] == kinds
    assert found
    assert {one.suggestion for one in found} == {"left_elbow"}


@pytest.mark.parametrize(
    ("pattern", "told"),
    [
        ("orlo:left_{}", [("extra-word", "the word orlo does not belong to it")]),
        ("left_{}_jnt", [("extra-word", "the word jnt does not belong to it")]),
        ("left_{}3", [("extra-word", "the number 3 does not belong to it")]),
        ("orlo_left_{}_jnt_3", [("extra-word", "the words orlo, jnt and 3 do not belong to it")]),
        ("left_joint_2", [("part-unknown", "there is no part in it that this rule knows; the rule's word is {}")]),
        ("left:bone", [("part-unknown", "there is no part in it that this rule knows; the rule's word is {}")]),
    ],
)
def test_one_problem_is_found_on_all_joints_alike(pattern, told):
    for role in ROLES[:6]:
        found = PLAIN.check(pattern.format(role), role, "left")
        assert [(one.kind, one.message) for one in found] == [(kind, said.format(role)) for kind, said in told]


@pytest.mark.parametrize(("name", "kinds"), [
    ("left_elbow_joint", []), ("left_elbow", ["kind"]), ("left_elbow_bone", ["kind"]), ("left_elbow_jnt", ["kind"]),
    ("left_joint_elbow", ["order"]), ("joint_left_elbow", ["order"]), ("left_elbow_joint_joint", ["doubled"]),
    ("left_elbowjoint", ["separator"]), ("left_elbow_Joint", ["case"]), ("elbow_joint", ["side-missing"]),
    ("left_elbwo_joint", ["part-misspelt"]), ("left_joint", ["part-unknown"]), ("l_elbow", ["side-mark", "kind"]),
    ("left_elbow_joint_2", ["extra-word"]), ("left_wrist", ["kind", "part-other"]),
])  # fmt: skip
def test_the_mark_of_the_kind_where_a_rule_asks_for_it(name, kinds):
    found = KIND.check(name, "elbow", "left")
    assert [one.kind for one in found] == kinds
    assert {one.suggestion for one in found} <= {"left_elbow_joint"}


def test_no_bundled_rule_asks_for_a_kind():
    assert [(rule.kind, set(rule.order)) for rule in bundled_rules()] == [("", {"side", "part"})] * 2


def test_other_words_of_a_rule_are_as_good(tmp_path):
    path = tmp_path / "own.toml"
    path.write_text(GOOD.replace('elbow = "elbow"', 'elbow = "elbow", wrist = ["wrist", "hand root", "carpus"]'))
    rule = read_rule(path)
    assert rule.name_for("wrist", "left") == "l_wrist"
    for name in ("l_wrist", "l_hand_root", "l_carpus"):
        assert rule.check(name, "wrist", "left") == ()
    assert [one.kind for one in rule.check("carpus_l", "wrist", "left")] == ["order"]
    assert [one.kind for one in rule.check("l_carpis", "wrist", "left")] == ["part-misspelt"]
    assert [one.kind for one in rule.check("l_carpus", "elbow", "left")] == ["part-other"]
    assert rule.swap_side("l_hand_root") == "r_hand_root"


def test_words_of_a_rule_that_hold_digits_stay_whole():
    spine = replace(PLAIN, parts=(("waist", "vl5"), ("hand", "upper hand")))
    assert spine.check("vl5", "waist", None) == ()
    assert [one.kind for one in spine.check("vl5_2", "waist", None)] == ["extra-word"]
    assert [one.kind for one in spine.check("upperhand", "hand", None)] == ["separator"]
    assert [one.kind for one in CAMEL.check("upperLHand", "hand", "left")] == ["order"]


def test_names_of_one_style_blank_alike():
    assert {PLAIN.style_of(f"L-{role.title()}:x", role) for role in ROLES} == {"L-title:x"}
    assert PLAIN.style_of("left-elbow", "elbow") != PLAIN.style_of("left.elbow", "elbow")
    assert PLAIN.style_of("left_Elbow", "elbow") != PLAIN.style_of("left_ELBOW", "elbow")


def test_a_wrong_mark_differs_from_a_missing_side():
    assert [one.kind for one in HANIM.check("left_elbow", "elbow", "left")] == ["side-mark"]
    assert [one.kind for one in HANIM.check("elbow", "elbow", "left")] == ["side-missing"]
    assert [one.kind for one in HANIM.check("wrist_l", "wrist", "left")] == ["part-unknown", "order"]


def test_a_middle_joint_takes_no_side():
    assert PLAIN.check("neck", "neck", None) == ()
    assert [one.kind for one in PLAIN.check("left_neck", "neck", None)] == ["side-wrong"]


def test_other_words_that_an_exercise_accepts():
    assert PLAIN.check("left_hand", "wrist", "left", ("hand",)) == ()
    assert [one.kind for one in PLAIN.check("hand_left", "wrist", "left", ("hand",))] == ["order"]
    assert PLAIN.check("left_hand", "wrist", "left")


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.title)
@pytest.mark.parametrize("side", ["left", "right", None])
def test_good_names_have_no_problem_and_swap_back(rule, side):
    for role in ROLES:
        name = rule.name_for(role, side)
        assert rule.check(name, role, side) == ()
        other = {"left": "right", "right": "left", None: None}[side]
        assert rule.swap_side(name) == rule.name_for(role, other)
        assert rule.swap_side(rule.swap_side(name)) == name


@given(st.text(max_size=70), st.sampled_from(RULES), st.sampled_from(ROLES), st.sampled_from(["left", "right", None]))
def test_only_the_good_name_has_no_problem(name, rule, role, side):
    found = rule.check(name, role, side)
    assert (found == ()) == (name == rule.name_for(role, side))
    kinds = [one.kind for one in found]
    assert len(kinds) == len(set(kinds))
    for one in found:
        assert rule.check(one.suggestion, role, side) == ()
    rule.swap_side(name)


GOOD = """format = "rigkit-naming"
version = 1
id = "own"
title = "own"
order = ["side", "part"]
separator = "_"
case = "lower"
sides = {left = "l", right = "r"}
parts = {elbow = "elbow"}
"""


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('case = "lower"', 'case = "shouted"', "own.toml, case: expected one of lower, upper, title, camel"),
        ('case = "lower"', "", "own.toml: expected the key case"),
        ('case = "lower"', 'case = "lower"\ncolour = 1', "'colour'"),
        (
            'right = "r"',
            'right = "2"',
            "own.toml, sides.right: expected letters a to z, got '2'. What stands for right",
        ),
        ('right = "r"', 'right = "l"', "own.toml, sides: expected two different side marks"),
        ('separator = "_"', 'separator = ""', "own.toml, case: expected one of title, camel, got 'lower'"),
        (
            'separator = "_"',
            'separator = "and"',
            "own.toml, separator: expected signs that are neither letters nor digits",
        ),
        ('["side", "part"]', '["side"]', "own.toml, order: expected one of ["),
        (
            "version = 1",
            "version = 2",
            "own.toml: expected version 1, got version 2. Probably written by a newer rigkit",
        ),
        ("version = 1", "version = = 1", "own.toml: expected a TOML file"),
        ('elbow = "elbow"', 'elbow = "="', "own.toml, parts.elbow: expected words of letters"),
        ('elbow = "elbow"', "elbow = []", "own.toml, parts.elbow: expected words of letters"),
        ('elbow = "elbow"', 'elbow = ["elbow", 7]', "own.toml, parts.elbow, item 2: expected words of letters"),
        ('["side", "part"]', '["side", "part", "kind"]', "own.toml, kind: expected a word under kind"),
        ('case = "lower"', 'case = "lower"\nkind = "joint"', "own.toml, kind: expected a word under kind"),
    ],
)
def test_a_rule_that_is_wrong_says_where(tmp_path, old, new, said):
    path = tmp_path / "own.toml"
    path.write_text(GOOD)
    assert read_rule(path).name_for("elbow", "left") == "l_elbow"
    path.write_text(GOOD.replace(old, new))
    with pytest.raises(RigError) as error:
        read_rule(path)
    assert said in str(error.value)
    assert str(tmp_path) not in str(error.value)


def test_a_bundled_rule_that_is_not_there():
    with pytest.raises(RigError, match="no_such_rule.toml"):
        read_rule("no_such_rule")
