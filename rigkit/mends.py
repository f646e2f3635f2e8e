"""Mends: from what was measured of a joint, the move (3,) in mm (out, up, forward) that cures it, and its words."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import ROUND_HALF_UP, Decimal

import numpy as np

from rigkit.files.rubrics import Rubric
from rigkit.measures.base import ASTRAY
from rigkit.section import OUTSIDE

WAYS = (("out", "in"), ("up", "down"), ("forward", "back"))
SIDES = {  # what "off the line" is called on either side, by the way that leads there
    "out": "on the outer side of", "in": "on the inner side of", "up": "above", "down": "below",
    "forward": "in front of", "back": "behind",
}  # fmt: skip
MARGIN = 0.9  # mm beyond the edge of what is allowed: three parts rounded to 1 mm are together at most 0.87 mm off


@dataclass(frozen=True, eq=False)
class Bend:
    """The bend of a middle joint in mm: how far it lies along the fold and sideways of it, the length of its
    neighbours' line and the share of it at which it stands; the least and most along and the most sideways that are
    right; the unit directions of fold and side (3,) in (out, up, forward)."""

    along: float
    sideways: float
    line: float
    station: float
    least: float
    most: float
    askew: float
    away: np.ndarray
    side: np.ndarray

    def within(self, along: float, margin: float = 0.0) -> float:
        """The nearest right amount of bend."""
        margin = min(margin, 0.49 * (self.most - self.least))
        return min(max(along, self.least + margin), self.most - margin)

    def after(self, here: np.ndarray, root: np.ndarray, end: np.ndarray) -> "Bend":
        """The bend after moves (3,) in mm of the joint and of its neighbours."""
        shift = here - (1.0 - self.station) * root - self.station * end
        return replace(self, along=self.along + float(shift @ self.away),
                       sideways=self.sideways + float(shift @ self.side))  # fmt: skip

    @property
    def right(self) -> bool:
        """Whether nothing is wrong with it."""
        return self.least <= self.along <= self.most and abs(self.sideways) <= self.askew


def parts(facts: Mapping, measure: str) -> np.ndarray:
    """The three parts (out, up, forward) of a measured arrow."""
    return np.array([facts[f"{measure}-{way}"] for way in ("out", "up", "forward")])


def bend_limits(
    line: float, least: float, most: float, own: float | None, aside: float, radius: float | None, rubric: Rubric
) -> tuple[float, float, float]:
    """The least and most bend along the fold, and the most sideways, that are right, in the unit of `line`.

    line: between the neighbours; least, most: shares of it. But where the limb as modelled bends rightly, by `own`
    along the fold and `aside` of it, nothing that the ring about the joint's own middle allows, with its local
    `radius`, is a fault of its bend.
    """
    least, most, ring = least * line, most * line, rubric["centring.allowed"] * (radius or 0.0)
    if own is not None and least <= own <= most:
        least, most = min(least, own - ring), max(most, own + ring)
    return least, most, max(rubric["bend.sideways_allowed"] * line, ring + abs(aside))


def bend_of(facts: Mapping, rubric: Rubric) -> Bend | None:
    """The bend in mm from a joint's measurements, or None where it was not measured."""
    if "bend-line" not in facts:
        return None
    limits = bend_limits(facts["bend-line"], facts["bend-least"], facts["bend-most"], facts.get("bend-own"),
                         facts.get("bend-own-sideways", 0.0), facts.get("bend-own-radius"), rubric)  # fmt: skip
    return Bend(facts["bend"], facts["bend-sideways"], facts["bend-line"], facts["bend-station"],
                *limits, parts(facts, "bend-away"), parts(facts, "bend-side"))  # fmt: skip


def charged_offset(facts: Mapping) -> np.ndarray:
    """The offset (3,) in mm that centring is charged for: outside the flesh the whole; inside, the ring stretches along
    the fold as far as the limb as modelled needs to bend rightly."""
    offset = parts(facts, "offset")
    if facts["state"] in (OUTSIDE, ASTRAY) or "offset-along-fold" not in facts:
        return offset
    along, stretch = facts["offset-along-fold"], facts["ring-stretch"]
    forgiven = min(max(along, min(stretch, 0.0)), max(stretch, 0.0))
    return offset - forgiven * parts(facts, "fold-away")


def home(facts: Mapping) -> np.ndarray:
    """The move (3,) in mm to a joint's own place: its middle where it stands along the limb, or half-way down its
    stretch where there is none; on a limb modelled too straight or too bent, as far beside it as it must bend."""
    if "offset" not in facts:
        return parts(facts, "home")
    stretch = facts.get("ring-stretch", 0.0)
    beside = (stretch + np.sign(stretch) * MARGIN) * parts(facts, "fold-away") if stretch else 0.0
    return beside - parts(facts, "offset")


def bend_move(facts: Mapping, bend: Bend) -> np.ndarray:
    """The smallest move (3,) in mm of a middle joint that mends its bend: along one body direction if that will do."""
    move = np.zeros(3)
    if not bend.least <= bend.along <= bend.most:
        need = bend.within(bend.along, MARGIN) - bend.along
        way = np.zeros(3)
        axis = int(np.argmax(np.abs(bend.away)))
        way[axis] = np.sign(bend.away[axis])
        counts = float(way @ bend.away)
        move = need / counts * way if counts > 0.7 else need * bend.away
    if abs(bend.sideways) > bend.askew:
        edge = max(bend.askew - MARGIN, 0.5 * bend.askew)
        move = move + (np.sign(bend.sideways) * edge - bend.sideways) * bend.side
    return move


def rounded(move: np.ndarray, facts: Mapping, rubric: Rubric) -> np.ndarray:
    """A move as people read it: whole millimetres, tenths where a ring or a bend has room for a few only."""
    room, bend = rubric["centring.allowed"] * facts.get("radius", np.inf), bend_of(facts, rubric)
    if bend is not None:
        room = min(room, 0.5 * (bend.most - bend.least), bend.askew)
    return np.array([half_up(part, 0 if room > 4.0 * MARGIN else 1) for part in move])


def plan(faults: Mapping[str, frozenset[str]], table: Mapping[str, Mapping], rubric: Rubric) -> dict[str, dict]:
    """For each role whose place is at fault the moves that mend it: {role: {role to move: move (3,) in mm}}.

    faults: what is wrong with each role, of "centre" and "bend". A joint off centre goes to its own place. A bend that
    this does not mend is mended by the smallest move of its joint, if that stays in its ring; else by its own place;
    else its neighbours go to theirs, those first that help most, though each alone might pass.
    """
    moves = {role: home(table[role]) for role, wrong in faults.items() if "centre" in wrong}
    told: dict[str, dict] = {role: {role: moves[role]} for role in moves}
    still = np.zeros(3)
    for role in (role for role, wrong in faults.items() if "bend" in wrong):
        facts = table[role]
        bend, ends = bend_of(facts, rubric.of(role)), (facts["bend-from"], facts["bend-to"])
        held = facts.get("bend-held")
        if bend is None:  # no line: all to their places
            told[role] = {one: moves.setdefault(one, home(table[one])) for one in (role, *ends)}
            continue

        def now(bend=bend, places=(role, *ends), held=held) -> Bend:
            return bend.after(*(still if one == held else moves.get(one, still) for one in places))

        if not now().right and role not in moves:
            moves[role] = bend_move(facts, now())
            if not _in_ring(facts, moves[role], rubric.of(role)) or not now().right:
                moves[role] = home(facts)
        for end in sorted(ends, key=lambda end: end == ends[bend.station < 0.5]):
            if not now().right and end not in moves and end != held and "offset" in table[end]:
                moves[end] = home(table[end])
        alone = bend.after(moves.get(role, still), still, still).right
        told[role] = {one: moves[one] for one in (role, *(() if alone else ends)) if one in moves and one != held}
    return told


def _in_ring(facts: Mapping, move: np.ndarray, rubric: Rubric) -> bool:
    if "offset" not in facts:
        return True
    return float(np.linalg.norm(parts(facts, "offset") + move)) <= rubric["centring.allowed"] * facts["radius"]


def half_up(number: float, digits: int = 0) -> float:
    """Round half away from zero, on decimals, so that 0.05 is 0.1 on every machine."""
    step = Decimal(1).scaleb(-digits)
    return float(Decimal(repr(round(float(number), 9))).quantize(step, ROUND_HALF_UP)) + 0.0


def millimetres(number: float) -> str:
    """A length in words: whole millimetres, tenths under 1."""
    return apart(number)[0]


def apart(*numbers: float) -> list[str]:
    """Lengths in words that do not read alike unless they are: tenths, or finer, where whole millimetres would.

    >>> apart(11.2, 11.4), apart(15.3, 11.4)
    (['11.2 mm', '11.4 mm'], ['15 mm', '11 mm'])
    """
    sizes = [abs(number) for number in numbers]
    words = [f"{half_up(size, 0 if size >= 1 else 1):g} mm" for size in sizes]
    for digits in (1, 2, 3):
        if len(set(words)) == len(set(sizes)):
            break
        words = [f"{half_up(size, digits):.{digits}f} mm" for size in sizes]
    return words


def way_words(move: np.ndarray) -> str:
    """ "back 26 mm", "in 12 mm and up 3 mm": the parts of a move, largest first."""
    order = sorted((i for i in range(3) if move[i]), key=lambda i: (-abs(move[i]), i))
    words = [f"{WAYS[i][0 if move[i] > 0 else 1]} {abs(move[i]):g} mm" for i in order]
    return words[0] if len(words) == 1 else ", ".join(words[:-1]) + " and " + words[-1] if words else "nowhere"


def main_way(arrow: np.ndarray) -> str:
    """The one body direction that an arrow (3,) points to most."""
    axis = int(np.argmax(np.abs(arrow)))
    return WAYS[axis][0 if arrow[axis] > 0 else 1]
