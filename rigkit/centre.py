"""The middle of the flesh at a joint, or why it cannot be told: one named answer for each case; places (3,), metres.

`section` cuts and measures; here what was cut is judged, and "the middle is here" is found for a whole chain.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np

from rigkit import require
from rigkit.mesh import Mesh
from rigkit.require import RigError
from rigkit.section import INSIDE, OPEN, OUTSIDE, Loop, Plane, cut
from rigkit.tolerance import NO_LENGTH, STORED
from rigkit.vectors import unit

JOINED = "runs into other flesh"
HOLLOW = "in a hollow"
OVERLAPS = "flesh passes through itself"
BETWEEN = "between two shells"
WIDEST = 1.5
"""A section this many times as wide as the limb's own half-way down its bone is not the limb's alone (our choice: the
practice limbs' joints stay under 1.3, their shoulders, hips and knuckles lie above 1.6)."""


LEAST_PART = 0.05
"""A loop of at least this share of another's area is flesh of its own, not a wrinkle or a nail (our choice)."""


@dataclass(frozen=True, eq=False)
class FleshAt:
    """What one section says of a joint.

    state: "inside"; "outside the flesh" (the loop is the nearest one); "in a hollow" (inside a shell with nothing in
    it); "runs into other flesh" (a trunk, a palm, the other leg: the middle is not its own); "between two shells" (in
    the clothes, beside the flesh); "flesh passes through itself"; "open mesh"; "no flesh here". loop: where there is
    one. offset: from its middle to the joint (3,), metres, and radius: its local radius, metres; both None in all but
    the first three, where no middle can be told or it would be another's. others: how many more closed loops the plane
    holds (fingers, the other leg, nails). shells: how many loops lie around the joint (clothes over flesh: 2; the
    innermost is taken).
    """

    state: str
    loop: Loop | None
    offset: np.ndarray | None
    radius: float | None
    others: int
    shells: int


def flesh_at(
    mesh: Mesh, joint: np.ndarray, along: np.ndarray, usual: float | None = None, trusted: bool = False
) -> FleshAt:
    """Cut a mesh through a joint (3,) squarely to `along` (3,) and say what the flesh is there.

    usual: the limb's own local radius in metres, the wider of the two bones that meet there (`usual_radius`); with it a
    section that runs into a trunk is known by its width. One that holds two limbs is known by falling apart within a
    local radius up or down.
    trusted: somebody has looked and says that what this section holds belongs together (an exercise's own plane, the
    ball of a foot above five toes), so that is not asked. The cut is that of `Mesh.mended`.

    >>> from rigkit.limbs import practice_arm
    >>> arm = practice_arm(7)
    >>> elbow = arm.key.positions[1]
    >>> here = flesh_at(arm.mesh, elbow + [0.004, 0, 0], arm.planes["elbow"])
    >>> here.state, round(float(np.linalg.norm(here.offset)), 4)
    ('inside', 0.0033)
    """
    joint, along = require.vector(joint, "a joint's place"), require.direction(along, "the way along the limb")
    usual = None if usual is None else require.number(usual, "the usual radius", 0.0)
    section = cut(mesh, Plane(joint, along))
    held = section.holding(joint)
    loop, state, around = held.loop, held.state, held.around
    others = len([one for one in section.loops if one.closed and one is not loop and one not in around])
    if loop is None or state == OPEN:
        return FleshAt(state, loop, None, None, others, len(around))
    within = [one for one in section.loops if loop in around and one is not loop and _holds_whole(loop, one)]
    if any(not one.closed for one in within):
        state = OPEN
    elif any(one.area > LEAST_PART * loop.area and one.signed_area * loop.signed_area > 0 for one in within):
        state = BETWEEN
    elif loop.crosses_itself or _overlapping(around):
        state = OVERLAPS
    elif not trusted and (
        (usual is not None and loop.radius > WIDEST * usual) or _falls_apart(mesh, loop, section.plane)
    ):
        state = JOINED
    elif state == INSIDE and loop.signed_area * mesh.volume < 0:
        state = HOLLOW
    if state in (OPEN, BETWEEN, OVERLAPS, JOINED) or loop.radius < NO_LENGTH:
        return FleshAt(state, loop, None, None, others, len(around))
    return FleshAt(state, loop, joint - loop.centroid, loop.radius, others, len(around))


def _holds_whole(loop: Loop, other: Loop) -> bool:
    return all(loop.holds(point) for point in other.points[:: max(1, len(other.points) // 8)])


def _overlapping(around: Sequence[Loop]) -> bool:
    """True when two loops that both hold a joint cross each other: flesh inside flesh, neither within the other."""
    for number, one in enumerate(around):
        for other in around[number + 1 :]:
            inside = [other.holds(point) for point in one.points]
            back = [one.holds(point) for point in other.points]
            if any(inside) and not all(inside) and any(back) and not all(back):
                return True
    return False


def _falls_apart(mesh: Mesh, loop: Loop, plane: Plane) -> bool:
    """True when, within a local radius up or down, two or more limbs lie where this one loop was."""
    for share in (0.25, -0.25, 0.5, -0.5, 0.75, -0.75, 1.0, -1.0):
        beyond = cut(mesh, Plane(loop.centroid + share * loop.radius * plane.normal, plane.normal))
        limbs = [
            one for one in beyond.loops if one.closed and one.area > LEAST_PART * loop.area and loop.holds(one.centroid)
        ]
        apart = [one for one in limbs if not any(other.holds(one.points[0]) for other in limbs if other is not one)]
        if len(apart) > 1:
            return True
    return False


def usual_radius(mesh: Mesh, start: np.ndarray, end: np.ndarray) -> float | None:
    """The limb's own local radius about half-way down a bone from start (3,) to end (3,), metres; None where no flesh
    is there. Median of five sections square to the bone, from 0.4 to 0.6 of its length."""
    start, end = require.vector(start, "a bone's start"), require.vector(end, "a bone's end")
    along = unit(end - start, "a bone")
    radii = []
    for share in (0.4, 0.45, 0.5, 0.55, 0.6):
        place = start + share * (end - start)
        held = cut(mesh, Plane(place, along)).holding(place)
        if held.loop is not None and held.state in (INSIDE, OUTSIDE):
            radii.append(held.loop.radius)
    return float(np.median(radii)) if radii else None


def bisecting(positions: np.ndarray, joint: int) -> np.ndarray:
    """The unit direction (3,) along a chain (k, 3) at one of its joints: half-way between its two bones."""
    before = positions[joint] - positions[joint - 1] if joint > 0 else None
    after = positions[joint + 1] - positions[joint] if joint + 1 < len(positions) else None
    arrows = [unit(arrow, "a bone") for arrow in (before, after) if arrow is not None]
    middle = np.sum(arrows, axis=0)
    return unit(middle) if np.linalg.norm(middle) > STORED else arrows[0]  # folded flat: along the upper bone


@dataclass(frozen=True, eq=False)
class Middles:
    """Where the middle of the flesh is for each joint of a chain: places (k, 3), metres; why some could not be told
    (states, a word for each); how many rounds it took; the greatest last movement in metres; whether all stand."""

    positions: np.ndarray
    states: tuple[str, ...]
    rounds: int
    moved: float
    stands: bool


def middles(
    mesh: Mesh, positions: np.ndarray, kept: Collection[int] = (), most: int = 50, still: float = STORED
) -> Middles:
    """ "The middle is here": put each joint of a chain to the middle of its section, again and again, until all stand.

    positions: (k, 3), from root to end; each inner joint is cut half-way between its two bones, the first and last
    squarely to their bone. kept: joints that stay (a shoulder, where a region decides). A joint whose middle cannot
    be told stays too, and says why. still: metres; when no joint moves by more it is done.

    >>> from rigkit.limbs import practice_arm
    >>> arm = practice_arm(7)
    >>> found = middles(arm.mesh, arm.key.positions[:3] + [[0, 0, 0], [0, 0, 0.02], [0, 0, 0.008]], kept=[0])
    >>> bool(np.linalg.norm(found.positions[1] - arm.key.positions[1]) < 0.001)
    True
    """
    places = np.array(require.points(positions, "a chain's joints"))
    if len(places) < 2:
        raise RigError("a chain of two joints or more", f"{len(places)}", where="a chain")
    most, still = int(require.number(most, "how many rounds", 1, 10_000)), require.number(still, "how still", 0.0)
    for joint in kept:
        require.number(joint, "a joint that stays", 0, len(places) - 1)
    states = [INSIDE] * len(places)
    widths = [usual_radius(mesh, a, b) for a, b in zip(places[:-1], places[1:], strict=True)]
    moved, rounds = np.inf, 0
    while moved > still and rounds < most:
        rounds, before = rounds + 1, places.copy()
        for joint in range(len(places)):
            if joint in kept:
                continue
            own = [w for w in widths[max(joint - 1, 0) : joint + 1] if w is not None]
            here = flesh_at(mesh, places[joint], bisecting(places, joint), max(own, default=None))
            states[joint] = here.state
            if here.offset is not None:
                places[joint] = places[joint] - here.offset
        moved = float(np.abs(places - before).max())
    return Middles(require.frozen(places), tuple(states), rounds, moved, moved <= still)
