"""Copies: a marked class -> pairs of hand-ins worth a conversation, what they share, and of whom nothing can be told.

A right joint proves nothing, since everybody has it: only what is wrong in both or left to each is compared, that is
joints off their middles, places in wide regions, joints more than were asked for, and names that no rule gives.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from math import floor, log10

import numpy as np

from rigkit import likeness
from rigkit.marking import Class
from rigkit.mends import half_up, millimetres
from rigkit.rubric_place import too_far
from rigkit.telling import Joint, Telling, starts_of, telling_of

LIMIT = 0.01
"""A pair is told of where fewer than one honest class in a hundred would hold one that shares as much."""
LEAST = 8  # hand-ins: fewer say too little of what is common in a class (our choice)
MOST_SURE = 10_000  # classes: more is never claimed


@dataclass(frozen=True)
class Alike:
    """Two hand-ins that are worth a conversation, by id: what both have, what else was seen, in sentences, and how many
    such pairs an honest class of this size is expected to hold."""

    first: str
    second: str
    both: tuple[str, ...]
    seen: tuple[str, ...]
    expected: float

    @property
    def words(self) -> str:
        """What can be said, and no more."""
        often = min(MOST_SURE, 1.0 / max(self.expected, 1e-9))
        often = floor(often / 10 ** floor(log10(often))) * 10 ** floor(log10(often))
        seen = "".join(f" {sentence}" for sentence in self.seen)
        return (f"{self.first} and {self.second}: worth a conversation. Both have {'; '.join(self.both)}.{seen} "
                f"By chance fewer than one honest class of this size in {often:,} would hold such a pair.")  # fmt: skip


@dataclass(frozen=True)
class Copies:
    """What a class shows: pairs, the least likely first; of how many hand-ins something can be told; `untold` the ids
    of the others, and why."""

    pairs: tuple[Alike, ...]
    told: int
    untold: tuple[str, ...]
    why: str

    def lines(self) -> list[str]:
        """All of it in lines to be read."""
        told = [one.words for one in self.pairs]
        if self.told and not told:
            told = [f"Of {self.told} hand-ins no two share more than chance explains."]
        if self.pairs:
            told.append("It proves nothing: two may have sat together, or followed the same example. Ask, then judge.")
        if self.untold:
            told.append(f"Cannot tell for {len(self.untold)}, since {self.why}: {', '.join(self.untold)}.")
        return told


def copies(room: Class) -> Copies:
    """Which hand-ins of a class are more alike than honest work explains. room: as marked; of each id the hand-in that
    counts is compared.

    Where all work on one limb, joints have to be wrong or free in both; where everyone has an own limb, in one of the
    two, for a layout that was made for another's limb is wrong in one's own.
    """
    starts = starts_of(room)
    given = {name for _, names in starts for name in names}
    sheets = [sheet for one in room.counting if (sheet := telling_of(one, room, given)) is not None]
    if len(sheets) < LEAST:
        return Copies((), 0, tuple(one.id for one in sheets), f"it takes {LEAST} hand-ins to see what is common")
    known = _places(sheets, starts, room.own is None)
    roles = _roles(sheets)
    tries = len(sheets) * (len(sheets) - 1)  # each pair as it is, and shifted
    found: dict[tuple[int, int], Alike] = {}
    for pair in likeness.pairs(known, LIMIT / tries):
        one, two, key = sheets[pair.first], sheets[pair.second], (pair.first, pair.second)
        if key not in found or tries * pair.chance < found[key].expected:
            rows = zip(pair.joints, pair.apart, pair.next, strict=True)
            off = max(one, two, key=lambda sheet: sheet.miss) if room.own else one
            both = [_told(roles[joint], off, *row) for joint, *row in rows] + sorted(one.odd & two.odd)
            found[key] = Alike(one.id, two.id, tuple(both), _seen(pair, one, two, room), tries * pair.chance)
    named = {number for key in found for number in key}
    untold = [one.id for number, one in enumerate(sheets)
              if number not in named and tries * likeness.at_best(known, number) > LIMIT]  # fmt: skip
    pairs = sorted(found.values(), key=lambda one: (one.expected, one.first, one.second))
    why = "too little of theirs is wrong or left to choice"
    return Copies(tuple(pairs), len(sheets) - len(untold), tuple(untold), why)


def _roles(sheets: Sequence[Telling]) -> list[str]:
    return sorted({role for one in sheets for role in one.joints})


def _places(sheets: Sequence[Telling], starts: Sequence, one_limb: bool) -> likeness.Places:
    """The sheets as arrays; a joint that is missing is NaN and does not count."""
    none = Joint(np.full(3, np.nan), np.zeros(3), 0.0, False)
    roles = _roles(sheets)
    rows = [[one.joints.get(role, none) for role in roles] for one in sheets]
    at = [[places.get(role, none.place) for role in roles] for places, _ in starts]
    return likeness.Places(
        np.array([[one.place for one in row] for row in rows]), np.array([[one.counts for one in row] for row in rows]),
        np.array([[one.off for one in row] for row in rows]), np.array([[one.ring for one in row] for row in rows]),
        np.array(at).reshape(-1, len(roles), 3), _chance_of_odd(sheets), one_limb,
    )  # fmt: skip


def _chance_of_odd(sheets: Sequence[Telling]) -> np.ndarray:
    """(n, n): how likely chance gives two the rarest oddity that they share, of all that either has; names come as
    habits, so one alone counts."""
    holders = Counter(odd for one in sheets for odd in one.odd)
    chances = np.ones((len(sheets), len(sheets)))
    for (i, one), (j, two) in combinations(enumerate(sheets), 2):
        if shared := one.odd & two.odd:
            rarest = min(holders[odd] for odd in shared) - 1
            chances[i, j] = min(1.0, max(len(one.odd), len(two.odd)) * rarest / (len(sheets) - 1))
    return chances


def _told(role: str, one: Telling, apart: float, following: float) -> str:
    """A joint that two share, in words: how it lies, how near to each other, how far off the next one of the class."""
    off = one.joints[role].off
    lies = f"the {role} {millimetres(float(np.linalg.norm(off)))} {too_far(off)}" if off.any() else f"a {role}"
    rest = f", the next of the class {millimetres(following)} off" if np.isfinite(following) else ""
    return f"{lies} ({half_up(apart, 1):.1f} mm apart{rest})"


def _seen(pair: likeness.Pair, one: Telling, two: Telling, room: Class) -> tuple[str, ...]:
    """What else is to be said of two, in sentences: moved, mirrored, made for whose limb."""
    told = []
    if pair.shift is not None:
        told.append(f"{two.id}'s is moved as a whole by {millimetres(float(np.linalg.norm(pair.shift)))}.")
    if one.mirrored != two.mirrored:
        told.append("One is the mirror image of the other.")
    if room.own is not None:
        told.append(f"It fits {min(one, two, key=lambda sheet: sheet.miss).id}'s limb better than the other's.")
    return tuple(told)
