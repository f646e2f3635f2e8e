"""Mirror: one side of a skeleton made from the other, and left against right, joint by joint; metres and radians.

The middle plane's normal points to the figure's left; `middle` finds it from a mesh.
"""

from dataclasses import dataclass, replace

import numpy as np

from rigkit import require
from rigkit.axes import check_axes
from rigkit.frames import quaternion_from_rotation, rotation_from_quaternion
from rigkit.middle import Middle, middle_of_places, reflected
from rigkit.mirror_axes import CONVENTIONS, FRAME_ALLOWED, NEITHER, SAME_NUMBERS, mirrored_rotation, pair_axes
from rigkit.namewords import take_apart
from rigkit.naming import NamingRule
from rigkit.section import Plane
from rigkit.skeleton import Skeleton
from rigkit.tolerance import NO_LENGTH
from rigkit.vectors import length

PLACE_ALLOWED = 0.002
"""Metres from the mirror image of its partner that a joint may lie: two steps of a slider (learner)."""
NEAR = 0.05
"""Share of the joints' spread within which a joint's mirror image may be its partner by place alone."""


def side_of(name: str, rule: NamingRule) -> str | None:
    """The side that a name says, "left" or "right"; None where it says none, or both."""
    words = frozenset(word for role, _ in rule.parts for word in rule.words_for(role))
    said = {side for _, side in take_apart(name, rule.marks, words).sides}
    return said.pop() if len(said) == 1 else None


def _named_pairs(skeleton: Skeleton, rule: NamingRule) -> list[tuple[int, int]]:
    """(left, right) numbers of joints whose names differ by the side alone; the first of two that share a name."""
    first = {name: joint for joint, name in reversed(list(enumerate(skeleton.names)))}
    lefts = [joint for name, joint in first.items() if side_of(name, rule) == "left"]
    return sorted((j, first[other]) for j in lefts if (other := rule.swap_side(skeleton.names[j])) in first)


def middle_of_joints(skeleton: Skeleton, rule: NamingRule) -> Middle:
    """The middle plane by joints whose names differ by the side alone, and by those whose names say no side."""
    pairs = np.array(_named_pairs(skeleton, rule), dtype=int).reshape(-1, 2)
    middles = [j for j, name in enumerate(skeleton.names) if side_of(name, rule) is None]
    places = skeleton.positions
    return middle_of_places(places[pairs[:, 0]], places[pairs[:, 1]], places[middles])


def mirror_side(
    skeleton: Skeleton,
    plane: Plane,
    rule: NamingRule,
    source: str = "left",
    convention: str = SAME_NUMBERS,
    hinge: str = "z",
) -> Skeleton:
    """One side made from the other: places reflected, frames by a convention, names with their side swapped.

    source: the side that stays, by its names. Joints of the other side that are there already are put right and keep
    their number and parent; those that are missing are added last, on the partner of their parent or, where that has
    no side, on the parent itself. convention and hinge as in `mirrored_rotation`. Joints without a side stay.
    """
    require.choice(source, "the side to mirror", ("left", "right"))
    require.choice(convention, "how frames are mirrored", CONVENTIONS)
    sources = [j for top in range(len(skeleton)) if skeleton.parents[top] is None for j in skeleton.branch(top)]
    sources = [j for j in sources if side_of(skeleton.names[j], rule) == source]
    pairs = _named_pairs(skeleton, rule)
    partner = dict(pairs if source == "left" else (pair[::-1] for pair in pairs))
    names, parents, rotations = list(skeleton.names), list(skeleton.parents), list(skeleton.rotations)
    places = list(skeleton.positions)
    for j, place in zip(sources, reflected(skeleton.positions[sources], plane), strict=True):
        own, above = skeleton.rotations[j], skeleton.parents[j]
        turned = None
        if own is not None:
            world = rotation_from_quaternion(own)
            turned = quaternion_from_rotation(mirrored_rotation(world, plane.normal, convention, hinge))
        if j in partner:
            places[partner[j]], rotations[partner[j]] = place, turned
            continue
        partner[j] = len(names)
        names.append(rule.swap_side(skeleton.names[j]))
        parents.append(None if above is None else partner.get(above, above))
        places.append(place)
        rotations.append(turned)
    return replace(
        skeleton, names=tuple(names), parents=tuple(parents), positions=np.array(places), rotations=tuple(rotations)
    )


@dataclass(frozen=True)
class Mismatch:
    """What does not match at a joint. partner: the other joint's number, or None. amount: metres or radians, by kind.

    kind: "no partner"; "name" (partner by place, names that differ by more than the side); "side" (its name says the
    other side than the one it lies on; metres past the plane); "place" (metres from the partner's mirror image);
    "parent" (the parents are no partners); "frame" (radians by which it misses the nearest mirror image there is).
    follows, wanted: of a frame, the convention it follows, or "neither", and the one it should; asked: whether that
    was asked for, or else is what most pairs follow.
    """

    joint: int
    partner: int | None
    kind: str
    amount: float | None = None
    follows: str | None = None
    wanted: str | None = None
    asked: bool = False

    def said(self, skeleton: Skeleton) -> str:
        """The mismatch in words, with millimetres or degrees."""
        here, much = skeleton.names[self.joint], self.amount or 0.0
        there = "" if self.partner is None else skeleton.names[self.partner]
        frame = f"misses the mirror image of {there}'s by {np.degrees(much):.0f} degrees"
        if much <= FRAME_ALLOWED:
            ways = {word: f"the {word} convention" for word in CONVENTIONS}
            follows, wanted = (ways.get(word or "", "neither convention") for word in (self.follows, self.wanted))
            frame = f"follows that of {there} by {follows}, {'asked for is' if self.asked else 'the rest by'} {wanted}"
        return {
            "no partner": f"{here} has no partner on the other side",
            "name": f"{here} and {there} lie as mirror images, but their names differ by more than the side",
            "side": f"{here} lies {1000 * much:.1f} mm on the other side than its name says",
            "place": f"{here} lies {1000 * much:.1f} mm from the mirror image of {there}",
            "parent": f"{here} and {there} hang on joints that are no partners",
            "frame": f"the frame of {here} {frame}",
        }[self.kind]


@dataclass(frozen=True)
class Sides:
    """Left against right: pairs (left, right) of joint numbers, joints in the middle, what does not match, and the
    convention that the frames follow: None where there are none, "neither" where most follow none."""

    pairs: tuple[tuple[int, int], ...]
    middles: tuple[int, ...]
    mismatches: tuple[Mismatch, ...]
    convention: str | None


def match_sides(skeleton: Skeleton, plane: Plane, rule: NamingRule, convention: str | None = None) -> Sides:
    """Pair the joints of both sides, first by name, then, where names find none, by place, and list what is off.

    By place, as many joints are paired as lie near enough to each other's mirror image, at the least sum of distances.
    convention: what frames have to follow; None: what most pairs do, to be kept throughout.
    """
    from scipy.optimize import linear_sum_assignment

    if convention is not None:
        require.choice(convention, "how frames are mirrored", CONVENTIONS)
    heights, places = plane.heights(skeleton.positions), skeleton.positions
    spread = float(np.sqrt(np.mean(np.sum((places - places.mean(axis=0)) ** 2, axis=1)))) if len(places) else 0.0
    said = [side_of(name, rule) for name in skeleton.names]
    named = _named_pairs(skeleton, rule)
    taken = {j for pair in named for j in pair}
    middles = [j for j in range(len(skeleton)) if said[j] is None and abs(heights[j]) <= PLACE_ALLOWED]
    left, right = (
        [j for j in range(len(skeleton)) if j not in {*taken, *middles} and s * heights[j] > 0] for s in (1, -1)
    )
    gaps = length(reflected(places[left], plane)[:, None] - places[right][None]) if left and right else np.zeros((0, 0))
    most = max(NEAR * spread, NO_LENGTH)
    costs = np.where(gaps <= most, gaps / most, 1.0 + min(gaps.shape))  # no partner costs more than all pairs together
    near = [(left[i], right[j]) for i, j in zip(*linear_sum_assignment(costs), strict=True) if gaps[i, j] <= most]
    taken |= {j for pair in near for j in pair}
    found = [Mismatch(j, None, "no partner") for j in range(len(skeleton)) if j not in {*taken, *middles}]
    found += [Mismatch(a, b, "name") for a, b in near]
    pairs = sorted(named + near)
    other = {**dict(pairs), **{b: a for a, b in pairs}, **{j: j for j in middles}}
    for a, b in pairs:
        off = float(length(reflected(places[[a]], plane)[0] - places[b]))
        if off > PLACE_ALLOWED:
            found.append(Mismatch(b, a, "place", off))
        for j, sign in ((a, 1), (b, -1)):
            if said[j] is not None and sign * heights[j] < -PLACE_ALLOWED:
                found.append(Mismatch(j, other[j], "side", float(abs(heights[j]))))
        above, wanted = skeleton.parents[b], skeleton.parents[a]
        if (None if wanted is None else other.get(wanted, wanted)) != above:
            found.append(Mismatch(b, a, "parent"))
    frames = [None if r is None else rotation_from_quaternion(r) for r in skeleton.rotations]
    bone = (check_axes(skeleton, [a for a, _ in pairs]).bone or "x")[-1]
    read = {
        (a, b): pair_axes(here, there, plane.normal, bone)
        for a, b in pairs
        if (here := frames[a]) is not None and (there := frames[b]) is not None
    }
    votes = [one.convention for one in read.values()]
    kept = convention or (max((*CONVENTIONS, NEITHER), key=votes.count) if votes else None)
    found += [
        Mismatch(b, a, "frame", one.off, one.convention, kept, convention is not None)
        for (a, b), one in read.items()
        if one.convention != kept
    ]
    return Sides(tuple(pairs), tuple(middles), tuple(sorted(found, key=lambda m: m.joint)), kept)
