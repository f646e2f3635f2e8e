"""Laws of the step-by-step solvers and of the risk of a flip, and what other libraries were measured to do."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigkit.flip import flip_risk, jittered_limbs, wrong_side
from rigkit.frames import rotation_about
from rigkit.kinematics import solve_two_bone
from rigkit.require import RigError
from rigkit.solvers import cyclic_descent, damped_least_squares, fabrik

BONES = 1e-12  # metres: bones are laid anew or turned at each step, sixty steps at most
HINGES = np.array([[0.0, 0, 0], [1.0, 0, 0]])  # a free shoulder, an elbow that turns about the figure's left
SOLVERS = {
    "fabrik": fabrik,
    "descent": cyclic_descent,
    "descent with a hinge": lambda p, t: cyclic_descent(p, t, HINGES),
    "least squares": lambda p, t: damped_least_squares(p, t, HINGES),
}
every = pytest.mark.parametrize("solver", SOLVERS.values(), ids=SOLVERS)


def arm(bend: float) -> np.ndarray:
    """An arm of 0.30 and 0.25 m along -y, its elbow so many degrees bent and behind (-z) where positive."""
    half = np.radians(bend) / 2
    elbow = 0.30 * np.array([0, -np.cos(half), -np.sin(half)])
    return np.array([np.zeros(3), elbow, elbow + 0.25 * np.array([0, -np.cos(half), np.sin(half)])])


@every
@given(st.integers(0, 10**6), st.integers(3, 6))
def test_bones_keep_their_lengths_and_the_root_its_place(solver, seed, joints):
    rng = np.random.default_rng(seed)
    chain = np.cumsum(rng.uniform(0.05, 0.3, (4, joints, 3)), axis=1)
    if solver not in (fabrik, cyclic_descent) and joints != 3:
        return
    solved = solver(chain, rng.uniform(-0.5, 0.5, (4, 3)))
    before, after = (np.linalg.norm(np.diff(places, axis=1), axis=2) for places in (chain, solved.positions))
    assert np.allclose(after, before, atol=BONES) and np.array_equal(solved.positions[:, 0], chain[:, 0])


@every
def test_many_at_once_are_each_as_one_alone(solver):
    rests, targets = jittered_limbs(0.04, 5, seed=3)
    together = solver(rests, targets)
    for rest, target, places in zip(rests, targets, together.positions, strict=True):
        # Alone a chain stops as soon as it is close; together it goes on until all are: a micrometre's difference.
        assert np.allclose(solver(rest, target).positions, places, atol=1e-4)


@pytest.mark.parametrize("solver", [fabrik, cyclic_descent], ids=["fabrik", "descent"])
def test_in_the_plane_of_the_rest_bend_it_ends_where_the_closed_form_does(solver):
    rest, target = arm(20), np.array([0.0, -0.4, 0.1])
    solved = solver(rest, target)
    away = rest[1] - rest[0] - (rest[2] - rest[0]) * 0.55
    closed = solve_two_bone(rest[0], (0.30, 0.25), target, away)
    assert solved.missed < 1e-5
    assert np.allclose(solved.positions[1], closed.middle, atol=1e-4)


@every
def test_a_straight_chain_whose_target_is_on_its_line_stays_stuck(solver):
    """Aristidou & Lasenby 2011 and others: nothing leads off the line. 0.15 m and more short, measured on several libraries."""
    solved = solver(arm(0), [0.0, -0.35, 0.0])
    assert np.abs(solved.positions[:, [0, 2]]).max() < 1e-9 and solved.missed > 0.1


@every
@pytest.mark.parametrize("bend, wrong", [(10, False), (-10, True)])
def test_on_its_own_line_a_bent_limb_goes_the_way_it_is_bent(solver, bend, wrong):
    """Measured on other libraries from rests bent +10 and -10 degrees: 0 and 100 % on the wrong side."""
    elbow = solver(arm(bend), [0.0, -0.4, 0.0]).positions[1]
    assert (elbow[2] > 0.02) if wrong else (elbow[2] < -0.02)


def test_a_hinge_stays_a_hinge():
    """A finger of three hinges about x stays in its plane, whatever its target; free joints leave it."""
    finger = np.array([[0, 0, 0], [0, -0.045, -0.004], [0, -0.07, -0.002], [0, -0.09, 0.004]], dtype=float)
    hinges, target = np.tile([1.0, 0, 0], (3, 1)), np.array([0.03, -0.04, 0.05])
    for solver in (cyclic_descent, damped_least_squares):
        assert np.abs(solver(finger, target, hinges).positions[:, 0]).max() < 1e-12
        assert np.abs(solver(finger, target, 0 * hinges).positions[:, 0]).max() > 0.01
    in_plane = damped_least_squares(finger, target * [0, 1, 1], hinges)
    assert in_plane.missed < 1e-3


def test_hinges_are_carried_along_by_the_joints_above():
    """An elbow's axis turns with a free shoulder: an arm swung as a whole bends in its own plane, not in the old one."""
    turn = rotation_about([0, 0, 1], 0.9)
    for name in ("descent with a hinge", "least squares"):
        here = SOLVERS[name](arm(20), [0.0, -0.42, 0.05])
        hinges = HINGES @ turn.T
        solver = cyclic_descent if name.startswith("descent") else damped_least_squares
        there = solver(arm(20) @ turn.T, turn @ [0.0, -0.42, 0.05], hinges)
        assert np.allclose(there.positions, here.positions @ turn.T, atol=1e-9)


def test_the_risk_falls_with_the_rest_bend_and_a_wrong_bend_is_worse_than_none():
    bends = [-0.08, -0.03, 0.0, 0.03, 0.08, 0.15]
    for solver in SOLVERS.values():
        risk = flip_risk(bends, solver, samples=300)
        assert risk[0] > 0.85 and 0.3 < risk[2] < 0.7 and risk[-1] < 0.05
        assert np.all(np.diff(risk) <= 0.02)  # one limb in fifty: what 300 limbs can tell apart


def test_the_risk_is_the_same_again_and_mirrors():
    assert np.array_equal(flip_risk([0.02], fabrik, seed=9), flip_risk([0.02], fabrik, seed=9))
    rests, targets = jittered_limbs(0.03, 200, seed=2)
    flip = np.array([1.0, 1.0, -1.0])
    here, there = (
        wrong_side(fabrik(rests, targets).positions),
        wrong_side(fabrik(rests * flip, targets * flip).positions),
    )
    assert np.allclose(here + there, 1.0)


def test_what_cannot_be_solved_is_refused_in_words():
    with pytest.raises(RigError, match="two joints in one place"):
        fabrik(np.zeros((3, 3)), [0, 0, 1])
    with pytest.raises(RigError, match="at least two joints"):
        fabrik(np.zeros((1, 3)), [0, 0, 1])
    with pytest.raises(RigError, match="NaN"):
        cyclic_descent(arm(10), [0, np.nan, 1])
