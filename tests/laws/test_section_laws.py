"""Laws of sections: their centre moves with the mesh, does not heed the spacing of vertices, and lies where it must."""

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from rigkit.limbs import practice_limb
from rigkit.mesh import Mesh
from rigkit.section import INSIDE, NOTHING, OPEN, OUTSIDE, Loop, Plane, _chain, _loops, cut
from rigkit.sight import line_of_sight, middle_of_sight
from tests.shapes import ellipse, prism, random_frame

ROUND_OFF = 1e-12


@given(st.integers(0, 10**6), st.floats(-0.4, 0.4), st.floats(-0.3, 0.3))
@settings(max_examples=50)
def test_the_section_moves_with_the_mesh(seed, height, tilt):
    mesh = prism(ellipse(0.05, 0.03, 24, center=(0.02, -0.01)), -1, 1, rings=9)
    plane = Plane([0, 0, height], [tilt, 0.2, 1.0])
    new_from_old = random_frame(seed)
    loop = cut(mesh, plane).holding(np.array([0.02, -0.01, height])).loop
    moved_plane = Plane(new_from_old @ plane.origin, new_from_old.rotation @ plane.normal)
    moved = cut(mesh.moved(new_from_old), moved_plane).holding(new_from_old @ np.array([0.02, -0.01, height])).loop
    assert np.allclose(moved.centroid, new_from_old @ loop.centroid, atol=ROUND_OFF * 100)
    assert moved.area == pytest.approx(loop.area, rel=1e-9)


@given(st.lists(st.floats(0.0, 1.0), min_size=0, max_size=40))
def test_vertices_added_along_an_edge_change_nothing(shares):
    square = [(-1, -1), (1, -1), (1, 1), (-1, 1)]
    extra = [(-1 + 2 * s, -1) for s in sorted(set(shares)) if 1e-3 < s < 1 - 1e-3]
    outline = np.array([square[0], *extra, *square[1:]], dtype=float)
    loop = cut(prism(outline, -1, 1), Plane([0, 0, 0.123], [0, 0, 1])).loops[0]
    assert np.allclose(loop.centroid, [0, 0, 0.123], atol=1e-9)  # the mean of the points would run to the dense side
    assert loop.area == pytest.approx(4.0, rel=1e-9)


@given(st.floats(-0.9, 0.9), st.floats(0, 2 * np.pi), st.floats(0, 0.999))
def test_inside_is_inside_and_outside_is_outside(height, angle, share):
    mesh = prism(ellipse(0.05, 0.03, 64), -1, 1)
    edge = np.array([0.05 * np.cos(angle), 0.03 * np.sin(angle), height])
    section = cut(mesh, Plane([0, 0, height], [0, 0, 1]))
    assert section.holding(edge * [0.99 * share, 0.99 * share, 1]).state == INSIDE
    assert section.holding(edge * [1.01, 1.01, 1]).state == OUTSIDE


def test_a_plane_through_vertices_or_an_end_cap_gives_whole_loops_or_none():
    mesh = prism(ellipse(1, 1, 12), -1, 1, rings=3)
    through = cut(mesh, Plane([0, 0, 0], [0, 0, 1]))
    assert [loop.closed for loop in through.loops] == [True]
    assert through.loops[0].area == pytest.approx(3.0, rel=1e-9)  # a regular twelve-gon in the unit circle: 3
    for cap in (-1, 1):
        loops = cut(mesh, Plane([0, 0, cap], [0, 0, 1])).loops
        assert all(loop.closed for loop in loops) and len(loops) <= 1
    assert cut(mesh, Plane([0, 0, 2], [0, 0, 1])).holding(np.zeros(3)).state == NOTHING


@given(st.integers(0, 10**6), st.sampled_from((5, 7, 9)))
@example(2, 5)
@settings(max_examples=200)
def test_a_loop_crosses_itself_where_two_of_its_sides_do(seed, count):
    chance = np.random.default_rng(seed)
    flat = chance.normal(size=(count, 2))
    if seed % 3:  # in order about their mean; or every other one, twice around it, as in a five-pointed star
        flat = flat[np.argsort(np.arctan2(*(flat - flat.mean(axis=0)).T))][np.arange(count) * (seed % 3) % count]
    points = np.column_stack([flat, np.zeros(count)])

    def turn(a, b, c):
        return np.sign((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]))

    sides = [(flat[i], flat[(i + 1) % count]) for i in range(count)]
    crossed = any(turn(a, b, c) * turn(a, b, d) < 0 and turn(c, d, a) * turn(c, d, b) < 0
                  for a, b in sides for c, d in sides)  # fmt: skip
    assert Loop(points, True, Plane(np.zeros(3), [0, 0, 1])).crosses_itself == crossed


def test_two_limbs_in_one_plane_are_two_loops_and_the_joint_takes_its_own():
    one, two = prism(ellipse(0.03, 0.03, 20), -1, 1), prism(ellipse(0.03, 0.03, 20, center=(0.1, 0)), -1, 1)
    both = Mesh(np.vstack([one.vertices, two.vertices]), np.vstack([one.triangles, two.triangles + len(one.vertices)]))
    section = cut(both, Plane([0, 0, 0], [0, 0, 1]))
    assert len(section.loops) == 2
    assert np.allclose(section.holding(np.array([0.11, 0.0, 0])).loop.centroid, [0.1, 0, 0], atol=1e-9)
    between = section.holding(np.array([0.04, 0.0, 0]))  # between the two: outside, the nearer one named
    assert between.state == OUTSIDE and np.allclose(between.loop.centroid, [0, 0, 0], atol=1e-9)


def test_a_torn_mesh_is_told_and_never_measured_in_silence():
    whole = prism(ellipse(0.05, 0.05, 24), -1, 1)
    torn = Mesh(whole.vertices, whole.triangles[4:])
    held = cut(torn, Plane([0, 0, 0], [0, 0, 1])).holding(np.zeros(3))
    assert held.state == OPEN and not torn.is_closed and whole.is_closed


def test_loops_that_meet_in_a_point_are_told_apart_wherever_the_walk_begins():
    links = np.array([(0, 1), (1, 2), (2, 3), (3, 0), (2, 4), (4, 5), (5, 2)])
    for turn in range(6):
        found = _chain((links + turn) % 6, 6)
        assert all(closed for _, closed in found)
        assert sorted(sorted((one - turn) % 6 for one in path) for path, _ in found) == [[0, 1, 2, 3], [2, 4, 5]]


def test_a_cut_that_two_triangles_leave_by_one_edge_is_not_followed_in_circles():
    assert _loops(np.array([0, 1, 2]), np.array([1, 2, 0])) == [[0, 1, 2]]
    assert _loops(np.array([0, 1, 2]), np.array([1, 2, 1])) is None
    assert _loops(np.array([0, 1, 1]), np.array([1, 0, 0])) is None
    assert _loops(np.array([0, 1]), np.array([1, 2])) is None


@pytest.mark.parametrize("noise", [0.0, 3e-7])
def test_vertices_doubled_along_a_seam_do_not_break_the_loop(noise):
    whole = prism(ellipse(0.05, 0.05, 24), -1, 1, rings=5)
    corners = whole.vertices[whole.triangles].reshape(-1, 3)  # every triangle with vertices of its own
    corners = corners + np.random.default_rng(1).uniform(-noise, noise, corners.shape) / np.sqrt(3)
    soup = Mesh(corners, np.arange(len(corners)).reshape(-1, 3))
    held = cut(soup, Plane([0, 0, 0.1], [0, 0, 1])).holding(np.zeros(3))
    assert held.state == INSIDE and soup.is_closed
    assert np.linalg.norm(held.loop.centroid - [0, 0, 0.1]) < 1e-6


@given(st.integers(0, 10**6))
@example(623)
@settings(max_examples=300)
def test_a_line_of_sight_through_vertices_and_edges_crosses_a_convex_body_twice(seed):
    rng = np.random.default_rng(seed)
    mesh = prism(ellipse(1, 1, 12), -1, 1, rings=5)
    vertex = mesh.vertices[rng.integers(0, 60)]
    a, b, _ = mesh.triangles[rng.integers(0, len(mesh.triangles))]
    on_an_edge = (mesh.vertices[a] + mesh.vertices[b]) / 2
    inner = rng.uniform(-0.3, 0.3, 3)
    for place in (vertex, on_an_edge):
        assert len(line_of_sight(mesh, inner, inner - place)) == 2


@pytest.mark.parametrize("kind", ("arm", "leg"))
def test_a_line_of_sight_crosses_what_any_triangle_of_the_mesh_says(kind):
    mesh, chance = practice_limb(kind, 77).mesh, np.random.default_rng(5)
    a, b, c = np.moveaxis(mesh.corners, 1, 0)
    for way in chance.normal(size=(40, 3)):
        way, origin = way / np.linalg.norm(way), a[chance.integers(len(a))] + chance.normal(0.0, 0.01, 3)
        whole = np.stack([b - a, c - a, np.broadcast_to(-way, a.shape)], axis=-1)
        told = np.abs(np.linalg.det(whole)) > 1e-15
        share, more, far = np.linalg.solve(whole[told], (origin - a[told])[:, :, None])[:, :, 0].T
        within = (share >= 0) & (more >= 0) & (share + more <= 1)
        assert np.allclose(line_of_sight(mesh, origin, way), np.sort(far[within]), atol=1e-9)


def test_the_middle_of_sight_is_the_middle_only_where_the_limb_is_seen_squarely():
    mesh = prism(ellipse(0.05, 0.03, 48, center=(0.2, 0.1)), -1, 1)
    assert np.allclose(middle_of_sight(mesh, [0.21, 0.4, 0.3], [0, 1, 0]).middle[1], 0.1, atol=1e-9)
    assert middle_of_sight(mesh, [0.4, 0.4, 0.3], [0, 1, 0]).state == NOTHING
    slanted = middle_of_sight(mesh, [0.2, 0.1, 0.999], [0, 1, 0.5]).middle
    assert abs(slanted[2] - 0.999) > 0.005  # near the end of the limb a slanted look leaves through the cap
