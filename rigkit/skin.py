"""Skin: weights (n, k) of n vertices on k bones, and linear blend skinning; vertices (n, 3), metres."""

import numpy as np

from rigkit.frames import Frame
from rigkit.mesh import Mesh
from rigkit.require import RigError
from rigkit.tolerance import NO_LENGTH

SHARPNESS = 4
"""Power of the distance: higher makes bones hold their flesh more stiffly (our choice, by eye)."""


def distance_to_bones(points: np.ndarray, bones: np.ndarray) -> np.ndarray:
    """Distances (n, k), metres, of points (n, 3) from bones (k, 2, 3), each a straight piece from start to end.

    >>> distance_to_bones(np.array([[0.0, 1.0, 0.0]]), np.array([[[-1.0, 0, 0], [1, 0, 0]]])).tolist()
    [[1.0]]
    """
    starts, arrows = bones[:, 0], bones[:, 1] - bones[:, 0]
    sizes = np.maximum(np.sum(arrows**2, axis=1), NO_LENGTH**2)
    shares = np.clip(((points[:, None] - starts) * arrows).sum(-1) / sizes, 0.0, 1.0)
    nearest = starts + shares[..., None] * arrows
    return np.sqrt(np.sum((points[:, None] - nearest) ** 2, axis=-1))


def proximity_weights(mesh: Mesh, bones: np.ndarray) -> np.ndarray:
    """Weights (n, k) of a mesh on bones (k, 2, 3), by nearness alone; each row sums to one.

    A plain first skin: one over distance to the fourth power. It knows nothing of which flesh hangs together, so
    it serves limbs that stand clear of the body.
    """
    near = 1.0 / np.maximum(distance_to_bones(mesh.vertices, np.asarray(bones, float)), 1e-4) ** SHARPNESS
    return near / near.sum(axis=1, keepdims=True)


def bend_skin(mesh: Mesh, weights: np.ndarray, world_from_rest: list[Frame]) -> Mesh:
    """The mesh carried along by its bones: each vertex goes to the weighted mean of where each bone would take it.

    weights: (n, k). world_from_rest: one frame a bone, from where it was at rest to where it is now. Linear blend
    skinning (common practice): where two bones differ by a turn t, a half-and-half vertex sinks to cos(t / 2) of its
    distance from the hinge. Raises RigError when weights and frames do not fit the mesh.
    """
    if weights.shape != (len(mesh.vertices), len(world_from_rest)):
        raise RigError(
            f"weights of shape ({len(mesh.vertices)}, {len(world_from_rest)})", f"{weights.shape}", where="the skin"
        )
    moved = sum(w[:, None] * (frame @ mesh.vertices) for w, frame in zip(weights.T, world_from_rest, strict=True))
    return Mesh(moved, mesh.triangles)


def bone_frame(rest_start: np.ndarray, start: np.ndarray, rotation: np.ndarray) -> Frame:
    """The frame that turns a bone about its start by a rotation (3, 3) and carries its start to where it is now."""
    return Frame(rotation, np.asarray(start) - rotation @ np.asarray(rest_start))
