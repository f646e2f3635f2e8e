"""The two-bone solve against worked cases in print and against scipy's optimiser; the rest bend against H-Anim."""

import numpy as np
import pytest
from scipy.optimize import least_squares

from rigkit.kinematics import RIGHT, rest_bend
from rigkit.two_bone import STATES, TOO_FAR, TOO_NEAR, solve_two_bone, solve_two_bones

PRINTED = 1e-4  # degrees: the worked cases are printed to four decimals


def angles_of(pose, root=(0, 0, 0)):
    """Joint angles in degrees of a planar pose: first from +x, second from the first bone."""
    first, second = pose.middle - np.array(root), pose.end - pose.middle
    one = np.degrees(np.arctan2(first[1], first[0]))
    two = np.degrees(np.arctan2(first[0] * second[1] - first[1] * second[0], first[:2] @ second[:2]))
    return one, two


@pytest.mark.parametrize(
    "lengths, target, toward, expected",
    [
        # The core of Exercise 6.1 of Lynch & Park, Modern Robotics, 2017: (3, 2) to (3, 2).
        ((3, 2), (3, 2, 0), (1, -1, 0), (0.0, 90.0)),
        ((3, 2), (3, 2, 0), (-1, 1, 0), (67.3801, -90.0)),
        # Law of cosines in the 3-4-5 triangle: atan(3/4) = 36.8699 degrees.
        ((4, 3), (5, 0, 0), (0, -1, 0), (-36.8699, 90.0)),
        ((4, 3), (5, 0, 0), (0, 1, 0), (36.8699, -90.0)),
    ],
)
def test_planar_worked_cases(lengths, target, toward, expected):
    assert angles_of(solve_two_bone((0, 0, 0), lengths, target, toward)) == pytest.approx(expected, abs=PRINTED)


def test_the_elbow_of_the_3_4_5_triangle_by_hand():
    """(4, 3) to (5, 0): the foot of the height on the 5 side lies 16/5 = 3.2 along, the height is 12/5 = 2.4."""
    assert np.allclose(solve_two_bone((0, 0, 0), (4, 3), (5, 0, 0), (0, -1, 0)).middle, (3.2, -2.4, 0), atol=1e-12)


def test_the_worked_cases_in_one_call():
    """Lynch & Park's (3, 2) to (3, 2), the 3-4-5 triangle both ways, and all that lengths (2, 1) can and cannot reach."""
    poses = solve_two_bones(
        [0, 0, 0],
        [(3, 2), (3, 2), (4, 3), (4, 3), (2, 1), (2, 1), (2, 1), (2, 1)],
        [(3, 2, 0), (3, 2, 0), (5, 0, 0), (5, 0, 0), (3, 0, 0), (1, 0, 0), (3.1, 0, 0), (0.5, 0, 0)],
        [(1, -1, 0), (-1, 1, 0), (0, -1, 0), (0, 1, 0), *[(0, 1, 0)] * 4],
    )
    turn = np.radians(67.3801)
    middles = [(3, 0), (3 * np.cos(turn), 3 * np.sin(turn)), (3.2, -2.4), (3.2, 2.4), (2, 0), (2, 0), (2, 0), (2, 0)]
    assert np.allclose(poses.middles[:, :2], middles, atol=1e-5) and not poses.middles[:, 2].any()
    assert [STATES[code] for code in poses.states] == ["reached"] * 6 + [TOO_FAR, TOO_NEAR]
    assert np.allclose(poses.ends[4:, 0], (3, 1, 3, 1), atol=1e-15)


@pytest.mark.parametrize(
    "target, state", [((3, 0, 0), "reached"), ((1, 0, 0), "reached"), ((3.1, 0, 0), TOO_FAR), ((0.5, 0, 0), TOO_NEAR)]
)
def test_full_reach_full_fold_and_beyond(target, state):
    """Lengths (2, 1) reach (3, 0) and (1, 0) in one way only, (3.1, 0) and (0.5, 0) not at all (triangle inequality)."""
    pose = solve_two_bone((0, 0, 0), (2, 1), target, (0, 1, 0))
    assert pose.state == state
    assert np.allclose(pose.end, (min(max(target[0], 1), 3), 0, 0), atol=1e-12)


@pytest.mark.parametrize("angle", np.linspace(0, 2 * np.pi, 9))
def test_the_circle_that_the_elbow_may_lie_on(angle):
    """Tolani, Goswami & Badler 2000: shoulder at the origin, wrist (0, 0, 5), (4, 3): centre (0, 0, 3.2), radius 2.4."""
    toward = np.array([np.cos(angle), np.sin(angle), 0])
    pose = solve_two_bone((0, 0, 0), (4, 3), (0, 0, 5), toward)
    assert np.allclose(pose.middle, 2.4 * toward + [0, 0, 3.2], atol=1e-12)


@pytest.mark.parametrize("seed", range(30))
def test_the_same_elbow_as_an_optimiser_finds(seed):
    """scipy.optimize.least_squares over two angles in the bend plane, started on the right side."""
    rng = np.random.default_rng(seed)
    upper, lower = rng.uniform(0.2, 0.4, 2)
    reach = rng.uniform(abs(upper - lower) + 0.02, upper + lower - 0.02)
    line, toward = rng.normal(size=3), rng.normal(size=3)
    line /= np.linalg.norm(line)
    side = toward - (toward @ line) * line
    side /= np.linalg.norm(side)

    def places(turns):
        middle = upper * (np.cos(turns[0]) * line + np.sin(turns[0]) * side)
        return middle, middle + lower * (np.cos(turns[1]) * line + np.sin(turns[1]) * side)

    found = least_squares(
        lambda t: places(t)[1] - reach * line,
        [0.6, -0.6],
        bounds=([0, -np.pi], [np.pi, 0]),
        xtol=1e-15,
        ftol=1e-15,
        gtol=1e-15,
    )
    pose = solve_two_bone((0, 0, 0), (upper, lower), reach * line, toward)
    assert np.allclose(pose.middle, places(found.x)[0], atol=1e-6)  # what the optimiser's own tolerance leaves


# Default joint centres of ISO/IEC 19774-1 (H-Anim), level 3 example, metres, the figure's left side.
HANIM = {
    "l_shoulder": (0.2029, 1.4376, -0.0387), "l_elbow": (0.2014, 1.1357, -0.0682), "l_radiocarpal": (0.1984, 0.8663, -0.0583),
    "l_hip": (0.0961, 0.9124, -0.0001), "l_knee": (0.104, 0.4867, 0.0308), "l_talocrural": (0.1101, 0.0656, -0.0736),
}  # fmt: skip


@pytest.mark.parametrize(
    "joints, away, millimetres, degrees",
    [
        # Computed from those centres by hand (distance of a point from a line; angle between two bones).
        (("l_shoulder", "l_elbow", "l_radiocarpal"), (0, 0, -1), 19.2, 7.7),
        (("l_hip", "l_knee", "l_talocrural"), (0, 0, 1), 67.6, 18.1),
    ],
)
def test_the_hanim_figure_rests_bent_the_right_way(joints, away, millimetres, degrees):
    bend = rest_bend(*(HANIM[joint] for joint in joints), away=away)
    assert bend.verdict == RIGHT
    assert 1000 * np.hypot(bend.along, bend.sideways) == pytest.approx(millimetres, abs=0.05)
    assert np.degrees(bend.flexion) == pytest.approx(degrees, abs=0.05)
