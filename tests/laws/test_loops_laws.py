"""Bend loops are found where they were laid, and not found where there are none."""

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from rigkit.limbs import practice_arm, practice_limb
from rigkit.loops import CANNOT_TELL, FOUND, bend_loops
from rigkit.mesh import Mesh
from rigkit.require import RigError
from tests.shapes import ellipse, random_frame, tube

CHAIN = np.array([[0, 0, 0.3], [0, -0.01, 0.0], [0, 0, -0.28]])


def limb(heights) -> Mesh:
    return tube(np.array([np.column_stack([ellipse(0.04, 0.035, 24), np.full(24, z)]) for z in np.sort(heights)]))


def crowded(centre: float, near: float = 0.008, far: float = 0.02) -> np.ndarray:
    """Heights of rings from -0.3 to 0.32 m, `far` apart, but `near` apart within 25 mm of the centre."""
    heights, here = [-0.3], -0.3
    while here < 0.32:
        here += near if abs(here + near / 2 - centre) < 0.025 else far
        heights.append(here)
    return np.array(heights)


@given(st.floats(-0.05, 0.05), st.integers(0, 10**6))
@settings(max_examples=40)
def test_crowded_rings_are_found_where_they_are(centre, seed):
    """Told within half the wide spacing, wherever the limb stands; down the limb is positive."""
    new_from_old = random_frame(seed)
    found = bend_loops(limb(crowded(centre)).moved(new_from_old), *(new_from_old @ CHAIN))
    assert found.state == FOUND and found.station == pytest.approx(-centre, abs=0.01)
    assert found.spacing < 0.5 * found.usual


@pytest.mark.parametrize("seed", range(6))
def test_the_practice_arm_has_them_at_the_elbow_and_a_joint_too_high_reads_so(seed):
    arm = practice_arm(seed)
    shoulder, elbow, wrist = arm.key.positions[:3]
    assert bend_loops(arm.mesh, shoulder, elbow, wrist).station == pytest.approx(0.0, abs=0.005)
    high = elbow + 0.03 * (shoulder - elbow) / np.linalg.norm(shoulder - elbow)
    assert bend_loops(arm.mesh, shoulder, high, wrist).station == pytest.approx(0.03, abs=0.004)


WITHIN = {("leg", "ankle"): 0.020, ("bird_leg", "ankle"): 0.014, ("toe_walker", "ball"): 0.012, ("bird_leg", "ball"): 0.012,
          ("creature_arm", "elbow"): 0.008, ("creature_arm", "index 2"): 0.013}  # fmt: skip
"""Metres, where more than 6 mm: stations of both bones overlap, or loops of other digits lie near."""


@pytest.mark.parametrize("kind", ["arm", "finger", "creature_arm", "leg", "toe_walker", "bird_leg"])
def test_at_every_joint_that_folds_they_are_found_where_it_folds_or_not_told(kind):
    told, asked = 0, 0
    for seed in range(3):
        limb = practice_limb(kind, seed)
        for role in limb.away:
            joint = limb.roles.index(role)
            chain = [limb.key.parents[joint], joint, limb.key.children(joint)[0]]
            found = bend_loops(limb.mesh, *limb.key.positions[chain])
            asked, told = asked + 1, told + (found.state == FOUND)
            assert found.station is None or abs(found.station) < WITHIN.get((kind, role), 0.006), role
    assert told >= 0.4 * asked, f"{told} of {asked}"


def test_where_there_are_none_it_cannot_tell():
    even = bend_loops(limb(np.linspace(-0.3, 0.32, 40)), *CHAIN)
    assert even.state == CANNOT_TELL and even.station is None
    ball = trimesh.creation.icosphere(subdivisions=4)
    sculpted = bend_loops(Mesh(ball.vertices * [0.05, 0.05, 0.4], ball.faces), *CHAIN)
    assert sculpted.state == CANNOT_TELL
    bare = bend_loops(limb([-0.3, 0.32]), *CHAIN)
    assert bare.state == CANNOT_TELL
    elsewhere = bend_loops(limb(np.linspace(-0.3, 0.32, 40)), *(CHAIN + [5.0, 0, 0]))
    assert elsewhere.state == CANNOT_TELL


def test_loops_that_lie_elsewhere_are_not_this_joints():
    assert bend_loops(limb(crowded(-0.12)), *CHAIN).state == CANNOT_TELL


def test_a_limb_whose_long_edges_were_halved_until_all_are_short_is_not_told_wrong():
    """What a sculpting remesh leaves: no edge longer than the bend loops' own spacing."""
    for kind in ("arm", "leg"):
        limb = practice_limb(kind, 3)
        for longest in (0.006, 0.008, 0.010, 0.012, 0.015):
            vertices, faces = trimesh.remesh.subdivide_to_size(
                limb.mesh.vertices, limb.mesh.triangles, max_edge=longest
            )
            found = bend_loops(Mesh(vertices, faces), *limb.key.positions[:3])
            if (kind, longest) != ("leg", 0.008):  # really twice as dense in one place, 58 mm below the knee
                assert found.state == CANNOT_TELL or abs(found.station) < 0.006, (kind, longest)


def test_two_joints_in_one_place_are_refused():
    with pytest.raises(RigError, match="bone"):
        bend_loops(limb(crowded(0.0)), CHAIN[0], CHAIN[0], CHAIN[2])
