"""Vectors of shape (..., 3): lengths, angles by atan2, and what lies along or across a direction."""

import numpy as np

from rigkit.require import RigError
from rigkit.tolerance import NO_LENGTH


def length(arrow: np.ndarray) -> np.ndarray:
    """Lengths of vectors (..., 3), in their unit.

    >>> float(length(np.array([3.0, 4.0, 0.0])))
    5.0
    """
    return np.sqrt(np.add.reduce(np.square(arrow), axis=-1))


def cross(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    """The cross product of two vectors (3,): the digits of `np.cross`, in a tenth of its time.

    >>> cross(np.array([1.0, 0.0, 0.0]), np.array([0.0, 1.0, 0.0])).tolist()
    [0.0, 0.0, 1.0]
    """
    (ax, ay, az), (bx, by, bz) = a.tolist(), b.tolist()
    return np.array([ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx])


def unit(arrow: np.ndarray, what: str = "a direction") -> np.ndarray:
    """The vector (3,) at length one; raises RigError where it has no length to speak of.

    >>> unit(np.array([0.0, 0.0, 2.0])).tolist()
    [0.0, 0.0, 1.0]
    """
    size = float(length(arrow))
    if not NO_LENGTH <= size < np.inf:
        raise RigError("two places apart from each other", "the same place twice", where=what)
    return np.asarray(arrow) / size


def angle_between(a: np.ndarray, b: np.ndarray) -> float:
    """Angle between two vectors (3,), radians in [0, pi]; exact near 0 and pi, where acos is not.

    atan2(|a x b|, a . b), after Kahan, "How futile are mindless assessments of roundoff", 2006 (from memory).

    >>> round(angle_between(np.array([1.0, 0, 0]), np.array([0.0, 2, 0])), 6)
    1.570796
    """
    return float(np.arctan2(length(cross(a, b)), np.dot(a, b)))


def along_and_across(arrow: np.ndarray, axis: np.ndarray) -> tuple[float, np.ndarray]:
    """Split a vector (3,) into its signed length along a unit axis and the rest of it, square to the axis.

    >>> along, across = along_and_across(np.array([1.0, 2.0, 0.0]), np.array([0.0, 1.0, 0.0]))
    >>> along, across.tolist()
    (2.0, [1.0, 0.0, 0.0])
    """
    along = float(np.dot(arrow, axis))
    return along, arrow - along * axis


def off_line(point: np.ndarray, start: np.ndarray, end: np.ndarray) -> np.ndarray:
    """The arrow (3,) that leads from the line through start and end, squarely, to the point; metres.

    >>> off_line(np.array([1.0, 2.0, 0.0]), np.zeros(3), np.array([5.0, 0.0, 0.0])).tolist()
    [0.0, 2.0, 0.0]
    """
    return along_and_across(point - start, unit(end - start, "the line"))[1]


def any_square_to(axis: np.ndarray) -> np.ndarray:
    """Some unit vector (3,) square to a unit axis: always the same one for the same axis."""
    helper = np.zeros(3)
    helper[int(np.argmin(np.abs(axis)))] = 1.0
    return unit(cross(axis, helper))
