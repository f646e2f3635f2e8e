"""Orlo's left arm for tests: the exercise, read once, and layouts made from its key by one change."""

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np

from rigkit.files.exercise import Exercise, read_exercise
from rigkit.files.layout import METRES, Axes, Layout
from rigkit.frames import Frame
from rigkit.skeleton import Skeleton

PROJECT = Path(__file__).resolve().parent.parent
FOLDER = PROJECT / "data" / "exercises" / "left-arm"
ROLES = ("shoulder", "elbow", "wrist")


@cache
def arm() -> Exercise:
    """The exercise left-arm."""
    return read_exercise(FOLDER)


def layout(skeleton: Skeleton) -> Layout:
    """A hand-in for the exercise."""
    return Layout("wren", "left-arm", 1, skeleton)


def shifted(role: str, millimetres) -> Layout:
    """The key with one joint shifted by (left, up, forward) in mm."""
    skeleton = arm().key.skeleton
    number = ROLES.index(role)
    return layout(skeleton.moved(number, skeleton.positions[number] + np.array(millimetres) / 1000))


def named(*names: str) -> Layout:
    """The key under other names."""
    skeleton = arm().key.skeleton
    return layout(replace(skeleton, names=names))


def with_joint(name: str, parent: int | None, position, above: int | None = None) -> Layout:
    """The key with one joint more; the joint numbered `above`, if any, hangs on it instead."""
    skeleton = arm().key.skeleton
    parents = tuple(3 if i == above else p for i, p in enumerate(skeleton.parents))
    return layout(
        Skeleton(
            (*skeleton.names, name), (*parents, parent), np.vstack([skeleton.positions, np.asarray(position, float)])
        )
    )


def as_file(skeleton: Skeleton, axes: Axes) -> Skeleton:
    """The skeleton's numbers as a file in other units and axes holds them."""
    turned = skeleton.transformed(Frame(axes.turn.T, np.zeros(3)))
    return turned.at(turned.positions / METRES[axes.units])


def carried(exercise: Exercise, frame: Frame) -> Exercise:
    """The whole exercise moved rigidly: mesh, stretches, planes, regions, fold directions and the body itself."""
    joints = []
    for asked in exercise.joints:
        fold = asked.fold and replace(asked.fold, away=frame.rotation @ asked.fold.away)
        joints.append(
            replace(
                asked,
                plane=None if asked.plane is None else frame.rotation @ asked.plane,
                stretch=None if asked.stretch is None else frame @ asked.stretch,
                centre=None if asked.centre is None else frame @ asked.centre,
                fold=fold,
            )
        )
    body = exercise.body @ frame.rotation.T
    return replace(exercise, mesh=exercise.mesh.moved(frame), joints=tuple(joints), body=body)
