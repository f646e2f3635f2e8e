"""Lines of sight through a mesh: distances (k,) at which one crosses the surface, and the middle of what it crosses."""

from dataclasses import dataclass

import numpy as np

from rigkit import require
from rigkit.mesh import Mesh
from rigkit.section import INSIDE, NOTHING, OPEN, OUTSIDE, Plane
from rigkit.tolerance import STORED

ENCLOSED = 0.4
"""Winding number from which a place lies in the flesh of an open mesh: 1 deep inside, 0 outside, 1/2 in the middle of a
flat hole; 0.4 is a fifth of a round hole's radius in front of it (learner: a limb's end joint may lie at its rim)."""


def line_of_sight(mesh: Mesh, origin: np.ndarray, direction: np.ndarray) -> np.ndarray:
    """Distances (k,), metres, sorted, at which the line through origin along direction crosses the surface.

    Negative ones lie behind the origin. Both triangles of an edge reckon its side of the line alike (half-open
    crossing rule in the plane square to the line), so a line through a vertex or an edge counts each crossing once.

    >>> square = Mesh([[0, 0, 0], [2, 0, 0], [2, 2, 0], [0, 2, 0], [1, 1, 1]],
    ...               [[0, 2, 1], [0, 3, 2], [0, 1, 4], [1, 2, 4], [2, 3, 4], [3, 0, 4]])
    >>> line_of_sight(square, [1, 1, -1], [0, 0, 1]).tolist()
    [1.0, 2.0]
    """
    return np.array([height for height, _ in _crossings(mesh, Plane(origin, direction))])


def winding(mesh: Mesh, points: np.ndarray) -> np.ndarray:
    """How far the surface closes around places (n, 3): winding numbers (n,), 1 inside and 0 outside of a closed shell.

    Solid angles of all triangles, over 4 pi (Van Oosterom & Strackee 1983; for open meshes Jacobson, Kavan &
    Sorkine-Hornung 2013; both from memory). Shells add up; a mesh that faces inward counts as if it faced outward.

    >>> square = Mesh([[0, 0, 0], [2, 0, 0], [2, 2, 0], [0, 2, 0], [1, 1, 1]],
    ...               [[0, 2, 1], [0, 3, 2], [0, 1, 4], [1, 2, 4], [2, 3, 4], [3, 0, 4]])
    >>> winding(square, [[1, 1, 0.5], [1, 1, 1.5]]).round(9).tolist()
    [1.0, 0.0]
    """
    points, corners = require.points(points, "the places"), mesh.mended.corners
    around = np.zeros(len(points))
    for number, point in enumerate(points):
        a, b, c = arrows = np.moveaxis(corners - point, 1, 0)
        la, lb, lc = np.sqrt(np.sum(arrows**2, axis=2))
        flat = la * lb * lc + np.sum(a * b, axis=1) * lc + np.sum(b * c, axis=1) * la + np.sum(c * a, axis=1) * lb
        around[number] = np.sum(np.arctan2(np.sum(a * np.cross(b, c), axis=1), flat))
    return around / (-2.0 * np.pi if mesh.volume < 0 else 2.0 * np.pi)


def _crossings(mesh: Mesh, plane: Plane) -> list[tuple[float, int]]:
    """Heights over the plane, rising, at which the line along its normal crosses the surface: 1 inward, -1 outward."""
    slack = STORED * 1e-3  # a triangle that round-off moves past the line still takes part
    triangles, corners = mesh.index.beside(plane.origin, np.vstack([plane.axes, plane.normal]), slack)
    hits: list[tuple[float, int]] = []
    for numbers, places in zip(triangles.tolist(), corners.tolist(), strict=True):
        inside = False
        for one, other in ((0, 1), (1, 2), (2, 0)):
            if numbers[one] > numbers[other]:
                one, other = other, one  # both triangles of an edge reckon it the same way round
            (ax, ay, _), (bx, by, _) = places[one], places[other]
            if (ay > 0) != (by > 0) and ax + (bx - ax) * ay / (ay - by) > 0:
                inside = not inside
        if inside:
            (ax, ay, _), (bx, by, _), (cx, cy, _) = places
            faces = (bx - ax) * (cy - ay) - (by - ay) * (cx - ax)  # towards the line's end where it is positive
            hits.append((_height_at(places), -1 if faces > 0 else 1))
    crossings: list[tuple[float, int]] = []
    for height, way in sorted(hits):  # at a vertex round-off may count three for one, or two for a touch
        if not crossings or height - crossings[-1][0] >= slack:
            crossings.append((height, way))
        elif crossings[-1][1] != way:
            crossings.pop()
    return crossings


def _height_at(corners: list[list[float]]) -> float:
    """Height of a triangle's plane over the origin, from its corners (3, 3): places in the plane, and heights."""
    (ax, ay, a), (bx, by, b), (cx, cy, c) = corners
    one, two, three = bx * cy - cx * by, cx * ay - ax * cy, ax * by - bx * ay
    whole = one + two + three  # 0 where it is edge-on: any of its heights will do
    return (one * a + two * b + three * c) / whole if whole else (a + b + c) / 3.0


@dataclass(frozen=True, eq=False)
class Seen:
    """What a line of sight says: the middle (3,) of what it crosses, metres, or None; and "inside", "outside the flesh"
    (the nearest is taken), "open mesh" (it enters or leaves by a hole: no middle) or "no flesh here"."""

    middle: np.ndarray | None
    state: str


def middle_of_sight(mesh: Mesh, point: np.ndarray, direction: np.ndarray) -> Seen:
    """The middle between where the line of sight through a point enters the flesh and where it leaves it again.

    Each way in is paired with the way out that closes it, so that clothes and flesh keep their own; of the pairs around
    the point the innermost is taken, else the nearest. Quick, and wrong where the limb is seen at a slant; a section is
    the measure.
    """
    plane = Plane(point, require.direction(direction, "a line of sight"))
    turned = -1 if mesh.volume < 0 else 1
    entered: list[float] = []
    pairs: list[tuple[float, float]] = []
    for height, way in _crossings(mesh, plane):
        if way == turned:
            entered.append(height)
        elif entered:
            pairs.append((entered.pop(), height))
        else:
            return Seen(None, OPEN)
    if entered:
        return Seen(None, OPEN)
    if not pairs:
        return Seen(None, NOTHING)
    outside, _, (start, end) = min((max(a, -b, 0.0), b - a, (a, b)) for a, b in pairs)
    middle = plane.origin + (start + end) / 2.0 * plane.normal
    if not mesh.mended.is_closed and winding(mesh, middle[None])[0] < ENCLOSED:
        return Seen(None, OPEN)
    return Seen(middle, OUTSIDE if outside else INSIDE)
