"""Laws of units and axes: any reading of a right layout is found and marked alike; no bad layout is ever turned."""

from functools import cache

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as some

from rigkit.files.exercise import Exercise, read_exercise
from rigkit.files.layout import FACING, METRES, UP, Axes, Layout
from rigkit.frames import rotation_about
from rigkit.limbs import KINDS, practice_limb
from rigkit.make_exercise import make_exercise
from rigkit.marking import mark
from rigkit.skeleton import Skeleton
from rigkit.standing import recognised
from tests.arms import as_file

READINGS = [Axes(unit, up, facing) for unit in METRES for up in UP for facing in FACING if up[1] != facing[1]]
EXACT = 1e-11  # metres: factors and signs alone
BAD = 500  # layouts for each kind of limb


@pytest.fixture(scope="module")
def limbs(tmp_path_factory):
    """The exercise of each kind and side, made once when asked for."""
    return cache(lambda kind, side: read_exercise(
        make_exercise(tmp_path_factory.mktemp("limb") / "made", practice_limb(kind, 3, side))))  # fmt: skip


def handed_in(skeleton: Skeleton) -> Layout:
    return Layout("wren", "", 1, skeleton)


def shaken(exercise: Exercise, seed: int, share: float) -> Skeleton:
    """The key, each joint shifted by up to a share of the way to the nearest required one."""
    key, rng = exercise.key.skeleton, np.random.default_rng(seed)
    middles = np.array([joint.middle for joint in exercise.joints if joint.need == "required"])
    gaps = np.linalg.norm(middles[:, None] - middles, axis=2)
    return key.at(key.positions + rng.uniform(-1, 1, key.positions.shape) * share * gaps[gaps > 0].min())


@pytest.mark.parametrize("side", ["left", "right"])
@pytest.mark.parametrize("kind", KINDS)
def test_every_reading_of_every_kind_is_recognised(limbs, kind, side):
    exercise = limbs(kind, side)
    for skeleton in (exercise.key.skeleton, shaken(exercise, 1, 0.03)):
        for axes in READINGS:
            found, told = recognised(handed_in(as_file(skeleton, axes)), exercise)
            assert found.axes == axes and len(told) == (axes != Axes()), axes
            assert np.abs(found.skeleton.positions - skeleton.positions).max() < EXACT


@settings(max_examples=16)
@example("arm", Axes("m", "+y", "-z"), 28712)  # the other side's reading fits within twice as much: it was asked, and 0
@given(some.sampled_from(sorted(KINDS)), some.sampled_from(READINGS), some.integers(0, 10**6))
def test_the_mark_is_that_of_the_unturned_layout(limbs, kind, axes, seed):
    exercise = limbs(kind, "left")
    skeleton = shaken(exercise, seed, 0.03)
    plain, turned = (mark(handed_in(one), exercise) for one in (skeleton, as_file(skeleton, axes)))
    assert (turned.mark, turned.findings, turned.measurements) == (plain.mark, plain.findings, plain.measurements)
    assert len(turned.notices) == len(plain.notices) + (axes != Axes())


def bad(rng: np.random.Generator, exercise: Exercise, number: int) -> np.ndarray:
    """A layout in metres that is wrong in one of ten ways."""
    key = exercise.key.skeleton.positions
    middle, size, noise = key.mean(axis=0), np.ptp(key, axis=0).max(), rng.normal(size=key.shape)
    turn = rotation_about(rng.normal(size=3), rng.uniform(0.3, 3.1))
    return [
        lambda: rng.uniform(*exercise.mesh.bounds, key.shape), lambda: rng.uniform(-2.0, 2.0, key.shape),
        lambda: key + 0.5 * size * rng.normal(size=3), lambda: (key - middle) @ turn.T + middle, lambda: key @ turn.T,
        lambda: (key - middle) * rng.uniform(0.2, 3.0) + middle, lambda: rng.permutation(key) + 0.3 * size * noise,
        lambda: key - middle + 0.1 * rng.normal(size=3), lambda: key * [1, 1, -1] + 0.02 * noise,
        lambda: key * [-1, 1, 1] + rng.choice([0.003, 0.02, 0.1]) * noise,
    ][number % 10]()  # fmt: skip


@pytest.mark.parametrize("kind", KINDS)
def test_no_bad_layout_is_turned(limbs, kind):
    """Scattered, moved, turned askew, sized, in a wrong order, at the origin, bent back, or laid for the other side."""
    exercise, rng = limbs(kind, "left"), np.random.default_rng(8)
    for number in range(BAD):
        one = handed_in(exercise.key.skeleton.at(bad(rng, exercise, number)))
        found, told = recognised(one, exercise)
        assert found is one, (number % 10, told)
        assert all("taken as written" in words for words in told)


@settings(max_examples=40)
@given(some.sampled_from(sorted(KINDS)), some.sampled_from(READINGS), some.integers(0, 10**6))
def test_the_other_sides_limb_is_never_turned(limbs, kind, axes, seed):
    exercise = limbs(kind, "left")
    skeleton = shaken(exercise, seed, 0.01)
    other = handed_in(as_file(skeleton.at(skeleton.positions * [-1, 1, 1]), axes))
    found, _ = recognised(other, exercise)
    assert (found.axes.up, found.axes.facing) == ("+y", "+z")


@settings(max_examples=60)
@given(some.sampled_from(sorted(KINDS)), some.lists(some.tuples(*[some.floats(-9e4, 9e4)] * 3), min_size=1, max_size=9),
       some.sampled_from(READINGS), some.booleans())  # fmt: skip
def test_any_places_are_taken(limbs, kind, places, axes, own_mesh):
    """Whatever the file holds, it is marked, and the same file is read the same way again."""
    exercise = limbs(kind, "left")
    skeleton = Skeleton(("",) * len(places), (None,) * len(places), places)
    flesh = np.array(places) if own_mesh else None
    one = Layout("wren", "", 1, skeleton, axes=Axes(axes.units, axes.up, axes.facing, ("units", "up")), flesh=flesh)
    found, told = recognised(one, exercise)
    assert np.all(np.isfinite(found.skeleton.positions)) and len(told) <= 1
    again, told_again = recognised(one, exercise)
    assert told_again == told and np.array_equal(again.skeleton.positions, found.skeleton.positions)


@settings(max_examples=30)
@given(some.sampled_from(READINGS), some.sampled_from(READINGS))
def test_readings_undo_each_other(one, other):
    places = np.random.default_rng(5).uniform(-0.09, 0.09, (4, 3))
    skeleton = Skeleton(tuple("abcd"), (None, 0, 1, 2), places)
    there = as_file(as_file(skeleton, one), other)
    back = there.positions @ other.turn.T * METRES[other.units] @ one.turn.T * METRES[one.units]
    assert np.abs(back - places).max() < EXACT
    assert np.linalg.det(one.turn) == pytest.approx(1.0, abs=EXACT), "no reading mirrors"
