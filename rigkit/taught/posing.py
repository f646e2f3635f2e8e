"""A limb with its joints turned: skeleton (j, 3), a turn for some joints -> places (j, 3), and skin carried by heat."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from rigkit.bench import Bench
from rigkit.files.exercise import Exercise
from rigkit.frames import Frame, rotation_about
from rigkit.heat import heat_weights
from rigkit.mesh import Mesh
from rigkit.openings import open_exercise
from rigkit.skeleton import Skeleton
from rigkit.skin import bend_skin, bone_frame
from rigkit.vectors import unit

STUB = 0.05
"""Metres of bone above the root joint that hold the flesh there still."""


def looked_at(what: Bench | str, start: str = "") -> tuple[Exercise, Skeleton]:
    """The exercise and the joints of a bench, or of a start layout of an exercise by its id."""
    if isinstance(what, Bench):
        return what.exercise, what.skeleton
    exercise = open_exercise(what)
    return exercise, exercise.start(start).skeleton


def turned(skeleton: Skeleton, turns: Mapping[int, tuple[np.ndarray, float]]) -> tuple[list[Frame], np.ndarray]:
    """Turn joints about axes (3,) given at rest, radians, and let what hangs on them follow.

    Returns for each joint the frame from where its flesh was to where it is, and all places (j, 3).

    >>> arm = Skeleton(["a", "b", "c"], [None, 0, 1], [[0, 2, 0], [0, 1, 0], [0, 0, 0]])
    >>> turned(arm, {1: (np.array([1.0, 0, 0]), -np.pi / 2)})[1][2].round(6).tolist()
    [0.0, 1.0, 1.0]
    """
    frames: dict[int, Frame] = {}
    for joint in sorted(range(len(skeleton)), key=skeleton.depth):
        parent, rest = skeleton.parents[joint], skeleton.positions[joint]
        above = frames[parent] if parent is not None else Frame(np.eye(3), np.zeros(3))
        own = rotation_about(*turns[joint]) if joint in turns else np.eye(3)
        frames[joint] = bone_frame(rest, above @ rest, above.rotation @ own)
    every = [frames[joint] for joint in range(len(skeleton))]
    return every, np.array([frame @ place for frame, place in zip(every, skeleton.positions, strict=True)])


def carried(mesh: Mesh, skeleton: Skeleton, frames: Sequence[Frame]) -> Mesh:
    """The mesh carried by joints' frames, as `turned` gives them; weights by heat. Above the root the flesh stays as it
    is."""
    places, bones, holders = skeleton.positions, [], []
    for joint, parent in enumerate(skeleton.parents):
        if parent is None:
            first = places[skeleton.children(joint)[0]]
            bones.append([places[joint], places[joint] + STUB * unit(places[joint] - first)])
            holders.append(Frame(np.eye(3), frames[joint] @ places[joint] - places[joint]))
        else:
            bones.append([places[parent], places[joint]])
            holders.append(frames[parent])
    return bend_skin(mesh, heat_weights(mesh, np.array(bones)).weights, holders)
