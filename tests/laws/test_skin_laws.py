"""Laws of the skin: weights depend on the shape alone, not on where it stands, how big it is or how it is listed."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from rigkit.bulk import shifts, turned
from rigkit.frames import IDENTITY, rotation_about
from rigkit.heat import BY_HEAT, heat_weights
from rigkit.mesh import Mesh
from rigkit.skin import bend_skin, bone_frame, proximity_weights
from tests.shapes import random_frame, tube

SAME = 1e-9  # a sparse solve of some hundred unknowns, each a short sum
seeds = st.integers(0, 2**32 - 1)
few = settings(max_examples=25, deadline=None)


def wobbly(seed: int, rings: int = 24, sides: int = 11) -> tuple[Mesh, np.ndarray]:
    """A tube of uneven rings along a bent line, about 1 m, and bones (3, 2, 3) along its middle."""
    rng = np.random.default_rng(seed)
    along = np.linspace(0, 1, rings)
    bend, phase, thick = rng.uniform(-0.15, 0.15, 2), rng.uniform(0, 6, 3), rng.uniform(0.05, 0.09)
    middles = np.column_stack([np.outer(np.sin(2.5 * along + phase[0]), bend), along])
    turns = np.arange(sides) * 2 * np.pi / sides
    radii = thick * (1 + 0.2 * np.sin(7 * along + phase[1])[:, None] + 0.15 * np.cos(2 * turns + phase[2]))
    radii = radii * rng.uniform(0.97, 1.03, radii.shape)
    circle = np.stack([np.cos(turns), np.sin(turns), np.zeros(sides)], axis=1)
    joints = middles[[1, rings // 3, 2 * rings // 3, rings - 2]]
    return tube(middles[:, None] + radii[..., None] * circle), np.stack([joints[:-1], joints[1:]], axis=1)


def cut_finer(bones: np.ndarray, pieces: int) -> np.ndarray:
    shares = np.linspace(0, 1, pieces + 1)[:, None]
    places = [bone[0] + shares * (bone[1] - bone[0]) for bone in bones]
    return np.concatenate([np.stack([p[:-1], p[1:]], axis=1) for p in places])


def steps(mesh: Mesh, weights: np.ndarray) -> np.ndarray:
    """Differences of weights along edges."""
    return np.abs(weights[mesh.triangles] - weights[np.roll(mesh.triangles, 1, axis=1)])


@few
@given(seeds, st.integers(1, 4))
def test_weights_are_shares_of_at_most_four_bones(seed, pieces):
    mesh, bones = wobbly(seed)
    for weights in (heat_weights(mesh, cut_finer(bones, pieces)).weights, heat_weights(mesh, bones + 0.3).weights):
        assert weights.min() >= 0.0 and np.allclose(weights.sum(axis=1), 1.0, atol=1e-12)
        assert (weights > 0.0).sum(axis=1).max() <= 4


@few
@given(seeds, st.floats(0.1, 10))
def test_moving_turning_and_scaling_changes_no_weight(seed, scale):
    mesh, bones = wobbly(seed)
    frame = random_frame(seed, 3.0)
    there = Mesh((frame @ mesh.vertices) * scale, mesh.triangles)
    there_bones = (frame @ bones.reshape(-1, 3)).reshape(-1, 2, 3) * scale
    assert np.allclose(heat_weights(there, there_bones).weights, heat_weights(mesh, bones).weights, atol=SAME)


@few
@given(seeds)
def test_the_order_of_vertices_triangles_and_bones_does_not_matter(seed):
    mesh, bones = wobbly(seed)
    rng = np.random.default_rng(seed)
    order, back = rng.permutation(len(mesh.vertices)), np.empty(len(mesh.vertices), int)
    back[order] = np.arange(len(order))
    triangles = np.roll(back[mesh.triangles][rng.permutation(len(mesh.triangles))], rng.integers(3), axis=1)
    turn = rng.permutation(len(bones))
    shuffled = heat_weights(Mesh(mesh.vertices[order], triangles), bones[turn][:, ::-1])
    assert np.allclose(shuffled.weights, heat_weights(mesh, bones).weights[order][:, turn], atol=SAME)


@few
@given(seeds)
def test_doubling_the_vertices_of_a_seam_changes_nothing_and_both_get_the_same(seed):
    mesh, bones = wobbly(seed)
    rng = np.random.default_rng(seed)
    seam = np.arange(0, len(mesh.vertices) - 2, 11)
    doubled = np.concatenate([mesh.vertices, mesh.vertices[seam] + rng.uniform(-2e-7, 2e-7, (len(seam), 3))])
    triangles = mesh.triangles.copy()
    for new, old in enumerate(seam, len(mesh.vertices)):
        uses = np.flatnonzero(np.any(triangles == old, axis=1))[::2]
        triangles[uses] = np.where(triangles[uses] == old, new, triangles[uses])
    weights = heat_weights(Mesh(doubled, triangles), bones).weights
    assert np.array_equal(weights[seam], weights[len(mesh.vertices) :])
    assert np.allclose(weights[: len(mesh.vertices)], heat_weights(mesh, bones).weights, atol=SAME)


def test_keeping_four_of_many_bones_leaves_no_step():
    """Eight bones from the middle of a ball: on a mesh twice as fine neighbours differ about half as much."""
    ends = np.array([[x, y, z] for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)]) / np.sqrt(3) * 0.4
    most = []
    for rings in (16, 32):
        slope = np.linspace(0.05, np.pi - 0.05, rings)[:, None, None]
        turn = (np.arange(2 * rings) * np.pi / rings)[None, :, None]
        mesh = tube(
            np.concatenate([np.sin(slope) * np.cos(turn), np.sin(slope) * np.sin(turn), -np.cos(slope) + 0 * turn], 2)
        )
        skin = heat_weights(mesh, np.stack([0.1 * ends, ends], axis=1))
        assert skin.manner == BY_HEAT and (skin.weights > 0).sum(axis=1).max() == 4
        most.append(steps(mesh, skin.weights).max())
    assert most[1] < 0.65 * most[0]


@few
@given(seeds)
def test_heat_is_smoother_than_the_nearest_bone_alone(seed):
    """The sum of squared steps is what the heat equation keeps small (the Dirichlet energy, but for the cotangents)."""
    mesh, bones = wobbly(seed)
    nearest = np.eye(3)[np.argmax(proximity_weights(mesh, bones), axis=1)]
    heat = heat_weights(mesh, bones).weights
    assert np.sum(steps(mesh, heat) ** 2) < 0.5 * np.sum(steps(mesh, nearest) ** 2)
    assert steps(mesh, heat).max() < steps(mesh, nearest).max()


@few
@given(st.integers(0, 2**32 - 1), st.integers(3, 12), st.integers(0, 20), st.integers(1, 7))
def test_a_heap_of_triangles_gets_finite_weights(seed, vertices, triangles, bones):
    rng = np.random.default_rng(seed)
    size = 10.0 ** rng.integers(-7, 5)
    places = np.round(rng.uniform(-1, 1, (vertices, 3)) * rng.integers(0, 3, (vertices, 1)), rng.integers(0, 4)) * size
    mesh = Mesh(places, rng.integers(0, vertices, (triangles, 3)))
    weights = heat_weights(mesh, rng.integers(-1, 2, (bones, 2, 3)) * size).weights
    assert np.all(np.isfinite(weights)) and weights.min() >= 0 and np.allclose(weights.sum(axis=1), 1, atol=1e-9)


@few
@given(seeds)
def test_when_all_bones_move_as_one_the_skin_moves_rigidly(seed):
    mesh, bones = wobbly(seed)
    frame = random_frame(seed)
    bent = bend_skin(mesh, heat_weights(mesh, bones).weights, [frame] * len(bones))
    assert np.allclose(bent.vertices, frame @ mesh.vertices, atol=1e-12)


@few
@given(seeds)
def test_bending_leaves_flesh_that_hangs_on_one_bone_as_it_was(seed):
    mesh, bones = wobbly(seed)
    weights = np.zeros((len(mesh.vertices), 2))
    lower = mesh.vertices[:, 2] > 0.5
    weights[lower, 1] = weights[~lower, 0] = 1.0
    turn = bone_frame([0, 0, 0.5], [0, 0, 0.5], rotation_about([1, 0, 0], 1.0))
    bent = bend_skin(mesh, weights, [IDENTITY, turn]).vertices
    assert np.allclose(bent[~lower], mesh.vertices[~lower], atol=1e-15)
    assert np.allclose(bent[lower], turn @ mesh.vertices[lower], atol=1e-12)


@settings(max_examples=6, deadline=None)
@given(seeds, st.floats(0.5, 4))
def test_what_bending_does_is_the_same_wherever_the_limb_stands_and_however_big(seed, scale):
    mesh, bones = wobbly(seed)
    joints, axis = np.array([bones[0, 0], bones[1, 0], bones[2, 1]]), np.array([1.0, 0.2, 0.0])
    frame = random_frame(seed, 2.0)
    there = Mesh((frame @ mesh.vertices) * scale, mesh.triangles)
    here = turned(mesh, joints, axis, [1.0, 2.4])
    for a, b in zip(here, turned(there, (frame @ joints) * scale, frame.rotation @ axis, [1.0, 2.4]), strict=True):
        assert a.turned == b.turned
        assert np.allclose([*a.harms.values()], [*b.harms.values()], atol=1e-6)


@settings(max_examples=2, deadline=None)
@given(seeds)
def test_shifts_look_the_same_in_a_mirror(seed):
    """The eight directions run the other way round; what each does is the same."""
    mesh, bones = wobbly(seed)
    joints = np.array([bones[0, 0], bones[1, 0], bones[2, 1]])
    flip = np.array([-1.0, 1, 1])
    here = shifts(mesh, joints, [0, 1, 0], 1.5)
    there = shifts(mesh.mirrored(np.zeros(3), [1, 0, 0]), joints * flip, [0, 1, 0], 1.5)
    for number, shift in enumerate(here.each):
        other = there.each[-number % 8]
        assert np.allclose(shift.toward * flip, other.toward, atol=1e-9)
        assert (shift.better, shift.worse) == (other.better, other.worse)
        assert np.allclose([*shift.bulk.harms.values()], [*other.bulk.harms.values()], atol=2e-3)
