"""Copies: honest classes are left alone, planted copies are found, and right joints never count."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rigkit.classroom import mark_class
from rigkit.copies import LIMIT, copies
from rigkit.files.rubrics import read_rubric
from rigkit.likeness import NEAR, RAREST, Places, chance_near, pairs
from rigkit.marking import Class
from rigkit.own_limbs import read_class_exercise, write_own_limbs
from tests.arms import PROJECT
from tests.honest import as_class, exercise, honest_class, measured, planted

ARM = "left-arm"
WAY = np.array([0.0, 0.018, 0.006])
"""Metres: off every middle of the arm by more than its ring."""


def room_with(*more, seed=3, name=ARM, count=29) -> Class:
    """An honest class and some more layouts, called t0, t1 and so on."""
    room = honest_class(name, count, seed)
    results = (*room.counting, *(measured(room.asked, f"t{i}", one) for i, one in enumerate(more)))
    return replace(room, results=results, counting=results)


def wrong(*steps) -> object:
    """The arm's key with its three joints moved by so much, metres."""
    key = exercise(ARM).key.skeleton
    return key.at(key.positions + np.array(steps))


BAD = wrong([0.011, 0.013, -0.012], [0.021, -0.009, 0.017], [-0.009, 0.012, 0.013])


def found(room: Class) -> set[frozenset]:
    return {frozenset((one.first, one.second)) for one in copies(room).pairs}


@pytest.mark.parametrize(("name", "seeds"), [(ARM, range(6)), ("left-leg", range(3)), ("left-hand", range(1))])
def test_an_honest_class_is_left_alone(name, seeds):
    """A sample; `python -m tests.honest 300` counts more."""
    assert [copies(honest_class(name, 30, seed)).pairs for seed in seeds] == [()] * len(seeds)


@pytest.mark.parametrize("name", ["demo-class", "demo-class-60"])
def test_the_demo_classes_are_left_alone(name):
    assert copies(mark_class([PROJECT / "data" / name], PROJECT / "data" / "exercises" / ARM)).pairs == ()


@pytest.mark.parametrize("how", ["as it is", "shifted", "mirrored", "renamed", "nudged"])
def test_a_copy_is_found_however_it_is_dressed(how):
    room, chance = room_with(BAD), np.random.default_rng(5)
    assert found(planted(room, 29, how, chance)) == {frozenset(("t0", "copy"))}


def test_a_copy_with_one_joint_changed_is_found_by_the_two_that_are_left():
    other = BAD.moved(1, BAD.positions[1] + [0.0, 0.02, 0.0])
    (one,) = copies(room_with(BAD, other)).pairs
    assert {one.first, one.second} == {"t0", "t1"} and one.expected <= LIMIT
    assert "the shoulder" in one.words and "the wrist" in one.words and "the elbow" not in one.words
    assert "worth a conversation" in one.words and "cheat" not in one.words and "copied" not in one.words


def test_one_joint_alone_is_never_enough():
    one = wrong([0, 0, 0], [0.02, 0.03, 0.02], [0, 0, 0])
    room = copies(room_with(one, one))
    assert room.pairs == () and {"t0", "t1"} <= set(room.untold)
    assert "wrong or left to choice" in room.lines()[-1] and "t0" in room.lines()[-1]


def test_right_joints_prove_nothing():
    key = exercise(ARM).key.skeleton
    room = copies(room_with(key, key, key))
    assert room.pairs == () and {"t0", "t1", "t2"} <= set(room.untold)
    assert f"Of {32 - len(room.untold)} hand-ins no two share more than chance explains." in room.lines()
    nobody = copies(as_class(exercise(ARM), [key] * 20))
    assert nobody.lines()[0].startswith("Cannot tell for 20") and len(nobody.lines()) == 1


def test_a_right_layout_moved_as_a_whole_by_two_students_proves_nothing():
    key = exercise(ARM).key.skeleton
    assert found(room_with(*(key.at(key.positions + 0.03 * np.array(way))
                             for way in ([1, 0, 0], [0, 0, 1], [0, 0.7, -0.7])))) == set()  # fmt: skip


def test_what_was_left_as_the_lesson_starts_proves_nothing():
    start = exercise(ARM).start("scattered").skeleton
    moved = start.moved(1, start.positions[1] + [0.007, -0.013, 0.004])
    carried = start.at(start.positions + [0.004, 0.009, 0.003])  # all went along with the shoulder
    assert found(room_with(start, start, moved, carried, start.at(start.positions + [0.011, 0, 0.002]))) == set()


def test_axes_that_were_not_moved_count_for_nothing():
    """Two who moved the same two joints along one axis only, to about the same place, from the same start."""
    start = exercise(ARM).start("scattered").skeleton
    places = start.positions + np.array([[0, 0, 0.021], [0, 0, -0.012], [0, 0, 0]])
    assert found(room_with(start.at(places), start.at(places))) == set()


def test_what_many_share_has_a_common_source():
    assert found(room_with(*[BAD] * 3)) == {frozenset(("t0", "t1")), frozenset(("t0", "t2")), frozenset(("t1", "t2"))}
    assert found(room_with(*[BAD] * 12)) == set()


def test_names_alone_are_no_pair_but_help_to_tell_one():
    names = replace(BAD, names=("blub", "left_elbow", "left_wrist"))
    honest = honest_class(ARM, 29, 3).counting[0].skeleton
    assert found(room_with(replace(honest, names=names.names), names)) == set()
    plain, named = copies(room_with(BAD, BAD)).pairs[0], copies(room_with(names, names)).pairs[0]
    assert named.expected < plain.expected
    assert 'the name "blub" for the shoulder' in named.words


def test_a_joint_more_that_nobody_asked_for_helps_too():
    def more(places):
        joints = wrong([0, 0, 0], [0.02, 0.03, 0.02], [0, 0, 0])
        return replace(joints, names=(*joints.names, "fin"), parents=(*joints.parents, 1),
                       positions=np.vstack([joints.positions, places]), rotations=())  # fmt: skip

    at = exercise(ARM).key.skeleton.positions[1] + [0.03, 0.09, -0.12]
    (one,) = copies(room_with(more(at), more(at))).pairs
    assert "a joint more than asked for (0.0 mm apart" in one.words
    assert found(room_with(more(at), more(at + [0.0, 0.0, 0.02]))) == set()


def test_words_say_how_a_shifted_and_a_mirrored_copy_was_seen():
    for how, words in (
        ("shifted", "copy's is moved as a whole by"),
        ("mirrored", "One is the mirror image of the other."),
    ):
        (one,) = copies(planted(room_with(BAD), 29, how, np.random.default_rng(1))).pairs
        assert words in one.words


def test_order_and_names_of_students_change_nothing():
    room = planted(room_with(BAD), 29, "as it is", np.random.default_rng(1))
    turned = replace(room, counting=tuple(reversed(room.counting)))
    one, two = copies(room), copies(turned)
    assert {frozenset((a.first, a.second)): a.expected for a in one.pairs} == {
        frozenset((a.first, a.second)): pytest.approx(a.expected) for a in two.pairs
    }
    assert set(one.untold) == set(two.untold)


def test_a_small_class_is_told_nothing_of():
    room = copies(as_class(exercise(ARM), [BAD] * 7))
    assert room.pairs == () and len(room.untold) == 7 and "it takes 8" in room.why


def test_another_rubric_has_other_rings():
    room = room_with(BAD, BAD)
    assert found(room) and not found(replace(room, rubric=_wide()))


def _wide():
    rubric = read_rubric("standard")
    return replace(rubric, values={**rubric.values, "centring.allowed": 2.0, "fold.allowed": 2.0})


def test_a_layout_made_for_another_students_limb_is_noticed(tmp_path):
    own = read_class_exercise(write_own_limbs(tmp_path / "own", "leg", "left", "saltreed", ("hip", "knee", "ankle")))
    chance = np.random.default_rng(2)
    results = []
    for number in range(16):
        asked = own.of(f"s{number}")
        places = np.array([joint.middle for joint in asked.joints]) + 0.003 * chance.normal(size=(3, 3))
        joints = BAD.at(places)
        joints = replace(joints, names=("left_hip", "left_knee", "left_ankle"))
        results.append(measured(asked, f"s{number}", joints))
    far = max(range(1, 16), key=lambda n: np.abs(results[n].skeleton.positions - results[0].skeleton.positions).max())
    room = Class(own.id, own.title, read_rubric("standard"), tuple(results), tuple(results), own=own)
    assert copies(room).pairs == ()
    copied = replace(
        results[far], id="s0", measurements=measured(own.of("s0"), "s0", results[far].skeleton).measurements
    )
    results[0] = copied
    (one,) = copies(replace(room, results=tuple(results), counting=tuple(results))).pairs
    assert {one.first, one.second} == {"s0", f"s{far}"} and f"It fits s{far}'s limb better" in one.words


# ---- the numbers ------------------------------------------------------------------------------------

class_of = st.integers(0, 10_000).map(np.random.default_rng)


def known(places: np.ndarray, counts=None) -> Places:
    n, k, _ = places.shape
    counts = np.ones((n, k), dtype=bool) if counts is None else counts
    return Places(places, counts, places, np.zeros((n, k)), np.zeros((0, k, 3)), np.ones((n, n)))


def test_the_chance_of_a_shared_place_is_that_of_an_even_crowd():
    """Of 4,000 places spread evenly over a cube of 40 mm, those within NEAR of its middle, against what is said: a
    bound from above, and no more than a few times too high."""
    chance = np.random.default_rng(4)
    true = 4 / 3 * np.pi * NEAR**3 / 40**3
    told = [chance_near(np.zeros(3), chance.uniform(-20, 20, (40, 3))) for _ in range(300)]
    assert np.mean(np.array(told) >= min(true, RAREST)) > 0.99
    flat = [chance_near(np.zeros(1), chance.uniform(-20, 20, (40, 1))) for _ in range(300)]
    assert np.mean(np.array(flat) >= 2 * NEAR / 40) > 0.9
    assert np.median(flat) < 5 * 2 * NEAR / 40


@given(class_of)
@settings(max_examples=30)
def test_pairs_do_not_hang_on_where_the_body_stands(chance):
    places = chance.normal(0, 12, (20, 4, 3))
    places[7] = places[3]
    whole = {(one.first, one.second): one.chance for one in pairs(known(places))}
    assert (3, 7) in whole and whole[3, 7] <= 1e-6
    moved = {(one.first, one.second): one.chance for one in pairs(known(places + chance.normal(0, 500, 3)))}
    assert moved == {key: pytest.approx(value) for key, value in whole.items()}


@given(class_of)
@settings(max_examples=30)
def test_a_joint_that_does_not_count_is_as_good_as_none(chance):
    places = chance.normal(0, 12, (20, 4, 3))
    places[7] = places[3]
    counts = np.ones((20, 4), dtype=bool)
    counts[3, 1:] = False
    assert not [one for one in pairs(known(places, counts)) if (one.first, one.second) == (3, 7)]


@given(class_of)
@settings(max_examples=30)
def test_a_missing_joint_is_near_to_nothing(chance):
    places = chance.normal(0, 12, (20, 4, 3))
    places[chance.uniform(size=(20, 4)) < 0.3] = np.nan
    for one in pairs(known(places, ~np.isnan(places[:, :, 0]))):
        assert 0 <= one.chance <= 1 and np.all(np.isfinite(one.apart))


@given(class_of)
@settings(max_examples=30)
def test_a_right_limb_moved_as_a_whole_tells_nothing_even_in_a_class_of_guesses(chance):
    """All its joints lie off their middles by the same: seen from one of them the others are right."""
    middles = chance.uniform(-300, 300, (4, 3))
    places = middles + chance.normal(0, 25, (20, 4, 3))
    places[3], places[7] = middles + [20, 0, 4], middles + [0, 25, 5]
    room = replace(known(places), off=places - middles, ring=np.full((20, 4), 5.0))
    assert not [one for one in pairs(room) if (one.first, one.second) == (3, 7)]
    places[7] = places[3] = middles + [[20, 0, 4], [0, 25, 5], [-18, 0, 9], [0, -9, 21]]
    places[7] = places[7] + [0, 5, 0]
    (one,) = {one.shift for one in pairs(replace(room, places=places, off=places - middles), 1e-5)}
    assert one == pytest.approx((0, 5, 0))
