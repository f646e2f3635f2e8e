"""The reference tables beside the published values, typed here a second time; H-Anim's rest pose; the practice limbs."""

import math

import numpy as np
import pytest

from rigkit.anatomy import (
    EVERY,
    MEMORY,
    SOME,
    check_range,
    facts,
    folds,
    joint_centres,
    proportions,
    range_of_motion,
    segment,
)
from rigkit.kinematics import FOLDED_MOST, RIGHT, STRAIGHT, WRONG, rest_bend
from rigkit.limbs import KINDS, practice_limb
from rigkit.naming import read_rule

EXACT = 1e-9  # a handful of float64 operations on numbers near one
DRILLIS, LEVA, ANSUR = "Drillis & Contini 1966", "de Leva 1996a", "Gordon et al. 2014"
STATURE = 1.70  # of the practice figures

# from, to: Drillis & Contini 1966 as reproduced in Winter 2009, Fig. 4.1 (x stature); de Leva 1996a, Table 4 (mm, men,
# women); Gordon et al. 2014, NATICK/TR-15/007 (mm, men, women; legs as differences of heights)
SEGMENTS = {
    ("shoulder", "elbow"): (0.186, (281.7, 275.1), (335.2, 311.2)),
    ("elbow", "wrist"): (0.146, (268.9, 264.3), (267.9, 241.3)),
    ("wrist", "middle tip"): (0.108, None, (193.3, 181.1)),
    ("wrist", "middle 1"): (None, (86.2, 78.0), None),
    ("hip", "knee"): (0.245, (422.2, 368.5), (900.9 - 491.7, 845.4 - 465.9)),
    ("knee", "ankle"): (0.246, (434.0, 432.3), (491.7 - 72.9, 465.9 - 62.7)),
    ("heel", "toe tip"): (0.152, (258.1, 228.3), (271.2, 246.3)),
    ("ground", "crown"): (None, (1741, 1735), (1756.2, 1628.5)),
    ("ground", "shoulder"): (0.818, None, None),
    ("ground", "elbow"): (0.63, None, None),
    ("ground", "wrist"): (0.485, None, None),
    ("ground", "middle tip"): (0.377, None, None),
    ("ground", "hip"): (0.53, None, None),
    ("ground", "knee"): (0.285, None, None),
    ("ground", "ankle"): (0.039, None, None),
    ("middle", "shoulder"): (0.129, None, None),
    ("ground", "eye"): (0.936, None, None),
    ("ground", "chin"): (0.87, None, None),
    ("ground", "nipple"): (0.72, None, None),
    ("chin", "crown"): (0.13, None, None),
    ("shoulder", "other shoulder"): (0.259, None, None),
    ("hip", "other hip"): (0.191, None, None),
    ("foot inner edge", "foot outer edge"): (0.055, None, None),
}


def test_segments_are_the_published_ones():
    expected = {}
    for pair, (drillis, leva, ansur) in SEGMENTS.items():
        if drillis:
            expected[*pair, DRILLIS, ""] = drillis
        for source, both in ((LEVA, leva), (ANSUR, ansur)):
            if both:
                expected |= {(*pair, source, people): mm for people, mm in zip(("men", "women"), both, strict=True)}
    found = {
        (*row.about[:2], next(s for s in (DRILLIS, LEVA, ANSUR) if row.source.startswith(s)), row.about[3]): row.value
        for row in facts("segments")
    }
    assert found == pytest.approx(expected, abs=EXACT)


def test_segments_as_shares_of_stature():
    """De Leva's upper arm is 281.7 of 1741 mm (men), 275.1 of 1735 (women); ANSUR's 335.2 of 1756.2, 311.2 of 1628.5."""
    arm = segment("shoulder", "elbow")
    assert sorted(row.value for row in arm.rows) == pytest.approx(
        [275.1 / 1735, 281.7 / 1741, 0.186, 335.2 / 1756.2, 311.2 / 1628.5], abs=EXACT
    )
    assert (arm.least, arm.most) == pytest.approx((275.1 / 1735, 311.2 / 1628.5), abs=EXACT)


@pytest.mark.parametrize(
    "upper, lower",
    [("shoulder", "elbow"), ("elbow", "wrist"), ("wrist", "middle tip"), ("hip", "knee"), ("knee", "ankle")],
)
def test_lengths_are_the_differences_of_heights(upper, lower):
    """Drillis & Contini give both; they agree within 0.003 of the stature (their upper arm is 0.186, 0.818 - 0.630)."""
    value = {row.about[:2]: row.value for row in facts("segments") if row.source.startswith(DRILLIS)}
    assert abs(value["ground", upper] - value["ground", lower] - value[upper, lower]) < 0.003


# Buryanov & Kotiuk 2010, Int J Morphol 28(3): metacarpal, phalanges, soft tip, mm
FINGERS = {
    "thumb": (46.2, 31.6, None, 21.7, 5.7),
    "index": (68.1, 39.8, 22.4, 15.8, 3.8),
    "middle": (64.6, 44.6, 26.3, 17.4, 4.0),
    "ring": (58.0, 41.4, 25.7, 17.3, 4.0),
    "little": (53.7, 32.7, 18.1, 16.0, 3.7),
}


@pytest.mark.parametrize("finger", FINGERS)
def test_finger_bones_are_the_published_ones(finger):
    bones = [mm for mm in FINGERS[finger][:4] if mm]
    first = 4 - len(bones)  # a thumb's base is numbered 1, the other metacarpals start at 0
    ends = [f"{finger} {first + n}" for n in range(len(bones))]
    for start, end, mm in zip(ends, [*ends[1:], f"{finger} bone end"], bones, strict=True):
        assert segment(start, end).least == mm == segment(start, end).most
    assert segment(f"{finger} 3", f"{finger} tip").most == pytest.approx(bones[-1] + FINGERS[finger][4])
    if finger != "thumb":
        assert bones == sorted(bones, reverse=True), "bones grow shorter along a finger"


@pytest.mark.parametrize(
    "joint, motion, least, most",
    [
        ("elbow", "flexion", 143, 160),  # Boone & Azen 1979; Merck Manual
        ("elbow", "extension", 0, 0),  # AAOS, in a comparison table
        ("elbow", "carrying_angle", 5, 15),  # A.D.A.M. Medical Encyclopedia
        ("shoulder", "flexion", 167, 180),  # Boone & Azen 1979; AAOS
        ("shoulder", "abduction", 180, 184),  # AAOS; Boone & Azen 1979
        ("shoulder", "medial_rotation", 70, 70),  # AAOS
        ("shoulder", "lateral_rotation", 90, 90),  # AAOS
        ("forearm", "pronation", 76, 80),  # Boone & Azen 1979; AAOS
        ("forearm", "supination", 80, 82),  # AAOS; Boone & Azen 1979
        ("wrist", "flexion", 75, 90),  # e-hand; Merck Manual
        ("wrist", "extension", 70, 75),  # AAOS, Merck, e-hand; Boone & Azen 1979
        ("wrist", "radial_deviation", 20, 22),  # AAOS; Boone & Azen 1979
        ("wrist", "ulnar_deviation", 30, 36),  # AAOS; Boone & Azen 1979
        ("index 1", "flexion", 90, 90),  # Merck, e-hand
        ("index 1", "extension", 30, 45),  # Merck; e-hand (0 to 45)
        ("index 2", "flexion", 100, 120),  # e-hand; Merck
        ("index 3", "flexion", 80, 80),  # Merck, e-hand
        ("thumb 2", "flexion", 55, 70),  # e-hand; Merck
        ("thumb 3", "flexion", 80, 90),  # e-hand; Merck
        ("hip", "flexion", 125, 140.8),  # Merck; Soucie et al. 2011, girls
        ("hip", "extension", 15, 28.3),  # Merck; Soucie et al. 2011, boys
        ("hip", "abduction", 45, 45),  # Merck
        ("knee", "flexion", 130, 152.6),  # Merck; Soucie et al. 2011, girls
        ("knee", "extension", 1.6, 5.4),  # Soucie et al. 2011, boys and girls
        ("ankle", "dorsiflexion", 20, 20),  # Merck
        ("ankle", "plantarflexion", 50, 50),  # Merck
    ],
)
def test_ranges_of_motion_are_the_published_ones(joint, motion, least, most):
    span = range_of_motion(joint, motion)
    assert (span.least, span.most, span.unit) == (least, most, "deg")


def test_why_no_practice_arm_is_held_against_the_carrying_angle():
    """A.D.A.M. gives 5 to 15 degrees away from the body, seen from the front, elbow straight and palm forward. These arms
    rest bent, the palm to the thigh, all three joints in the plane they fold in: from the front they are straight. Once one
    is built with a carrying angle of its own, this fails, and what the note in the data says has to change."""
    assert all("practice arm" in row.note for row in range_of_motion("elbow", "carrying_angle").rows)
    for seed in range(4):
        limb = practice_limb("arm", seed)
        bones = np.diff(limb.key.positions[[limb.roles.index(role) for role in ("shoulder", "elbow", "wrist")]], axis=0)
        upper, lower = bones / np.linalg.norm(bones, axis=1, keepdims=True)
        assert 7 < np.degrees(np.arccos(upper @ lower)) < 8
        front = np.degrees(np.arctan2(lower[0], -lower[1]) - np.arctan2(upper[0], -upper[1]))
        assert abs(front) < 0.1
        knuckles = [limb.key.positions[limb.roles.index(role)] for role in ("index 1", "little 1", "wrist")]
        back_of_hand = np.cross(knuckles[0] - knuckles[2], knuckles[1] - knuckles[2])
        assert back_of_hand[0] > 2 * abs(back_of_hand[2]), "the back of the hand faces out, not back"


def test_how_far_flexing_goes_beside_the_sources():
    """kinematics.flex folds every limb by 140 degrees: no elbow's source objects; Merck's knee stops at 130."""
    assert check_range("elbow", float(FOLDED_MOST))[0] == EVERY
    assert check_range("knee", float(FOLDED_MOST))[0] == SOME


def test_the_landmarks_of_de_levas_shares_are_borne_out():
    """0.957 - 0.104 of acromion to radiale is his own upper arm (281.7 mm, men): so he has 330.2 mm, ANSUR 335.2."""
    share = {row.about[0]: row.value for row in facts("joint_centres") if row.about[1:] == ("acromion", "radiale")}
    assert share == {"shoulder": 0.104, "elbow": 0.957}  # de Leva 1996b, Table 2
    assert 281.7 / (share["elbow"] - share["shoulder"]) == pytest.approx(335.2, rel=0.02)
    arm = {"acromion": np.array([0.2, 1.44, 0]), "radiale": np.array([0.2, 1.44 - 0.3352, 0])}
    centres = [joint_centres(role, arm)[0][0] for role in ("shoulder", "elbow")]
    assert np.allclose(centres, [(0.2, 1.44 - 0.104 * 0.3352, 0), (0.2, 1.44 - 0.957 * 0.3352, 0)], atol=EXACT)


def test_what_is_known_from_memory_alone_is_labelled_so():
    """Soucie's adults, AAOS of hip, knee and ankle, and the two thirds of a finger's last joint were not read."""
    memory = [row for row in facts("motion") if row.how_known == MEMORY]
    assert {row.source.split(" (")[0].split(",")[0] for row in memory} == {
        "Soucie et al. 2011", "AAOS 1965/1994", "Rijpkema & Girard 1991",
    }  # fmt: skip
    adults = [row for row in facts("motion") if row.about[2].endswith("20 to 44 years")]
    assert len(adults) == 22 and set(adults) < set(memory)


PLACES = {row.about[3]: np.array(row.numbers) for row in facts("hanim") if row.about[3]}


def test_hanim_centres_and_tree():
    """ISO/IEC 19774-1: names from the PyPI package x3d 4.0, centres from the standard's default example, level 3."""
    assert PLACES["shoulder"].tolist() == [0.2029, 1.4376, -0.0387] and PLACES["elbow"].tolist() == [
        0.2014,
        1.1357,
        -0.0682,
    ]
    assert PLACES["wrist"].tolist() == [0.1984, 0.8663, -0.0583] and PLACES["knee"].tolist() == [0.104, 0.4867, 0.0308]
    parent = {row.about[0]: row.about[2] for row in facts("hanim")}
    assert parent["l_radiocarpal"] == "l_elbow" and parent["l_talocrural"] == "l_knee"
    assert set(parent.values()) - set(parent) == {"humanoid_root", "vt1"}, "all but these two parents are in the table"
    rule = read_rule("hanim")
    names = {row.about[3]: row.about[0] for row in facts("hanim")}
    assert all(rule.name_for(role, "left") == names[role] for role, _ in rule.parts if role in names)


@pytest.mark.parametrize(
    "chain, off, flexed",
    [
        (("shoulder", "elbow", "wrist"), 19.2, 7.7),  # computed from H-Anim's default centres: mm, degrees
        (("hip", "knee", "ankle"), 67.6, 18.1),
    ],
)
def test_hanim_rests_bent_the_way_the_fold_table_says(chain, off, flexed):
    root, middle, end = (PLACES[role] for role in chain)
    for side, flip in (("left", 1), ("right", -1)):
        mirror = np.array([flip, 1, 1])
        bend = rest_bend(root * mirror, middle * mirror, end * mirror, folds(chain[1], side).numbers)
        assert bend.verdict == RIGHT
        assert 1000 * math.hypot(bend.along, bend.sideways) == pytest.approx(off, abs=0.05)
        assert np.degrees(bend.flexion) == pytest.approx(flexed, abs=0.05)
        assert check_range(chain[1], bend.flexion)[0] == EVERY


def test_hanim_fingers_are_straight():
    """Off the line of knuckle and last joint by 0.4 mm at most: the index the right way, the little finger the wrong."""
    bends = {
        finger: rest_bend(*(PLACES[f"{finger} {n}"] for n in (1, 2, 3)), folds(f"{finger} 2").numbers)
        for finger in ("index", "middle", "ring", "little")
    }
    assert [bend.verdict for bend in bends.values()] == [RIGHT, STRAIGHT, STRAIGHT, WRONG]
    assert all(abs(bend.along) < 0.0004 for bend in bends.values())


def test_hanim_is_no_anatomical_truth():
    """Its metacarpals are 21 mm long, real ones 54 to 68 (Buryanov & Kotiuk 2010): half their share of the finger."""
    short = [one for one in proportions(PLACES) if one.bone[0].endswith(" 0")]
    assert len(short) == 4 and all(one.deviation < -45 for one in short)


def test_hanim_arm_and_leg_lie_between_the_sources():
    """Its arm is split 0.303 to 0.270 m, between de Leva's joint centres and Drillis & Contini's segments."""
    arm = {one.source.split(",")[0]: one.deviation for one in proportions(PLACES) if one.bone == ("shoulder", "elbow")}
    assert arm[LEVA] > 0 > arm[DRILLIS]
    leg = [one.deviation for one in proportions(PLACES) if one.whole == "leg"]
    assert max(map(abs, leg)) < 8


# Percent by which a human practice limb may depart: its seed draws each bone within 2 % of Drillis & Contini; the other
# sources measure otherwise (de Leva's two thighs lie 14 % apart). Tips lie 2.5 mm under the skin.
WITHIN = {
    ("shoulder", "elbow"): {DRILLIS: 2.2, ANSUR: 5.0},
    ("elbow", "wrist"): {DRILLIS: 2.2, ANSUR: 6.5},
    ("hip", "knee"): {DRILLIS: 2.2, LEVA: 18.0, ANSUR: 8.0},
    ("knee", "ankle"): {DRILLIS: 2.2, LEVA: 4.0, ANSUR: 6.0},
}


@pytest.mark.parametrize("kind", ["arm", "leg"])
@pytest.mark.parametrize("seed", range(6))
def test_human_practice_limbs_have_human_proportions(kind, seed):
    limb = practice_limb(kind, seed)
    found = proportions(dict(zip(limb.roles, limb.key.positions, strict=True)), STATURE)
    checked = 0
    for one in found:
        allowed = WITHIN.get(one.bone, {}).get(one.source.split(",")[0])
        if one.source.startswith("Buryanov"):
            allowed = 15.0 if one.bone[1].endswith("tip") else 6.0
        if allowed:
            checked += 1
            assert abs(one.deviation) < allowed, one
    assert checked >= (6 + 15 if kind == "arm" else 10)


@pytest.mark.parametrize("seed", range(6))
def test_human_hands_have_human_lengths(seed):
    """Hands are measured flat and these hang curled, so along the middle finger: 0.108 (Drillis & Contini), 0.110 to 0.111."""
    limb = practice_limb("arm", seed)
    places = dict(zip(limb.roles, limb.key.positions, strict=True))
    chain = [places[role] for role in ("wrist", "middle 1", "middle 2", "middle 3", "middle tip")]
    hand = sum(math.dist(one, other) for one, other in zip(chain[:-1], chain[1:], strict=True)) / STATURE
    span = segment("wrist", "middle tip")
    assert span.least == 0.108 and span.most == pytest.approx(181.1 / 1628.5)
    assert hand == pytest.approx(0.108, rel=0.06), 100 * (hand / 0.108 - 1)


def test_the_marsh_walkers_forearm_is_no_human_one():
    limb = practice_limb("creature_arm", 1)
    fore = [
        p for p in proportions(dict(zip(limb.roles, limb.key.positions, strict=True))) if p.bone == ("elbow", "wrist")
    ]
    assert fore and all(one.deviation > 10 for one in fore)


@pytest.mark.parametrize("kind", KINDS)
def test_practice_limbs_fold_the_way_the_table_says(kind):
    """Within 30 degrees: an arm hangs 35 degrees out, fingers fan and curl, where the table has them hang straight."""
    limb = practice_limb(kind, 1)
    known = {row.about[0] for row in facts("folds")} | {f"{f} {n}" for f in FINGERS for n in (1, 2, 3)}
    for role in set(limb.away) & known:
        fold = folds(role)
        if fold.numbers:
            assert limb.away[role] @ fold.numbers > math.cos(math.radians(30)), role
        else:
            assert limb.away[role] @ folds("index 2").numbers < math.cos(math.radians(30)), "a thumb's plane is its own"
