"""Rubric arithmetic: measurements alone give scores, costs, caps and a mark; mends cure what they are told for."""

import re
from dataclasses import replace
from types import MappingProxyType

import numpy as np
import pytest

from rigkit.files.exercise import read_exercise
from rigkit.files.layout import Layout
from rigkit.files.rubrics import read_rubric
from rigkit.limbs import practice_limb
from rigkit.make_exercise import make_exercise
from rigkit.marking import mark
from rigkit.measures import Measurement, measure_all
from rigkit.mends import apart, half_up, way_words
from rigkit.rubric import judge
from rigkit.rubric_place import falling
from rigkit.section import OUTSIDE
from rigkit.skeleton import Skeleton
from tests.arms import ROLES, arm, layout, named, shifted

RUBRIC = read_rubric("standard")
COST_STEP = 0.005  # costs are rounded to 0.01
MARK_STEP = 0.05  # marks are rounded to 0.1


def facts(**changes) -> list[Measurement]:
    """Measurements of the key, some of the elbow's replaced."""
    rows = {(m.joint, m.measure): m for m in measure_all(arm().key, arm())}
    for measure, value in changes.items():
        key = ("elbow", measure.replace("_", "-"))
        rows[key] = Measurement(*key, value, rows[key].unit if key in rows else "text")
    return list(rows.values())


def bent(millimetres: float, sideways: float = 0.0) -> list[Measurement]:
    """The elbow's bend set by hand on a line of 500 mm, no ring to widen it: straight 2, least 10, most 25, sideways 15
    to 40."""
    verdict = "right way" if millimetres > 2 else "wrong way" if millimetres < -2 else "too straight to tell"
    return facts(bend=float(millimetres), bend_line=500.0, bend_share=millimetres / 500, bend_verdict=verdict,
                 bend_sideways=float(sideways), bend_sideways_share=sideways / 500, bend_own_radius=0.0)  # fmt: skip


def test_the_key_is_right():
    judged = judge(facts(), RUBRIC)
    assert judged.mark == 100.0
    assert (judged.findings, judged.caps, judged.notices) == ((), (), ())
    assert {name: score.judged for name, score in judged.criteria.items()} == {
        "structure": True, "centring": True, "fold": True, "bend": True, "frames": False, "names": True,
        "mirror": False,
    }  # fmt: skip


# expected scores worked by hand from the rules: linear from straight (2 mm) to least (10), from most (25) to 2 x most
@pytest.mark.parametrize(
    ("millimetres", "score", "finding"),
    [
        (-15, 0.0, "bends-wrong-way"), (-2.1, 0.0, "bends-wrong-way"), (-2, 0.0, "too-straight"),
        (0, 0.0, "too-straight"), (2, 0.0, "too-straight"), (6, 0.5, "bend-slight"), (10, 1.0, None),
        (18, 1.0, None), (25, 1.0, None),
        (37.5, 0.5, "bend-much"), (50, 0.0, "bend-much"), (80, 0.0, "bend-much"),
    ],
)  # fmt: skip
def test_bend(millimetres, score, finding):
    judged = judge(bent(millimetres), RUBRIC)
    assert judged.criteria["bend"].score == pytest.approx(score, abs=1e-6)
    found = [one for one in judged.findings if one.criterion == "bend"]
    assert [one.finding for one in found] == ([finding] if finding else [])
    for one in found:
        assert one.cost == pytest.approx(25 * (1 - score), abs=COST_STEP)
        assert (one.measured, one.unit) == (millimetres, "mm")
        assert one.allowed == (25.0 if finding == "bend-much" else 10.0)
    assert [cap["cap"] for cap in judged.caps] == ([50.0] if finding == "bends-wrong-way" else [])
    assert judged.mark <= (50 if finding == "bends-wrong-way" else 100)


@pytest.mark.parametrize(
    ("sideways", "score"), [(0, 1), (15, 1), (-15, 1), (27.5, 0.5), (-27.5, 0.5), (40, 0), (90, 0)]
)
def test_bend_sideways(sideways, score):
    judged = judge(bent(18, sideways), RUBRIC)
    assert judged.criteria["bend"].score == pytest.approx(score, abs=1e-6)
    assert [one.finding for one in judged.findings] == (["bend-sideways"] if score < 1 else [])


def test_sideways_is_not_charged_where_the_bend_is_wrong_anyway():
    assert [one.finding for one in judge(bent(-15, 30), RUBRIC).findings] == ["bends-wrong-way"]


@pytest.mark.parametrize(("share", "score"), [(0.0, 1), (0.2, 1), (0.5, 0.5), (0.8, 0), (3, 0)])
def test_centring(share, score):
    key = arm().key.skeleton
    region = arm().asked("shoulder")
    place = region.centre + [0.0, region.radius * share, 0.0]
    measured = measure_all(replace(arm().key, skeleton=key.moved(0, place)), arm())
    judged = judge([m for m in measured if m.joint != "elbow"], RUBRIC)
    assert judged.criteria["centring"].score == pytest.approx((score + 1) / 2, abs=1e-4)


def centring_of(skeleton, role: str = "elbow", exercise=None):
    """What a layout is charged for centring one joint: the finding, or None."""
    judged = judge(measure_all(layout(skeleton), exercise or arm()), RUBRIC)
    return next((one for one in judged.findings if (one.criterion, one.joint) == ("centring", role)), None)


def test_a_bend_is_paid_once():
    wrong = judge(measure_all(shifted("elbow", (0, 0, 33)), arm()), RUBRIC)
    assert [one.finding for one in wrong.findings] == ["bends-wrong-way"]
    assert wrong.criteria["centring"].score == 1.0
    behind = judge(measure_all(shifted("elbow", (0, 0, -35)), arm()), RUBRIC)
    assert [one.finding for one in behind.findings] == ["bend-much"]
    # out of the plane of folding, in the measuring plane: the dearer alone as well
    across = np.cross(arm().asked("elbow").plane, [0.0, 0.0, 1.0])
    aside = judge(measure_all(shifted("elbow", across * 34), arm()), RUBRIC)
    assert [one.finding for one in aside.findings] == ["bend-sideways"]
    # 24 mm: (24 - 8.4) / 25.2 of a third of 30 for the place; of that the bend takes (24 - 17.1) / 28.5 of 25
    both = judge(measure_all(shifted("elbow", across * 24), arm()), RUBRIC)
    costs = {one.finding: one.cost for one in both.findings}
    assert costs["off-centre"] + costs["bend-sideways"] == pytest.approx(10 * (24 - 8.39) / 25.18, abs=0.02)
    (off,) = [one for one in both.findings if one.criterion == "centring"]
    assert off.message.endswith("up to 8 mm is right. What its bend costs is taken off.")


@pytest.mark.parametrize("forward", np.arange(-38.0, 39.0, 1.0))  # within the flesh
def test_of_centring_and_bend_the_dearer_is_paid(forward):
    """The elbow along the fold: what it loses is what the one or the other would take alone, whichever is more."""
    measured = measure_all(shifted("elbow", (0, 0, forward)), arm())
    lost = (
        100 - sum(100 * one.weight * one.score for one in judge(measured, RUBRIC).criteria.values() if one.judged) / 100
    )
    alone = [judge([m for m in measured if not (m.joint == "elbow" and m.measure.startswith(gone))], RUBRIC)
             for gone in ("bend", "offset")]  # fmt: skip
    centred = 30 * (1 - alone[0].criteria["centring"].score)
    bend = 25 * (1 - alone[1].criteria["bend"].score)
    assert lost == pytest.approx(max(centred, bend), abs=1e-4)


def test_outside_the_flesh_is_always_told():
    (told,) = judge(facts(state=OUTSIDE, offset=1.0, offset_radius=0.02), RUBRIC).findings
    assert (told.finding, told.cost) == ("outside-flesh", 0.0)


@pytest.mark.parametrize("millimetres", [42, 60, 100, 300])
def test_outside_the_flesh_the_whole_offset_is_paid(millimetres):
    charged = centring_of(shifted("elbow", (0, 0, millimetres)).skeleton)
    assert charged.finding == "outside-flesh"
    assert charged.measured == pytest.approx(millimetres, rel=1e-3)  # the measuring plane leans by half a degree
    assert charged.cost == 10.0


@pytest.mark.parametrize("millimetres", [30, 50, 100, 150])
def test_where_the_whole_arm_lies_off_nothing_is_forgiven(millimetres):
    key = arm().key.skeleton
    judged = judge(measure_all(layout(key.at(key.positions + [0, 0, millimetres / 1000])), arm()), RUBRIC)
    assert judged.criteria["bend"].score == 1.0
    charged = centring_of(key.at(key.positions + [0, 0, millimetres / 1000]))
    assert charged.measured == pytest.approx(millimetres, abs=0.1)
    assert judged.mark <= 60.0


@pytest.mark.parametrize("shift", [(0, 0, 0), (0, 0, 0.1), (0.05, -0.1, 0.02)])
def test_on_a_limb_modelled_straight_the_ring_stretches_by_the_exercise_alone(shift):
    """The arm asked to bend 34.2 mm at least: its elbow may lie 16.2 mm behind its middle, wherever neighbours lie."""
    elbow = arm().asked("elbow")
    bent = replace(elbow, fold=replace(elbow.fold, least=0.06, most=0.08))
    exercise = replace(arm(), joints=(arm().joints[0], bent, arm().joints[2]))
    skeleton = arm().key.skeleton
    others = skeleton.positions + np.array([shift, (0, 0, 0), shift])
    measured = {m.measure: m.value for m in measure_all(layout(skeleton.at(others)), exercise) if m.joint == "elbow"}
    stretch = 0.06 * 570.81 - 18.01  # least of the key's line, less the bend of the middles
    assert measured["ring-stretch"] == pytest.approx(stretch, abs=0.3)
    for behind, right in ((0, True), (stretch, True), (stretch + 8, True), (stretch + 10, False), (-10, True)):
        moved = skeleton.moved(1, skeleton.positions[1] - [0, 0, behind / 1000])
        assert (centring_of(moved, exercise=exercise) is None) == right, behind
    if shift == (0, 0, 0):
        slight = judge(measure_all(arm().key, exercise), RUBRIC)
        assert [(one.finding, one.mend) for one in slight.findings] == [("bend-slight", "Move the elbow back 17 mm.")]


def test_a_neighbour_is_mended_first():
    judged = judge(measure_all(shifted("wrist", (0, 0, -45)), arm()), RUBRIC)
    bend = next(one for one in judged.findings if one.criterion == "bend")
    assert bend.joint == "elbow"
    assert bend.mend == "Move the wrist forward 45 mm, up 3 mm and in 2 mm."
    assert bend.move is None and dict(bend.moves) == {"wrist": (-2.0, 3.0, 45.0)}


def test_words_say_how_much_and_which_way():
    judged = judge(measure_all(shifted("elbow", (0, 0, 33.01)), arm()), RUBRIC)
    assert judged.findings[0].message == (
        "The elbow lies 15 mm in front of the line from shoulder to wrist, "
        "so the limb will fold backwards, the wrong way."
    )
    # 15 to the line, 18.0 - 8.4 = 9.6 behind it, a margin, whole millimetres
    assert judged.findings[0].mend == "Move the elbow back 26 mm."
    assert way_words(np.array([-12.0, 0.0, 3.0])) == "in 12 mm and forward 3 mm"
    assert way_words(np.array([1.0, -30.0, -2.0])) == "down 30 mm, back 2 mm and out 1 mm"


def parsed(words: str) -> np.ndarray:
    """The move (3,) in mm that a reader takes from a mend's words."""
    ways = {"out": (0, 1), "in": (0, -1), "up": (1, 1), "down": (1, -1), "forward": (2, 1), "back": (2, -1)}
    move = np.zeros(3)
    pieces = words.rstrip(".").replace(",", " ").split()
    for i, piece in enumerate(pieces):
        if piece == "mm" and pieces[i - 2] in ways:
            axis, sign = ways[pieces[i - 2]]
            move[axis] += sign * float(pieces[i - 1])
    return move


@pytest.mark.parametrize("seed", range(12))
def test_following_a_mend_cures_that_finding(seed):
    chance = np.random.default_rng(seed)
    key = arm().key.skeleton
    for size in (0.008, 0.015, 0.03, 0.06):
        places = key.positions + chance.normal(size=(3, 3)) * size * chance.integers(0, 2, (3, 1))
        before = judge(measure_all(replace(arm().key, skeleton=key.at(places)), arm()), RUBRIC)
        for one in before.findings:
            moved = places.copy()
            words = dict(
                re.findall(
                    r"(?:Move|Slide) the (\w+) ([^.]*(?:\.\d[^.]*)*)\.",
                    one.mend.replace(", only once: the same", ". O"),
                )
            )
            for role, move in one.moves:
                told = role in words or f"{role} told above" in one.mend or f"the {role} and the" in one.mend
                assert told, one.mend
                if role in words:
                    np.testing.assert_array_equal(parsed(words[role]), move)
                moved[ROLES.index(role)] += np.array(move) / 1000
            moved = key.at(moved)
            after = judge(measure_all(replace(arm().key, skeleton=moved), arm()), RUBRIC)
            assert (one.finding, one.joint) not in {(o.finding, o.joint) for o in after.findings}, one.mend


def mended(skeleton, findings):
    """The skeleton after every move that the findings tell, each once."""
    places = skeleton.positions.copy()
    for joint, move in {one for finding in findings for one in finding.moves}:
        places[ROLES.index(joint)] += np.array(move) / 1000
    return skeleton.at(places)


@pytest.mark.parametrize("millimetres", [30, 100])
@pytest.mark.parametrize("way", [(0, 0, 1), (0, 0, -1), (1, 0, 0), (-1, 0, 0), (0, 1, 0), (0, -1, 0)])
def test_all_mends_at_once_bring_a_whole_arm_home(millimetres, way):
    key = arm().key.skeleton
    skeleton = key.at(key.positions + np.array(way) * millimetres / 1000)
    before = judge(measure_all(layout(skeleton), arm()), RUBRIC)
    after = judge(measure_all(layout(mended(skeleton, before.findings)), arm()), RUBRIC)
    assert before.mark < after.mark == 100.0


def test_all_mends_at_once_mend_an_elbow_behind_its_place():
    skeleton = shifted("elbow", (0, 0, -35)).skeleton
    judged = judge(measure_all(layout(skeleton), arm()), RUBRIC)
    assert [(one.finding, one.mend) for one in judged.findings] == [
        ("bend-much", "Move the elbow forward 35 mm."),  # the smallest, 26 mm, would leave it outside its ring
    ]
    assert judge(measure_all(layout(mended(skeleton, judged.findings)), arm()), RUBRIC).mark == 100.0


@pytest.mark.parametrize(("shoulder", "elbow", "mend"), [
    ((-30, 0, 0), 25, "Move the elbow back 18 mm."),  # the shoulder lies off along the line only
    ((0, 0, -60), 20, "Move the elbow back 13 mm. Move the shoulder forward 60 mm and down 1 mm."),
])  # fmt: skip
def test_a_bend_that_a_neighbour_spoils_too_is_mended_with_it(shoulder, elbow, mend):
    key = arm().key.skeleton
    skeleton = key.at(key.positions + np.array([shoulder, (0, 0, elbow), (0, 0, 0)]) / 1000)
    judged = judge(measure_all(layout(skeleton), arm()), RUBRIC)
    told = [one for one in judged.findings if (one.joint, one.criterion) == ("elbow", "bend")]
    assert [one.mend for one in told] == [mend]


def test_three_rounds_of_mends_end_at_full_marks_and_none_costs():
    """300 layouts, each joint anywhere within two radii of its place."""
    key = arm().key.skeleton
    radii = [m.value / 1000 for m in facts() if m.measure == "radius"]
    for seed in range(300):
        chance = np.random.default_rng(seed)
        ways = chance.normal(size=(3, 3))
        ways *= 2 * np.array([radii]).T * np.cbrt(chance.uniform(size=(3, 1))) / np.linalg.norm(ways, axis=1)[:, None]
        skeleton, marks = key.at(key.positions + ways), []
        for _ in range(4):
            judged = judge(measure_all(layout(skeleton), arm()), RUBRIC)
            marks.append(judged.mark)
            skeleton = mended(skeleton, judged.findings)
        assert marks == sorted(marks), f"seed {seed}: {marks}"
        assert marks[-1] == 100.0, f"seed {seed}: {marks}"


def test_a_neighbour_pays_for_what_it_turns_sideways():
    key = arm().key.skeleton
    aside = np.cross(key.positions[2] - key.positions[0], [0.0, 0.0, 1.0])
    aside /= np.linalg.norm(aside)
    judged = judge(measure_all(layout(key.moved(0, key.positions[0] + 0.045 * aside)), arm()), RUBRIC)
    assert [(one.joint, one.finding) for one in judged.findings] == [("shoulder", "off-centre")]
    both = key.at(key.positions + np.array([0.045 * aside, -0.012 * aside, (0, 0, 0)]))
    judged = judge(measure_all(layout(both), arm()), RUBRIC)
    assert ("elbow", "bend-sideways") in [(one.joint, one.finding) for one in judged.findings]


@pytest.mark.parametrize(("shift", "blamed"), [((0, 0, -60), True), ((0, 0, -20), False)])
def test_the_wrong_way_is_charged_though_the_line_moved(shift, blamed):
    key = arm().key.skeleton
    elbow = (0, 0, 0) if blamed else (0, 0, 0.02)  # past its own ring it is to blame itself
    skeleton = key.at(key.positions + np.array([np.array(shift) / 1000, elbow, (0, 0, 0)]))
    judged = judge(measure_all(layout(skeleton), arm()), RUBRIC)
    told = next(one for one in judged.findings if one.joint == "elbow")
    assert told.finding == "bends-wrong-way" and judged.mark == 50.0
    assert ("from shoulder to wrist because the shoulder lies off its place, so" in told.message) == blamed


def test_numbers_that_would_read_alike_are_told_apart():
    assert apart(11.2, 11.4) == ["11.2 mm", "11.4 mm"]
    assert apart(11.38, 11.42) == ["11.38 mm", "11.42 mm"]
    assert apart(15.3, 11.4) == ["15 mm", "11 mm"] and apart(0.31, 4) == ["0.3 mm", "4 mm"]
    assert apart(8.4, 8.4) == ["8 mm", "8 mm"]

    def said(*bend):
        return judge(bent(*bend), RUBRIC).findings[0].message

    assert "lies 9.8 mm behind the line" in said(9.8) and "from 10.0 mm on it is enough" in said(9.8)
    assert "lies 2.2 mm in front of the line" in said(-2.2) and "lies 5 mm in front" in said(-5)
    assert "lies 1.8 mm in front of the line from shoulder to wrist; up to 2.0 mm is too straight" in said(-1.8)
    assert "lies on the line" in said(0)
    assert "15.2 mm too far" in said(18, 15.2) and "up to 15.0 mm is right" in said(18, 15.2)


def test_what_caps_comes_first_then_what_costs_most():
    key = arm().key.skeleton
    places = key.positions + np.array([(0.02, 0, 0), (0, 0, 0.06), (0, 0.1, 0)])
    skeleton = replace(key, positions=places, parents=(None, 0, 0), names=("left_shoulder", "left_elbow", "x"))
    judged = judge(measure_all(layout(skeleton), arm()), RUBRIC)
    limits = {one["finding"]: one["cap"] for one in judged.caps}
    caps = [limits.get(one.finding, 101) for one in judged.findings]
    assert caps == sorted(caps) and limits["outside-flesh"] == 40.0 and limits["bends-wrong-way"] == 50.0
    for cap in set(caps):
        costs = [one.cost for one, other in zip(judged.findings, caps, strict=True) if other == cap]
        assert costs == sorted(costs, reverse=True)
    assert [cap["cap"] for cap in judged.caps] == sorted(cap["cap"] for cap in judged.caps)
    two = judge(measure_all(shifted("elbow", (0, 0, 60)), arm()), RUBRIC).caps
    assert [(cap["finding"], cap["took"]) for cap in two] == [("bends-wrong-way", 15.0), ("outside-flesh", 0.0)]
    alike = judge(measure_all(named("left", "left", "left"), arm()), RUBRIC)
    assert [one.joint for one in alike.findings] == list(ROLES), "what costs alike stands in the exercise's order"


@pytest.mark.parametrize("seed", range(20))
def test_costs_and_mark_make_a_hundred(seed):
    chance = np.random.default_rng(seed)
    key = arm().key.skeleton
    names = chance.choice(["left_elbow", "l_wrist", "SHOULDER", "x", "left_shoulder"], 3)
    skeleton = replace(key, positions=key.positions + chance.normal(size=(3, 3)) * 0.02, names=tuple(map(str, names)))
    judged = judge(measure_all(replace(arm().key, skeleton=skeleton), arm()), RUBRIC)
    taken = sum(one.cost for one in judged.findings) + sum(cap["took"] for cap in judged.caps)
    assert taken + judged.mark == pytest.approx(100, abs=2 * MARK_STEP + COST_STEP * len(judged.findings))


# what a name loses of its score, by hand from the rubric: wrong side 1, side 0.5, part 0.5, misspelt 0.25, style 0.25 once
@pytest.mark.parametrize(
    ("name", "score", "findings"),
    [
        ("left_elbow", 1.0, []),
        ("right_elbow", 0.0, ["side-wrong"]),
        ("elbow", 0.5, ["side-missing"]),
        ("left_wrist", 0.5, ["part-other"]),
        ("left_banana", 0.5, ["part-unknown"]),
        ("left_elbwo", 0.75, ["part-misspelt"]),
        ("leftElbow", 0.75, ["name-case"]),
        ("Elbow-L", 0.75, ["side-mark"]),
        ("orlo:left_elbow", 0.75, ["name-extra-word"]),
        ("Left-Elbwo", 0.5, ["part-misspelt", "name-case"]),
        ("Elbow", 0.25, ["side-missing", "name-case"]),
        ("RIGHT_Elbwo", 0.0, ["side-wrong"]),
        ("joint_2", 0.0, ["side-missing", "part-unknown"]),
        ("Joint_2!", 0.0, ["side-missing", "part-unknown"]),
    ],
)
def test_what_a_name_costs(name, score, findings):
    judged = judge(measure_all(named("left_shoulder", name, "left_wrist"), arm()), RUBRIC)
    assert judged.criteria["names"].score == pytest.approx((2 + score) / 3, abs=1e-6)
    assert sorted(one.finding for one in judged.findings) == sorted(findings)
    assert sum(one.cost for one in judged.findings) == pytest.approx(15 * (1 - score) / 3, abs=2 * COST_STEP)
    assert {one.mend for one in judged.findings} <= {"Name it left_elbow."}


def test_style_is_one_finding_that_names_all():
    judged = judge(measure_all(named("left_shoulder", "leftElbow", "left_wrist"), arm()), RUBRIC)
    assert [one.message for one in judged.findings] == [
        'The elbow: it is written "leftElbow"; the rule says left_elbow (letters are small; words are joined by _).'
    ]


@pytest.mark.parametrize(
    ("names", "findings", "notice"),
    [
        (("l_shoulder", "l_elbow", "l_radiocarpal"), {"name-other-rule"},
         "All names follow the rule H-Anim (ISO/IEC 19774); this exercise asks for Plain names."),
        (("l_shoulder", "l_elbow", "l_wrist"), {"side-mark"},
         "All names keep one style, as in l_shoulder; this exercise's rule says left_shoulder."),
        (("orlo:left_shoulder", "orlo:left_elbow", "orlo:left_wrist"), {"name-extra-word"},
         "All names keep one style, as in orlo:left_shoulder; this exercise's rule says left_shoulder."),
        (("l_shoulder", "r_elbow", "l_radiocarpal"), {"side-mark", "side-wrong", "part-unknown"}, None),
        (("left-shoulder", "left.elbow", "left wrist"), {"name-separator"}, None),
        (("left-shoulder", "left_elbow", "left_wrist"), {"name-separator"}, None),
        (("left_shoulder", "left_elbow", "left_wrist"), set(), None),
    ],
)  # fmt: skip
def test_another_rule_or_a_style_of_their_own_is_told(names, findings, notice):
    judged = judge(measure_all(named(*names), arm()), RUBRIC)
    assert {one.finding for one in judged.findings} == findings
    assert judged.notices == ((notice,) if notice else ())
    if notice:
        assert judged.criteria["names"].score == 0.75


def test_a_criterion_without_weight_is_not_judged():
    weights = MappingProxyType({**RUBRIC.weights, "names": 0.0})
    judged = judge(measure_all(named("a", "b", "c"), arm()), replace(RUBRIC, weights=weights))
    assert (judged.mark, judged.findings) == (100.0, ())
    assert not judged.criteria["names"].judged


def test_a_stricter_rubric_charges_from_the_same_measurements():
    measured = measure_all(shifted("elbow", (4, 3, 0)), arm())
    assert judge(measured, RUBRIC).mark == 100.0
    strict = replace(RUBRIC, values=MappingProxyType({**RUBRIC.values, "centring.allowed": 0.05}))
    assert [one.finding for one in judge(measured, strict).findings] == ["off-centre"]


@pytest.mark.parametrize(("number", "digits", "said"), [
    (0.05, 1, 0.1), (0.15, 1, 0.2), (99.95, 1, 100.0), (2.675, 2, 2.68), (-0.05, 1, -0.1), (66.6499999, 1, 66.6),
    (0.1 + 0.2, 1, 0.3), (72.25, 1, 72.3),
])  # fmt: skip
def test_half_up_on_decimals(number, digits, said):
    assert half_up(number, digits) == said


def test_falling():
    assert [falling(x, 1, 3) for x in (0, 1, 2, 3, 9)] == [1, 1, 0.5, 0, 0]


def test_right_fingers_do_not_buy_back_a_wrong_elbow(tmp_path):
    """22 joints, 19 of them optional: a straight elbow costs nearly as much as without them."""
    limb = practice_limb("arm", 12)
    exercise = read_exercise(make_exercise(tmp_path / "arm", limb))
    shoulder, _, wrist = limb.key.positions[:3]
    straight = limb.key.moved(1, shoulder + 0.55 * (wrist - shoulder))
    bare = Skeleton(straight.names[:3], straight.parents[:3], straight.positions[:3])
    with_fingers, without = (mark(Layout("wren", exercise.id, 1, one), exercise).mark for one in (straight, bare))
    assert without <= with_fingers < without + 10
    assert mark(Layout("wren", exercise.id, 1, limb.key), exercise).mark == 100.0


def test_a_fingertip_at_the_skin_or_just_beyond_is_no_show_stopper(tmp_path):
    limb = practice_limb("arm", 12)
    exercise = read_exercise(make_exercise(tmp_path / "arm", limb))
    tip = limb.roles.index("index tip")
    out = limb.key.positions[tip] - limb.key.positions[tip - 1]
    beyond = limb.key.moved(tip, limb.key.positions[tip] + 0.005 * out / np.linalg.norm(out))
    judged = mark(Layout("wren", exercise.id, 1, beyond), exercise)
    assert judged.mark > 95 and not judged.caps


@pytest.mark.parametrize("step", [(0, 0, 33), (40, 0, 0), (3, 60, -5)])
def test_marks_and_costs_are_the_same_whether_mends_are_worked_out_or_not(step):
    measured = measure_all(shifted("elbow", step), arm())
    whole, bare = judge(measured, RUBRIC), judge(measured, RUBRIC, mends=False)
    assert (whole.mark, whole.criteria, whole.caps) == (bare.mark, bare.criteria, bare.caps)
    assert [(f.finding, f.joint, f.cost) for f in whole.findings] == [
        (f.finding, f.joint, f.cost) for f in bare.findings
    ]
