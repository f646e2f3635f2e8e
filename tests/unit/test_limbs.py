"""Arms, hands and fingers to practise on: closed for any seed, joints where the curve says, same seed, same bytes."""

import hashlib
from functools import cache

import numpy as np
import pytest

from rigkit.frames import Frame, rotation_about
from rigkit.kinematics import rest_bend
from rigkit.limbs import KINDS, Shape, limb_seed, practice_arm, practice_limb
from rigkit.limbs.base import named, surface_point
from rigkit.limbs.loft import Draws, area_centroids, ovals, smooth_through
from rigkit.require import RigError
from rigkit.section import Plane, cut
from rigkit.vectors import angle_between, off_line

SEEDS = (0, 1, 7, 2024, 2**40)
CENTRED = 1e-3  # metres: a fortieth of an arm's radius, far under what a learner is asked for
SHOULDER = 4e-3  # metres: a twelfth of the region's radius
STORED_GRID = 2e-5  # metres: two steps of the grid that coordinates are rounded to
UPPER_ARM, FOREARM = 0.186, 0.146  # shares of stature: Drillis & Contini 1966, in Winter 2009, Fig. 4.1 (facts.csv)


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("side", ["left", "right"])
def test_an_arm_is_closed_and_faces_outward(seed, side):
    mesh = practice_arm(seed, side).mesh
    assert mesh.is_closed
    assert mesh.volume > 0.005  # about 9 litres with its trunk stub
    assert 2000 <= len(mesh.triangles) <= 10_000
    assert np.sqrt(np.sum(mesh.normals**2, axis=1)).min() > 0
    assert len(np.unique(mesh.welded)) == len(mesh.vertices), "no doubled vertices"


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("side", ["left", "right"])
@pytest.mark.parametrize("role", ["elbow", "wrist"])
def test_the_true_joint_is_the_middle_of_its_section_all_along_its_stretch(seed, side, role):
    arm = practice_arm(seed, side)
    joint = arm.key.positions[arm.key.index(named(role, side))]
    for place in (joint, *arm.stretches[role]):
        held = cut(arm.mesh, Plane(place, arm.planes[role])).holding(place)
        assert held.state == "inside"
        assert np.sqrt(np.sum((held.loop.centroid - place) ** 2)) < CENTRED


@pytest.mark.parametrize("role", ["elbow", "wrist"])
def test_sections_are_no_circles(role):
    arm = practice_arm(7)
    place = arm.key.positions[arm.key.index(named(role, "left"))]
    loop = cut(arm.mesh, Plane(place, arm.planes[role])).holding(place).loop
    reach = np.sqrt(np.sum((loop.points - loop.centroid) ** 2, axis=1))
    assert reach.max() / reach.min() > (1.4 if role == "wrist" else 1.1)


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("side", ["left", "right"])
def test_the_elbow_lies_behind_the_line_and_nothing_sideways(seed, side):
    shoulder, elbow, wrist = practice_arm(seed, side).key.positions[:3]
    out, up, forward = off_line(elbow, shoulder, wrist)
    assert 0.018 - STORED_GRID <= -forward <= 0.019 + STORED_GRID
    assert abs(out) < STORED_GRID and abs(up) < STORED_GRID


@pytest.mark.parametrize("seed", SEEDS)
def test_lengths_are_those_of_the_reference_within_two_percent(seed):
    shoulder, elbow, wrist = practice_arm(seed).key.positions[:3]
    assert np.isclose(np.linalg.norm(elbow - shoulder), UPPER_ARM * 1.70, rtol=0.02 + 1e-4)
    assert np.isclose(np.linalg.norm(wrist - elbow), FOREARM * 1.70, rtol=0.02 + 1e-4)
    line = (wrist - shoulder) / np.linalg.norm(wrist - shoulder)
    assert 54 <= np.degrees(np.arctan2(-line[1], line[0])) <= 56, "about 35 degrees out from the body"


@pytest.mark.parametrize("seed", SEEDS)
def test_the_landmarks_surround_the_true_shoulder(seed):
    arm = practice_arm(seed)
    shoulder = arm.key.positions[0]
    marks = np.array([arm.landmarks[f] for f in ("shoulder_top", "armpit", "shoulder_front", "shoulder_back")])
    assert np.linalg.norm(marks.mean(axis=0) - shoulder) < SHOULDER
    top, armpit, front, back = marks - shoulder
    assert top[1] > 0.03 and armpit[1] < -0.03 and front[2] > 0.03 and back[2] < -0.03


@pytest.mark.parametrize("seed", SEEDS)
def test_the_middle_of_the_trunk_is_deep_in_the_flesh(seed):
    arm = practice_arm(seed)
    middle = arm.landmarks["trunk_middle"]
    held = cut(arm.mesh, Plane(middle, [1, 0, 0])).holding(middle)
    assert held.state == "inside"
    assert held.loop.distance(middle) > 0.06


def test_right_is_the_mirror_image_of_left():
    left, right = practice_arm(7), practice_arm(7, "right")
    flip = np.array([-1, 1, 1])
    np.testing.assert_array_equal(right.mesh.vertices, left.mesh.vertices * flip)
    np.testing.assert_array_equal(right.key.positions, left.key.positions * flip)
    assert right.key.names[:3] == ("right_shoulder", "right_elbow", "right_wrist")
    assert np.isclose(right.mesh.volume, left.mesh.volume)
    for name in left.landmarks:
        np.testing.assert_array_equal(right.landmarks[name], left.landmarks[name] * flip)
    for role in left.planes:
        np.testing.assert_array_equal(right.planes[role], left.planes[role] * flip)


def test_edge_loops_are_closer_together_where_the_limb_folds():
    arm = practice_arm(7)
    shoulder, elbow, wrist = arm.key.positions[:3]

    def ring_gap(place, along):
        """Mean gap between the stations of the vertices within 25 mm along the limb."""
        near = arm.mesh.vertices[np.linalg.norm(arm.mesh.vertices - place, axis=1) < 0.06]
        stations = np.sort((near - place) @ along)
        stations = stations[np.abs(stations) < 0.025]
        return 0.05 / len(stations)

    down = arm.planes["elbow"]
    assert ring_gap(elbow, down) < 0.75 * ring_gap((shoulder + elbow) / 2, down)
    assert ring_gap(wrist, arm.planes["wrist"]) < 0.75 * ring_gap((elbow + wrist) / 2, arm.planes["wrist"])


def test_coordinates_lie_on_the_grid():
    arm = practice_arm(7)
    for places in (arm.mesh.vertices, arm.key.positions):
        np.testing.assert_allclose(places * 1e5, np.round(places * 1e5), rtol=0, atol=1e-6)


@pytest.mark.parametrize(("seed", "side"), [(-1, "left"), (1.5, "left"), (True, "left"), ("7", "left"), (2**63, "left"),
                                            (7, "middle"), (7, None)])  # fmt: skip
def test_a_seed_or_side_that_is_none_is_refused_in_words(seed, side):
    with pytest.raises(RigError, match="practice limb"):
        practice_arm(seed, side)


# The first two raw words of PCG64(7), as numpy 2.4 gives them; numpy promises that raw words never change.
def test_draws_come_from_raw_words():
    words = np.random.PCG64(7).random_raw(2)
    draws = Draws(7)
    assert [draws.between(0, 1), draws.between(0, 1)] == [(int(w) >> 11) / 2**53 for w in words]


def test_smooth_curves_pass_through_their_controls_and_never_swing_past_them():
    stations = np.array([0.0, 1.0, 3.0, 4.0])
    values = np.array([[0.0], [1.0], [1.0], [5.0]])
    np.testing.assert_allclose(smooth_through(stations, values, stations), values, atol=1e-15)
    between = smooth_through(stations, values, np.linspace(0, 4, 401))[:, 0]
    assert between.min() >= 0 and between.max() <= 5
    assert np.all(np.diff(between) >= -1e-12)
    np.testing.assert_allclose(between[100:301], 1.0)


# Half an ellipse: the centroid lies 4 a / (3 pi) from its flat side (textbook); two halves of extents a and c
# therefore balance at (4 / 3 pi) (a^2 - c^2) / (a + c) = (4 / 3 pi) (a - c).
def test_ovals_of_two_halves_balance_where_they_should():
    outline = ovals(np.array([[3.0, 1.0, 1.0, 1.0]]), np.array([[2.0, 2.0]]), np.arange(720) * np.pi / 360)
    np.testing.assert_allclose(area_centroids(outline)[0], [4 / (3 * np.pi) * 2, 0], atol=1e-4)


MINE = ("arm", "shoulder_arm", "finger", "creature_arm")
FINGERS = ("index", "middle", "ring", "little")
# Share of the local radius: the ring at a joint has its centroid there, and the palm's skin, smoothed beside the
# thumb's root, may pull at that by a little.
CENTROID = 0.01


@cache
def limb(kind, seed=7, **shape):
    return practice_limb(kind, seed, shape=Shape(**shape))


def places(one, *roles):
    return np.array([one.key.positions[one.roles.index(role)] for role in roles])


def off_centre(one):
    """How far each true joint lies from the middle of its section, or of its region, in local radii."""
    told = {}
    for role, place in zip(one.roles, one.key.positions, strict=True):
        if role in one.regions:
            marks, radius = one.regions[role]
            middle = np.mean([one.landmarks[mark] for mark in marks], axis=0)
        else:
            held = cut(one.mesh, Plane(place, one.planes[role])).holding(place)
            assert held.state == "inside", role
            middle, radius = held.loop.centroid, held.loop.radius
        told[role] = float(np.linalg.norm(middle - place)) / radius
    return told


@pytest.mark.parametrize("kind", MINE)
@pytest.mark.parametrize("seed", range(10))
def test_true_joints_are_the_middles_of_their_flesh(kind, seed):
    one = limb(kind, seed)
    assert one.mesh.is_closed and one.mesh.volume > 0
    assert 2000 <= len(one.mesh.triangles) <= 10_000
    told = off_centre(one)
    assert max(told[role] for role in one.planes) < CENTROID
    assert max(told[role] for role in one.regions) < SHOULDER / 0.05
    assert {"elbow", "wrist", "index 2"} & set(one.planes)


@pytest.mark.parametrize("kind", MINE)
def test_every_fold_is_bent_the_right_way_and_nothing_sideways(kind):
    for seed in range(5):
        one = limb(kind, seed)
        for role in one.away:
            joint = one.roles.index(role)
            ends = one.key.parents[joint], one.key.children(joint)[0]
            root, end = one.key.positions[list(ends)]
            bend = rest_bend(root, one.key.positions[joint], end, one.away[role])
            assert bend.verdict == "right way" and bend.along / bend.line > 0.02, role
            assert abs(bend.sideways) / bend.line < 0.002, role


def test_fingers_curl_to_the_palm_and_the_thumb_in_a_plane_of_its_own():
    for seed in range(5):
        one = limb("arm", seed)
        knuckle, wrist, index, little = places(one, "middle 1", "wrist", "index 1", "little 1")
        palmward = np.cross(knuckle - wrist, index - little)  # of a left hand that hangs: to the thigh
        assert palmward[0] < 0
        hinges = {}
        for finger in ("thumb", *FINGERS):
            chain = places(one, *(f"{finger} {part}" for part in (1, 2, 3, "tip")))
            bones = np.diff(chain, axis=0)
            hinges[finger] = np.cross(bones[1], bones[2])
            assert np.cross(bones[0], bones[1]) @ hinges[finger] > 0, "both joints close the same way"
            if finger != "thumb":
                lengths = np.linalg.norm(bones, axis=1)
                assert np.all(np.diff(bones @ palmward / lengths) > 0), "each bone is closed further than the last"
                assert lengths[0] > lengths[1] > lengths[2], f"the bones of the {finger} finger fall"
        for one_finger, other in zip(FINGERS[:-1], FINGERS[1:], strict=True):
            assert np.degrees(angle_between(hinges[one_finger], hinges[other])) < 20
        assert 60 < np.degrees(angle_between(hinges["thumb"], hinges["middle"])) < 100
        tips = places(one, *(f"{finger} tip" for finger in FINGERS))
        gaps = np.linalg.norm(np.diff(tips, axis=0), axis=1)
        assert gaps.min() > 0.01, "fanned, none on top of another"


# Buryanov & Kotiuk 2010, Int J Morphol 28(3):755-758 (66 adults; quoted by another publication): proximal and middle
# phalanges of index, middle, ring and little finger, mm; the whole hand scales them, each finger by 2.5 % of its own.
PHALANGES = {"index": (39.8, 22.4), "middle": (44.6, 26.3), "ring": (41.4, 25.7), "little": (32.7, 18.1)}


@pytest.mark.parametrize("finger", FINGERS)
def test_phalanges_keep_the_published_proportions(finger):
    for seed in range(5):
        one = limb("arm", seed)
        chain = places(one, *(f"{finger} {part}" for part in (1, 2, 3)))
        first, second = np.linalg.norm(np.diff(chain, axis=0), axis=1)
        # the knuckle is brought half-way between back and pad, up to 2 mm from where the bone was laid
        assert first / second == pytest.approx(PHALANGES[finger][0] / PHALANGES[finger][1], rel=0.06)
        assert 1000 * second == pytest.approx(PHALANGES[finger][1], rel=0.05)


# sha256 of the left limb of seed 7: vertices in hundredths of a millimetre and triangles, as little-endian integers.
STORED = {
    "arm": "17114da050eb6239b77225700d69b4a4849f9bc1710ea3387e2ba913ff50700a",
    "finger": "82a03ba521d44f40b6da74032bc11b51aa7640ed22c70261c021f3f84c6aaef4",
    "creature_arm": "d246500ad29478dd8063c429a9904e87b3ab6833234e6fe15a4a371ce881c8e0",
    "leg": "88a71d54e406ac0b20b5916a52566a2470eb13ad3fdc9dfa6b0b410e079c6ff9",
    "toe_walker": "c715f0254632fc95146915a47879ced75de497dd003598c2e2fc9d5db8a13f08",
    "bird_leg": "8940a74a0395ec0ef5b333d7d8577b2405dd8c36e529d972a0584789381ce6c4",
}


@pytest.mark.parametrize("kind", STORED)
def test_the_same_seed_gives_the_same_bytes_everywhere(kind):
    mesh = practice_limb(kind, 7).mesh
    data = np.rint(mesh.vertices * 1e5).astype("<i4").tobytes() + mesh.triangles.astype("<i4").tobytes()
    assert hashlib.sha256(data).hexdigest() == STORED[kind]
    assert not np.array_equal(practice_limb(kind, 8).mesh.vertices[:50], mesh.vertices[:50])


@pytest.mark.parametrize("kind", ["arm", "finger", "creature_arm"])
def test_a_shape_changes_what_it_names_and_nothing_else(kind):
    plain = limb(kind)
    for density in (0.5, 2.0):
        other = limb(kind, density=density)
        assert other.mesh.is_closed and max(off_centre(other).values()) < SHOULDER / 0.05
        assert 2000 <= len(other.mesh.triangles) <= 10_000
        assert (len(other.mesh.triangles) - len(plain.mesh.triangles)) * (density - 1) > 0
    thick = limb(kind, thickness=1.15)
    assert thick.mesh.volume > 1.1 * plain.mesh.volume
    rough = limb(kind, roughness=0.003)
    moved = np.linalg.norm(rough.mesh.vertices - plain.mesh.vertices, axis=1)
    assert 0.0002 < moved.max() <= 0.003 + 2e-5  # a thin finger is roughened less
    told = off_centre(rough)
    assert max(told[role] for role in rough.planes) < 0.02  # of the local radius, as promised
    np.testing.assert_array_equal(rough.key.positions, plain.key.positions)


def test_lengths_bend_and_place_do_what_they_say():
    plain = limb("arm")
    longer = practice_limb("arm", 7, shape=Shape(lengths={"elbow": 1.2, "index 1": 1.1}))

    def bone(one, *ends):
        return float(np.linalg.norm(np.subtract(*places(one, *ends))))

    assert bone(longer, "elbow", "wrist") == pytest.approx(1.2 * bone(plain, "elbow", "wrist"), rel=1e-3)
    assert bone(longer, "shoulder", "elbow") == pytest.approx(bone(plain, "shoulder", "elbow"), rel=1e-3)
    assert bone(longer, "index 1", "index 2") == pytest.approx(1.1 * bone(plain, "index 1", "index 2"), rel=0.01)
    for bend in (0.0, 0.01, 0.03):
        arm, finger = (
            practice_limb(kind, 3, shape=Shape(bend=bend / part)) for kind, part in (("arm", 1), ("finger", 6))
        )
        line = places(arm, "elbow", "shoulder", "wrist")
        assert -off_line(*line)[2] == pytest.approx(bend, abs=STORED_GRID)
        line = places(finger, "index 2", "index 1", "index 3")
        assert np.linalg.norm(off_line(*line)) == pytest.approx(bend / 6, abs=2e-4)
    put = Frame(rotation_about([0, 1, 0], 0.7), [0.3, -0.2, 1.0])
    moved = practice_limb("arm", 7, shape=Shape(place=put))
    np.testing.assert_allclose(moved.mesh.vertices, put @ plain.mesh.vertices, rtol=0, atol=1e-5)
    assert max(off_centre(moved).values()) < SHOULDER / 0.05


@pytest.mark.parametrize("shape", [{"thickness": 2.0}, {"density": 0.1}, {"roughness": -1.0}, {"bend": 0.2},
                                   {"lengths": {"elbow": 3.0}}, {"lengths": {"knee": 1.1}}, {"density": float("nan")},
                                   {"thickness": 1.2, "lengths": {"wrist": 0.75}},
                                   {"lengths": {"thumb 1": 0.75}}, {"bend": 0.07}])  # fmt: skip
def test_a_shape_that_no_limb_can_have_is_refused_in_words(shape):
    with pytest.raises(RigError, match="shape"):
        practice_limb("arm", 1, shape=Shape(**shape))
    with pytest.raises(RigError, match="kind of a practice limb"):
        practice_limb("nose", 1)


def test_every_student_has_a_limb_of_their_own():
    seeds = {limb_seed(student, salt) for student in ("wren", "teasel", "sorrel") for salt in ("spring", "autumn")}
    assert len(seeds) == 6 and all(0 <= seed < 2**63 for seed in seeds)
    assert limb_seed("wren", "spring") == 8050498457612071304
    assert limb_seed("ab", "c") != limb_seed("b", "ca"), "id and salt are told apart"
    with pytest.raises(RigError, match="salt"):
        limb_seed("wren", 7)


def test_kinds_are_told_in_a_line_each():
    assert set(MINE) <= set(KINDS)
    assert all(words and "\n" not in words for words in KINDS.values())


# Standard anatomy: the clavicle's inner end sits on the breastbone, 20 to 30 mm beside the middle, under the skin in front.
@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("thickness", [0.8, 1.0, 1.15])
def test_the_clavicle_begins_beside_the_middle_in_front_of_the_chest(seed, thickness):
    one = limb("shoulder_arm", seed, thickness=thickness)
    (clavicle, shoulder), least = places(one, "clavicle", "shoulder"), one.mesh.bounds[0]
    assert least[0] == 0, "the trunk reaches the middle plane"
    assert 0.020 <= clavicle[0] <= 0.030 and 0.0 <= clavicle[1] - shoulder[1] <= 0.020
    skin = surface_point(one.mesh, clavicle, np.array([0.0, 0.0, 1.0]))
    assert 0.010 < skin[2] - clavicle[2] < 0.025 and clavicle[2] > 0.05
    assert one.regions["clavicle"][1] == 0.04
    np.testing.assert_array_equal(one.key.positions[1:], limb("arm", seed, thickness=thickness).key.positions)


def test_a_students_limb_hangs_on_no_capital_and_no_space():
    assert limb_seed(" Wren ", "spring") == limb_seed("wren", "spring") != limb_seed("wren", "Spring")
    with pytest.raises(RigError, match="an empty one"):
        limb_seed("  ", "spring")


def test_hips_are_told_as_what_they_are():
    assert all(word in KINDS["hips"] for word in ("pelvis", "one whole leg", "stub"))
