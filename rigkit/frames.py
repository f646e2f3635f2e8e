"""Rigid frames: a rotation (3, 3) and an origin (3,). `a_from_b @ points_b` gives the points in frame a.

>>> world_from_hand = Frame(rotation_about([0, 0, 1], np.pi / 2), [1, 0, 0])
>>> np.round(world_from_hand @ np.array([1.0, 0.0, 0.0]), 12).tolist()
[1.0, 1.0, 0.0]
"""

from dataclasses import dataclass

import numpy as np

from rigkit import require
from rigkit.require import RigError
from rigkit.tolerance import NO_LENGTH, UNIT_SLACK
from rigkit.vectors import angle_between, any_square_to, unit


@dataclass(frozen=True, eq=False)
class Frame:
    """Where frame b sits in frame a: `rotation` (3, 3) has b's axes as columns, `origin` (3,) in metres.

    Raises RigError when the rotation is not one (sheared, scaled or mirrored).
    """

    rotation: np.ndarray
    origin: np.ndarray

    def __post_init__(self) -> None:
        object.__setattr__(self, "rotation", as_rotation(self.rotation))
        object.__setattr__(self, "origin", require.vector(self.origin, "an origin"))

    def __matmul__(self, other):
        """Compose with a Frame, or carry points (3,) or (n, 3) from frame b to frame a."""
        if isinstance(other, Frame):
            return Frame(self.rotation @ other.rotation, self.rotation @ other.origin + self.origin)
        return np.asarray(other) @ self.rotation.T + self.origin

    def inverse(self) -> "Frame":
        """The frame that undoes this one: `a_from_b.inverse()` is `b_from_a`."""
        return Frame(self.rotation.T, -(self.rotation.T @ self.origin))


def as_rotation(value: np.ndarray, what: str = "a frame's axes") -> np.ndarray:
    """Convert to a rotation (3, 3), read-only; raises RigError for NaN, other shapes, and what is scaled or mirrored.

    >>> as_rotation([[0, -1, 0], [1, 0, 0], [0, 0, 1]]).shape
    (3, 3)
    """
    rotation = require.points(value, what)
    off = np.abs(rotation @ rotation.T - np.eye(3)).max() if rotation.shape == (3, 3) else np.inf
    if off > UNIT_SLACK or np.linalg.det(rotation) < 0:
        raise RigError(
            "a rotation: three unit axes, square to each other, right-handed", require.shown(rotation),
            "the frame is scaled, sheared or mirrored", where=what,
        )  # fmt: skip
    return rotation


IDENTITY = Frame(np.eye(3), np.zeros(3))


def rotation_about(axis: np.ndarray, angle: float) -> np.ndarray:
    """Rotation (3, 3) by an angle in radians about an axis (3,), right-handed (Rodrigues' formula).

    >>> np.round(rotation_about([0, 0, 1], np.pi / 2) @ [1, 0, 0], 12).tolist()
    [0.0, 1.0, 0.0]
    """
    x, y, z = require.direction(axis, "a rotation axis")
    angle = require.number(angle, "a rotation's angle")
    cross = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
    return np.eye(3) + np.sin(angle) * cross + (1.0 - np.cos(angle)) * (cross @ cross)


def rotation_between(start: np.ndarray, end: np.ndarray) -> np.ndarray:
    """The smallest rotation (3, 3) that turns direction start (3,) into direction end (3,).

    For opposite directions every half turn is as small; one about a fixed axis square to start is taken.

    >>> np.round(rotation_between([1, 0, 0], [0, 2, 0]) @ [1, 0, 0], 12).tolist()
    [0.0, 1.0, 0.0]
    """
    start, end = require.direction(start, "a direction"), require.direction(end, "a direction")
    axis = np.cross(start, end)
    if np.linalg.norm(axis) < NO_LENGTH:
        return np.eye(3) if np.dot(start, end) > 0 else rotation_about(any_square_to(start), np.pi)
    return rotation_about(axis, angle_between(start, end))


def rotation_from_quaternion(xyzw: np.ndarray) -> np.ndarray:
    """Rotation (3, 3) from a quaternion (4,), x, y, z, w as in glTF 2.0; normalised first.

    Raises RigError for a quaternion without length.

    >>> np.round(rotation_from_quaternion([0, 0, 1, 1]) @ [1, 0, 0], 12).tolist()
    [0.0, 1.0, 0.0]
    """
    quaternion = np.array(xyzw, dtype=float)
    if quaternion.shape != (4,) or not np.all(np.isfinite(quaternion)):
        raise RigError("four finite numbers (x, y, z, w)", require.shown(xyzw), where="a quaternion")
    size = float(np.sqrt(np.sum(np.square(quaternion))))
    if not NO_LENGTH < size < np.inf:
        raise RigError("a quaternion of length one", f"one of length {size:.3g}", where="a quaternion")
    x, y, z, w = quaternion / size
    return np.array(
        [
            [1 - 2 * (y * y + z * z), 2 * (x * y - z * w), 2 * (x * z + y * w)],
            [2 * (x * y + z * w), 1 - 2 * (x * x + z * z), 2 * (y * z - x * w)],
            [2 * (x * z - y * w), 2 * (y * z + x * w), 1 - 2 * (x * x + y * y)],
        ]
    )


def quaternion_from_rotation(rotation: np.ndarray) -> np.ndarray:
    """Quaternion (4,), x, y, z, w with w not negative, from a rotation (3, 3).

    The eigenvector of Bar-Itzhack's symmetric matrix ("New method for extracting the quaternion from a rotation
    matrix", 2000; from memory), which has no bad angle. Raises RigError for what is no rotation.

    >>> np.round(quaternion_from_rotation(np.eye(3)), 12).tolist()
    [0.0, 0.0, 0.0, 1.0]
    """
    r = as_rotation(rotation)
    k = np.empty((4, 4))
    k[:3, :3] = r + r.T - np.trace(r) * np.eye(3)
    k[:3, 3] = k[3, :3] = [r[2, 1] - r[1, 2], r[0, 2] - r[2, 0], r[1, 0] - r[0, 1]]
    k[3, 3] = np.trace(r)
    quaternion = np.linalg.eigh(k)[1][:, -1]
    return quaternion if quaternion[3] >= 0 else -quaternion


def mirror_matrix(normal: np.ndarray) -> np.ndarray:
    """The reflection (3, 3) in the plane through the origin that is square to `normal` (Householder).

    >>> mirror_matrix([1, 0, 0]).tolist()
    [[-1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]
    """
    n = unit(require.vector(normal, "a mirror's normal"))
    return np.eye(3) - 2.0 * np.outer(n, n)
