"""Laws of the two-bone limb: it reaches, keeps its bones, stays in its plane, and folds the way its rest bend points."""

import numpy as np
import pytest
from hypothesis import assume, example, given
from hypothesis import strategies as st

from rigkit.frames import Frame, rotation_about
from rigkit.kinematics import RIGHT, STRAIGHT, WRONG, bend_side, chain_bends, chain_hinges, flex, rest_bend
from rigkit.require import RigError
from rigkit.two_bone import STUCK, TOO_FAR, TOO_NEAR, solve_two_bone
from rigkit.vectors import off_line, unit

BONES = 1e-12  # metres on limbs of up to 2 m: round-off of a square root and a few sums

number = st.floats(-2, 2, allow_nan=False)
place = st.tuples(number, number, number).map(np.array)
bone = st.floats(0.05, 1.0)


@given(place, bone, bone, place, place.filter(lambda v: np.linalg.norm(v) > 0.1))
def test_it_reaches_what_can_be_reached_and_keeps_its_bones(root, upper, lower, target, toward):
    pose = solve_two_bone(root, (upper, lower), target, toward)
    gap = np.linalg.norm(target - root)
    assume(pose.state != STUCK)
    assert np.linalg.norm(pose.middle - root) == pytest.approx(upper, abs=BONES)
    assert np.linalg.norm(pose.end - pose.middle) == pytest.approx(lower, abs=BONES)
    missed = max(gap - upper - lower, abs(upper - lower) - gap, 0.0)
    assert np.linalg.norm(pose.end - target) == pytest.approx(missed, abs=BONES)
    if pose.state == TOO_FAR:
        assert gap > upper + lower
    elif pose.state == TOO_NEAR:
        assert gap < abs(upper - lower)


@given(place, bone, bone, place, place.filter(lambda v: np.linalg.norm(v) > 0.1))
def test_the_middle_joint_goes_to_the_side_it_is_told(root, upper, lower, target, toward):
    assume(np.linalg.norm(target - root) > 0.01)
    assume(np.linalg.norm(np.cross(unit(target - root), unit(toward))) > 1e-3)
    pose = solve_two_bone(root, (upper, lower), target, toward)
    offset = off_line(pose.middle, root, target)
    side = off_line(root + toward, root, target)
    assert np.linalg.norm(np.cross(offset, unit(side))) < 1e-9 and offset @ side >= -1e-12


@pytest.mark.parametrize("stretch", [1 - 1e-9, 1 - 1e-12, 1 - 1e-15, 1.0, 1 + 1e-15, 1 + 1e-9, 2.0])
def test_exact_at_full_reach(stretch):
    pose = solve_two_bone([0, 0, 0], (0.3, 0.25), [0.55 * stretch, 0, 0], [0, 1, 0])
    assert np.linalg.norm(pose.end - pose.middle) == pytest.approx(0.25, abs=BONES)
    assert np.linalg.norm(pose.end - [min(0.55 * stretch, 0.55), 0, 0]) < BONES


@pytest.mark.parametrize("lengths", [(0.3, 0.3), (0.3, 0.2), (0.2, 0.3)])
def test_a_target_at_the_root_gives_no_nan(lengths):
    pose = solve_two_bone([1, 2, 3], lengths, [1, 2, 3], [0, 1, 0])
    assert np.all(np.isfinite(pose.middle)) and np.all(np.isfinite(pose.end))
    assert np.linalg.norm(pose.end - [1, 2, 3]) == pytest.approx(abs(lengths[0] - lengths[1]), abs=BONES)


def test_without_a_side_a_limb_stays_straight_and_says_so():
    pose = solve_two_bone([0, 0, 0], (0.3, 0.25), [0.4, 0, 0], None)
    assert pose.state == STUCK and np.allclose(pose.end, [0.55, 0, 0])
    along_the_line = solve_two_bone([0, 0, 0], (0.3, 0.25), [0.4, 0, 0], [1, 0, 0])
    assert along_the_line.state == STUCK


def test_bones_without_length_are_refused():
    with pytest.raises(RigError, match="two joints coincide"):
        solve_two_bone([0, 0, 0], (0.3, 0.0), [0.4, 0, 0], [0, 1, 0])


SHOULDER, WRIST = np.array([0.17, 1.43, 0.0]), np.array([0.47, 0.98, 0.01])


def arm_with_elbow(forward: float, sideways: float = 0.0):
    """Shoulder, elbow, wrist with the elbow so many metres in front of the line and sideways of it."""
    line = unit(WRIST - SHOULDER)
    front = unit(np.array([0, 0, 1.0]) - line[2] * line)
    return SHOULDER, 0.45 * WRIST + 0.55 * SHOULDER + forward * front + sideways * np.cross(line, front), WRIST


@given(st.floats(-0.1, 0.1), st.floats(-0.05, 0.05))
@example(0.015, 0.0)
@example(-0.015, 0.0)
def test_the_verdict_follows_the_side_of_the_line_and_sideways_changes_nothing(forward, sideways):
    bend = rest_bend(*arm_with_elbow(forward, sideways), away=[0, 0, -1])
    assert bend.along == pytest.approx(-forward, abs=BONES) and abs(bend.sideways) == pytest.approx(
        abs(sideways), abs=BONES
    )
    if abs(forward) > 0.00401 * bend.line:
        assert bend.verdict == (WRONG if forward > 0 else RIGHT)
    elif abs(forward) < 0.00399 * bend.line:
        assert bend.verdict == STRAIGHT


@given(st.floats(0.003, 0.08), st.floats(0.0, 1.0), st.booleans())
def test_pulling_the_hand_bends_the_limb_the_way_its_rest_points(off, amount, wrong):
    root, middle, end = arm_with_elbow(off if wrong else -off)
    flexed = flex(root, middle, end, amount)
    (pose,) = flexed.poses
    assert rest_bend(root, pose.middle, pose.end, [0, 0, -1]).verdict == (WRONG if wrong else RIGHT)
    assert np.linalg.norm(pose.middle - root) == pytest.approx(np.linalg.norm(middle - root), abs=BONES)
    assert np.linalg.norm(pose.end - pose.middle) == pytest.approx(np.linalg.norm(end - middle), abs=BONES)
    assert np.linalg.norm(pose.end - flexed.goal) < 1e-9


@given(st.floats(-0.08, 0.08).filter(lambda x: abs(x) > 0.003))
def test_attaching_the_solver_leaves_the_rest_pose_alone(forward):
    root, middle, end = arm_with_elbow(forward)
    (at_rest,) = flex(root, middle, end, 0.0).poses
    assert np.array_equal(at_rest.middle, middle) and np.array_equal(at_rest.end, end)
    (a_hair_on,) = flex(root, middle, end, 1e-9).poses
    assert np.linalg.norm(a_hair_on.middle - middle) < 1e-6


def test_a_limb_too_straight_to_tell_may_go_either_way():
    root, middle, end = arm_with_elbow(0.001)
    one, other = flex(root, middle, end, 0.5, away=[0, 0, -1]).poses
    verdicts = {rest_bend(root, pose.middle, pose.end, [0, 0, -1]).verdict for pose in (one, other)}
    assert verdicts == {RIGHT, WRONG}


@given(st.integers(0, 10**6), st.floats(-0.05, 0.05), st.floats(-0.05, 0.05))
def test_rigid_motion_changes_no_measurement(seed, forward, sideways):
    rng = np.random.default_rng(seed)
    new_from_old = Frame(rotation_about(rng.normal(size=3), rng.uniform(0, 3)), rng.uniform(-5, 5, 3))
    arm = arm_with_elbow(forward, sideways)
    bend = rest_bend(*arm, away=[0, 0, -1])
    moved = rest_bend(*(new_from_old @ p for p in arm), away=new_from_old.rotation @ [0, 0, -1])
    assert [moved.along, moved.sideways, moved.line, moved.flexion] == pytest.approx(
        [bend.along, bend.sideways, bend.line, bend.flexion], abs=1e-9
    )


def test_skew_is_told_only_where_it_is_not_noise():
    far = rest_bend(*arm_with_elbow(-0.06, 0.01), away=[0, 0, -1])
    assert abs(far.skew(0.015)) == pytest.approx(np.arctan2(0.01, 0.06), abs=1e-9)
    assert rest_bend(*arm_with_elbow(-0.005, 0.005), away=[0, 0, -1]).skew(0.015) is None


@pytest.mark.parametrize("straight", [np.nan, -0.004, np.inf, 1.5, "0.004", None])
def test_a_straight_share_that_is_none_is_refused(straight):
    arm = arm_with_elbow(-0.02)
    for work in (
        lambda: rest_bend(*arm, [0, 0, -1], straight),
        lambda: chain_bends(arm, [0, 0, -1], straight),
        lambda: chain_hinges(arm, [0, 0, -1], straight),
        lambda: bend_side(*arm, straight),
        lambda: flex(*arm, 0.5, straight),
    ):
        with pytest.raises(RigError, match="within which a limb is straight: expected a number"):
            work()
    with pytest.raises(RigError, match="a joint's place: expected finite numbers"):
        bend_side(arm[0], [0, np.nan, 0], arm[2])
