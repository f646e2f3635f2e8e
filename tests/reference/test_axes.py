"""Local frames and twist against scipy's Rotation and H-Anim's rest pose."""

import csv

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from rigkit.axes import BEND, CARRIED, local_axes
from rigkit.skeleton import Skeleton
from rigkit.twist import twist_about, twist_joints
from tests.arms import PROJECT

HANIM = PROJECT / "data" / "reference" / "hanim.csv"  # its rows say where they are from
# H-Anim's default joint centres, ISO/IEC 19774-1 by its public level-3 example (our reference table), metres.
ARM = [[0.2029, 1.4376, -0.0387], [0.2014, 1.1357, -0.0682], [0.1984, 0.8663, -0.0583]]
LEG = [[0.0961, 0.9124, -0.0001], [0.104, 0.4867, 0.0308], [0.1101, 0.0656, -0.0736]]


def chain(places) -> Skeleton:
    return Skeleton([f"j{i}" for i in range(len(places))], [None, *range(len(places) - 1)], places)


@pytest.mark.parametrize(
    "places, flexion, hinge",
    [
        (ARM, 7.7, [-1, 0, 0]),  # flexion computed from the centres (our reference table); the forearm swings
        (LEG, 18.1, [1, 0, 0]),  # forward, the shank back (standard anatomy): so the hinges point in and out
    ],
)
def test_the_frames_of_hanims_arm_and_leg_differ_by_their_flexion_about_the_hinge_alone(places, flexion, hinge):
    frames = local_axes(chain(places))
    assert frames.told[1] == BEND
    upper, lower = (Rotation.from_matrix(r) for r in frames.rotations[:2])
    turn = np.degrees((upper.inv() * lower).as_rotvec())
    assert turn == pytest.approx([0, 0, flexion], abs=0.05)
    assert frames.rotations[1][:, 2] @ hinge > 0.98


def smallest_turn(start, end) -> np.ndarray:
    return Rotation.align_vectors([end], [start])[0].as_matrix()


def test_frames_that_are_carried_are_scipys_smallest_turns():
    """A piece too straight to tell below a bend: each frame is the one above, turned by scipy's smallest rotation."""
    rng = np.random.default_rng(3)
    for _ in range(20):
        places = np.cumsum(rng.uniform(0.1, 0.3, (3, 3)), axis=0).tolist()
        way = np.subtract(places[2], places[1])
        places += [places[2] + way * s + 3e-4 * rng.normal(size=3) for s in (1, 2)]
        frames = local_axes(chain(places))
        bones = {j: np.subtract(places[c], places[j]) for j, c in ((1, 2), (2, 3), (3, 4))}
        for above, j in ((1, 2), (2, 3)):
            assert frames.told[j] == CARRIED
            turned = smallest_turn(bones[above], bones[j]) @ frames.rotations[above]
            assert np.allclose(frames.rotations[j], turned, rtol=0, atol=1e-9)


def test_a_straight_branch_at_a_slant_takes_its_frame_from_above_by_scipys_smallest_turn():
    """The branch's first joint lies in the same place as the one it hangs on: no bend of its own, only the slant."""
    rng = np.random.default_rng(4)
    for _ in range(20):
        way = rng.normal(size=3)
        way[0] = abs(way[0])
        places = [[0, 0, 0], [1, 0.3, 0.1], [2, 0, 0], [3, 0, 0], [2, 0, 0], [2, 0, 0] + way]
        frames = local_axes(Skeleton([f"j{i}" for i in range(6)], [None, 0, 1, 2, 2, 4], places))
        assert frames.told[4] == CARRIED
        turned = smallest_turn([1, 0, 0], way) @ frames.rotations[2]
        assert np.allclose(frames.rotations[4], turned, rtol=0, atol=1e-9)


def test_twist_is_scipys_rotation_without_its_smallest_turn():
    rng = np.random.default_rng(5)
    for rotation in Rotation.random(300, random_state=5):
        axis = rng.normal(size=3)
        axis /= np.linalg.norm(axis)
        swing, _ = Rotation.align_vectors([rotation.apply(axis)], [axis])
        expected = (swing.inv() * rotation).as_rotvec()
        assert np.linalg.norm(np.cross(expected, axis)) < 1e-6  # what is left does turn about the axis
        found = twist_about(rotation.as_matrix(), axis)
        assert np.cos(found - expected @ axis) == pytest.approx(1, abs=1e-10)


def test_twist_joints_turn_as_scipys_interpolation_does():
    from scipy.spatial.transform import Slerp

    rest = Rotation.random(random_state=8)
    end = Rotation.from_rotvec([0, 1.7, 0]) * rest
    _, turned = twist_joints([0, 1, 0], [0, 2, 0], 4, 1.7, rest.as_matrix())
    wanted = Slerp([0, 1], Rotation.concatenate([rest, end]))(np.arange(1, 5) / 5)
    assert np.allclose(turned, wanted.as_matrix(), atol=1e-12)


def test_a_whole_hanim_side_has_frames_with_no_finger_turned_over():
    rows = {row["name"]: row for row in csv.DictReader(HANIM.open())}
    names = list(rows)
    parents = [names.index(rows[n]["parent"]) if rows[n]["parent"] in names else None for n in names]
    places = [[float(rows[n][k]) for k in ("x", "y", "z")] for n in names]
    figure = Skeleton(names, parents, places)
    wrist, middle = names.index("l_radiocarpal"), names.index("l_carpometacarpal_3")
    frames = local_axes(figure, child={wrist: middle}, roots=[names.index("l_hip"), names.index("l_shoulder")])
    assert np.all(np.isfinite(frames.rotations))
    for j, p in enumerate(parents):
        if p is not None and "_1" not in names[j] and ("carp" in names[j] or "phal" in names[j]):
            assert frames.rotations[j][:, 2] @ frames.rotations[p][:, 2] > 0, names[j]
