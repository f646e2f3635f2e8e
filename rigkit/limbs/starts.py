"""Wrong on purpose: layouts (n, 3) that a lesson starts with, made from a limb's true joints; metres, world.

Those of the bundled arm are fixed, for lessons speak of them; those of any other limb are drawn from its seed, so that
no two limbs have the same answer.
"""

import numpy as np

from rigkit.limbs import limb_seed
from rigkit.limbs.base import PracticeLimb
from rigkit.limbs.loft import Draws
from rigkit.section import Plane, cut
from rigkit.skeleton import Skeleton
from rigkit.vectors import any_square_to

START_FORWARD = 0.015
"""Metres in front of the shoulder-wrist line: as far the wrong way as a healthy rest bend goes the right way."""
DRAWN_FORWARD = (0.006, 0.024)
"""The same where it is drawn, least and most: beyond what is too straight to tell, short of what nobody would do."""
OFF, WORST = (0.35, 1.0), (1.2, 1.6)
"""How far a joint is drawn off its place, in local radii, and how far the worst one: marks allow 0.2."""
NEAREST = 0.42
"""No joint goes further than this share of the way to the next one, so that each is still known by its place."""
FARTHEST = 0.11
"""Metres: nor further than a bench's sliders reach."""


def draws_of(limb: PracticeLimb) -> Draws:
    """The draws of a limb's starts, apart from those of its shape."""
    return Draws(limb_seed("starts", str(limb.seed)))


def bundled_scatter(limb: PracticeLimb, key: Skeleton) -> Skeleton:
    """Joints named right and placed wrong: the shoulder in the skin, the elbow before the arm, the wrist in the
    thumb's base."""
    shoulder, elbow, wrist = key.positions
    down = limb.planes["wrist"]
    out = np.array([1.0 if limb.side == "left" else -1.0, 0.0, 0.0])
    forward = np.array([0.0, 0.0, 1.0])
    top = 0.4 * shoulder + 0.6 * limb.landmarks["shoulder_top"]
    return key.at(
        np.array([
            top + 0.012 * out,
            elbow + 0.062 * forward - 0.02 * limb.planes["elbow"],
            wrist + 0.03 * down + 0.026 * forward,
        ])
    )  # fmt: skip


def drawn_scatter(limb: PracticeLimb, key: Skeleton, roles: tuple[str, ...], draws: Draws) -> Skeleton:
    """Joints named right and placed wrong, each its own way: across the limb and along it, or off its region's middle.

    roles: the key's. The right limb's are the mirror image of what the left one's would be.
    """
    flip = np.array([1.0 if limb.side == "left" else -1.0, 1.0, 1.0])
    gaps = np.sqrt(np.sum((key.positions[:, None] - key.positions) ** 2, axis=2))
    gaps = np.where(gaps > 0, gaps, np.inf).min(axis=1, initial=1.0)
    worst, steps = int(draws.between(0, len(key))), []
    for joint, (role, place) in enumerate(zip(roles, key.positions, strict=True)):
        share, turn, level = draws.between(*(WORST if joint == worst else OFF)), draws.between(0, 2 * np.pi), 0.0
        if role in limb.regions:
            radius, along = limb.regions[role][1], np.array([0.0, 1.0, 0.0])
            level = draws.between(-1, 1)
        else:
            loop = cut(limb.mesh, Plane(place, limb.planes[role])).holding(place).loop
            radius, along = (loop.radius if loop is not None else 0.0), limb.planes[role] * flip
        side = any_square_to(along)
        across = np.cos(turn) * side + np.sin(turn) * np.cross(along, side)
        way = np.sqrt(1 - level**2) * across + level * along
        if role not in limb.regions:
            way = way + draws.between(-0.6, 0.6) * along
        steps.append(flip * min(share * radius, min(NEAREST * gaps[joint], FARTHEST) / np.sqrt(way @ way)) * way)
    return key.at(key.positions + np.array(steps))


def forward_start(limb: PracticeLimb, key: Skeleton, forward: float = START_FORWARD) -> Skeleton:
    """The true joints of an arm, but for the elbow, moved along its fold direction until it lies `forward` metres
    before the line of its neighbours; named right."""
    shoulder, elbow, wrist = key.positions
    away, line = limb.away["elbow"], wrist - shoulder
    foot = shoulder + line * ((elbow - shoulder) @ line) / (line @ line)
    return key.moved(1, elbow - away * ((elbow - foot) @ away + forward))


def resting_start(limb: PracticeLimb, key: Skeleton) -> Skeleton:
    """An arm that folds the right way though nothing in it is quite in the middle: to look at, not to copy."""
    outward = np.array([1.0 if limb.side == "left" else -1.0, 0.0, 0.0])
    shift = np.array([0.012 * outward, 0.008 * limb.away["elbow"] + 0.006 * outward, 0.008 * outward])
    return key.at(key.positions + shift)
