"""Faults of twist joints put into right layouts: on a bone, evenly, but for one that stands off its place, off the line, or
carries a branch."""

from collections.abc import Iterator

import numpy as np

from rigkit.files.layout import Layout
from tests.proof.case import ANY, CLEAR, GROSS, JUST, TRIES, Case, pick
from tests.proof.ground import STANDARD, Ground, any_way, unit

RUBRIC = STANDARD["structure"]
CLEAR_OF = 1.2 * RUBRIC["doubled_mm"] / 1000  # metres: nearer to an asked joint another one is its double
LONG = {"elbow", "wrist", "knee", "ankle"}  # where the bone above is one that shares its turn (common practice)


class Twisted:
    """A bone of the key with so many twist joints: beside it, or between its ends; named so, or by a number alone."""

    def __init__(self, g: Ground, chance):
        self.g, self.child = g, pick(chance, [i for i, parent in enumerate(g.parents) if parent is not None])
        self.start, count = g.parents[self.child], len(g.roles)
        self.stations = np.arange(1, (many := int(chance.integers(1, 4))) + 1) / (many + 1)
        self.bone = g.places[self.child] - g.places[self.start]
        plain = g.roles[self.child] in LONG and chance.uniform() < 0.5
        self.names = [f"joint_{count + i}" if plain else f"{g.names[self.child]}_twist_{i}" for i in range(many)]
        self.chained, self.one = bool(chance.integers(2)), int(chance.integers(many))
        self.places = g.places[self.start] + self.stations[:, None] * self.bone
        self.plain = plain

    def clear(self) -> bool:
        """Whether no twist joint lies so near to an asked one that it would be taken for its double."""
        gaps = np.linalg.norm(self.places[:, None] - self.g.places[None], axis=2)
        return bool(gaps.min() > CLEAR_OF)

    def radius(self) -> float:
        """The local radius half-way between the radii at the bone's ends, by the station of the chosen joint."""
        start, end = (self.g.radius(self.g.roles[i]) for i in (self.start, self.child))
        return float(start + self.stations[self.one] * (end - start))

    def layout(self, more: tuple[str, np.ndarray] | None = None, hung: int | None = None) -> Layout:
        """The hand-in; `more` hangs on the chosen twist joint, or the asked joint `hung` does."""
        first, parents = len(self.g.roles), list(self.g.parents)
        names, places = [*self.g.names, *self.names], np.vstack([self.g.places, self.places])
        parents += [first + i - 1 if self.chained and i else self.start for i in range(len(self.names))]
        if self.chained:
            parents[self.child] = len(names) - 1
        if more is not None:
            names, places, parents = [*names, more[0]], np.vstack([places, more[1]]), [*parents, first + self.one]
        if hung is not None:
            parents[hung] = first + self.one
        return self.g.layout(places, names, parents)


def drawn(g: Ground, chance, change=lambda one: True) -> Twisted | None:
    """Twist joints on some bone, changed so that they are clear of the asked joints; None where there is no room."""
    for _ in range(TRIES):
        one = Twisted(g, chance)
        if change(one) and one.clear():
            return one
    return None


def twist_uneven(g: Ground, chance) -> Iterator[Case]:
    """One twist joint slid along its bone, not past its neighbours."""
    allowed, failing = RUBRIC["twist_allowed"], RUBRIC["twist_failing"]
    for size, share in ((JUST, 1.05 * allowed), (CLEAR, 0.5 * (allowed + failing)), (GROSS, 1.05 * failing)):

        def slid(one: Twisted, share=share) -> bool:
            ends = [0.05, *one.stations, 0.95]
            station = one.stations[one.one] + pick(chance, [share, -share])
            one.places[one.one] = g.places[one.start] + station * one.bone
            return ends[one.one] < station < ends[one.one + 2]

        if one := drawn(g, chance, slid):
            yield Case("twist-uneven", size, (one.names[one.one],), one.layout())


def twist_off_line(g: Ground, chance) -> Iterator[Case]:
    """One twist joint moved square to its bone; named so, for else it is a helper beside the bone."""
    allowed, failing = RUBRIC["twist_off_allowed"], RUBRIC["twist_off_failing"]
    for size, share in ((JUST, 1.05 * allowed), (CLEAR, 0.5 * (allowed + failing)), (GROSS, 1.1 * failing)):

        def aside(one: Twisted, share=share) -> bool:
            way = any_way(chance)
            way = unit(way - way @ one.bone / (one.bone @ one.bone) * one.bone)
            one.places[one.one] += share * one.radius() * way
            return not one.plain

        if one := drawn(g, chance, aside):
            yield Case("twist-off-line", size, (one.names[one.one],), one.layout())


def twist_carries(g: Ground, chance) -> Iterator[Case]:
    """A joint that was not asked for hung on a twist joint, or the next finger's first joint."""
    if one := drawn(g, chance):
        place = one.places[one.one] + 0.3 * one.radius() * any_way(chance)
        if np.linalg.norm(g.places - place, axis=1).min() > CLEAR_OF:
            yield Case("twist-carries", ANY, (one.names[one.one],), one.layout(("prop", place)))
    forked = [i for i in range(len(g.roles)) if len(g.below(i)) > 1]
    if forked and (one := drawn(g, chance, lambda one: one.start in forked)):
        other = pick(chance, [i for i in g.below(one.start) if i != one.child])
        yield Case("twist-carries", ANY, (one.names[one.one],), one.layout(hung=other))
