"""Lines of sight through a mesh: distances (k,) at which one crosses the surface, and the middle of what it crosses."""

import numpy as np

from rigkit import require
from rigkit.mesh import Mesh
from rigkit.section import Plane
from rigkit.tolerance import STORED


def line_of_sight(mesh: Mesh, origin: np.ndarray, direction: np.ndarray) -> np.ndarray:
    """Distances (k,), metres, sorted, at which the line through origin along direction crosses the surface.

    Negative ones lie behind the origin. Both triangles of an edge reckon its side of the line alike (half-open
    crossing rule in the plane square to the line), so a line through a vertex or an edge counts each crossing once.

    >>> square = Mesh([[0, 0, 0], [2, 0, 0], [2, 2, 0], [0, 2, 0], [1, 1, 1]],
    ...               [[0, 2, 1], [0, 3, 2], [0, 1, 4], [1, 2, 4], [2, 3, 4], [3, 0, 4]])
    >>> line_of_sight(square, [1, 1, -1], [0, 0, 1]).tolist()
    [1.0, 2.0]
    """
    plane = Plane(origin, direction)
    flat = plane.flat(mesh.vertices)[mesh.welded]
    heights = plane.heights(mesh.vertices)[mesh.welded]
    triangles = mesh.welded[mesh.triangles]
    corners = flat[triangles]
    slack = STORED * 1e-3  # a triangle that round-off moves past the line still takes part
    reaches = np.all(corners.min(axis=1) <= slack, axis=1) & np.all(corners.max(axis=1) >= -slack, axis=1)
    hits: list[float] = []
    for triangle in triangles[reaches]:
        inside = False
        for a, b in zip(triangle, np.roll(triangle, -1), strict=True):
            a, b = min(a, b), max(a, b)  # both triangles of an edge reckon it the same way round
            (ax, ay), (bx, by) = flat[a], flat[b]
            if (ay > 0) != (by > 0) and ax + (bx - ax) * ay / (ay - by) > 0:
                inside = not inside
        if inside:
            hits.append(_height_at(flat[triangle], heights[triangle]))
    crossings: list[float] = []
    for height in sorted(hits):  # at a vertex round-off may count three for one, or two for a touch
        if crossings and height - crossings[-1] < slack:
            crossings.pop()
        else:
            crossings.append(height)
    return np.array(crossings)


def _height_at(flat: np.ndarray, heights: np.ndarray) -> float:
    """Height of a triangle's plane over the origin of flat (3, 2), from the corners' heights (3,)."""
    (ax, ay), (bx, by), (cx, cy) = flat
    shares = np.array([bx * cy - cx * by, cx * ay - ax * cy, ax * by - bx * ay])
    whole = shares.sum()
    return float(shares @ heights / whole if whole else heights.mean())  # edge-on: any of its heights will do


def middle_of_sight(mesh: Mesh, point: np.ndarray, direction: np.ndarray) -> np.ndarray | None:
    """Midpoint (3,) between where the line of sight through a point enters the flesh and where it leaves it.

    The pair of crossings around the point is taken, else the nearest pair; None where the line meets no flesh.
    Quick, and wrong where the limb is seen at a slant; a section is the measure.
    """
    direction = require.direction(direction, "a line of sight")
    hits = line_of_sight(mesh, point, direction)
    pairs = hits[: len(hits) // 2 * 2].reshape(-1, 2)
    if not len(pairs):
        return None
    outside = np.maximum(np.maximum(pairs[:, 0], -pairs[:, 1]), 0.0)
    return np.asarray(point) + pairs[int(np.argmin(outside))].mean() * direction
