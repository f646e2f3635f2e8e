"""Laws of the mirror: twice is nothing, an even figure matches wherever it stands, an uneven one is told as such."""

import csv
from dataclasses import replace
from itertools import combinations, permutations

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from rigkit.axes import local_axes, posed
from rigkit.edits import branched, removed, reparented
from rigkit.frames import Frame, mirror_matrix, quaternion_from_rotation, rotation_about, rotation_from_quaternion
from rigkit.limbs import Shape, practice_limb
from rigkit.mesh import Mesh
from rigkit.middle import CANNOT_TELL, FOUND, middle_of_mesh, middle_of_places, reflected
from rigkit.mirror import NEAR, Mismatch, match_sides, middle_of_joints, mirror_side, side_of
from rigkit.mirror_axes import NEITHER, SAME_DIRECTION, SAME_NUMBERS, mirror_behaviour, mirrored_rotation, pair_axes
from rigkit.naming import read_rule
from rigkit.require import RigError
from rigkit.section import Plane
from rigkit.skeleton import Skeleton
from tests.arms import PROJECT
from tests.shapes import ellipse, prism, random_frame, spoiled, tube

PLAIN, HANIM = read_rule("plain"), read_rule("hanim")
SAGITTAL = Plane([0, 0, 0], [1, 0, 0])
CLOSE = 1e-9
CLEAN = 1e-9  # metres: both sides are mirror images to the last digits
seeds = st.integers(0, 10**6)


def merged(*meshes: Mesh) -> Mesh:
    starts = np.cumsum([0, *(len(m.vertices) for m in meshes)])
    triangles = [m.triangles + start for m, start in zip(meshes, starts, strict=False)]
    return Mesh(np.vstack([m.vertices for m in meshes]), np.vstack(triangles))


def limbs(seed: int, right: Shape = Shape()) -> Mesh:  # noqa: B008
    return merged(practice_limb("arm", seed).mesh, practice_limb("arm", seed, "right", right).mesh)


def carried(plane: Plane, frame: Frame) -> Plane:
    return Plane(frame @ plane.origin, frame.rotation @ plane.normal)


def apart(found: Plane, plane: Plane, reach: np.ndarray) -> tuple[float, float]:
    """Degrees between two planes, and millimetres at the most between what they make of the given points."""
    angle = np.degrees(np.arctan2(np.linalg.norm(np.cross(found.normal, plane.normal)), found.normal @ plane.normal))
    return angle, 1000 * np.abs(found.heights(reach) - plane.heights(reach)).max()


def figure() -> Skeleton:
    """A spine and the left limbs of Orlo, with frames: x along the bone, z along the hinge."""
    names = ["root", "chest", "left_shoulder", "left_elbow", "left_wrist", "left_hip", "left_knee", "left_ankle"]
    places = [[0, 0.95, 0], [0, 1.4, 0], [0.2, 1.42, -0.03], [0.36, 1.2, -0.05], [0.5, 1.0, 0], [0.1, 0.9, 0],
              [0.11, 0.5, 0.03], [0.12, 0.1, -0.03]]  # fmt: skip
    one = Skeleton(names, [None, 0, 1, 2, 3, 0, 5, 6], places)
    return replace(one, rotations=local_axes(one, roots=[2, 5]).quaternions)


def hanim() -> Skeleton:
    """H-Anim's left side and midline (ISO/IEC 19774-1; the table says where its rows are from)."""
    rows = {r["name"]: r for r in csv.DictReader((PROJECT / "data" / "reference" / "hanim.csv").open())}
    names = list(rows)
    parents = [names.index(r["parent"]) if r["parent"] in names else None for r in rows.values()]
    return Skeleton(names, parents, [[float(r[k]) for k in "xyz"] for r in rows.values()])


# The middle plane ----------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(2))
def test_the_middle_of_two_arms_is_found_wherever_they_stand(seed):
    both, frame = limbs(seed), random_frame(seed, reach=5.0)
    moved = both.moved(frame)
    found = middle_of_mesh(moved, frame.rotation @ [1, 0.3, 0.2])  # left is known roughly only
    assert found.state == FOUND and found.misfit < CLEAN
    angle, far = apart(found.plane, carried(SAGITTAL, frame), moved.vertices)
    assert angle < 1e-6 and far < 1e-4  # degrees, millimetres; asked for are 0.1 and 0.1


def test_a_figure_turned_a_little_is_found_without_being_told_how():
    both = limbs(4)
    frame = Frame(rotation_about([0.3, 1, 0.1], np.radians(7)), [0.3, 0, -0.1])
    found = middle_of_mesh(both.moved(frame))
    angle, far = apart(found.plane, carried(SAGITTAL, frame), frame @ both.vertices)
    assert angle < 1e-6 and far < 1e-4


def test_noise_on_the_surface_moves_the_middle_little():
    both = limbs(5)
    noisy = Mesh(both.vertices + np.random.default_rng(1).normal(size=both.vertices.shape) * 3e-4, both.triangles)
    found = middle_of_mesh(noisy)
    angle, far = apart(found.plane, SAGITTAL, both.vertices)
    assert angle < 0.02 and far < 0.2 and 5e-5 < found.misfit < 1e-3


def test_sides_of_different_triangles_and_a_bag_on_one_side_do_not_matter():
    other = limbs(3, Shape(density=0.6))
    angle, far = apart(middle_of_mesh(other).plane, SAGITTAL, other.vertices)
    assert angle < 0.01 and far < 0.1  # nearest vertices alone, without tangent planes, come to 0.03 and 0.4
    bag = practice_limb("finger", 5, "left", Shape(density=0.5)).mesh
    bag = Mesh((bag.vertices - bag.vertices.mean(axis=0)) * 0.5 + [0.5, 1.2, 0.1], bag.triangles)
    laden = merged(limbs(3), bag)
    angle, far = apart(middle_of_mesh(laden).plane, SAGITTAL, laden.vertices)
    assert angle < 0.1 and far < 1.0


def test_what_has_no_middle_is_told_with_its_misfit():
    left = practice_limb("arm", 3).mesh
    lowered = practice_limb("arm", 3, "right").mesh.moved(Frame(np.eye(3), [0, 0.05, 0.02]))
    for mesh in (left, merged(left, lowered)):
        found = middle_of_mesh(mesh)
        assert found.state == CANNOT_TELL and found.plane is None and 1e-3 < found.misfit < 0.1
    for nothing in (Mesh(left.vertices, []), Mesh([[0, 0, 0], [1, 0, 0], [0, 1, 0]], [[0, 1, 2], [0, 2, 1]])):
        with pytest.raises(RigError, match="a mesh with a surface"):
            middle_of_mesh(nothing)


def test_of_several_middles_the_one_across_the_figures_left_is_taken():
    lozenge = prism(ellipse(0.2, 0.1, 24), -0.3, 0.3, rings=9)  # even in x, in y and in z
    for left, normal in (([1, 0.2, 0], [1, 0, 0]), ([0, 0, -1], [0, 0, -1]), ([0.1, 1, 0.3], [0, 1, 0])):
        found = middle_of_mesh(lozenge, left)
        assert found.plane.normal == pytest.approx(normal, abs=1e-9)
        assert found.plane.heights(np.zeros(3)) == pytest.approx(0, abs=1e-9)


@settings(max_examples=15, deadline=None)
@given(seeds, st.integers(3, 30), st.sampled_from([1e-6, 1.0, 3e4]))
def test_any_heap_of_triangles_has_a_finite_answer(seed, count, size):
    rng = np.random.default_rng(seed)
    mesh = Mesh(rng.integers(-2, 3, (count, 3)) * size, rng.integers(0, count, (count, 3)))
    try:
        found = middle_of_mesh(mesh)
    except RigError as error:
        assert "a mesh with a surface" in str(error)
        return
    assert np.isfinite(found.misfit)


@settings(max_examples=40)
@given(seeds)
def test_the_middle_of_joints_is_found_also_where_one_is_far_off(seed):
    frame = random_frame(seed, reach=3.0)
    whole = mirror_side(figure(), SAGITTAL, PLAIN).transformed(frame)
    for one in (whole, whole.moved(whole.index("right_knee"), whole.positions[9] + [0.2, 0.1, 0])):
        found = middle_of_joints(one, PLAIN)
        angle, far = apart(found.plane, carried(SAGITTAL, frame), whole.positions)
        assert found.state == FOUND and angle < 1e-6 and far < 1e-6


def test_joints_that_show_no_middle_are_told_as_such():
    assert middle_of_joints(figure(), PLAIN).state == CANNOT_TELL  # one side only
    assert middle_of_places([[1, 0, 0]], [[-1, 0, 0]], []).state == CANNOT_TELL
    assert middle_of_places([[1, 0, 0]] * 3, [[1, 0, 0]] * 3, []).state == CANNOT_TELL
    rng = np.random.default_rng(2)
    heap = rng.uniform(-1, 1, (6, 3))
    assert middle_of_places(heap, heap, []).state == CANNOT_TELL
    lost = middle_of_places(*rng.uniform(-1, 1, (3, 6, 3)))
    assert lost.state == CANNOT_TELL and lost.misfit > 0.05
    with pytest.raises(RigError, match="as many places"):
        middle_of_places([[1, 0, 0]], [], [])


@pytest.mark.parametrize("how", ["a third reversed", "two-sided", "inside out"])
def test_triangles_that_face_both_ways_do_not_hide_the_middle(how):
    """Known wrong answer: a two-sided figure was refused as one without a surface."""
    odd = spoiled(limbs(1, Shape(density=0.6)), how)
    angle, far = apart(middle_of_mesh(odd).plane, SAGITTAL, odd.vertices)
    assert angle < 0.01 and far < 0.1


@pytest.mark.parametrize("kind, left, right", [("arm", 1, 2), ("arm", 4, 5), ("arm", 8, 68), ("leg", 30, 58)])
def test_two_limbs_of_different_seeds_are_no_pair(kind, left, right):
    """Known wrong answers: with a limit of 0.005 of the spread all these were "found". The last two are the most alike of
    80 pairs: their better 80 % mirror within 0.4 mm. A pair with 0.5 mm of noise, three times nearer, is one."""
    found = middle_of_mesh(merged(practice_limb(kind, left).mesh, practice_limb(kind, right, "right").mesh))
    assert found.state == CANNOT_TELL and found.misfit > 3e-4
    one = merged(practice_limb(kind, left).mesh, practice_limb(kind, left, "right").mesh)
    noise = np.random.default_rng(1).normal(size=one.vertices.shape) * 5e-4
    noisy = middle_of_mesh(Mesh(one.vertices + noise, one.triangles))
    angle, far = apart(noisy.plane, SAGITTAL, one.vertices)
    assert angle < 0.02 and far < 0.2 and noisy.misfit < 0.5 * found.misfit


# A whole figure -------------------------------------------------------------------------------------
# The practice limbs of both sides, legs and arms, on a trunk that is deeper in front, and a head with a nose.

WITHIN = (0.1, 1.0)
"""Degrees and millimetres (at any vertex) within which the plane lies where it is called found."""


def ball(middle, size, rings: int = 14, sides: int = 24) -> Mesh:
    slope, turn = np.linspace(0.1, np.pi - 0.1, rings)[:, None], np.arange(sides) * 2 * np.pi / sides
    round_ = tube(np.stack([np.sin(slope) * np.cos(turn), np.sin(slope) * np.sin(turn), -np.cos(slope) + 0 * turn], 2))
    return Mesh(round_.vertices * size + middle, round_.triangles)


def trunk(rings: int = 20, sides: int = 32) -> Mesh:
    height, turn = np.linspace(0.86, 1.5, rings)[:, None], np.arange(sides) * 2 * np.pi / sides
    wide = np.interp(height, [0.86, 0.95, 1.12, 1.35, 1.45, 1.5], [0.1, 0.17, 0.13, 0.17, 0.12, 0.06])
    deep = np.interp(height, [0.86, 1, 1.2, 1.35, 1.5], [0.08, 0.11, 0.09, 0.12, 0.06]) * np.sin(turn)
    ring = np.stack([np.cos(turn) * wide, height + 0 * turn, np.where(deep > 0, 1.25 * deep, deep)], axis=2)
    return tube(ring[:, ::-1])


def whole_figure(seed: int, right: int | None = None) -> Mesh:
    sides = [("left", seed), ("right", seed if right is None else right)]
    limbs = [practice_limb(kind, one, side).mesh for kind in ("arm", "leg") for side, one in sides]
    return merged(trunk(), ball([0, 1.66, 0.02], [0.075, 0.11, 0.095]), ball([0, 1.65, 0.12], 0.02, 6, 10), *limbs)


def whole_skeleton(seed: int, right: int | None = None) -> Skeleton:
    names, parents, places = ["root", "chest", "head"], [None, 0, 1], [[0, 0.95, 0], [0, 1.4, 0], [0, 1.66, 0.02]]
    for kind, side in (("arm", "left"), ("arm", "right"), ("leg", "left"), ("leg", "right")):
        key = practice_limb(kind, seed if right is None or side == "left" else right, side).key
        parents += [(1 if kind == "arm" else 0) if p is None else p + len(names) for p in key.parents]
        names, places = [*names, *key.names], [*places, *key.positions]
    return Skeleton(names, parents, places)


def near(found, plane: Plane, reach: np.ndarray) -> bool:
    angle, far = apart(found.plane, plane, reach)
    return bool(angle < WITHIN[0] and far < WITHIN[1])


@pytest.mark.parametrize("seed", range(3))
def test_the_middle_of_a_whole_figure_is_found_wherever_it_stands(seed):
    figure_, frame = whole_figure(seed), random_frame(seed, reach=5.0)
    moved = figure_.moved(frame)
    found = middle_of_mesh(moved, frame.rotation @ [1, 0.3, 0.2])
    angle, far = apart(found.plane, carried(SAGITTAL, frame), moved.vertices)
    assert found.state == FOUND and angle < 1e-4 and far < 1e-3
    noisy = Mesh(moved.vertices + np.random.default_rng(seed).normal(size=moved.vertices.shape) * 5e-4, moved.triangles)
    assert near(middle_of_mesh(noisy, frame.rotation @ [1, 0.3, 0.2]), carried(SAGITTAL, frame), moved.vertices)
    joints = whole_skeleton(seed).transformed(frame)
    by_joints = middle_of_joints(joints, PLAIN)
    assert by_joints.state == FOUND and by_joints.misfit < CLEAN
    angle, far = apart(by_joints.plane, carried(SAGITTAL, frame), joints.positions)
    assert angle < 1e-6 and far < 1e-6
    angle, far = apart(by_joints.plane, found.plane, moved.vertices)  # surface and joints agree
    assert angle < 1e-4 and far < 1e-3


def test_a_satchel_at_the_hip_changes_nothing_for_surface_or_joints():
    box = prism(np.array([[-0.1, -0.04], [0.1, -0.04], [0.1, 0.04], [-0.1, 0.04]]), -0.12, 0.12, 6)
    box = Mesh(box.vertices @ rotation_about([0, 1, 0], 0.3).T + [0.22, 0.85, 0.03], box.triangles)
    frame = random_frame(9, reach=5.0)
    laden = merged(whole_figure(1), box).moved(frame)
    found = middle_of_mesh(laden, frame.rotation @ [1, 0.3, 0.2])
    assert found.state == FOUND and near(found, carried(SAGITTAL, frame), laden.vertices)
    joints = branched(whole_skeleton(1), 0, "satchel", [0.22, 0.85, 0.03]).transformed(frame)
    by_joints = middle_of_joints(joints, PLAIN)
    assert by_joints.state == FOUND and near(by_joints, carried(SAGITTAL, frame), joints.positions)


@settings(max_examples=5, deadline=None)
@example(1)  # bundles that pulled the plane 1.6 mm off, and 1.01: fitting stopped a millimetre before it was there
@example(7088)
@given(seeds)
def test_whatever_hangs_on_one_side_the_middle_is_right_or_cannot_be_told(seed):
    """Bundles of 3 to 60 cm anywhere about the figure, up to a fifth of all vertices and more."""
    rng, frame = np.random.default_rng(seed), random_frame(seed, reach=3.0)
    count = int(rng.choice([8, 20, 40, 70]))
    bundle = ball(rng.uniform([-0.6, 0, -0.4], [0.6, 1.8, 0.4]), rng.uniform(0.03, 0.3, 3), count, count)
    laden = merged(whole_figure(2), bundle).moved(frame)
    found = middle_of_mesh(laden, frame.rotation @ [1, 0.2, 0.1])
    assert found.state == CANNOT_TELL or near(found, carried(SAGITTAL, frame), laden.vertices)


def test_a_figure_with_a_stranger_at_its_right_side_has_no_middle_and_one_laid_by_hand_has():
    assert middle_of_mesh(whole_figure(1, 11)).state == CANNOT_TELL
    joints, rng = whole_skeleton(2), np.random.default_rng(3)
    for spread, angle_, far_ in ((0.002, 0.2, 3.0), (0.01, 1.0, 15.0)):  # learner: careful, careless
        found = middle_of_joints(joints.at(joints.positions + rng.normal(size=(len(joints), 3)) * spread), PLAIN)
        angle, far = apart(found.plane, SAGITTAL, joints.positions)
        assert found.state == FOUND and angle < angle_ and far < far_ and found.misfit < 3 * spread
    shuffled = joints.at(joints.positions[rng.permutation(len(joints))])
    assert middle_of_joints(shuffled, PLAIN).state == CANNOT_TELL


# One side from the other ---------------------------------------------------------------------------


@settings(max_examples=30)
@given(seeds, st.sampled_from([SAME_NUMBERS, SAME_DIRECTION]))
def test_mirrored_there_and_back_is_nothing(seed, convention):
    frame = random_frame(seed)
    plane, left = carried(SAGITTAL, frame), figure().transformed(frame)
    whole = mirror_side(left, plane, PLAIN, "left", convention)
    assert whole.names[:8] == left.names and np.array_equal(whole.positions[:8], left.positions)
    back = mirror_side(whole, plane, PLAIN, "right", convention)
    assert back.names == whole.names and back.parents == whole.parents
    assert np.allclose(back.positions, whole.positions, atol=CLOSE)
    for p, q in zip(back.rotations, whole.rotations, strict=True):
        assert np.allclose(rotation_from_quaternion(p), rotation_from_quaternion(q), atol=CLOSE)
    assert match_sides(whole, plane, PLAIN).mismatches == ()
    point, normal = frame.origin, plane.normal
    image = left.mirrored(point, normal)  # the other way to the same joints
    for j in range(2, 8):
        at = whole.index(PLAIN.swap_side(left.names[j]))
        assert np.allclose(whole.positions[at], image.positions[j], atol=CLOSE)
        if convention == SAME_NUMBERS:
            assert np.allclose(*map(rotation_from_quaternion, (whole.rotations[at], image.rotations[j])), atol=CLOSE)


def test_a_side_that_is_there_is_put_right_and_what_is_missing_is_added_under_its_partner():
    whole = mirror_side(figure(), SAGITTAL, PLAIN)
    hurt = removed(whole.moved(whole.index("right_knee"), [-0.3, 0.5, 0]), whole.index("right_wrist"))
    mended = mirror_side(hurt, SAGITTAL, PLAIN)
    assert mended.names[:-1] == hurt.names and mended.names[-1] == "right_wrist"
    assert mended.names[mended.parents[-1]] == "right_elbow"
    assert np.allclose(mended.positions[mended.index("right_knee")], [-0.11, 0.5, 0.03], atol=CLOSE)
    assert match_sides(mended, SAGITTAL, PLAIN).mismatches == ()


def test_the_hanim_skeleton_pairs_completely():
    left = hanim()
    whole = mirror_side(left, SAGITTAL, HANIM)
    assert len(whole) == 2 * len(left) - 1  # the sacroiliac joint alone is in the middle
    sides = match_sides(whole, SAGITTAL, HANIM)
    assert len(sides.pairs) == len(left) - 1 and sides.middles == (0,) and sides.mismatches == ()
    assert all("r_" + whole.names[a][2:] == whole.names[b] for a, b in sides.pairs)
    bare = replace(whole, names=[f"j{i}" for i in range(len(whole))])  # the same by place alone
    assert match_sides(bare, SAGITTAL, HANIM).pairs == sides.pairs
    assert {m.kind for m in match_sides(bare, SAGITTAL, HANIM).mismatches} == {"name"}
    assert sides.convention is None
    assert apart(middle_of_joints(whole, HANIM).plane, SAGITTAL, whole.positions) == pytest.approx((0, 0), abs=1e-6)


def test_everything_that_does_not_match_is_told_once_and_in_words():
    good = mirror_side(figure(), SAGITTAL, PLAIN)
    at = {name: good.index(name) for name in good.names}
    knee, wrist, elbow = at["right_knee"], at["right_wrist"], at["right_elbow"]

    def told(skeleton: Skeleton) -> list[Mismatch]:
        return list(match_sides(skeleton, SAGITTAL, PLAIN).mismatches)

    (one,) = told(good.moved(knee, good.positions[knee] + [0, 0, 0.012]))
    assert (one.joint, one.partner, one.kind, one.amount) == (knee, at["left_knee"], "place", pytest.approx(0.012))
    assert one.said(good) == "right_knee lies 12.0 mm from the mirror image of left_knee"
    assert told(good.moved(knee, good.positions[knee] + [0, 0, 0.0019])) == []
    assert told(removed(good, wrist)) == [Mismatch(at["left_wrist"], None, "no partner")]
    assert told(good.renamed(wrist, "right_hand")) == [Mismatch(at["left_wrist"], wrist, "name")]
    assert told(reparented(good, wrist, at["right_shoulder"])) == [Mismatch(wrist, at["left_wrist"], "parent")]
    (stray,) = told(branched(good, 0, "lantern", [0.4, 0.9, 0.3]))
    assert (stray.joint, stray.kind) == (len(good), "no partner")
    swapped = good.renamed(wrist, "left_wrist").renamed(at["left_wrist"], "right_wrist")
    assert {(m.joint, m.kind) for m in told(swapped) if m.kind == "side"} == {
        (wrist, "side"),
        (at["left_wrist"], "side"),
    }
    turned = list(good.rotations)
    world = rotation_from_quaternion(turned[elbow])
    turned[elbow] = quaternion_from_rotation(world @ rotation_about([1, 0, 0], 0.3))
    (frame,) = told(replace(good, rotations=tuple(turned)))
    assert (frame.joint, frame.kind, frame.amount) == (elbow, "frame", pytest.approx(0.3))
    assert "by 17 degrees" in frame.said(good)
    turned[elbow] = quaternion_from_rotation(world @ np.diag([-1, -1, 1]))
    (frame,) = told(replace(good, rotations=tuple(turned)))
    assert frame.kind == "frame" and frame.amount == pytest.approx(0, abs=CLOSE)
    assert frame.said(good) == (
        "the frame of right_elbow follows that of left_elbow by the same-direction convention, "
        "the rest by the same-numbers convention"
    )
    for kind in ("no partner", "name", "side", "parent"):
        assert "right_knee" in Mismatch(knee, at["left_knee"], kind, 0.01).said(good)


@pytest.mark.parametrize("made, asked", [(SAME_NUMBERS, SAME_DIRECTION), (SAME_DIRECTION, SAME_NUMBERS)])
def test_a_figure_mirrored_by_the_other_convention_says_which_it_follows_and_which_was_asked_for(made, asked):
    whole = mirror_side(figure(), SAGITTAL, PLAIN, convention=made)
    assert match_sides(whole, SAGITTAL, PLAIN, made).mismatches == ()
    sides = match_sides(whole, SAGITTAL, PLAIN, asked)
    assert sides.convention == asked and len(sides.mismatches) == len(sides.pairs) == 6
    for one in sides.mismatches:
        assert (one.kind, one.follows, one.wanted, one.asked) == ("frame", made, asked, True)
        assert one.said(whole).endswith(f"by the {made} convention, asked for is the {asked} convention")
    for wrong in (NEITHER, "mirrored", 3):
        with pytest.raises(RigError, match="how frames are mirrored: expected one of same-numbers, same-direction"):
            match_sides(whole, SAGITTAL, PLAIN, wrong)


def best_pairs(gaps: np.ndarray, most: float) -> tuple[int, float]:
    """By trying all: the greatest number of pairs no farther apart than `most`, and their least sum of distances."""
    rows, columns = gaps.shape
    found = [(0, 0.0)]
    for size in range(1, min(rows, columns) + 1):
        for some in combinations(range(rows), size):
            for others in permutations(range(columns), size):
                picked = gaps[list(some), list(others)]
                if picked.max() <= most:
                    found.append((-size, float(picked.sum())))
    size, total = min(found)
    return -size, total


@settings(max_examples=60)
@given(seeds, st.integers(1, 4), st.integers(1, 4))
def test_joints_without_names_are_paired_as_well_as_can_be(seed, rows, columns):
    """Some joints in a space not much wider than what may be a pair, and two far off that give the figure its spread."""
    rng = np.random.default_rng(seed)
    left, right = (rng.uniform(-1, 1, (some, 3)) * [0.02, 0.02, 0.1] + [1, 0, 0] for some in (rows, columns))
    places = np.vstack([left, right * [-1, 1, 1], [[0, 1.5, 0], [0, -1.5, 0]]])
    crowd = Skeleton([f"j{i}" for i in range(len(places))], [None] * len(places), places)
    near = NEAR * np.sqrt(np.mean(np.sum((places - places.mean(axis=0)) ** 2, axis=1)))
    gaps = np.linalg.norm(left[:, None] - right, axis=2)
    pairs = match_sides(crowd, SAGITTAL, PLAIN).pairs
    assert len({a for a, _ in pairs}) == len({b for _, b in pairs}) == len(pairs)
    found = [gaps[a, b - rows] for a, b in pairs]
    count, total = best_pairs(gaps, near)
    assert len(found) == count and max(found, default=0) <= near and sum(found) == pytest.approx(total, abs=1e-12)


@pytest.mark.parametrize(
    "name, side",
    [("left_elbow", "left"), ("elbow.R", "right"), ("RightKnee", "right"), ("chest", None), ("left_right_hip", None)],
)
def test_sides_are_read_from_names(name, side):
    assert side_of(name, PLAIN) == side


# Frames --------------------------------------------------------------------------------------------


@settings(max_examples=40)
@given(seeds, st.sampled_from("xyz"), st.sampled_from("xyz"))
def test_each_convention_is_recognised_and_twice_is_nothing(seed, hinge, bone):
    rng = np.random.default_rng(seed)
    left, normal = random_frame(seed).rotation, rng.normal(size=3)
    for convention in (SAME_NUMBERS, SAME_DIRECTION):
        right = mirrored_rotation(left, normal, convention, hinge)
        assert np.allclose(right @ right.T, np.eye(3), atol=CLOSE) and np.linalg.det(right) > 0
        assert np.allclose(mirrored_rotation(right, normal, convention, hinge), left, atol=CLOSE)
        found = pair_axes(left, right @ rotation_about(rng.normal(size=3), 0.05), normal, bone)
        kept = convention == SAME_NUMBERS or bone != hinge
        assert found.convention == (convention if kept else NEITHER) and found.off == pytest.approx(0.05, abs=1e-6)
        tilted = pair_axes(left, right @ rotation_about(rng.normal(size=3), 0.12), normal, bone)
        assert tilted.convention == NEITHER and tilted.off == pytest.approx(0.12, abs=1e-6)
    assert pair_axes(left, right, normal).signs == tuple(-1 if letter == hinge else 1 for letter in "xyz")


@settings(max_examples=30)
@given(seeds, st.floats(-2, 2), st.sampled_from([0, 1, 2]))
def test_the_same_numbers_pose_both_sides_as_mirror_images(seed, turn, axis):
    frame = random_frame(seed)
    plane = carried(SAGITTAL, frame)
    whole = mirror_side(figure().transformed(frame), plane, PLAIN)
    spin = rotation_about(np.eye(3)[axis], turn)
    turns = {
        whole.index(f"{side}_{part}"): spin for side in ("left", "right") for part in ("shoulder", "elbow", "knee")
    }
    now = [f @ p for f, p in zip(posed(whole, turns), whole.positions, strict=True)]
    for part in ("elbow", "wrist", "ankle"):
        left, right = (now[whole.index(f"{side}_{part}")] for side in ("left", "right"))
        assert np.allclose(reflected(left[None], plane)[0], right, atol=CLOSE)


@pytest.mark.parametrize("bad", [np.full((3, 3), np.nan), np.diag([-1.0, 1, 1]), np.diag([1.0, 2, 3])])
def test_frames_that_are_no_rotations_and_places_that_are_no_numbers_are_refused(bad):
    for work in (
        lambda: mirrored_rotation(bad, [1, 0, 0], SAME_NUMBERS),
        lambda: pair_axes(bad, np.eye(3), [1, 0, 0]),
        lambda: pair_axes(np.eye(3), bad, [1, 0, 0]),
        lambda: pair_axes(bad, bad, [1, 0, 0]),
    ):
        with pytest.raises(RigError, match="frame's axes: expected (a rotation|finite numbers)"):
            work()
    with pytest.raises(RigError, match="expected finite numbers"):
        reflected([[0, np.nan, 0]], SAGITTAL)


def test_posing_turns_about_the_joint_and_carries_what_hangs_on_it():
    arm = Skeleton(["a", "b", "c"], [None, 0, 1], [[0, 0, 0], [1, 0, 0], [2, 0, 0]])
    quarter = rotation_about([0, 0, 1], np.pi / 2)
    frames = posed(arm, {0: quarter, 1: quarter})
    assert np.allclose([f @ p for f, p in zip(frames, arm.positions, strict=True)], [[0, 0, 0], [0, 1, 0], [-1, 1, 0]])
    tilted = replace(arm, rotations=[quaternion_from_rotation(rotation_about([1, 0, 0], np.pi / 2)), None, None])
    assert np.allclose(
        posed(tilted, {0: quarter})[2] @ [2, 0, 0], [0, 0, 2]
    )  # about its own z, which is the world's -y


def arms(convention: str, hinge: str = "z") -> tuple[Skeleton, Mesh]:
    limb = practice_limb("arm", 3)
    key = limb.key
    kept = [key.index(f"left_{part}") for part in ("shoulder", "elbow", "wrist")]
    one = Skeleton([key.names[j] for j in kept], [None, 0, 1], key.positions[kept])
    one = replace(one, rotations=local_axes(one, "x", hinge).quaternions)
    return mirror_side(one, SAGITTAL, PLAIN, "left", convention, hinge), limb.mesh


def test_the_skin_shows_how_each_convention_behaves():
    pairs = [(0, 3), (1, 4)]
    whole, mesh = arms(SAME_NUMBERS)
    shown = mirror_behaviour(whole, mesh, SAGITTAL, pairs)
    assert [(b.left, b.right, b.axis) for b in shown] == [(*pair, axis) for pair in pairs for axis in "xyz"]
    assert {b.sign for b in shown} == {"same"} and max(b.same for b in shown) < CLOSE
    assert min(b.opposite for b in shown) > 0.01
    for hinge, signs in (("z", ["opposite", "opposite", "same"]), ("y", ["opposite", "same", "opposite"])):
        whole, mesh = arms(SAME_DIRECTION, hinge)
        shown = mirror_behaviour(whole, mesh, SAGITTAL, pairs)
        assert [b.sign for b in shown] == signs * 2
        # what the skin shows is what the frames alone say: a reversed axis turns with the same sign
        frames = [rotation_from_quaternion(r) for r in whole.rotations]
        read = pair_axes(frames[0], frames[3], SAGITTAL.normal)
        assert ["same" if s < 0 else "opposite" for s in read.signs] == signs
        for b in shown:
            assert (b.same if b.sign == "same" else b.opposite) < CLOSE < b.moved


def test_frames_that_do_not_mirror_show_it_in_the_skin():
    whole, mesh = arms(SAME_NUMBERS)
    turned = list(whole.rotations)
    world = rotation_from_quaternion(turned[4])
    turned[4] = quaternion_from_rotation(world @ rotation_about([0, 1, 0], np.pi / 4))
    shown = mirror_behaviour(replace(whole, rotations=tuple(turned)), mesh, SAGITTAL, [(1, 4)])
    assert [b.sign for b in shown] == ["neither", "same", "neither"]
    still = mirror_behaviour(whole, mesh, SAGITTAL, [(2, 5)])  # a wrist without a bone below moves no skin
    assert {b.sign for b in still} == {"cannot tell"}


def test_a_joint_a_little_off_still_mirrors_and_shows_by_how_much():
    whole, mesh = arms(SAME_NUMBERS)
    off = whole.moved(4, whole.positions[4] + [0, 0, 0.004])
    assert {b.sign for b in mirror_behaviour(off, mesh, SAGITTAL, [(1, 4)])} == {"same"}
    assert max(b.same for b in mirror_behaviour(off, mesh, SAGITTAL, [(1, 4)])) > 5e-4


def test_a_reflection_reverses_turns_which_is_why_a_reversed_axis_keeps_its_sign():
    mirror, axis = mirror_matrix([1, 2, 3]), np.array([0.3, -0.5, 0.8])
    assert np.allclose(mirror @ rotation_about(axis, 0.7) @ mirror, rotation_about(-(mirror @ axis), 0.7))
