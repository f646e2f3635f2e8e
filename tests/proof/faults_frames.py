"""Faults of frames and of mirrored pairs put into right ones: a frame turned, a partner gone, moved, named otherwise."""

from collections.abc import Iterator

import numpy as np

from tests.proof import framed
from tests.proof.case import ANY, CLEAR, GROSS, JUST, Case, moved, pick
from tests.proof.faults_place import in_plane
from tests.proof.ground import STANDARD, Ground, any_way

FRAMES, MIRROR = STANDARD["frames"], STANDARD["mirror"]


def lone(g: Ground) -> list[int]:
    """Joints with one bone: where several begin, any of them may be meant."""
    return [joint for joint in range(len(g.roles)) if len(g.below(joint)) == 1]


def sized(what: str) -> tuple[tuple[str, float], ...]:
    """Angles just beyond what is allowed, half-way to failing, and at it or short of another axis' reach."""
    allowed, failing = FRAMES[f"{what}_allowed"], FRAMES[f"{what}_failing"]
    return (JUST, 1.05 * allowed), (CLEAR, 0.5 * (allowed + failing)), (GROSS, min(failing, 44.0))


def axis_other(g: Ground, chance) -> Iterator[Case]:
    """One joint turned by a quarter, so that another of its axes runs along its bone."""
    joint = pick(chance, lone(g))
    frames = framed.turned(framed.axes(g), joint, pick(chance, "yz"), pick(chance, [90.0, -90.0, 180.0]))
    yield Case("axis-other", ANY, (g.roles[joint],), framed.layout(g, frames), framed.judged(g))


def axis_off_bone(g: Ground, chance) -> Iterator[Case]:
    """One joint turned about its hinge, which stays where it is."""
    for size, angle in sized("bone"):
        joint = pick(chance, lone(g))
        frames = framed.turned(framed.axes(g), joint, "z", pick(chance, [angle, -angle]))
        yield Case("axis-off-bone", size, (g.roles[joint],), framed.layout(g, frames), framed.judged(g))


def frame_twisted(g: Ground, chance) -> Iterator[Case]:
    """One joint that folds rolled about its bone, and laid on the line of its neighbours: where there is a bend, its
    hinge tells more. Taken is the joint that has the least way to that line."""
    for size, angle in sized("twist"):
        bends = {role: g.bend(role, g.places) for role in g.folds}
        role = min(bends, key=lambda role: abs(bends[role][0]) / g.radius(role))
        along, sideways, _, away, side = bends[role]
        places = moved(g, role, g.places[g.number[role]] + in_plane(g, role, away, side, [-along, -sideways]))
        frames = framed.like_above(g, framed.axes(g, places), g.number[role])
        frames = framed.turned(frames, g.number[role], "x", pick(chance, [angle, -angle]))
        yield Case("frame-twisted", size, (role,), framed.layout(g, frames, places), framed.judged(g))


def hinge_off(g: Ground, chance) -> Iterator[Case]:
    """One joint that folds and the one above rolled alike, so that the two still go together."""
    for size, angle in sized("hinge"):
        joint, roll = g.number[pick(chance, g.folds)], pick(chance, [angle, -angle])
        frames = framed.turned(framed.turned(framed.axes(g), joint, "x", roll), g.parents[joint], "x", roll)
        yield Case("hinge-off", size, (g.roles[joint],), framed.layout(g, frames), framed.judged(g))


def frame_scaled(g: Ground, chance) -> Iterator[Case]:
    """One joint scaled along an axis or, below the topmost, along all, sheared or mirrored, and all below it with it; the
    whole limb is in other units. Written as a file of its own, for only such a file can show it."""
    allowed, failing = FRAMES["scale_allowed"] / 100, FRAMES["scale_failing"] / 100
    for size, share in (
        (JUST, 1.05 * allowed),
        (CLEAR, 0.5 * (allowed + failing)),
        (GROSS, 1.05 * failing),
        (ANY, 2.0),
    ):
        joint = int(chance.integers(size == ANY, len(g.roles)))
        sheared = np.eye(3) + np.eye(3, k=1) * [0, share + share / (1 + share), 0]  # its most stretch is 1 + share
        ways = [np.diag([1 + share, 1, 1]), np.diag([1, 1, 1 - share])]
        ways += [np.eye(3) * (1 + share), sheared] if joint else []
        change = np.diag([-1.0, 1, 1]) if size == ANY else pick(chance, ways)
        yield Case(
            "frame-scaled", size, (g.roles[joint],), framed.filed(g, framed.axes(g), joint, change), framed.judged(g)
        )


def pair_missing(g: Ground, chance) -> Iterator[Case]:
    pair = framed.Pair(g)
    joint = pick(chance, pair.sided)
    yield Case("pair-missing", ANY, (g.roles[joint],), pair.layout(pair.image[joint]), framed.judged(g, True))


def pair_place(g: Ground, chance) -> Iterator[Case]:
    allowed, failing = MIRROR["allowed_mm"] / 1000, MIRROR["failing_mm"] / 1000
    for size, far in ((JUST, 1.05 * allowed), (CLEAR, 0.5 * (allowed + failing)), (GROSS, 1.1 * failing)):
        pair = framed.Pair(g)
        joint = pick(chance, pair.sided)
        pair.places[pair.image[joint]] += far * any_way(chance)
        yield Case("pair-place", size, (g.roles[joint],), pair.layout(), framed.judged(g, True))


def pair_name(g: Ground, chance) -> Iterator[Case]:
    pair = framed.Pair(g)
    joint = pick(chance, pair.sided)
    for name in (pair.names[pair.image[joint]].title(), f"joint{joint}", pair.names[joint]):
        other = framed.Pair(g)
        other.names[other.image[joint]] = name
        yield Case("pair-name", ANY, (g.roles[joint],), other.layout(), framed.judged(g, True))


def pair_frames(g: Ground, chance) -> Iterator[Case]:
    """One partner's frame by the other convention, or by none."""
    asked, other = chance.permutation(list(framed.SIGNS))
    joint = pick(chance, framed.Pair(g).sided)
    for way in ("other", "none"):
        pair, wrong = framed.Pair(g, asked), framed.Pair(g, other)
        image = pair.image[joint]
        pair.frames[image] = (
            wrong.frames[image] if way == "other" else framed.turned(pair.frames, image, "x", 25)[image]
        )
        yield Case("pair-frames", ANY, (g.roles[joint],), pair.layout(), framed.judged(g, True, str(asked)))
