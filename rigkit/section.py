"""Plane sections of a mesh: loops of points (k, 3), their areas and area centroids, and which of them holds a joint.

A vertex on the plane counts as above it. So every triangle that is cut has exactly two cut edges, every cut edge of
a closed mesh two cut triangles, and the cut falls into closed loops wherever the plane lies, also exactly through
vertices or along an end cap.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from rigkit import require
from rigkit.mesh import Mesh
from rigkit.tolerance import NO_LENGTH
from rigkit.vectors import any_square_to

INSIDE, OUTSIDE, OPEN, NOTHING = "inside", "outside the flesh", "open mesh", "no flesh here"


@dataclass(frozen=True, eq=False)
class Plane:
    """A plane through `origin` (3,), metres, square to the unit vector `normal` (3,)."""

    origin: np.ndarray
    normal: np.ndarray

    def __post_init__(self) -> None:
        object.__setattr__(self, "origin", require.vector(self.origin, "the plane's origin"))
        object.__setattr__(self, "normal", require.direction(self.normal, "the plane's normal"))

    @cached_property
    def axes(self) -> np.ndarray:
        """Two unit vectors (2, 3) in the plane, square to each other; with the normal they are right-handed."""
        u = any_square_to(self.normal)
        return np.array([u, np.cross(self.normal, u)])

    def heights(self, points: np.ndarray) -> np.ndarray:
        """Signed distance of points (..., 3) from the plane, metres, positive on the normal's side."""
        return (np.asarray(points) - self.origin) @ self.normal

    def flat(self, points: np.ndarray) -> np.ndarray:
        """Points (..., 3) in the plane's own coordinates (..., 2), metres."""
        return (np.asarray(points) - self.origin) @ self.axes.T


@dataclass(frozen=True, eq=False)
class Loop:
    """One piece of a section: points (k, 3) in order, without the first repeated; open where the mesh is torn."""

    points: np.ndarray
    closed: bool
    plane: Plane

    @cached_property
    def _moments(self) -> tuple[float, np.ndarray]:
        middle = self.points.mean(axis=0)
        a = self.plane.flat(self.points) - self.plane.flat(middle)
        b = np.roll(a, -1, axis=0)
        cross = a[:, 0] * b[:, 1] - b[:, 0] * a[:, 1]
        area = float(cross.sum() / 2.0)
        if abs(area) < NO_LENGTH**2:
            return area, middle
        flat = (a + b).T @ cross / (6.0 * area)
        return area, middle + flat @ self.plane.axes

    @property
    def area(self) -> float:
        """Enclosed area, square metres (shoelace formula)."""
        return abs(self._moments[0])

    @property
    def centroid(self) -> np.ndarray:
        """Centroid of the enclosed area (3,), metres; not the mean of the points, which follows their spacing."""
        return self._moments[1]

    @property
    def radius(self) -> float:
        """Local radius in metres: that of a circle of the same area."""
        return float(np.sqrt(self.area / np.pi))

    def holds(self, point: np.ndarray) -> bool:
        """True when the point (3,), seen along the plane's normal, lies within the loop (crossing number)."""
        a = self.plane.flat(self.points) - self.plane.flat(point)
        b = np.roll(a, -1, axis=0)
        crossing = (a[:, 1] > 0) != (b[:, 1] > 0)
        a, b = a[crossing], b[crossing]
        to_the_right = a[:, 0] + (b[:, 0] - a[:, 0]) * a[:, 1] / (a[:, 1] - b[:, 1]) > 0
        return bool(to_the_right.sum() % 2)

    def distance(self, point: np.ndarray) -> float:
        """Distance in metres from a point (3,) to the loop's outline, in the plane."""
        a = self.plane.flat(self.points)
        arrows = (np.roll(a, -1, axis=0) if self.closed else np.append(a[1:], a[-1:], axis=0)) - a
        to_point = self.plane.flat(point) - a
        sizes = np.sum(arrows**2, axis=1)
        share = np.clip(np.sum(to_point * arrows, axis=1) / np.where(sizes > 0, sizes, 1.0), 0.0, 1.0)
        return float(np.sqrt(np.sum((to_point - share[:, None] * arrows) ** 2, axis=1).min()))


@dataclass(frozen=True)
class Held:
    """Which loop of a section a point belongs to.

    loop: the closed loop that holds the point, else the nearest one, else None. state: "inside",
    "outside the flesh" (the loop is the nearest), "open mesh" (torn there: no centre can be told) or "no flesh here".
    """

    loop: Loop | None
    state: str


@dataclass(frozen=True, eq=False)
class Section:
    """All loops of a mesh in one plane."""

    plane: Plane
    loops: tuple[Loop, ...]

    def holding(self, point: np.ndarray) -> Held:
        """The loop that a point (3,) belongs to; among nested loops the smallest that holds it."""
        around = [loop for loop in self.loops if loop.closed and loop.holds(point)]
        if around:
            return Held(min(around, key=lambda loop: loop.area), INSIDE)
        if not self.loops:
            return Held(None, NOTHING)
        nearest = min(self.loops, key=lambda loop: loop.distance(point))
        return Held(nearest, OUTSIDE if nearest.closed else OPEN)


def cut(mesh: Mesh, plane: Plane) -> Section:
    """Cut a mesh by a plane and chain the cut into loops.

    >>> square = Mesh([[0, 0, 0], [2, 0, 0], [2, 2, 0], [0, 2, 0], [1, 1, 1]],
    ...               [[0, 2, 1], [0, 3, 2], [0, 1, 4], [1, 2, 4], [2, 3, 4], [3, 0, 4]])
    >>> [round(loop.area, 6) for loop in cut(square, Plane([0, 0, 0.5], [0, 0, 1])).loops]
    [1.0]
    """
    heights = plane.heights(mesh.vertices)
    heights = heights[mesh.welded]
    triangles = mesh.welded[mesh.triangles]
    above = heights >= 0.0
    corner_above = above[triangles]
    cut_ones = corner_above.any(axis=1) & ~corner_above.all(axis=1)
    triangles, corner_above = triangles[cut_ones], corner_above[cut_ones]
    if not len(triangles):
        return Section(plane, ())
    # The corner that lies alone on its side; the two edges that leave it are the cut ones.
    alone = np.argmax(corner_above == (corner_above.sum(axis=1) == 1)[:, None], axis=1)
    rows = np.arange(len(triangles))
    lone, next_, last = (triangles[rows, (alone + turn) % 3] for turn in range(3))
    ends = np.stack([next_, last], axis=1)
    keys = np.minimum(lone[:, None], ends) * len(heights) + np.maximum(lone[:, None], ends)
    edges, numbers = np.unique(keys, return_inverse=True)
    low, high = np.divmod(edges, len(heights))
    share = heights[low] / (heights[low] - heights[high])
    crossings = mesh.vertices[low] + share[:, None] * (mesh.vertices[high] - mesh.vertices[low])
    chains = _chain(numbers.reshape(-1, 2), len(edges))
    return Section(plane, tuple(Loop(crossings[chain], closed, plane) for chain, closed in chains))


def _chain(links: np.ndarray, count: int) -> list[tuple[list[int], bool]]:
    """Chain links (m, 2) between numbered crossings into paths; (path, closed) for each, open ones from their end."""
    neighbours: list[list[tuple[int, int]]] = [[] for _ in range(count)]
    for number, (a, b) in enumerate(links.tolist()):
        neighbours[a].append((b, number))
        neighbours[b].append((a, number))
    used = bytearray(len(links))
    starts = [i for i, ways in enumerate(neighbours) if len(ways) % 2] + list(range(count))
    chains = []
    for start in starts:
        path, here = [start], start
        while True:
            step = next(((there, number) for there, number in neighbours[here] if not used[number]), None)
            if step is None:
                break
            here = step[0]
            used[step[1]] = 1
            path.append(here)
            if here == start:
                break
        if len(path) > 1:
            closed = path[0] == path[-1]
            chains.append((path[:-1] if closed else path, closed))
    return chains
