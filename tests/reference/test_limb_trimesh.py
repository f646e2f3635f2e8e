"""Practice limbs against trimesh: watertight, consistently wound, outward, sections centred on the true joints."""

import numpy as np
import pytest

from rigkit.limbs import KINDS, Shape, practice_arm, practice_limb
from rigkit.limbs.base import named

trimesh = pytest.importorskip("trimesh")
SEEDS = (0, 7, 11)
CENTRED = 1e-3  # metres: a fortieth of an arm's radius


def outside(mesh):
    return trimesh.Trimesh(mesh.vertices, mesh.triangles, process=False)


@pytest.mark.parametrize("seed", range(10))
@pytest.mark.parametrize("kind", KINDS)
def test_trimesh_finds_every_limb_whole(kind, seed):
    limb = practice_limb(kind, seed, "right" if seed % 2 else "left")
    mesh = outside(limb.mesh)
    assert mesh.is_watertight and mesh.is_winding_consistent
    assert mesh.volume == pytest.approx(limb.mesh.volume, rel=1e-9)
    assert mesh.volume > 0
    assert mesh.euler_number == 2, "one shell without a handle"
    assert mesh.body_count == 1
    assert 2000 <= len(limb.mesh.triangles) <= 10_000


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("role", ["elbow", "wrist", "thumb 3", "index 2", "little 3"])
def test_trimesh_finds_the_section_centred_on_the_true_joint(seed, role):
    arm = practice_arm(seed)
    joint = arm.key.positions[arm.key.index(named(role, "left"))]
    flat, world_from_flat = outside(arm.mesh).section(plane_origin=joint, plane_normal=arm.planes[role]).to_2D()
    centroids = [world_from_flat @ [p.centroid.x, p.centroid.y, 0, 1] for p in flat.polygons_closed]
    assert min(np.linalg.norm(c[:3] - joint) for c in centroids) < CENTRED


@pytest.mark.parametrize("seed", SEEDS)
def test_joints_and_trunk_lie_inside(seed):
    arm = practice_arm(seed)
    inside = outside(arm.mesh).contains([*arm.key.positions, arm.landmarks["trunk_middle"]])  # fingertips too
    assert inside.all()


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("kind", KINDS)
def test_the_surface_never_crosses_itself(kind, seed):
    assert crossings(practice_limb(kind, seed).mesh) == 0


SHAPES = (
    {"thickness": 1.2},
    {"thickness": 0.75},
    {"density": 0.5},
    {"density": 2.0, "thickness": 1.15},
    {"roughness": 0.004},
    {"lengths": {"wrist": 0.8, "shoulder": 0.8}},
)


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("kind", ["arm", "creature_arm"])
def test_no_shape_makes_it_cross_itself(kind, shape):
    assert crossings(practice_limb(kind, 7, shape=Shape(**shape)).mesh) == 0


def test_a_surface_that_crosses_itself_is_seen():
    arm = practice_arm(7)
    bent = arm.mesh.vertices.copy()
    bent[:, 0] -= np.where(bent[:, 1] < 1.0, 0.36, 0.0)  # the forearm pushed through the trunk's outline
    bent[:, 1] += np.where(bent[:, 1] < 1.0, 0.36, 0.0)
    assert crossings(type(arm.mesh)(bent, arm.mesh.triangles)) > 0


def crossings(mesh) -> int:
    """How many edges pierce a triangle they share no vertex with (Moller & Trumbore 1997)."""
    axis = int(np.argmax(np.ptp(mesh.vertices, axis=0)))
    order = np.argsort(mesh.corners[..., axis].min(axis=1))
    triangles, corners = mesh.triangles[order], mesh.corners[order]
    low, high = corners.min(axis=1), corners.max(axis=1)
    pairs = []
    for start in range(0, len(triangles), 64):
        piece = slice(start, start + 64)  # sorted along the axis: what begins beyond the piece's end cannot meet it
        end = int(np.searchsorted(low[:, axis], high[piece, axis].max(), side="right"))
        meet = np.all((low[piece, None] <= high[None, start:end]) & (high[piece, None] >= low[None, start:end]), axis=2)
        pairs.append(np.argwhere(meet) + start)
    one, two = np.concatenate(pairs).T
    apart = (one < two) & ~np.any(triangles[one][:, :, None] == triangles[two][:, None], axis=(1, 2))
    one, two = np.concatenate([[one, two], [two, one]], axis=1)[:, np.tile(apart, 2)]
    a, b, c = np.moveaxis(corners[two], 1, 0)
    count = 0
    for corner in range(3):
        start, along = corners[one, corner], corners[one, (corner + 1) % 3] - corners[one, corner]
        p = np.cross(along, c - a)
        det = np.sum((b - a) * p, axis=1)
        flat = np.abs(det) < 1e-18
        det = np.where(flat, 1.0, det)
        u = np.sum((start - a) * p, axis=1) / det
        q = np.cross(start - a, b - a)
        v, t = np.sum(along * q, axis=1) / det, np.sum((c - a) * q, axis=1) / det
        count += int(np.sum(~flat & (u >= 0) & (v >= 0) & (u + v <= 1) & (t >= 0) & (t <= 1)))
    return count
