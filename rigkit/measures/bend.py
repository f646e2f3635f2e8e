"""Bend: how far a middle joint lies off the line of its neighbours, along the fold direction and sideways of it."""

import numpy as np

from rigkit.files.exercise import AskedJoint, Exercise
from rigkit.kinematics import rest_bend
from rigkit.measures.base import Measurement, is_end, measured, own, three
from rigkit.require import RigError
from rigkit.vectors import along_and_across, unit


def measure(asked: AskedJoint, places: dict[str, np.ndarray], exercise: Exercise) -> list[Measurement]:
    """bend and bend-sideways in mm and shares of the line, the line in mm, the flexion in degrees, the verdict; the
    shares that the exercise asks for; the directions they count in. Nothing where a neighbour is missing. A limb's end
    that need not be there spoils no bend: it counts as if in its own place (bend-held)."""
    fold, role = asked.fold, asked.role
    if fold is None or not all(neighbour in places for neighbour in fold.between):
        return []
    held = [one for one in fold.between if exercise.asked(one).need == "optional" and is_end(one, exercise)]
    root, end = (own(exercise)[one].middle if one in held else places[one] for one in fold.between)
    try:
        bend = rest_bend(root, places[role], end, fold.away, fold.straight)
    except RigError:  # the neighbours coincide, or their line runs along the fold direction
        return [
            measured(role, "bend-verdict", "no line", "text"),
            measured(role, "bend-from", fold.between[0], "text"),
            measured(role, "bend-to", fold.between[1], "text"),
        ]
    line = unit(end - root)
    away = unit(along_and_across(fold.away, line)[1])
    return [
        measured(role, "bend", 1000 * bend.along, "mm"),
        measured(role, "bend-sideways", 1000 * bend.sideways, "mm"),
        measured(role, "bend-line", 1000 * bend.line, "mm"),
        measured(role, "bend-share", bend.along / bend.line, "share"),
        measured(role, "bend-sideways-share", bend.sideways / bend.line, "share"),
        measured(role, "bend-flexion", np.degrees(bend.flexion), "deg"),
        measured(role, "bend-verdict", bend.verdict, "text"),
        measured(role, "bend-straight", fold.straight, "share"),
        measured(role, "bend-least", fold.least, "share"),
        measured(role, "bend-most", fold.most, "share"),
        measured(role, "bend-from", fold.between[0], "text"),
        measured(role, "bend-to", fold.between[1], "text"),
        *(measured(role, "bend-held", one, "text") for one in held),
        *_own_bend(role, exercise),
        measured(role, "bend-station", float((places[role] - root) @ line) / bend.line, "share"),
        *three(role, "bend-away", away, exercise, "share"),
        *three(role, "bend-side", np.cross(line, away), exercise, "share"),
    ]


def _own_bend(role: str, exercise: Exercise) -> list[Measurement]:
    """How far its own middle lies off its neighbours' own line, and the local radius there: from the exercise."""
    here = own(exercise)[role]
    if here.bend is None or here.radius is None:
        return []
    return [measured(role, "bend-own", 1000 * here.bend, "mm"),
            measured(role, "bend-own-sideways", 1000 * here.sideways, "mm"),
            measured(role, "bend-own-radius", 1000 * here.radius, "mm")]  # fmt: skip
