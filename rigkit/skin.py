"""Skin: weights (n, k) of n vertices on k bones, and linear blend skinning; vertices (n, 3), metres."""

from collections.abc import Sequence

import numpy as np

from rigkit import require
from rigkit.frames import Frame
from rigkit.mesh import Mesh
from rigkit.require import RigError
from rigkit.tolerance import NO_LENGTH

SHARPNESS = 4
"""Power of the distance: higher makes bones hold their flesh more stiffly (our choice, by eye)."""


def checked_bones(bones: object) -> np.ndarray:
    """Bones (k, 2, 3), each a straight piece from start to end, metres; raises RigError for other shapes or none."""
    array = _numbers(bones, "one or more bones, each of two places (x, y, z)", "the bones")
    if array.ndim != 3 or array.shape[1:] != (2, 3) or not len(array):
        raise RigError("one or more bones, each of two places (x, y, z)", require.shown(array), where="the bones")
    return require.points(array.reshape(-1, 3), "the bones").reshape(-1, 2, 3)


def _numbers(value: object, expected: str, where: str) -> np.ndarray:
    try:
        return np.asarray(value, dtype=float)
    except (TypeError, ValueError, OverflowError):
        raise RigError(expected, require.shown(value), where=where) from None


def nearest_on(points: np.ndarray, bone: np.ndarray) -> np.ndarray:
    """The nearest place (n, 3) on a bone (..., 2, 3) for each of points (n, 3); a bone without length is a point.

    >>> nearest_on(np.array([[0.5, 1.0, 0.0]]), np.array([[-1.0, 0, 0], [1, 0, 0]])).tolist()
    [[0.5, 0.0, 0.0]]
    """
    start, arrow = bone[..., 0, :], bone[..., 1, :] - bone[..., 0, :]
    size = np.maximum(np.sum(arrow**2, axis=-1), NO_LENGTH**2)
    share = np.clip(np.sum((points - start) * arrow, axis=-1) / size, 0.0, 1.0)
    return start + share[:, None] * arrow


def distance_to_bones(points: np.ndarray, bones: np.ndarray) -> np.ndarray:
    """Distances (n, k), metres, of points (n, 3) from bones (k, 2, 3), each a straight piece from start to end.

    >>> distance_to_bones(np.array([[0.0, 1.0, 0.0]]), np.array([[[-1.0, 0, 0], [1, 0, 0]]])).tolist()
    [[1.0]]
    """
    far = [np.sum((points - nearest_on(points, bone)) ** 2, axis=1) for bone in bones]
    return np.sqrt(np.array(far).reshape(len(bones), len(points)).T)


def proximity_weights(mesh: Mesh, bones: np.ndarray) -> np.ndarray:
    """Weights (n, k) of a mesh on bones (k, 2, 3), by nearness alone; each row sums to one.

    A plain first skin: one over distance to the fourth power. It knows nothing of which flesh hangs together, so
    it serves limbs that stand clear of the body. Raises RigError for bones of another shape.
    """
    near = 1.0 / np.maximum(distance_to_bones(mesh.vertices, checked_bones(bones)), 1e-4) ** SHARPNESS
    return near / near.sum(axis=1, keepdims=True)


def bend_skin(mesh: Mesh, weights: np.ndarray, world_from_rest: Sequence[Frame]) -> Mesh:
    """The mesh carried along by its bones: each vertex goes to the weighted mean of where each bone would take it.

    weights: (n, k). world_from_rest: one frame a bone, from where it was at rest to where it is now. Linear blend
    skinning (common practice): where two bones differ by a turn t, a half-and-half vertex sinks to cos(t / 2) of its
    distance from the hinge. Raises RigError when weights and frames do not fit the mesh, or weights are not finite.
    """
    expected = f"weights of shape ({len(mesh.vertices)}, {len(world_from_rest)})"
    weights = _numbers(weights, expected, "the skin")
    if weights.shape != (len(mesh.vertices), len(world_from_rest)):
        raise RigError(expected, f"{weights.shape}", where="the skin")
    if not np.all(np.isfinite(weights)):
        raise RigError("finite weights", "NaN or infinity", where="the skin")
    stacked = [np.concatenate([frame.rotation, frame.origin[:, None]], axis=1).ravel() for frame in world_from_rest]
    blended = (weights @ np.array(stacked).reshape(-1, 12)).reshape(-1, 3, 4)
    return Mesh((blended[:, :, :3] @ mesh.vertices[:, :, None])[:, :, 0] + blended[:, :, 3], mesh.triangles)


def bone_frame(rest_start: np.ndarray, start: np.ndarray, rotation: np.ndarray) -> Frame:
    """The frame that turns a bone about its start by a rotation (3, 3) and carries its start to where it is now."""
    return Frame(rotation, np.asarray(start) - rotation @ np.asarray(rest_start))
