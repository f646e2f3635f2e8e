"""Likeness: places of a class's joints, (n, k, 3), in mm -> pairs that share several, and how likely chance is at work.

Only joints that count are compared; the rest of the class says how crowded it is where two of them meet. All bounds err
towards chance: no joint counts for more than one in three thousand, and one joint alone never makes a pair.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import comb, prod

import numpy as np

NEAR = 1.8
"""mm: two joints share a place within a bench's step of 1 mm on each axis; honest habits differ by more."""
RAREST = 3e-4
"""No joint counts for less chance than this: a habit that we do not know of may lead two to one place (our choice)."""
UNMOVED = 0.1
"""mm: nearer to the start's place than this a joint was not moved along that axis: half of a bench's small step."""
CROWD = 0.2
"""Share of a class: what more than this many have in common has a common source, and tells nothing of two (ours)."""


@dataclass(frozen=True, eq=False)
class Places:
    """What is known of n hand-ins and k joints. places (n, k, 3): mm, NaN where a joint is missing. counts (n, k): the
    joint is wrong or free. off (n, k, 3): how it lies from its middle, mm. ring (n, k): how much of that is right, mm.
    starts (s, k, 3): where the joints lay before anyone moved them, mm; what still lies so is nobody's choice.
    odd (n, n): how likely chance explains the odd names and parents that two share, 1 where they share none. one_limb:
    all worked on one limb, so that a joint has to count in both hand-ins of a pair; else in one of them."""

    places: np.ndarray
    counts: np.ndarray
    off: np.ndarray
    ring: np.ndarray
    starts: np.ndarray
    odd: np.ndarray
    one_limb: bool = True

    def chosen(self, one: int, joint: int, seen: Sequence[int] = (), moved: bool = False) -> np.ndarray:
        """Along which axes (3,) a joint's place is its owner's choice: not where it still lies as at a start, nor, with
        one of the joints already `seen`, where it went along with that. moved: the whole limb was, so that only what a
        joint is to those seen says anything."""
        here, there = self.places[one, joint], self.starts[:, joint]
        same = np.zeros(3, dtype=bool) if moved else np.any(np.abs(here - there) <= UNMOVED, axis=0)
        for other in seen:
            steps = here - self.places[one, other] - (there - self.starts[:, other])
            same |= np.any(np.abs(steps) <= UNMOVED, axis=0)
        return ~same


@dataclass(frozen=True)
class Pair:
    """Two hand-ins, by number; the joints that count which they share, by number, how far apart each lies in the two,
    and how far off the next one of the class, mm; shift (3,): by how much the second is moved as a whole, mm, or None;
    chance: that two honest ones share as much, in this class."""

    first: int
    second: int
    joints: tuple[int, ...]
    apart: tuple[float, ...]
    next: tuple[float, ...]
    shift: tuple[float, float, float] | None
    chance: float


def chance_near(place: np.ndarray, others: np.ndarray) -> float:
    """How likely another honest place lies within NEAR of this one (d,), mm, judged by those of others (m, d).

    The densest of all balls about the place decides, each with one more in it than there is, and shrunk to NEAR as
    evenly filled; never under RAREST. Without an axis it is 1.

    >>> chance_near(np.zeros(2), np.full((9, 2), 15.0)) < chance_near(np.zeros(2), np.full((9, 2), 3.0)) < 1.0
    True
    """
    count, axes = others.shape
    if not axes:
        return 1.0
    far = np.sort(np.linalg.norm(others - place, axis=1))
    far = far[np.isfinite(far)]
    within = (np.arange(len(far)) + 2.0) / (count + 1.0)
    return float(max(RAREST, np.max(within * np.minimum(1.0, NEAR / np.maximum(far, NEAR)) ** axes, initial=0.0)))


def pairs(known: Places, worth: float = 1.0) -> list[Pair]:
    """All pairs of hand-ins that share the places of two joints or more which count, as they are or shifted as one, and
    do so with a chance of `worth` at most."""
    one, two = np.triu_indices(len(known.places), 1)
    gone = known.places[two] - known.places[one]  # NaN where a joint is missing, which is near to nothing
    both = known.counts[one] & known.counts[two] if known.one_limb else known.counts[one] | known.counts[two]
    counted, found = both.sum(axis=1), []
    for anchor in (None, *range(gone.shape[1])):
        shared = both & _near(known, gone, one, two, anchor)
        for row in np.flatnonzero(shared.sum(axis=1) >= 2).tolist():
            joints = np.flatnonzero(shared[row]).tolist()
            tries = comb(int(counted[row]), len(joints)) * (1 if anchor is None else len(joints) + 1)
            tries *= known.odd[one[row], two[row]]
            if tries * RAREST ** len(joints) <= worth:
                pair = _pair(known, int(one[row]), int(two[row]), joints, anchor, tries)
                found += [pair] if pair.chance <= worth else []
    return found


def _near(known: Places, gone: np.ndarray, one: np.ndarray, two: np.ndarray, anchor: int | None) -> np.ndarray:
    """Which joints two have in one place (pairs, k): as they are, or both seen from a joint that lies elsewhere in the
    two, and wrongly so in each."""
    if anchor is None:
        return np.linalg.norm(gone, axis=2) <= NEAR
    near = np.linalg.norm(gone - gone[:, anchor : anchor + 1], axis=2) <= NEAR
    near &= np.linalg.norm(gone[:, anchor], axis=1)[:, None] > NEAR  # else they are alike as they are
    near[:, anchor] = False
    wrong = np.linalg.norm(known.off - known.off[:, anchor : anchor + 1], axis=2) > known.ring
    return near & wrong[one] & wrong[two]


def _pair(known: Places, one: int, two: int, joints: list[int], anchor: int | None, tries: float) -> Pair:
    """Two hand-ins that share joints, of so many ways to do so; of each joint's two places the likelier counts."""
    places = known.places if anchor is None else known.places - known.places[:, anchor : anchor + 1]
    rest = np.delete(np.arange(len(places)), [one, two])
    far = np.linalg.norm(places[rest][:, joints] - places[one, joints], axis=2)
    alike = np.all(far <= NEAR, axis=1)
    if alike.sum() <= CROWD * len(places) - 2:
        rest, far = rest[~alike], far[~alike]  # of the same group, if it is one: they tell nothing of chance
    chance, seen = tries, [] if anchor is None else [anchor]
    for joint in joints:
        axes = np.logical_and(*(known.chosen(here, joint, seen, anchor is not None) for here in (one, two)))
        seen.append(joint)
        chance *= max(chance_near(places[here, joint, axes], places[rest, joint][:, axes]) for here in (one, two))
    apart = np.linalg.norm(places[two, joints] - places[one, joints], axis=1)
    following = np.min(np.where(np.isnan(far), np.inf, far), axis=0, initial=np.inf)
    shift = None if anchor is None else tuple((known.places[two, anchor] - known.places[one, anchor]).tolist())
    return Pair(one, two, tuple(joints), tuple(apart.tolist()), tuple(following.tolist()), shift, min(1.0, chance))


def at_best(known: Places, one: int) -> float:
    """The least chance that a copy of all its joints could come to: what cannot be told from chance stays above it."""
    rest = np.delete(np.arange(len(known.places)), one)
    each, seen = list[float](), list[int]()
    for joint in np.flatnonzero(known.counts[one]).tolist():
        axes = known.chosen(one, joint, seen)
        seen.append(joint)
        others = known.places[rest, joint][:, axes]
        far = np.linalg.norm(others - known.places[one, joint, axes], axis=1)
        each.append(chance_near(known.places[one, joint, axes], others[far > NEAR]))
    return prod(each) if len(each) >= 2 else 1.0
