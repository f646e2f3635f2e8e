"""Rubric arithmetic: measurements alone give scores, costs, caps and a mark; mends cure what they are told for."""

from dataclasses import replace
from types import MappingProxyType

import numpy as np
import pytest

from rigkit.files.rubrics import read_rubric
from rigkit.measures import Measurement, measure_all
from rigkit.mends import half_up, way_words
from rigkit.rubric import judge
from rigkit.rubric_place import falling
from tests.arms import arm, named, shifted

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
    """The elbow's bend set by hand on a line of 500 mm: straight 2, least 10, most 25, sideways 15 to 40."""
    verdict = "right way" if millimetres > 2 else "wrong way" if millimetres < -2 else "too straight to tell"
    return facts(bend=float(millimetres), bend_line=500.0, bend_share=millimetres / 500, bend_verdict=verdict,
                 bend_sideways=float(sideways), bend_sideways_share=sideways / 500)  # fmt: skip


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


def test_a_bend_is_paid_once():
    wrong = judge(measure_all(shifted("elbow", (0, 0, 33)), arm()), RUBRIC)
    assert [one.finding for one in wrong.findings] == ["bends-wrong-way"]
    assert wrong.criteria["centring"].score == 1.0
    both = judge(measure_all(shifted("elbow", (0, 0, 60)), arm()), RUBRIC)
    # 60 mm in front of an elbow that is bent 18 mm: 42 in front of the line; mending the bend to 11.4 takes away 53.4
    charged = next((one for one in both.findings if one.criterion == "centring"), None)
    assert charged is None, "6.6 mm are left, and 0.2 x 41.7 = 8.3 mm are allowed"


def test_a_neighbour_is_mended_first():
    judged = judge(measure_all(shifted("wrist", (0, 0, -45)), arm()), RUBRIC)
    bend = next(one for one in judged.findings if one.criterion == "bend")
    assert bend.joint == "elbow"
    assert bend.mend == "Mend the wrist first, then look at the elbow again."
    assert bend.move is None


def test_words_say_how_much_and_which_way():
    judged = judge(measure_all(shifted("elbow", (0, 0, 33.01)), arm()), RUBRIC)
    assert judged.findings[0].message == (
        "The elbow lies 15 mm in front of the line from shoulder to wrist, "
        "so the limb will fold backwards, the wrong way."
    )
    assert judged.findings[0].mend == "Move the elbow back 27 mm."  # 15 to the line, 11.4 behind it, whole millimetres
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
            if one.move is None:
                continue
            np.testing.assert_array_equal(parsed(one.mend), one.move)
            number = ("shoulder", "elbow", "wrist").index(one.joint)
            moved = key.at(places).moved(number, places[number] + np.array(one.move) / 1000)
            after = judge(measure_all(replace(arm().key, skeleton=moved), arm()), RUBRIC)
            assert (one.finding, one.joint) not in {(o.finding, o.joint) for o in after.findings}, one.mend


@pytest.mark.parametrize("seed", range(6))
def test_following_all_mends_ends_at_full_marks(seed):
    chance = np.random.default_rng(100 + seed)
    skeleton = arm().key.skeleton
    skeleton = skeleton.at(skeleton.positions + chance.normal(size=(3, 3)) * 0.03)
    for _ in range(12):
        judged = judge(measure_all(replace(arm().key, skeleton=skeleton), arm()), RUBRIC)
        told = next((one for one in judged.findings if one.move is not None), None)
        if told is None:
            break
        number = ("shoulder", "elbow", "wrist").index(told.joint)
        skeleton = skeleton.moved(number, skeleton.positions[number] + np.array(told.move) / 1000)
    assert (judged.mark, judged.findings) == (100.0, ())


@pytest.mark.parametrize("seed", range(20))
def test_costs_and_mark_make_a_hundred(seed):
    chance = np.random.default_rng(seed)
    key = arm().key.skeleton
    names = chance.choice(["left_elbow", "l_wrist", "SHOULDER", "x", "left_shoulder"], 3)
    skeleton = replace(key, positions=key.positions + chance.normal(size=(3, 3)) * 0.02, names=tuple(map(str, names)))
    judged = judge(measure_all(replace(arm().key, skeleton=skeleton), arm()), RUBRIC)
    before = judged.caps[0]["before"] if judged.caps else judged.mark
    total = sum(one.cost for one in judged.findings) + before
    assert total == pytest.approx(100, abs=MARK_STEP + COST_STEP * len(judged.findings))


def test_names_cost_half_for_each_kind_and_no_more_than_all():
    judged = judge(measure_all(named("shoulder", "left_elbow", "left_wrist"), arm()), RUBRIC)
    assert judged.criteria["names"].score == pytest.approx(5 / 6, abs=1e-6)
    judged = judge(measure_all(named("Wrist!", "left_elbow", "left_wrist"), arm()), RUBRIC)
    assert judged.criteria["names"].score == pytest.approx(2 / 3, abs=1e-6)
    assert {one.mend for one in judged.findings} == {"Name it left_shoulder."}


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
