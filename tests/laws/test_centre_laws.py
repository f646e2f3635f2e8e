"""The middle of the flesh: each hard case has an answer of its own, never a wrong number; the pitfalls that were seen."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rigkit.centre import (
    BETWEEN,
    HOLLOW,
    JOINED,
    OVERLAPS,
    bisecting,
    flesh_at,
    middles,
    usual_radius,
)
from rigkit.limbs import practice_arm, practice_limb
from rigkit.mesh import MIXED, TWICE, Mesh
from rigkit.require import RigError
from rigkit.section import INSIDE, NOTHING, OPEN, OUTSIDE, Plane, cut
from rigkit.sight import line_of_sight, middle_of_sight, winding
from tests.shapes import ellipse, prism, random_frame, spoiled, tube

UP = np.array([0.0, 0.0, 1.0])


def together(*meshes: Mesh) -> Mesh:
    """Several shells in one mesh."""
    starts = np.cumsum([0] + [len(mesh.vertices) for mesh in meshes[:-1]])
    triangles = [mesh.triangles + start for mesh, start in zip(meshes, starts, strict=True)]
    return Mesh(np.vstack([mesh.vertices for mesh in meshes]), np.vstack(triangles))


def trousers(sides: int = 32) -> Mesh:
    """Two legs, 0.1 m apart, that become one tube above z = 0: each half of the upper ring goes down into a leg."""
    turn = np.arange(sides) * 2 * np.pi / sides
    whole = np.column_stack([0.11 * np.cos(turn), 0.06 * np.sin(turn)])
    half = sides // 2
    seam = np.linspace(0, 1, half // 2 + 1)[1:-1]
    front, back = whole[half // 2], whole[half + half // 2]
    web = front + seam[:, None] * (back - front)  # from front to back between the legs
    upper = [np.column_stack([whole, np.full(sides, z)]) for z in (0.3, 0.2, 0.1, 0.02)]
    vertices = list(np.concatenate(upper)) + [np.array([*p, 0.0]) for p in web]
    last, first_web = 3 * sides, 4 * sides
    quads = [(r * sides + i, r * sides + (i + 1) % sides, (r + 1) * sides + (i + 1) % sides, (r + 1) * sides + i)
             for r in range(3) for i in range(sides)]  # fmt: skip
    triangles = [t for a, b, c, d in quads for t in ((a, c, b), (a, d, c))]
    top = len(vertices)
    vertices.append(np.array([0, 0, 0.3]))
    triangles += [(i, (i + 1) % sides, top) for i in range(sides)]
    webs = list(range(first_web, first_web + len(web)))
    right = [last + i for i in [*range(half + half // 2, sides), *range(half // 2 + 1)]] + webs
    left = [last + i for i in range(half // 2, half + half // 2 + 1)] + webs[::-1]
    for rim in (right, left):
        centre = np.mean([vertices[i] for i in rim], axis=0)
        ring = np.array(rim)
        for z in (-0.05, -0.15, -0.3):
            start = len(vertices)
            vertices += [np.array([*(centre + 0.85 * (vertices[i] - centre))[:2], z]) for i in rim]
            new = np.arange(start, start + len(rim))
            for i in range(len(rim)):
                j = (i + 1) % len(rim)
                triangles += [(ring[i], new[j], ring[j]), (ring[i], new[i], new[j])]
            ring = new
        vertices.append(np.array([*centre[:2], -0.3]))
        triangles += [(ring[(i + 1) % len(ring)], ring[i], len(vertices) - 1) for i in range(len(ring))]
    mesh = Mesh(np.array(vertices), np.array(triangles))
    assert mesh.is_closed and mesh.volume > 0
    return mesh


def test_four_fingers_in_one_plane_are_four_loops_and_each_joint_has_its_own():
    """Pitfall: the centroid of all four lies between the fingers."""
    fingers = [prism(ellipse(0.008, 0.007, 16, center=(0.02 * k, 0)), -0.03, 0.03) for k in range(4)]
    for k in range(4):
        here = flesh_at(together(*fingers), np.array([0.02 * k + 0.001, 0.0, 0.0]), UP)
        assert (here.state, here.others) == (INSIDE, 3)
        assert np.allclose(here.offset, [0.001, 0, 0], atol=1e-9)
    between = flesh_at(together(*fingers), np.array([0.03, 0.0, 0.0]), UP)
    assert between.state == OUTSIDE and abs(between.offset[0]) == pytest.approx(0.01)


def test_a_cut_through_a_crotch_joins_two_limbs_and_says_so():
    """Pitfall: the joined section's centroid lies between the legs."""
    mesh = trousers()
    for height, expected in ((-0.1, INSIDE), (0.015, JOINED), (0.04, JOINED)):
        here = flesh_at(mesh, np.array([0.05, 0.0, height]), UP)
        assert here.state == expected, height
        assert (here.offset is None) == (expected == JOINED)
        assert flesh_at(mesh, np.array([0.05, 0.0, height]), -UP).state == expected, height
    assert flesh_at(mesh, np.array([0.05, 0.0, 0.2]), UP, usual=0.05).state == JOINED  # high up: known by its width


def test_a_shoulder_runs_into_the_trunk_and_elbow_and_wrist_do_not():
    for seed in range(6):
        arm = practice_arm(seed)
        places = arm.key.positions[:3]
        found = []
        for joint in range(3):
            bone = (1, 2) if joint else (0, 1)
            found.append(flesh_at(arm.mesh, places[joint], bisecting(places, joint),
                                  usual_radius(arm.mesh, *places[list(bone)])).state)  # fmt: skip
        assert found == [JOINED, INSIDE, INSIDE]


def test_a_hole_in_the_mesh_gives_no_centre():
    """Pitfall: the centroid of the open path is a third of a radius off, with no warning."""
    whole = prism(ellipse(0.05, 0.05, 24), -1, 1, rings=9)
    torn = Mesh(whole.vertices, np.delete(whole.triangles, range(18 * 12), axis=0))
    here = flesh_at(torn, np.zeros(3), UP)
    assert here.state == OPEN and here.offset is None and here.radius is None
    path = here.loop.centroid
    assert np.linalg.norm(path) > 0.3 * 0.05  # what it would have said


@pytest.mark.parametrize("noise", [0.0, 3e-7, 1e-6])
def test_doubled_seams_with_noise_measure_like_the_whole_mesh(noise):
    """Pitfall: noise of 3e-7 defeats rounding."""
    whole = prism(ellipse(0.05, 0.04, 24), -1, 1, rings=5)
    rng = np.random.default_rng(2)
    corners = whole.vertices[whole.triangles].reshape(-1, 3)
    soup = Mesh(corners + rng.uniform(-noise, noise, corners.shape), np.arange(len(corners)).reshape(-1, 3))
    here = flesh_at(soup, np.array([0.01, 0, 0.1]), UP)
    assert here.state == INSIDE and np.allclose(here.offset, [0.01, 0, 0], atol=2e-6) and soup.is_closed


def test_clothes_over_flesh_are_two_shells_and_the_flesh_decides():
    limb = prism(ellipse(0.05, 0.05, 24), -1, 1)
    sleeve_out, sleeve_in = prism(ellipse(0.08, 0.08, 24, center=(0.01, 0)), -0.5, 0.5), prism(
        ellipse(0.07, 0.07, 24, center=(0.01, 0)), -0.5, 0.5)  # fmt: skip
    turned = Mesh(sleeve_in.vertices, sleeve_in.triangles[:, ::-1])
    dressed = flesh_at(together(limb, sleeve_out, turned), np.array([0.004, 0, 0]), UP)
    assert dressed.state == INSIDE and dressed.shells == 3 and np.allclose(dressed.offset, [0.004, 0, 0], atol=1e-9)
    empty = flesh_at(together(sleeve_out, turned), np.array([0.004, 0, 0]), UP)
    assert empty.state == HOLLOW and np.allclose(empty.offset, [-0.006, 0, 0], atol=1e-9)


def test_a_nail_beside_the_joint_changes_nothing():
    finger = prism(ellipse(0.008, 0.007, 16), -0.03, 0.03)
    nail = prism(ellipse(0.004, 0.001, 12, center=(0, 0.0068)), -0.005, 0.005)
    here = flesh_at(together(finger, nail), np.zeros(3), UP)
    assert (here.state, here.others, here.shells) == (INSIDE, 1, 1) and np.linalg.norm(here.offset) < 1e-9


def test_flesh_that_passes_through_other_flesh_is_told():
    one, two = prism(ellipse(0.05, 0.05, 24), -1, 1), prism(ellipse(0.05, 0.05, 24, center=(0.06, 0)), -1, 1)
    assert flesh_at(together(one, two), np.array([0.03, 0, 0]), UP).state == OVERLAPS  # in both
    assert flesh_at(together(one, two), np.array([-0.03, 0, 0]), UP).state == INSIDE  # in one alone
    eight = tube(np.array([
        np.column_stack([0.05 * np.sin(t), 0.03 * np.sin(2 * t), np.full(24, z)])
        for z in (-1.0, 1.0) for t in [np.arange(24) * 2 * np.pi / 24 + 0.1]
    ]))  # fmt: skip
    here = flesh_at(eight, np.array([0.03, 0, 0]), UP)
    assert here.state == OVERLAPS and here.offset is None


def test_flesh_that_touches_flesh_along_an_edge_stays_two_loops():
    square = np.array([(-0.05, -0.05), (0.05, -0.05), (0.05, 0.05), (-0.05, 0.05)])
    both = together(prism(square, -1, 1), prism(square + [0.1, 0.1], -1, 1))  # they share one upright edge, welded
    here = flesh_at(both, np.array([0.01, 0, 0]), UP)
    assert here.state == INSIDE and np.allclose(here.offset, [0.01, 0, 0], atol=1e-9) and here.others == 1


def test_a_plane_on_an_end_cap_gives_a_whole_loop_or_none():
    """Pitfall: a plane exactly on an end cap gives a full loop or none; both are told as such."""
    mesh = prism(ellipse(0.05, 0.05, 12), -1, 1, rings=3)
    states = [flesh_at(mesh, np.array([0, 0, z]), UP).state for z in (-1.0, 1.0)]
    assert states == [NOTHING, INSIDE]  # a vertex on the plane counts as above it
    assert flesh_at(mesh, np.array([0.0, 0.0, 0.0]), UP).state == INSIDE  # exactly through a ring of vertices


def test_a_line_of_sight_through_a_vertex_counts_two_crossings():
    """Pitfall: one line through a vertex counted 12 crossings instead of 2."""
    mesh = prism(ellipse(0.05, 0.05, 12), -1, 1, rings=5)
    for vertex in mesh.vertices[12:48:5]:
        assert len(line_of_sight(mesh, np.array([0, 0, vertex[2]]), vertex - [0, 0, vertex[2]])) == 2


def test_a_line_of_sight_fails_on_a_slanted_limb_and_with_flesh_behind():
    """What it is taught for: quick, and wrong where the limb is seen at a slant or near its end; behind the limb lies
    another, whose crossings are not taken for its own."""
    limb = prism(ellipse(0.05, 0.03, 48), -1, 1)
    other = prism(ellipse(0.05, 0.03, 48, center=(0, 0.3)), -1, 1)
    ahead = middle_of_sight(together(limb, other), np.array([0.01, -0.01, 0.0]), np.array([0.0, 1.0, 0.0])).middle
    assert ahead[1] == pytest.approx(0.0, abs=1e-9)
    fooled = middle_of_sight(together(limb, other), np.array([0.01, 0.2, 0.0]), np.array([0.0, 1.0, 0.0])).middle
    assert fooled[1] == pytest.approx(0.3, abs=1e-9)  # a point between the two is taken to the nearer flesh
    slant = prism(ellipse(0.05, 0.03, 48), -1, 1)
    seen = middle_of_sight(slant, np.array([0.0, 0.0, 0.99]), np.array([0.0, 1.0, 1.0])).middle
    assert abs(seen[1]) > 0.009 and abs(flesh_at(slant, np.array([0, 0, 0.99]), UP).offset).max() < 1e-9


CHAINS = {  # kind: roles down a chain, and those that a region decides or that end it
    "arm": (("shoulder", "elbow", "wrist"), {0}),
    "creature_arm": (("shoulder", "elbow", "wrist"), {0}),
    "leg": (("hip", "knee", "ankle"), {0}),
    "toe_walker": (("hip", "knee", "ankle", "ball"), {0, 3}),
    "bird_leg": (("hip", "knee", "ankle", "ball"), {0, 3}),
    "finger": (("index 1", "index 2", "index 3", "index tip"), {3}),
}


@pytest.mark.parametrize("kind", CHAINS)
@given(seed=st.integers(0, 40), where=st.integers(0, 10**6))
@settings(max_examples=8, deadline=None)
def test_the_middle_is_found_again_from_half_a_radius_off(kind, seed, where):
    """Within 2 % of the local radius across the bone, when started up to half a radius off across it. That is the reach
    asked for: 2 %, or twice what an area centroid errs on so many sides, whichever is more (on 24 to 28 sides 1 to 4 %,
    measured on tubes; the limbs' rings are centred, so they do better)."""
    roles, kept = CHAINS[kind]
    limb, rng = practice_limb(kind, seed), np.random.default_rng(where)
    places = limb.key.positions[[limb.roles.index(role) for role in roles]]
    ways = [bisecting(places, joint) for joint in range(len(places))]
    radii = [cut(limb.mesh, Plane(p, way)).holding(p).loop.radius for p, way in zip(places, ways, strict=True)]
    start = places.copy()
    for joint in set(range(len(places))) - kept:
        push = np.cross(ways[joint], rng.normal(size=3))
        start[joint] += 0.5 * radii[joint] * rng.uniform(0, 1) * push / np.linalg.norm(push)
    found = middles(limb.mesh, start, kept=kept)
    assert set(found.states) == {INSIDE} and found.moved < 1e-6
    for joint in set(range(len(places))) - kept:
        off = found.positions[joint] - places[joint]
        assert np.linalg.norm(off - ways[joint] * (off @ ways[joint])) < 0.02 * radii[joint], roles[joint]


@pytest.mark.parametrize("kind, role, below", [("hips", "hip", "knee"), ("arm", "middle 1", "middle 2"),
                                               ("creature_arm", "shoulder", "elbow")])  # fmt: skip
def test_hips_shoulders_and_knuckles_run_into_other_flesh(kind, role, below):
    for seed in range(4):
        limb = practice_limb(kind, seed)
        joint, next_ = (limb.key.positions[limb.roles.index(one)] for one in (role, below))
        here = flesh_at(limb.mesh, joint, next_ - joint, usual_radius(limb.mesh, joint, next_))
        assert here.state == JOINED and here.offset is None


def test_a_line_of_sight_keeps_clothes_and_flesh_apart_and_tells_of_a_torn_limb():
    limb, sleeve = prism(ellipse(0.04, 0.04, 24), -1, 1), prism(ellipse(0.05, 0.05, 24, center=(0.005, 0)), -0.5, 0.5)
    seen = middle_of_sight(together(limb, sleeve), np.array([0.01, 0.0, 0.0]), np.array([1.0, 0, 0]))
    assert seen.state == INSIDE and np.allclose(seen.middle, 0, atol=1e-9)
    torn = Mesh(limb.vertices, limb.triangles[20:])
    other = prism(ellipse(0.03, 0.03, 24, center=(0.12, 0)), -1, 1)
    way = limb.corners[:8].mean(axis=(0, 1)) * [1, 1, 0]  # leaves through the hole
    assert middle_of_sight(together(torn, other), np.zeros(3), way).state == OPEN
    inward = Mesh(limb.vertices, limb.triangles[:, ::-1])
    assert middle_of_sight(inward, np.array([0.01, 0, 0]), np.array([1.0, 0, 0])).state == INSIDE


def test_torn_flesh_in_a_sleeve_and_a_joint_in_the_cloth_have_their_own_words():
    limb, sleeve = prism(ellipse(0.04, 0.04, 24), -1, 1, rings=5), prism(ellipse(0.06, 0.06, 24), -0.5, 0.5)
    torn = Mesh(limb.vertices, np.delete(limb.triangles, range(10 * 8), axis=0))
    assert flesh_at(together(torn, sleeve), np.array([0.0, 0, 0.1]), UP).state == OPEN
    in_the_cloth = flesh_at(together(limb, sleeve), np.array([0.05, 0, 0.1]), UP)
    assert in_the_cloth.state == BETWEEN and in_the_cloth.offset is None
    assert flesh_at(together(limb, sleeve), np.array([0.01, 0, 0.1]), UP).state == INSIDE


def test_planes_exactly_through_vertices_never_read_as_flesh_that_passes_through_itself():
    for kind in ("toe_walker", "leg"):
        limb = practice_limb(kind, 1, "right")
        for vertex in limb.mesh.vertices[::97]:
            for axis in np.eye(3):
                assert flesh_at(limb.mesh, vertex, axis, trusted=True).state != OVERLAPS


@given(st.integers(0, 10**6))
@settings(max_examples=20)
def test_the_answer_moves_with_the_mesh(seed):
    mesh, new_from_old = trousers(), random_frame(seed)
    rng = np.random.default_rng(seed)
    joint = np.array([0.05, 0.0, 0.0]) + rng.uniform(-0.04, 0.04, 3) * [1, 1, 5]
    here, there = (
        flesh_at(mesh, joint, UP),
        flesh_at(mesh.moved(new_from_old), new_from_old @ joint, new_from_old.rotation @ UP),
    )
    assert (here.state, here.others, here.shells) == (there.state, there.others, there.shells)
    if here.offset is not None:
        assert np.allclose(there.offset, new_from_old.rotation @ here.offset, atol=1e-9)


def test_a_chain_of_one_joint_is_refused():
    with pytest.raises(RigError, match="two joints"):
        middles(trousers(), [[0, 0, 0]])


# Meshes whose triangles face both ways ---------------------------------------------------------------


@pytest.mark.parametrize("how, fault", [("a third reversed", MIXED), ("half reversed", MIXED), ("one reversed", MIXED),
                                        ("two-sided", TWICE), ("two-sided soup", TWICE), ("each twice", TWICE),
                                        ("inside out", "")])  # fmt: skip
@pytest.mark.parametrize("kind, role", [("arm", "elbow"), ("leg", "knee"), ("finger", "index 2")])
def test_triangles_that_face_both_ways_are_told_and_measure_like_the_whole_mesh(kind, role, how, fault):
    """Before they were mended, a two-sided arm had no volume and no loop of any area, and a mixed one was "in a hollow"."""
    limb = practice_limb(kind, 4)
    mesh, odd = limb.mesh, spoiled(limb.mesh, how)
    assert odd.fault == fault and mesh.fault == "" and mesh.mended is mesh
    assert odd.is_closed == (fault == "") and odd.mended.is_closed
    assert odd.volume == pytest.approx(-mesh.volume if how == "inside out" else mesh.volume, rel=1e-9)
    joint, along = limb.key.positions[limb.roles.index(role)], limb.planes[role]
    radius = flesh_at(mesh, joint, along).radius
    for off in (0.3, 1.5):
        place = joint + off * radius * Plane(joint, along).axes[0]
        whole, here = (flesh_at(one, place, along) for one in (mesh, odd))
        assert (here.state, here.others, here.shells) == (whole.state, whole.others, whole.shells)
        assert here.state == (INSIDE if off < 1 else OUTSIDE)
        assert np.allclose(here.offset, whole.offset, atol=1e-9) and here.radius == pytest.approx(whole.radius)
        whole, here = (middle_of_sight(one, place, Plane(joint, along).axes[0]) for one in (mesh, odd))
        assert here.state == whole.state and np.allclose(here.middle, whole.middle, atol=1e-9)
    for way in np.random.default_rng(3).normal(size=(6, 3)):
        whole, here = ([loop for loop in cut(one, Plane(joint, way)).loops if loop.closed] for one in (mesh, odd))
        assert sorted(loop.area for loop in here) == pytest.approx(sorted(loop.area for loop in whole))
        assert np.allclose(line_of_sight(odd, joint, way), line_of_sight(mesh, joint, way), atol=1e-9)


@given(st.integers(0, 10**6), st.floats(0.01, 0.99))
@settings(max_examples=20, deadline=None)
def test_whichever_triangles_are_turned_round_they_are_turned_back(seed, share):
    rng = np.random.default_rng(seed)
    limb, far = prism(ellipse(0.05, 0.03, 12), -1, 1, rings=4), prism(ellipse(0.05, 0.03, 9, center=(1, 0)), -1, 1)
    both = together(limb, spoiled(far, "inside out"))  # a piece that agrees with itself stays: a lining, a hollow
    turned = (rng.random(len(both.triangles)) < share) & (np.arange(len(both.triangles)) < len(limb.triangles))
    odd = Mesh(both.vertices, np.where(turned[:, None], both.triangles[:, ::-1], both.triangles))
    assert np.allclose(odd.mended.normals, both.normals if not turned[: len(limb.triangles)].all() else odd.normals)


@given(st.integers(0, 10**6), st.integers(3, 12), st.integers(1, 40))
@settings(max_examples=50, deadline=None)
def test_a_heap_of_triangles_is_mended_once_and_measured_without_a_wrong_number(seed, vertices, triangles):
    rng = np.random.default_rng(seed)
    heap = Mesh(rng.integers(-2, 3, (vertices, 3)) * 0.1, rng.integers(0, vertices, (triangles, 3)))
    mended = heap.mended
    assert mended.mended is mended and np.array_equal(mended.vertices, heap.vertices)
    places = [{tuple(sorted(t)) for t in heap.welded[one.triangles].tolist()} for one in (heap, mended)]
    assert places[0] == places[1]
    assert np.isfinite(heap.volume) and np.all(np.isfinite(winding(heap, heap.vertices)))
    here = flesh_at(heap, rng.uniform(-0.1, 0.1, 3), rng.normal(size=3))
    assert here.offset is None or np.all(np.isfinite(here.offset))


def test_what_has_no_fault_or_cannot_be_mended_stays_as_it_is():
    square = np.array([(-0.05, -0.05), (0.05, -0.05), (0.05, 0.05), (-0.05, 0.05)])
    box = prism(square, -1, 1)
    touching = together(box, box.mirrored(np.array([0.05, 0, 0]), [1, 0, 0]))  # a whole face is there both ways round
    assert touching.fault == "" and touching.volume == pytest.approx(2 * 0.1 * 0.1 * 2)
    seamed = Mesh(np.vstack([box.vertices, box.vertices[:1]]), np.vstack([box.triangles, [[0, 1, len(box.vertices)]]]))
    assert seamed.is_closed and seamed.fault == "" and seamed.volume == pytest.approx(box.volume)  # a sliver on a seam
    sides, half = 12, np.pi / 12
    rims = [[(1 + r * np.cos(k * half)) * np.cos(2 * k * half), (1 + r * np.cos(k * half)) * np.sin(2 * k * half),
             r * np.sin(k * half)] for k in range(sides) for r in (-0.2, 0.2)]  # fmt: skip
    after = [(k + 1) % sides * 2 + np.array([0, 1] if k < sides - 1 else [1, 0]) for k in range(sides)]
    strip = [t for k, (a, b) in enumerate(after) for t in ((2 * k, 2 * k + 1, a), (2 * k + 1, b, a))]
    one_side_only = Mesh(rims, strip)
    assert np.isfinite(one_side_only.volume) and one_side_only.mended.mended is one_side_only.mended
    assert flesh_at(one_side_only, np.array([1.0, 0.0, 0.0]), np.array([0.0, 1, 0])).offset is None


def test_a_torn_limb_in_a_two_sided_cape_is_still_torn_and_a_whole_one_still_has_its_middle():
    limb = prism(ellipse(0.04, 0.04, 24), -1, 1, rings=5)
    cape = prism(ellipse(0.06, 0.06, 24), -0.5, 0.5)
    cape = Mesh(cape.vertices[:-2], cape.triangles[np.all(cape.triangles < 48, axis=1)][:24])  # half-way round
    cape = spoiled(cape, "two-sided")
    dressed = flesh_at(together(limb, cape), np.array([0.01, 0, 0.1]), UP)
    assert together(limb, cape).fault == TWICE and dressed.state == INSIDE
    assert np.allclose(dressed.offset, [0.01, 0, 0], atol=1e-9)
    torn = spoiled(Mesh(limb.vertices, np.delete(limb.triangles, range(10 * 8), axis=0)), "a third reversed")
    assert flesh_at(together(torn, cape), np.array([0.0, 0, 0.1]), UP).state == OPEN


# Open meshes: in front of a hole --------------------------------------------------------------------


def cup(bottom: float, top: float, hole: str) -> Mesh:
    """A tube, 0.1 m across, without its lid at the top or at the bottom."""
    whole = prism(ellipse(0.05, 0.05, 24), bottom, top, rings=9)
    lid = len(whole.vertices) - (1 if hole == "top" else 2)
    return Mesh(whole.vertices, whole.triangles[np.all(whole.triangles != lid, axis=1)])


def test_between_two_open_limbs_is_not_in_the_flesh():
    """The line enters the lower through its floor, leaves by the hole, and leaves the upper through its lid: a way in
    and a way out, whose middle would lie between the two."""
    two = together(cup(-1.0, -0.2, "top"), cup(0.2, 1.0, "bottom"))
    seen = middle_of_sight(two, np.array([0.01, 0.0, 0.05]), UP)
    assert seen.state == OPEN and seen.middle is None
    across = middle_of_sight(two, np.array([0.01, 0.0, -0.5]), np.array([1.0, 0, 0]))
    assert across.state == INSIDE and np.allclose(across.middle, [0, 0, -0.5], atol=1e-9)
    assert middle_of_sight(two, np.array([0.01, 0, 0.05]), np.array([1.0, 0, 0])).state == NOTHING


def test_how_far_an_open_limb_closes_around_a_place():
    """On the axis of a wide tube, at a height over its round hole, what is missing is the hole's solid angle: so winding
    is (1 - cos t) / 2 in front of it, t the angle of its rim (a cap's solid angle, 2 pi (1 - cos t))."""
    open_limb = prism(ellipse(0.05, 0.05, 360), -1, 0, rings=2)
    open_limb = Mesh(open_limb.vertices, open_limb.triangles[np.all(open_limb.triangles != 721, axis=1)])
    for height in (0.2, 0.05, 0.01, 1e-6):
        expected = (1 - height / np.hypot(height, 0.05)) / 2
        assert winding(open_limb, [[0, 0, height]])[0] == pytest.approx(expected, abs=1e-4)
        assert winding(open_limb, [[0, 0, -height]])[0] == pytest.approx(1 - expected, abs=1e-4)
    limb, rng = practice_limb("arm", 2).mesh, np.random.default_rng(1)
    places = limb.vertices[rng.integers(0, len(limb.vertices), 40)] + rng.normal(size=(40, 3)) * 0.01
    inside = [flesh_at(limb, place, np.array([0.3, 1, 0.1]), trusted=True).state == INSIDE for place in places]
    assert np.allclose(winding(limb, places), inside, atol=1e-9) and 5 < sum(inside) < 35
    assert np.allclose(winding(spoiled(limb, "inside out"), places), inside, atol=1e-9)


# What a section's middle is worth -------------------------------------------------------------------

# Error of the area centroid and of the mean of the vertices on tubes with uneven vertices, in local radii (medians), as
# measured beforehand with other programs.
ERRS = {16: (0.040, 0.236), 32: (0.010, 0.135), 64: (0.002, 0.104)}


@pytest.mark.parametrize("sides", ERRS)
def test_the_area_centroid_errs_as_measured_and_the_mean_of_the_vertices_never_serves(sides):
    """Pitfalls: on 16 uneven sides an allowance under 0.05 radius means nothing; the mean of vertices is wrong at any
    density. Vertices at random angles: medians within a factor of two of those measured."""
    rng, centroids, means = np.random.default_rng(sides), [], []
    for _ in range(60):
        outline = ellipse(1.0, 1.0, 0, angles=np.sort(rng.uniform(0, 2 * np.pi, sides)))
        loop = cut(prism(outline, -1, 1), Plane([0, 0, 0.1], UP)).loops[0]
        centroids.append(np.linalg.norm(loop.centroid - [0, 0, 0.1]))
        means.append(np.linalg.norm(outline.mean(axis=0)))
    assert 0.5 < np.median(centroids) / ERRS[sides][0] < 2 and 0.5 < np.median(means) / ERRS[sides][1] < 2
