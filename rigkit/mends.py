"""Mends: from what was measured of a joint, the move (3,) in mm (out, up, forward) that cures it, and its words."""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

import numpy as np

from rigkit.files.rubrics import Rubric
from rigkit.section import OUTSIDE

WAYS = (("out", "in"), ("up", "down"), ("forward", "back"))
SIDES = {  # what "off the line" is called on either side, by the way that leads there
    "out": "on the outer side of", "in": "on the inner side of", "up": "above", "down": "below",
    "forward": "in front of", "back": "behind",
}  # fmt: skip
MARGIN = 0.9  # mm beyond the edge of what is allowed: three parts rounded to 1 mm are together at most 0.87 mm off


@dataclass(frozen=True, eq=False)
class Bend:
    """The bend of a middle joint in mm: how far it lies along the fold, how far its middle of the flesh does, and
    the least and most that are right; the unit directions of fold and side (3,) in (out, up, forward)."""

    along: float
    centre: float
    least: float
    most: float
    line: float
    sideways: float
    away: np.ndarray
    side: np.ndarray

    def within(self, along: float, margin: float = 0.0) -> float:
        """The nearest right amount of bend."""
        margin = min(margin, 0.49 * (self.most - self.least))
        return min(max(along, self.least + margin), self.most - margin)


def parts(facts: Mapping, measure: str) -> np.ndarray:
    """The three parts (out, up, forward) of a measured arrow."""
    return np.array([facts[f"{measure}-{way}"] for way in ("out", "up", "forward")])


def bend_of(facts: Mapping) -> Bend | None:
    """The bend in mm from a joint's measurements, or None where it was not measured."""
    if "bend-line" not in facts:
        return None
    line = facts["bend-line"]
    centre = facts["bend"] - facts.get("offset-along-fold", 0.0)
    return Bend(facts["bend"], centre, facts["bend-least"] * line, facts["bend-most"] * line, line,
                facts["bend-sideways"], parts(facts, "bend-away"), parts(facts, "bend-side"))  # fmt: skip


def charged_offset(facts: Mapping) -> np.ndarray:
    """The offset (3,) in mm that centring is charged for.

    Outside the flesh: the whole. Inside, the ring stretches along the fold as far as the limb as modelled needs to
    bend rightly; and a bend is paid once: where it is at fault, what its mend would take off the rest of the offset
    along the fold is not charged.
    """
    offset = parts(facts, "offset")
    if facts["state"] == OUTSIDE or "offset-along-fold" not in facts:
        return offset
    along, stretch = facts["offset-along-fold"], facts["ring-stretch"]
    rest = along - min(max(along, min(stretch, 0.0)), max(stretch, 0.0))
    bend = bend_of(facts)
    need = 0.0 if bend is None else bend.within(bend.along) - bend.along
    if need * rest < 0.0:
        rest += float(np.sign(need)) * min(abs(need), abs(rest))
    return offset + (rest - along) * parts(facts, "fold-away")


def place_move(facts: Mapping, rubric: Rubric, faults: frozenset[str], own: bool = False) -> np.ndarray:
    """The move (3,) in mm, rounded, that cures the place of a joint. `faults` may hold "centre", "bend", "sideways".

    own: a neighbour has to move too, so the joint goes to its own middle, wherever the neighbours lie now.
    """
    bend = bend_of(facts)
    move = np.zeros(3)
    room = rubric["centring.allowed"] * facts.get("radius", np.inf)
    if "centre" in faults:
        if own or bend is None or "offset-along-fold" not in facts:
            stretch = facts.get("ring-stretch", 0.0)
            move = -parts(facts, "offset")
            if stretch:
                move = move + (stretch + np.sign(stretch) * MARGIN) * parts(facts, "fold-away")
        else:
            away = parts(facts, "fold-away")
            across = parts(facts, "offset") - facts["offset-along-fold"] * away
            move = (bend.within(bend.centre, MARGIN) - bend.along) * away - across
    elif bend is not None:
        if "bend" in faults:
            need = bend.within(bend.along, MARGIN) - bend.along
            way = np.zeros(3)
            axis = int(np.argmax(np.abs(bend.away)))
            way[axis] = np.sign(bend.away[axis])
            counts = float(way @ bend.away)
            move = need / counts * way if counts > 0.7 else need * bend.away
        if "sideways" in faults:
            edge = max(rubric["bend.sideways_allowed"] * bend.line - MARGIN, 0.0)
            move = move + (np.sign(bend.sideways) * edge - bend.sideways) * bend.side
    if bend is not None:
        room = min(room, 0.5 * (bend.most - bend.least))
    return np.array([half_up(part, 0 if room > 1.5 else 1) for part in move])


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
