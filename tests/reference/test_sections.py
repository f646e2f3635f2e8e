"""Sections against closed forms (their formulas stand beside them) and against trimesh (trimesh.org, MIT licence)."""

import numpy as np
import pytest
import trimesh
from scipy.spatial import KDTree
from shapely.geometry import Polygon

from rigkit.limbs import KINDS, practice_limb
from rigkit.mesh import Mesh
from rigkit.section import INSIDE, Plane, cut
from rigkit.sight import line_of_sight
from tests.shapes import ellipse, prism, random_frame, tube

SAME = 1e-9  # metres: two programs that add the same few hundred numbers in another order


def test_a_rectangle_cut_at_a_slant():
    """A box 0.2 x 0.1 cut at 45 degrees about y: the section is 0.2 sqrt(2) x 0.1 (elementary geometry)."""
    mesh = prism(np.array([(-0.1, -0.05), (0.1, -0.05), (0.1, 0.05), (-0.1, 0.05)]), -1, 1)
    loop = cut(mesh, Plane([0, 0, 0.03], [1, 0, 1])).loops[0]
    assert loop.area == pytest.approx(0.2 * np.sqrt(2) * 0.1, rel=1e-12)
    assert np.allclose(loop.centroid, [0, 0, 0.03], atol=SAME)


def test_a_half_disc_has_its_centroid_at_4r_over_3pi():
    """Centroid of a half disc: 4 r / (3 pi) from the diameter (standard table of areas). 720 sides: error of order 1/n^2."""
    angles = np.linspace(0, np.pi, 721)
    outline = np.column_stack([0.04 * np.cos(angles), 0.04 * np.sin(angles)])
    loop = cut(prism(outline, -1, 1), Plane([0, 0, 0.2], [0, 0, 1])).loops[0]
    assert np.allclose(loop.centroid, [0, 4 * 0.04 / (3 * np.pi), 0.2], atol=0.04 * (np.pi / 720) ** 2)
    assert loop.area == pytest.approx(np.pi * 0.04**2 / 2, rel=(np.pi / 720) ** 2)


def test_a_triangle_has_its_centroid_at_the_mean_of_its_corners():
    """Area half base times height, centroid the mean of the three corners (elementary geometry)."""
    corners = np.array([(0.0, 0.0), (0.09, 0.0), (0.03, 0.06)])
    loop = cut(prism(corners, -1, 1), Plane([0, 0, 0.7], [0, 0, 1])).loops[0]
    assert loop.area == pytest.approx(0.5 * 0.09 * 0.06, rel=1e-12)
    assert np.allclose(loop.centroid, [0.04, 0.02, 0.7], atol=SAME)


def test_an_ellipse_with_vertices_crowded_on_one_side():
    """Area of the polygon on an ellipse: a b / 2 sum sin(step) (affine image of a circle's sectors)."""
    angles = np.sort(
        np.concatenate([np.linspace(0, 1.0, 60, endpoint=False), np.linspace(1.0, 2 * np.pi, 60, endpoint=False)])
    )
    mesh = prism(ellipse(0.05, 0.03, 0, angles=angles), -1, 1)
    loop = cut(mesh, Plane([0, 0, 0], [0, 0, 1])).loops[0]
    steps = np.diff(np.append(angles, angles[0] + 2 * np.pi))
    assert loop.area == pytest.approx(0.05 * 0.03 / 2 * np.sin(steps).sum(), rel=1e-12)
    assert np.linalg.norm(loop.centroid) < 0.001  # the chords of the sparse side cost up to half a millimetre
    assert np.linalg.norm(mesh.vertices[:120].mean(axis=0)[:2]) > 0.01  # the mean of the vertices is 10 mm off


def uneven_limb(seed: int) -> Mesh:
    """A bent tube of uneven oval rings, carried somewhere."""
    rng = np.random.default_rng(seed)
    angles = np.sort(rng.uniform(0, 2 * np.pi, 24) + np.arange(24) * 2 * np.pi / 24 * 4) % (2 * np.pi)
    angles = np.unique(angles)
    rings = []
    for z in np.linspace(-0.3, 0.3, 15):
        flat = ellipse(rng.uniform(0.03, 0.06), rng.uniform(0.03, 0.06), 0, angles=angles)
        rings.append(np.column_stack([flat[:, 0] + 0.1 * z * z, flat[:, 1], np.full(len(flat), z)]))
    return tube(np.array(rings)).moved(random_frame(seed))


def agree_on(mesh: Mesh, other: trimesh.Trimesh, plane: Plane) -> int:
    """Check one cut: the crossings are trimesh's, each loop's area and centroid are shapely's; how many loops.

    trimesh's own polygons merge points 1e-5 m apart, so its crossing segments are taken, and shapely's polygons.
    """
    section = cut(mesh, plane)
    segments = trimesh.intersections.mesh_plane(other, plane.normal, plane.origin)
    assert sum(len(loop.points) for loop in section.loops) == len(segments)
    if not len(segments):
        return 0
    ours, theirs = np.concatenate([loop.points for loop in section.loops]), segments.reshape(-1, 3)
    assert max(KDTree(theirs).query(ours)[0].max(), KDTree(ours).query(theirs)[0].max()) < SAME
    for loop in section.loops:
        assert loop.closed
        polygon = Polygon(plane.flat(loop.points))
        assert loop.area == pytest.approx(polygon.area, rel=1e-9, abs=SAME**2)
        centre = plane.origin + np.array([polygon.centroid.x, polygon.centroid.y]) @ plane.axes
        assert np.allclose(loop.centroid, centre, rtol=0, atol=SAME)
    return len(section.loops)


@pytest.mark.parametrize("seed", range(40))
def test_crossings_areas_and_centroids_agree_with_trimesh_and_shapely_on_a_thousand_cuts(seed):
    mesh = uneven_limb(seed)
    other = trimesh.Trimesh(mesh.vertices, mesh.triangles, process=False)
    rng = np.random.default_rng(seed + 1000)
    loops = [
        agree_on(mesh, other, Plane(0.5 * mesh.vertices[rng.integers(0, 300)] + 0.5 * mesh.vertices.mean(0), way))
        for way in rng.normal(size=(25, 3))
    ]
    assert min(loops) >= 1


@pytest.mark.parametrize("kind", KINDS)
def test_cuts_and_insides_agree_with_trimesh_on_every_kind_of_limb(kind):
    """60 cuts a kind; and a section knows inside from outside as trimesh's rays do, where nothing lies around it."""
    mesh = practice_limb(kind, 5).mesh
    other = trimesh.Trimesh(mesh.vertices, mesh.triangles, process=False)
    rng = np.random.default_rng(len(kind))
    for origin, way in zip(rng.choice(mesh.vertices, 60), rng.normal(size=(60, 3)), strict=True):
        agree_on(mesh, other, Plane(origin + rng.normal(size=3) * 0.005, way))
    points = rng.choice(mesh.vertices, 60) + rng.normal(size=(60, 3)) * 0.01
    inside = [cut(mesh, Plane(point, [0.2, 1, 0.1])).holding(point).state == INSIDE for point in points]
    assert inside == other.contains(points).tolist() and 5 < sum(inside) < 55


@pytest.mark.parametrize("seed", range(10))
def test_volume_closedness_and_lines_of_sight_agree_with_trimesh(seed):
    mesh = uneven_limb(seed)
    other = trimesh.Trimesh(mesh.vertices, mesh.triangles, process=False)
    assert mesh.is_closed == other.is_watertight
    assert mesh.volume == pytest.approx(other.volume, rel=1e-9)
    rng = np.random.default_rng(seed)
    origin, direction = mesh.vertices.mean(axis=0) + rng.uniform(-0.02, 0.02, 3), rng.normal(size=3)
    direction /= np.linalg.norm(direction)
    theirs, _, _ = other.ray.intersects_location([origin], [direction])
    ahead = line_of_sight(mesh, origin, direction)
    assert np.allclose(ahead[ahead > 0], np.sort((theirs - origin) @ direction), atol=SAME)
