"""Bend: how far a middle joint lies off the line of its neighbours, along the fold direction and sideways of it."""

from collections.abc import Mapping
from functools import lru_cache

import numpy as np

from rigkit.files.exercise import AskedJoint, Exercise
from rigkit.kinematics import rest_bend
from rigkit.measures.base import Measurement, is_end, measured, own, three
from rigkit.require import RigError


def measure(asked: AskedJoint, places: dict[str, np.ndarray], exercise: Exercise) -> list[Measurement]:
    """bend and bend-sideways in mm and shares of the line, the line in mm, the flexion in degrees, the verdict; the
    shares that the exercise asks for; the directions they count in. Nothing where a neighbour is missing. A limb's end
    that need not be there spoils no bend: it counts as if in its own place (bend-held)."""
    fold, role = asked.fold, asked.role
    if fold is None or not all(neighbour in places for neighbour in fold.between):
        return []
    held, known = _known(exercise)[role]
    root, end = (own(exercise)[one].middle if one in held else places[one] for one in fold.between)
    try:
        bend = rest_bend(root, places[role], end, fold.away, fold.straight)
    except RigError:  # the neighbours coincide, or their line runs along the fold direction
        return [
            measured(role, "bend-verdict", "no line", "text"),
            measured(role, "bend-from", fold.between[0], "text"),
            measured(role, "bend-to", fold.between[1], "text"),
        ]
    line, away, side = bend.frame
    return [
        measured(role, "bend", 1000 * bend.along, "mm"),
        measured(role, "bend-sideways", 1000 * bend.sideways, "mm"),
        measured(role, "bend-line", 1000 * bend.line, "mm"),
        measured(role, "bend-share", bend.along / bend.line, "share"),
        measured(role, "bend-sideways-share", bend.sideways / bend.line, "share"),
        measured(role, "bend-flexion", np.degrees(bend.flexion), "deg"),
        measured(role, "bend-verdict", bend.verdict, "text"),
        *known,
        measured(role, "bend-station", float((places[role] - root) @ line) / bend.line, "share"),
        *three(role, "bend-away", away, exercise, "share"),
        *three(role, "bend-side", side, exercise, "share"),
    ]


@lru_cache(maxsize=8)
def _known(exercise: Exercise) -> Mapping[str, tuple[list[str], list[Measurement]]]:
    """Of each joint that folds, from the exercise: the ends that count as if in their own places; the shares asked for,
    the neighbours, how far its own middle lies off its neighbours' own line, and the local radius there."""
    found = {}
    for role, fold in ((one.role, one.fold) for one in exercise.joints if one.fold is not None):
        held = [one for one in fold.between if exercise.asked(one).need == "optional" and is_end(one, exercise)]
        rows = [
            measured(role, "bend-straight", fold.straight, "share"),
            measured(role, "bend-least", fold.least, "share"),
            measured(role, "bend-most", fold.most, "share"),
            measured(role, "bend-from", fold.between[0], "text"),
            measured(role, "bend-to", fold.between[1], "text"),
            *(measured(role, "bend-held", one, "text") for one in held),
        ]
        here = own(exercise)[role]
        if here.bend is not None and here.radius is not None:
            rows += [measured(role, "bend-own", 1000 * here.bend, "mm"),
                     measured(role, "bend-own-sideways", 1000 * here.sideways, "mm"),
                     measured(role, "bend-own-radius", 1000 * here.radius, "mm")]  # fmt: skip
        found[role] = held, rows
    return found
