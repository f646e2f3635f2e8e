"""Twist: how far a frame is turned about its bone (radians, signed), and twist joints that share a turn of a bone."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from rigkit import require
from rigkit.frames import as_rotation, quaternion_from_rotation, rotation_about, rotation_from_quaternion
from rigkit.require import RigError
from rigkit.skeleton import Skeleton
from rigkit.vectors import along_and_across, length, unit

NO_TWIST = 1e-9
"""Of a unit quaternion: a bend this near to a half turn leaves no digits to tell the twist by (round-off)."""

LESS_THAN_HALF = np.pi - 1e-6
"""Radians: half a turn or more looks the same as less than that the other way; the margin is far above round-off."""


def twist_about(rotation: np.ndarray, axis: np.ndarray) -> float:
    """The signed angle in (-pi, pi] by which a rotation (3, 3) turns about an axis (3,), once its bend is taken out.

    The bend is the smallest rotation that carries the axis to where it goes; what is left turns about the axis. Zero
    where the axis is turned right round, for then every share is as good. Swing-twist decomposition (Dobrowolski,
    "Swing-twist decomposition in Clifford algebra", 2015; from memory).

    >>> round(twist_about(rotation_about([1, 0, 0], 0.4), [1, 0, 0]), 6)
    0.4
    """
    quaternion = quaternion_from_rotation(rotation)
    along = float(quaternion[:3] @ require.direction(axis, "the twist's axis"))
    if np.hypot(along, quaternion[3]) < NO_TWIST:
        return 0.0
    return _wrapped(2.0 * float(np.arctan2(along, quaternion[3])))


def _wrapped(angle: float) -> float:
    """The same angle in (-pi, pi]; untouched where it lies there already."""
    return angle - 2 * np.pi * float(np.ceil((angle - np.pi) / (2 * np.pi)))


def twist_between(upper: np.ndarray, lower: np.ndarray, axis: np.ndarray) -> float:
    """Twist of a joint's frame (3, 3) against that of the joint above, about their own axis (3,) along the bone.

    >>> bent = rotation_about([0, 0, 1], 0.5) @ rotation_about([1, 0, 0], 0.2)
    >>> round(twist_between(np.eye(3), bent, [1, 0, 0]), 6)
    0.2
    """
    return twist_about(as_rotation(upper).T @ as_rotation(lower), axis)


def twist_joints(
    start: np.ndarray, end: np.ndarray, count: int, turn: float = 0.0, rotation: np.ndarray | None = None
) -> tuple[np.ndarray, np.ndarray]:
    """Places (count, 3) and rotations (count, 3, 3) of twist joints on a bone from start (3,) to end (3,), metres.

    They stand evenly between the ends, and each takes as great a share of the turn (radians, about the bone, of the
    bone's end against its start) as its station is of the bone (common practice). rotation: the start's frame.
    Raises RigError for half a turn or more: frames tell only the shorter way round, so nothing could share or check it.

    >>> places, turned = twist_joints([0, 0, 0], [0, 1, 0], 3, turn=1.0)
    >>> places[:, 1].tolist(), round(twist_about(turned[0], [0, 1, 0]), 6)
    ([0.25, 0.5, 0.75], 0.25)
    """
    start, end = require.vector(start, "the bone's start"), require.vector(end, "the bone's end")
    turn, count = require.number(turn, "the turn about the bone"), require.whole(count, "how many twist joints", 1, 64)
    if abs(turn) > LESS_THAN_HALF:
        raise RigError(
            "less than half a turn (180 degrees), either way", f"{np.degrees(turn):.6g} degrees",
            "degrees were handed in for radians" if abs(turn) > 7 else "", "Turn the shorter way round",
            "the turn about the bone",
        )  # fmt: skip
    axis, rest = unit(end - start, "the bone to be twisted"), as_rotation(np.eye(3) if rotation is None else rotation)
    shares = np.arange(1, count + 1) / (count + 1)
    return start + shares[:, None] * (end - start), np.array([rotation_about(axis, s * turn) @ rest for s in shares])


@dataclass(frozen=True)
class TwistJoint:
    """How a twist joint stands on its bone.

    station: share of the bone from its start. uneven: how far that is from its even place, as a share of the bone.
    off: metres off the bone's line. turn_off: radians that its turn about the bone is away from its station's share;
    None without rotations. carries: number of joints below it that are no twist joints of this bone.
    """

    joint: int
    station: float
    uneven: float
    off: float
    turn_off: float | None
    carries: int


def check_twist_joints(skeleton: Skeleton, start: int, end: int, twists: Sequence[int]) -> tuple[TwistJoint, ...]:
    """Measure twist joints on the bone from joint `start` to joint `end`, in the order of their stations.

    Turns are read from the rotations: of the twist joint, and of the end, each against the start, about the bone. At
    rest, where nothing is turned, every turn is nought. Raises RigError for a bone without length.
    """
    start, end, *twists = (skeleton.joint_number(j) for j in (start, end, *twists))
    a, b = skeleton.positions[start], skeleton.positions[end]
    axis, bone = unit(b - a, "the bone with twist joints"), float(length(b - a))
    stations = {j: along_and_across(skeleton.positions[j] - a, axis) for j in twists}
    first = skeleton.rotations[start]
    rest = None if first is None else rotation_from_quaternion(first)
    turns = {
        j: None if rest is None or r is None else twist_about(rest.T @ rotation_from_quaternion(r), rest.T @ axis)
        for j in (*twists, end)
        for r in (skeleton.rotations[j],)
    }
    whole, checks = turns[end], []
    for place, j in enumerate(sorted(twists, key=lambda j: stations[j][0]), start=1):
        along, across = stations[j]
        turn, carried = turns[j], set(skeleton.children(j)) - {*twists, end}
        off = None if turn is None or whole is None else _wrapped(turn - along / bone * whole)
        uneven = along / bone - place / (len(twists) + 1)
        checks.append(TwistJoint(j, along / bone, uneven, float(length(across)), off, len(carried)))
    return tuple(checks)
