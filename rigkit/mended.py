"""Mended layouts: a layout and findings -> the layout with what their mends say done, each once."""

from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from rigkit.edits import removed
from rigkit.files.exercise import Exercise
from rigkit.files.layout import Layout
from rigkit.matching import match
from rigkit.measures.structure import labels
from rigkit.mended_frames import mended_frames
from rigkit.rubric import Finding
from rigkit.skeleton import Skeleton


def mended(layout: Layout, exercise: Exercise, findings: Iterable[Finding]) -> Layout:
    """The layout after the mends of some of its findings: moves, new names and parents, joints added and taken out.

    Example: `mended(layout, exercise, mark(layout, exercise).findings)` is the layout of a student who did all of it.
    """
    skeleton, findings = layout.skeleton, list(findings)
    matched = match(skeleton, exercise)
    joints, called = dict(matched.joints), {label: number for number, label in labels(skeleton, matched).items()}
    known = called | joints
    places, names, parents = skeleton.positions.copy(), list(skeleton.names), list(skeleton.parents)
    rotations, gone = list(skeleton.rotations), set[int]()
    added: list[tuple[int, list[int]]] = []
    world_from_body = exercise.body.T * [-1.0 if exercise.side == "right" else 1.0, 1.0, 1.0] / 1000
    for role, move in sorted({one for finding in findings if finding.change[:1] != ("add",) for one in finding.moves
                              if one[0] in known}):  # fmt: skip
        places[known[role]] += world_from_body @ move
    for finding in findings:
        what, *words = finding.change or ("",)
        if what == "name":
            names[joints[finding.joint]] = words[0]
        elif what == "parent":
            parents[joints[finding.joint]] = joints.get(words[0])
        elif what == "hang":
            for label in words[1:]:
                parents[known[label]] = joints[words[0]]
        elif what == "remove":
            gone |= {called[label] for label in words}
        elif what == "add" and finding.moves:
            name, above, anchor, *carried = words
            places = np.vstack([places, places[joints[anchor]] + world_from_body @ finding.moves[0][1]])
            names.append(name)
            parents.append(joints.get(above))
            rotations.append(None)
            added.append((len(names) - 1, [joints[role] for role in carried if role]))
    for number, below in added:
        for joint in below:
            parents[joint] = number
    done, bases = Skeleton(tuple(names), tuple(parents), places, tuple(rotations)), layout.bases
    for number in sorted(gone, reverse=True):
        done = removed(done, number)
    if bases is not None:
        bases = np.delete(np.concatenate([bases, np.tile(np.eye(3), (len(added), 1, 1))]), sorted(gone), axis=0)
    return mended_frames(replace(layout, skeleton=done, bases=bases), exercise, findings)
