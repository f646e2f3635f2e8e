"""The skin says how it got its weights, falls back where heat cannot reach, and refuses what it cannot use."""

import numpy as np
import pytest

from rigkit.bulk import local_radius, overlap_volume, turned
from rigkit.frames import IDENTITY, Frame, rotation_about
from rigkit.heat import BY_BOTH, BY_HEAT, BY_NEARNESS, heat_weights
from rigkit.limbs import KINDS, practice_limb
from rigkit.mesh import MIXED, TWICE, Mesh
from rigkit.require import RigError
from rigkit.skin import bend_skin, proximity_weights
from tests.shapes import ellipse, prism, spoiled

ROUND_OFF = 1e-12
TWO = np.array([[[0.0, 0, 0.02], [0, 0, 0.5]], [[0, 0, 0.5], [0, 0, 0.98]]])


def limb(radius: float = 0.1, rings: int = 41) -> Mesh:
    return prism(ellipse(radius, radius, 16), 0.0, 1.0, rings)


def together(*meshes: Mesh) -> Mesh:
    starts = np.cumsum([0] + [len(m.vertices) for m in meshes[:-1]])
    return Mesh(
        np.concatenate([m.vertices for m in meshes]),
        np.concatenate([m.triangles + s for m, s in zip(meshes, starts, strict=True)]),
    )


def without_ends(mesh: Mesh) -> Mesh:
    return Mesh(mesh.vertices[:-2], mesh.triangles[np.all(mesh.triangles < len(mesh.vertices) - 2, axis=1)])


def sound(weights: np.ndarray) -> bool:
    return bool(
        np.all(np.isfinite(weights))
        and weights.min() >= 0.0
        and np.allclose(weights.sum(axis=1), 1.0, atol=ROUND_OFF)
        and (weights > 0).sum(axis=1).max() <= 4
    )


def test_a_closed_limb_goes_by_heat_and_says_so():
    skin = heat_weights(limb(), TWO)
    assert (skin.manner, skin.why, skin.idle) == (BY_HEAT, "every shell sees a bone", ())
    with pytest.raises(ValueError, match="read-only"):
        skin.weights[0, 0] = 1.0


def test_an_open_limb_goes_by_heat_all_the_same_and_says_that_it_is_open():
    closed, opened = heat_weights(limb(), TWO), heat_weights(without_ends(limb()), TWO)
    assert opened.manner == BY_HEAT and "open" in opened.why
    middle = slice(16 * 12, 16 * 28)  # far from the ends the missing caps change little
    assert np.abs(closed.weights[middle] - opened.weights[middle]).max() < 1e-3


def test_a_mesh_turned_inside_out_gets_the_same_weights():
    mesh = limb()
    inside_out = Mesh(mesh.vertices, mesh.triangles[:, ::-1])
    assert np.allclose(heat_weights(inside_out, TWO).weights, heat_weights(mesh, TWO).weights, atol=1e-9)


@pytest.mark.parametrize("how, fault", [("a third reversed", MIXED), ("two-sided", TWICE), ("two-sided soup", TWICE)])
def test_triangles_that_face_both_ways_change_no_weight_and_are_told(how, fault):
    """Before, a third of them reversed moved weights by 0.07 and a two-sided arm was "outside" its own flesh."""
    arm = practice_limb("arm", 3)
    shoulder, elbow, wrist = (arm.key.positions[arm.key.index(f"left_{r}")] for r in ("shoulder", "elbow", "wrist"))
    bones = np.array([[shoulder, elbow], [elbow, wrist]])
    skin, odd = heat_weights(arm.mesh, bones), heat_weights(spoiled(arm.mesh, how), bones)
    assert odd.manner == BY_HEAT and odd.why == f"every shell sees a bone; mended: {fault}"
    assert np.allclose(odd.weights[: len(arm.mesh.vertices)], skin.weights, atol=1e-9)
    with pytest.raises(RigError, match=f"a closed mesh, got {fault}"):  # what a bend does is not reckoned on it
        turned(spoiled(arm.mesh, how), [shoulder, elbow, wrist], X, [1.0])


def test_two_limbs_side_by_side_each_hold_to_their_own_bone_however_near_the_other_lies():
    """Nearness mixes what only stands close; heat does not leave a shell."""
    left, right = limb(), limb()
    right = Mesh(right.vertices + [0.21, 0, 0], right.triangles)
    both = together(left, right)
    bones = np.array([[[0, 0, 0.02], [0, 0, 0.98]], [[0.21, 0, 0.02], [0.21, 0, 0.98]]], float)
    skin = heat_weights(both, bones)
    count = len(left.vertices)
    assert skin.manner == BY_HEAT
    assert np.allclose(skin.weights[:count, 0], 1.0, atol=1e-9) and np.allclose(skin.weights[count:, 1], 1.0, atol=1e-9)
    assert proximity_weights(both, bones)[:count, 1].max() > 0.1


def lined_sleeve() -> Mesh:
    """A closed sleeve with an outer and an inner wall, 4 to 6 mm off the flesh, from 0.05 to 0.95 m."""
    heights, sides = np.linspace(0.05, 0.95, 37), 16
    profile = [(0.106, z) for z in heights] + [(0.104, z) for z in heights[::-1]]
    rings = np.array([np.column_stack([ellipse(r, r, sides), np.full(sides, z)]) for r, z in profile])
    number = np.arange(len(profile) * sides).reshape(-1, sides)
    a, b, c, d = (np.roll(number, turn, (0, 1)) for turn in ((0, 0), (0, -1), (-1, -1), (-1, 0)))
    quads = np.stack([a, b, c, d], axis=2).reshape(-1, 4)
    return Mesh(rings.reshape(-1, 3), np.concatenate([quads[:, [0, 1, 2]], quads[:, [0, 2, 3]]]))


@pytest.mark.parametrize("shell", ["sleeve", "lined sleeve"])
def test_clothes_around_a_limb_follow_the_flesh_beneath(shell):
    flesh, cloth = limb(), without_ends(Mesh(limb(0.104).vertices * [1, 1, 0.9] + [0, 0, 0.05], limb().triangles))
    if shell == "lined sleeve":
        cloth = lined_sleeve()
        assert cloth.is_closed and cloth.volume > 0
    skin = heat_weights(together(flesh, cloth), TWO)
    assert skin.manner == BY_BOTH and skin.why.startswith("1 of 2 shells")
    assert ("open" in skin.why) == (shell == "sleeve")
    on_flesh, on_cloth = skin.weights[: len(flesh.vertices), 0], skin.weights[len(flesh.vertices) :, 0]
    assert np.allclose(on_flesh, heat_weights(flesh, TWO).weights[:, 0], atol=1e-9)
    rings = slice(0, 16 * 41)  # the sides; the cloth's heights read off on the flesh
    expected = np.interp(cloth.vertices[:, 2], flesh.vertices[rings, 2], on_flesh[rings])
    assert np.abs(on_cloth - expected).max() < 0.03
    assert sound(skin.weights)


def test_bones_outside_the_flesh_leave_it_to_nearness():
    outside = TWO + [0.5, 0, 0]
    skin = heat_weights(limb(), outside)
    assert skin.manner == BY_NEARNESS and "outside" in skin.why
    assert np.allclose(skin.weights, proximity_weights(limb(), outside), atol=ROUND_OFF)


@pytest.mark.parametrize("kind", KINDS)
def test_practice_limbs_go_by_heat_on_their_own_bones_and_by_nearness_on_bones_beside_them(kind):
    """At sharp rims an average of normals lets lines out: some 180 of 3,000 vertices saw bones 3 m off."""
    made = practice_limb(kind, 3)
    places = made.key.positions
    bones = np.array(
        [[places[above], places[joint]] for joint, above in enumerate(made.key.parents) if above is not None]
    )
    skin = heat_weights(made.mesh, bones)
    assert (skin.manner, skin.why, skin.idle) == (BY_HEAT, "every shell sees a bone", ())
    for offset in ([0.3, 0, 0], [1, 0, 0], [3, 0, 0], [0, 0.5, 0.5], [0, 0, -2]):
        beside = heat_weights(made.mesh, bones + offset)
        assert beside.manner == BY_NEARNESS and "outside" in beside.why and sound(beside.weights)


def test_a_bone_out_of_the_middle_of_a_practice_limb_still_goes_by_heat():
    arm = practice_limb("arm", 3)
    elbow, wrist = (arm.key.positions[arm.key.index(f"left_{role}")] for role in ("elbow", "wrist"))
    shoulder = arm.key.positions[0]
    for offset in np.array([[0.02, 0, 0], [0, 0, -0.02]]):
        assert heat_weights(arm.mesh, np.array([[shoulder, elbow], [elbow, wrist]]) + offset).manner == BY_HEAT


def test_a_bone_seen_only_through_the_hole_of_an_open_limb_is_not_in_it():
    """The far wall sees it, under the rim: a tenth of the area."""
    opened = without_ends(limb())
    skin = heat_weights(opened, np.array([[[0.5, 0, 1.05], [0.5, 0, 1.3]]]))
    assert skin.manner == BY_NEARNESS
    assert heat_weights(opened, np.array([[[0.05, 0, 0.4], [0.5, 0, 1.3]]])).manner == BY_HEAT


def test_a_bone_in_front_of_a_wide_hole_is_not_in_the_limb_however_much_of_it_sees_the_bone():
    """Known wrong answer: all of the wall sees a bone straight above the hole, and it went by heat as if from within."""
    opened = without_ends(limb())
    for start, end in ((1.3, 2.0), (1.1, 1.2), (-1.0, -0.2)):
        ahead = np.array([[[0, 0, start], [0, 0, end]]], float)
        skin = heat_weights(opened, ahead)
        assert skin.manner == BY_NEARNESS and "outside" in skin.why and skin.idle == ()
        both = heat_weights(opened, np.concatenate([ahead, TWO]))
        assert both.manner == BY_HEAT and both.idle == (0,)
        assert np.allclose(both.weights[:, 1:], heat_weights(opened, TWO).weights, atol=1e-9)
    to_the_rim = heat_weights(opened, np.array([[[0, 0, 0.0], [0, 0, 0.5]], [[0, 0, 0.5], [0, 0, 1.0]]]))
    closed = heat_weights(limb(), TWO)
    middle = slice(16 * 12, 16 * 28)
    assert to_the_rim.manner == BY_HEAT and np.abs((to_the_rim.weights - closed.weights[:-2])[middle]).max() < 0.01


def test_vertices_without_triangles_are_no_shells_and_follow_the_flesh_beside():
    flesh = limb()
    loose = np.column_stack([np.full(50, 0.12), np.zeros(50), np.linspace(0.01, 0.99, 50)])
    skin = heat_weights(Mesh(np.concatenate([flesh.vertices, loose]), flesh.triangles), TWO)
    assert (skin.manner, skin.why) == (BY_HEAT, "every shell sees a bone")
    alone = heat_weights(flesh, TWO).weights
    assert np.allclose(skin.weights[:-50], alone, atol=1e-9)
    expected = np.interp(loose[:, 2], flesh.vertices[0 : 16 * 41 : 16, 2], alone[0 : 16 * 41 : 16, 0])
    assert np.abs(skin.weights[-50:, 0] - expected).max() < 0.03
    cloth = Mesh(limb(0.104).vertices * [1, 1, 0.9] + [0, 0, 0.05], limb().triangles)
    clad = together(flesh, without_ends(cloth), Mesh(loose, []))
    assert heat_weights(clad, TWO).why.startswith("1 of 2 shells")


def test_a_bone_half_outside_still_holds_what_it_sees_and_one_far_off_is_idle():
    bones = np.array([[[0, 0, 0.02], [0, 0, 0.5]], [[0, 0, 0.5], [0.3, 0, 0.9]], [[5, 0, 0], [6, 0, 0]]], float)
    skin = heat_weights(limb(), bones)
    assert skin.manner == BY_HEAT and sound(skin.weights)
    assert skin.weights[:, 1].max() > 0.9 and skin.idle == (2,)


@pytest.mark.parametrize(
    "bones",
    [
        [[[0, 0, 0.5], [0, 0, 0.5]]],  # no length
        [*TWO.tolist(), [[0, 0, 0.5], [0, 0, 0.5]]],  # joints that coincide
        [TWO[0].tolist()] * 6,  # six alike
        [[[0.1, 0, 0.5], [0.1, 0, 0.6]]],  # along the skin itself, through vertices
        [[[-1e5, 0, 0], [1e5, 0, 0]]],
    ],
)
def test_odd_bones_give_sound_weights(bones):
    assert sound(heat_weights(limb(), np.array(bones, float)).weights)


@pytest.mark.parametrize("stray", ["loose vertex", "sliver", "double triangle", "no triangles", "flat"])
def test_odd_meshes_give_sound_weights(stray):
    mesh = limb()
    if stray == "loose vertex":
        mesh = Mesh([*mesh.vertices, [0, 0, 3]], mesh.triangles)
    if stray == "sliver":
        mesh = Mesh(
            [*mesh.vertices, mesh.vertices[[0, 16]].mean(axis=0)], [*mesh.triangles, [0, 16, len(mesh.vertices)]]
        )
    if stray == "double triangle":
        mesh = Mesh(mesh.vertices, np.concatenate([mesh.triangles, mesh.triangles[:5], mesh.triangles[:5, ::-1]]))
    if stray == "no triangles":
        mesh = Mesh(mesh.vertices, [])
    if stray == "flat":
        mesh = Mesh(mesh.vertices * [1, 0, 1], mesh.triangles)
    assert sound(heat_weights(mesh, TWO).weights)


@pytest.mark.parametrize(
    ("bones", "words"),
    [
        ([], "one or more bones"),
        (np.zeros((2, 3)), "two places"),
        ([[[0, 0, 0], [0, 0]]], "two places"),
        (np.full((1, 2, 3), np.nan), "NaN"),
        (np.full((1, 2, 3), 1e6), "within 100000 m"),
    ],
)
def test_what_is_no_bone_is_refused(bones, words):
    for weigh in (heat_weights, proximity_weights):
        with pytest.raises(RigError, match=words):
            weigh(limb(), bones)


def test_an_empty_mesh_is_refused():
    with pytest.raises(RigError, match="vertices"):
        heat_weights(Mesh([], []), TWO)


def test_bending_is_the_weighted_mean_of_where_each_bone_takes_a_vertex():
    mesh, rng = limb(rings=5), np.random.default_rng(3)
    weights = rng.uniform(size=(len(mesh.vertices), 3))
    weights /= weights.sum(axis=1, keepdims=True)
    frames = [Frame(rotation_about(rng.normal(size=3), rng.uniform(0, 3)), rng.normal(size=3)) for _ in range(3)]
    expected = [
        sum(w * (f.rotation @ v + f.origin) for w, f in zip(row, frames, strict=True))
        for v, row in zip(mesh.vertices, weights, strict=True)
    ]
    assert np.allclose(bend_skin(mesh, weights, frames).vertices, expected, atol=ROUND_OFF)


def test_weights_that_do_not_fit_are_refused():
    mesh = limb(rings=3)
    right = np.ones((len(mesh.vertices), 1))
    for wrong in (np.ones((3, 1)), [[1.0], [1.0, 2.0]], None, "skin", right.tolist()[1:]):
        with pytest.raises(RigError, match="weights of shape"):
            bend_skin(mesh, wrong, [IDENTITY])
    for odd in (np.nan, np.inf):
        with pytest.raises(RigError, match="finite weights"):
            bend_skin(mesh, np.where(np.arange(len(right))[:, None] == 7, odd, right), [IDENTITY])
    assert np.array_equal(bend_skin(mesh, right.tolist(), [IDENTITY]).vertices, mesh.vertices)


def test_overlap_of_two_boxes_is_the_volume_they_share():
    box = prism(np.array([[-1.0, -1], [1, -1], [1, 1], [-1, 1]]), -1, 1)
    second = Mesh(box.vertices + [1.5, 0.8, 0.9], box.triangles)
    shared, frame = 0.5 * 1.2 * 1.1, rotation_about([1, 2, -0.5], 0.7)  # lines at a slant to all faces
    assert overlap_volume(together(box, second), np.zeros(3), frame, 1.0) == pytest.approx(shared, rel=0.01)
    thrice = overlap_volume(together(box, second, second), np.zeros(3), frame, 1.0)
    assert thrice == pytest.approx(8 + shared, rel=0.01), "the second lies in itself; where three meet it counts twice"
    assert overlap_volume(box, np.zeros(3), frame, 1.0) == 0.0


STRAIGHT = np.array([[0, 0, 0.02], [0, 0, 0.5], [0, 0, 0.98]])
X = np.array([1.0, 0, 0])


def test_no_turn_changes_nothing_and_the_radius_is_the_sections():
    bulk = turned(limb(), STRAIGHT, X, [0.0])[0]
    assert bulk.kept == pytest.approx(1.0, abs=ROUND_OFF)
    assert (bulk.overlap, bulk.folded, bulk.turned) == (0.0, 0.0, 0) and bulk.stretched < ROUND_OFF
    assert local_radius(limb(), STRAIGHT) == pytest.approx(0.1, rel=0.02)


def test_the_more_a_limb_bends_or_twists_the_more_volume_it_loses():
    for axis in (X, [0, 0, 1.0]):
        kept = [bulk.kept for bulk in turned(limb(), STRAIGHT, axis, np.radians([30, 60, 90, 120, 150]))]
        assert np.all(np.diff(kept) < 0)
    assert turned(limb(), STRAIGHT, X, [np.radians(150)])[0].turned > 0


def test_flesh_that_turns_with_its_bone_is_not_folded_over():
    for axis in (X, [0, 0, 1.0]):
        assert turned(limb(), STRAIGHT, axis, [np.radians(100)])[0].turned < 10  # of 1,312; at the fold's inner side


def test_a_limb_folded_shut_runs_through_itself():
    gentle, shut = turned(limb(), STRAIGHT, X, np.radians([60, 170]))
    assert gentle.overlap == 0.0 and shut.overlap > 0.1


@pytest.mark.parametrize("radius", [0.0, 1e-9, 0.9e-3, 1.1, 100.0, np.nan, np.inf, -0.1, "0.1", True])
def test_a_radius_that_does_not_fit_the_limb_is_refused(radius):
    with pytest.raises(RigError, match="local radius"):
        turned(limb(), STRAIGHT, X, [1.0], radius=radius)


def test_a_radius_that_fits_is_used_for_the_shares():
    wide, narrow = (turned(limb(), STRAIGHT, X, [1.0], radius=radius)[0] for radius in (0.1, 0.05))
    assert narrow.kept - 1 == pytest.approx(8 * (wide.kept - 1)) and wide.kept < 1
    small = Mesh(limb().vertices * 0.05, limb().triangles)
    assert turned(small, STRAIGHT * 0.05, X, [1.0], radius=1e-4)[0].kept < 1
    with pytest.raises(RigError, match="from 0.0001"):
        turned(small, STRAIGHT * 0.05, X, [1.0], radius=0.9e-4)


def test_what_has_no_volume_or_no_joint_is_refused():
    with pytest.raises(RigError, match="closed mesh"):
        turned(without_ends(limb()), STRAIGHT, X, [1.0])
    with pytest.raises(RigError, match="same place"):
        turned(limb(), STRAIGHT[[0, 1, 1]], X, [1.0])
    with pytest.raises(RigError, match="flesh at the middle joint"):
        turned(limb(), STRAIGHT + [0, 0, 5], X, [1.0])
    with pytest.raises(RigError, match="folded shut"):
        turned(limb(), STRAIGHT[[0, 1, 0]], X, [1.0])
