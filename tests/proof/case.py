"""One hand-in with one fault, made from a limb's own key; sizes of faults, and how a key is changed."""

from dataclasses import dataclass

import numpy as np

from rigkit.files.exercise import Exercise
from rigkit.files.layout import Layout
from tests.proof.ground import Ground

JUST, CLEAR, GROSS, ANY = "just", "clear", "gross", "any"
TRIES = 60  # draws of a joint and a way until there is room for the fault


@dataclass(frozen=True)
class Case:
    """A hand-in with one fault: which finding it must have, at which of the joints, and how large the fault is."""

    finding: str
    size: str
    joints: tuple[str, ...]
    layout: Layout
    exercise: Exercise | None = None
    """Where it is another than the limb's own: with frames judged, or both sides asked for."""
    spared: frozenset[str] = frozenset()
    """Criteria that must take nothing, though the finding's own exceptions name them."""


def pick(chance, options):
    """One of some options."""
    return list(options)[int(chance.integers(len(options)))]


def moved(g: Ground, role: str, to: np.ndarray) -> np.ndarray:
    """The key's places with one joint elsewhere."""
    places = g.places.copy()
    places[g.number[role]] = to
    return places


def with_one_more(g: Ground, name: str, parent: int | None, place: np.ndarray) -> Layout:
    return g.layout(np.vstack([g.places, place]), (*g.names, name), (*g.parents, parent))


def without(g: Ground, gone: int) -> Layout:
    """The key without one joint; what hung on it hangs on the one above."""
    left = [i for i in range(len(g.roles)) if i != gone]
    above = [g.parents[gone] if g.parents[i] == gone else g.parents[i] for i in left]
    new = {old: i for i, old in enumerate(left)}
    return g.layout(g.places[left], [g.names[i] for i in left], [None if p is None else new[p] for p in above])
