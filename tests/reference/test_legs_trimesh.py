"""Practice legs against trimesh: whole over many seeds, sections centred on the true joints, never through themselves."""

import numpy as np
import pytest

from rigkit.limbs import Shape, practice_limb
from tests.reference.test_limb_trimesh import crossings

trimesh = pytest.importorskip("trimesh")
SEEDS = (0, 1, 2, 3, 7, 11, 2024, 2**40)
SECTIONS = {"leg": ("knee", "ankle", "ball"), "toe_walker": ("knee", "ankle"), "bird_leg": ("knee", "ankle")}
CENTRED = 0.01  # share of the local radius: half a millimetre in a knee, far under what a learner is asked for
KINDS = ("leg", "hips", "toe_walker", "bird_leg")


def outside(mesh):
    return trimesh.Trimesh(mesh.vertices, mesh.triangles, process=False)


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("kind", KINDS)
def test_trimesh_finds_the_legs_joints_inside(kind, seed):
    """That every limb is whole is asked of all kinds in test_limb_trimesh."""
    limb = practice_limb(kind, seed)
    assert outside(limb.mesh).contains([*limb.key.positions, limb.landmarks["trunk_middle"]]).all()


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("kind", SECTIONS)
def test_trimesh_finds_each_section_centred_on_the_true_joint(kind, seed):
    limb = practice_limb(kind, seed)
    mesh = outside(limb.mesh)
    for role in SECTIONS[kind]:
        joint = limb.key.positions[limb.roles.index(role)]
        flat, world_from_flat = mesh.section(plane_origin=joint, plane_normal=limb.planes[role]).to_2D()
        shares = []
        for loop in flat.polygons_closed:
            place = world_from_flat @ [loop.centroid.x, loop.centroid.y, 0, 1]
            shares.append(np.linalg.norm(place[:3] - joint) / np.sqrt(loop.area / np.pi))
        assert min(shares) < CENTRED, role


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize(
    "shape",
    [
        Shape(),
        Shape(thickness=1.2, lengths={"hip": 0.75}),
        Shape(thickness=0.75, lengths={"knee": 1.5}),
        Shape(lengths={"ankle": 1.5, "ball": 0.75}, bend=0.06),
        Shape(density=0.5),
        Shape(roughness=0.002),
    ],
    ids=["as it is", "stout", "slender", "long feet", "coarse", "rough"],
)
def test_no_shape_makes_a_leg_cross_itself(kind, shape):
    mesh = practice_limb(kind, 11, "left", shape).mesh
    assert mesh.is_closed
    assert crossings(mesh) == 0
