"""Practice arms: closed and outward for any seed, joints where the curve says, the same bytes for the same seed."""

import hashlib

import numpy as np
import pytest

from rigkit.limbs.loft import Draws, area_centroids, ovals, smooth_through
from rigkit.limbs import practice_arm
from rigkit.require import RigError
from rigkit.section import Plane, cut
from rigkit.vectors import off_line

SEEDS = (0, 1, 7, 2024, 2**40)
CENTRED = 1e-3  # metres: a fortieth of an arm's radius, far under what a learner is asked for
SHOULDER = 4e-3  # metres: a twelfth of the region's radius
STORED_GRID = 2e-5  # metres: two steps of the grid that coordinates are rounded to
UPPER_ARM, FOREARM = 0.186, 0.146  # shares of stature: Drillis & Contini 1966, in Winter 2009, Fig. 4.1 (facts.csv)


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("side", ["left", "right"])
def test_an_arm_is_closed_and_faces_outward(seed, side):
    mesh = practice_arm(seed, side).mesh
    assert mesh.is_closed
    assert mesh.volume > 0.005  # about 9 litres with its trunk stub
    assert 2000 <= len(mesh.triangles) <= 6000
    assert np.sqrt(np.sum(mesh.normals**2, axis=1)).min() > 0
    assert len(np.unique(mesh.welded)) == len(mesh.vertices), "no doubled vertices"


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("side", ["left", "right"])
@pytest.mark.parametrize("role", ["elbow", "wrist"])
def test_the_true_joint_is_the_middle_of_its_section_all_along_its_stretch(seed, side, role):
    arm = practice_arm(seed, side)
    joint = arm.key.positions[arm.key.index(f"{side}_{role}")]
    for place in (joint, *arm.stretches[role]):
        held = cut(arm.mesh, Plane(place, arm.planes[role])).holding(place)
        assert held.state == "inside"
        assert np.sqrt(np.sum((held.loop.centroid - place) ** 2)) < CENTRED


@pytest.mark.parametrize("role", ["elbow", "wrist"])
def test_sections_are_no_circles(role):
    arm = practice_arm(7)
    place = arm.key.positions[arm.key.index(f"left_{role}")]
    loop = cut(arm.mesh, Plane(place, arm.planes[role])).holding(place).loop
    reach = np.sqrt(np.sum((loop.points - loop.centroid) ** 2, axis=1))
    assert reach.max() / reach.min() > (1.4 if role == "wrist" else 1.1)


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("side", ["left", "right"])
def test_the_elbow_lies_behind_the_line_and_nothing_sideways(seed, side):
    shoulder, elbow, wrist = practice_arm(seed, side).key.positions
    out, up, forward = off_line(elbow, shoulder, wrist)
    assert 0.018 - STORED_GRID <= -forward <= 0.019 + STORED_GRID
    assert abs(out) < STORED_GRID and abs(up) < STORED_GRID


@pytest.mark.parametrize("seed", SEEDS)
def test_lengths_are_those_of_the_reference_within_two_percent(seed):
    shoulder, elbow, wrist = practice_arm(seed).key.positions
    assert np.isclose(np.linalg.norm(elbow - shoulder), UPPER_ARM * 1.70, rtol=0.02 + 1e-4)
    assert np.isclose(np.linalg.norm(wrist - elbow), FOREARM * 1.70, rtol=0.02 + 1e-4)
    line = (wrist - shoulder) / np.linalg.norm(wrist - shoulder)
    assert 54 <= np.degrees(np.arctan2(-line[1], line[0])) <= 56, "about 35 degrees out from the body"


@pytest.mark.parametrize("seed", SEEDS)
def test_the_landmarks_surround_the_true_shoulder(seed):
    arm = practice_arm(seed)
    shoulder = arm.key.positions[0]
    marks = np.array([arm.landmarks[f] for f in ("shoulder_top", "armpit", "shoulder_front", "shoulder_back")])
    assert np.linalg.norm(marks.mean(axis=0) - shoulder) < SHOULDER
    top, armpit, front, back = marks - shoulder
    assert top[1] > 0.03 and armpit[1] < -0.03 and front[2] > 0.03 and back[2] < -0.03


@pytest.mark.parametrize("seed", SEEDS)
def test_the_middle_of_the_trunk_is_deep_in_the_flesh(seed):
    arm = practice_arm(seed)
    middle = arm.landmarks["trunk_middle"]
    held = cut(arm.mesh, Plane(middle, [1, 0, 0])).holding(middle)
    assert held.state == "inside"
    assert held.loop.distance(middle) > 0.06


def test_right_is_the_mirror_image_of_left():
    left, right = practice_arm(7), practice_arm(7, "right")
    flip = np.array([-1, 1, 1])
    np.testing.assert_array_equal(right.mesh.vertices, left.mesh.vertices * flip)
    np.testing.assert_array_equal(right.key.positions, left.key.positions * flip)
    assert right.key.names == ("right_shoulder", "right_elbow", "right_wrist")
    assert np.isclose(right.mesh.volume, left.mesh.volume)
    for name in left.landmarks:
        np.testing.assert_array_equal(right.landmarks[name], left.landmarks[name] * flip)
    for role in ("elbow", "wrist"):
        np.testing.assert_array_equal(right.planes[role], left.planes[role] * flip)


def test_edge_loops_are_closer_together_where_the_limb_folds():
    arm = practice_arm(7)
    shoulder, elbow, wrist = arm.key.positions

    def ring_gap(place, along):
        """Mean gap between the stations of the vertices within 25 mm along the limb."""
        near = arm.mesh.vertices[np.linalg.norm(arm.mesh.vertices - place, axis=1) < 0.06]
        stations = np.sort((near - place) @ along)
        stations = stations[np.abs(stations) < 0.025]
        return 0.05 / len(stations)

    down = arm.planes["elbow"]
    assert ring_gap(elbow, down) < 0.75 * ring_gap((shoulder + elbow) / 2, down)
    assert ring_gap(wrist, arm.planes["wrist"]) < 0.75 * ring_gap((elbow + wrist) / 2, arm.planes["wrist"])


def test_the_same_seed_gives_the_same_arm_and_another_seed_another():
    def digest(seed):
        arm = practice_arm(seed)
        return hashlib.sha256(arm.mesh.vertices.tobytes() + arm.mesh.triangles.tobytes()).hexdigest()

    assert digest(7) == digest(7)
    assert digest(7) != digest(8)


def test_coordinates_lie_on_the_grid():
    arm = practice_arm(7)
    for places in (arm.mesh.vertices, arm.key.positions):
        np.testing.assert_allclose(places * 1e5, np.round(places * 1e5), rtol=0, atol=1e-6)


@pytest.mark.parametrize(("seed", "side"), [(-1, "left"), (1.5, "left"), (True, "left"), ("7", "left"), (2**63, "left"),
                                            (7, "middle"), (7, None)])  # fmt: skip
def test_a_seed_or_side_that_is_none_is_refused_in_words(seed, side):
    with pytest.raises(RigError, match="practice arm"):
        practice_arm(seed, side)


# The first two raw words of PCG64(7), as numpy 2.4 gives them; numpy promises that raw words never change.
def test_draws_come_from_raw_words():
    words = np.random.PCG64(7).random_raw(2)
    draws = Draws(7)
    assert [draws.between(0, 1), draws.between(0, 1)] == [(int(w) >> 11) / 2**53 for w in words]


def test_smooth_curves_pass_through_their_controls_and_never_swing_past_them():
    stations = np.array([0.0, 1.0, 3.0, 4.0])
    values = np.array([[0.0], [1.0], [1.0], [5.0]])
    np.testing.assert_allclose(smooth_through(stations, values, stations), values, atol=1e-15)
    between = smooth_through(stations, values, np.linspace(0, 4, 401))[:, 0]
    assert between.min() >= 0 and between.max() <= 5
    assert np.all(np.diff(between) >= -1e-12)
    np.testing.assert_allclose(between[100:301], 1.0)


# Half an ellipse: the centroid lies 4 a / (3 pi) from its flat side (textbook); two halves of extents a and c
# therefore balance at (4 / 3 pi) (a^2 - c^2) / (a + c) = (4 / 3 pi) (a - c).
def test_ovals_of_two_halves_balance_where_they_should():
    outline = ovals(np.array([[3.0, 1.0, 1.0, 1.0]]), np.array([[2.0, 2.0]]), 720)
    np.testing.assert_allclose(area_centroids(outline)[0], [4 / (3 * np.pi) * 2, 0], atol=1e-4)
