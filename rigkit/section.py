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
from rigkit.vectors import any_square_to, cross

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
        return np.array([u, cross(self.normal, u)])

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
    def _flat(self) -> np.ndarray:
        return self.plane.flat(self.points)

    @cached_property
    def _arrows(self) -> np.ndarray:
        """From each point to the next, in the plane (k, 2)."""
        return np.concatenate([self._flat[1:], self._flat[:1]]) - self._flat

    @cached_property
    def _box(self) -> list[float]:
        """The least x and y, and the greatest, in the plane."""
        return [*np.minimum.reduce(self._flat).tolist(), *np.maximum.reduce(self._flat).tolist()]

    @cached_property
    def _moments(self) -> tuple[float, np.ndarray, bool]:
        """Area, centroid, and whether it goes round the mean of its points just once, and always the same way."""
        middle = self._flat.sum(axis=0) / len(self._flat)
        a = self._flat - middle
        (ax, ay), (dx, dy) = a.T, self._arrows.T
        turns, up = ax * dy - dx * ay, ay > 0  # turns: the cross products of a and a + arrow
        area = float(turns.sum()) / 2.0
        if abs(area) < NO_LENGTH**2:
            return area, self.points.mean(axis=0), False
        flat = middle + turns @ (2.0 * a + self._arrows) / (6.0 * area)
        once = (up[1:] != up[:-1]).sum() <= 2 and bool((turns * area > 0).all())
        return area, self.plane.origin + flat @ self.plane.axes, once

    @property
    def area(self) -> float:
        """Enclosed area, square metres (shoelace formula)."""
        return abs(self._moments[0])

    @property
    def signed_area(self) -> float:
        """Area with a sign, square metres: positive around flesh, negative around a hollow (triangles facing out)."""
        return self._moments[0]

    @cached_property
    def crosses_itself(self) -> bool:
        """True when two sides of the loop cross: its area and centroid then mean nothing."""
        count = len(self.points)
        if not self.closed or count < 4 or self._moments[2]:
            return False
        ahead = np.concatenate([self._flat[1:], self._flat[:1]])

        def side(start, arrow, point):
            return arrow[..., 0] * (point[..., 1] - start[..., 1]) - arrow[..., 1] * (point[..., 0] - start[..., 0])

        a, d = self._flat[:, None], self._arrows[:, None]
        one, two = side(a, d, self._flat[None]), side(a, d, ahead[None])
        clear = NO_LENGTH * np.sqrt(np.sum(d**2, axis=-1))  # sides that touch at a vertex cross by round-off
        apart = (one * two < 0) & (np.minimum(np.abs(one), np.abs(two)) > clear)  # side j on either hand of side i
        return bool(np.any(apart & apart.T))

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
        flat = self.plane.flat(point)
        (x, y), (left, low, right, high) = flat.tolist(), self._box
        if not (left <= x <= right and low <= y <= high):
            return False
        (ax, ay), (dx, dy) = (self._flat - flat).T, self._arrows.T
        up = ay > 0
        crossing = (up != np.concatenate([up[1:], up[:1]])).nonzero()[0].tolist()
        return sum(float(ax[i] - dx[i] * ay[i] / dy[i]) > 0 for i in crossing) % 2 == 1

    def distance(self, point: np.ndarray) -> float:
        """Distance in metres from a point (3,) to the loop's outline, in the plane."""
        a, arrows = self._flat, self._arrows
        if not self.closed:
            a, arrows = a[:-1], arrows[:-1]
        to_point = self.plane.flat(point) - a
        sizes = np.sum(arrows**2, axis=1)
        share = np.clip(np.sum(to_point * arrows, axis=1) / np.where(sizes > 0, sizes, 1.0), 0.0, 1.0)
        return float(np.sqrt(np.sum((to_point - share[:, None] * arrows) ** 2, axis=1).min()))


@dataclass(frozen=True)
class Held:
    """Which loop of a section a point belongs to.

    loop: the closed loop that holds the point, else the nearest one, else None. state: "inside",
    "outside the flesh" (the loop is the nearest), "open mesh" (torn there: no centre can be told) or "no flesh here".
    around: all closed loops that hold it.
    """

    loop: Loop | None
    state: str
    around: tuple[Loop, ...] = ()


@dataclass(frozen=True, eq=False)
class Section:
    """All loops of a mesh in one plane."""

    plane: Plane
    loops: tuple[Loop, ...]

    def holding(self, point: np.ndarray) -> Held:
        """The loop that a point (3,) belongs to; among nested loops the smallest that holds it."""
        around = tuple(loop for loop in self.loops if loop.closed and loop.holds(point))
        if around:
            return Held(min(around, key=lambda loop: loop.area), INSIDE, around)
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
    enters, leaves = mesh.index.cut(plane.origin, plane.normal)
    chains = _loops(enters, leaves)
    if chains is not None:
        places = mesh.index.crossings(enters, plane.origin, plane.normal)
        return Section(plane, tuple(Loop(places[chain], True, plane) for chain in chains))
    # Torn, or triangles that face both ways: chain whatever hangs together.
    edges, links = np.unique([enters, leaves], return_inverse=True)
    places = mesh.index.crossings(edges, plane.origin, plane.normal)
    loose = _chain(links.reshape(2, -1).T, len(edges))
    return Section(plane, tuple(Loop(places[chain], closed, plane) for chain, closed in loose))


def _loops(enters: np.ndarray, leaves: np.ndarray) -> list[list[int]] | None:
    """Rows of the cut triangles (k,) in loops, each followed by the one that is entered where it is left; None if one
    has no single follower, as where the mesh is torn."""
    order = np.argsort(enters)
    rising = enters[order]
    place = np.searchsorted(rising, leaves)
    if (rising[1:] == rising[:-1]).any() or not np.array_equal(rising.take(place, mode="clip"), leaves):
        return None
    next_, loops = order[place].tolist(), []
    for start, here in enumerate(next_):
        if here < 0:  # it is in a loop
            continue
        loop, next_[start] = [start], -1
        while here not in (start, -1):
            loop.append(here)
            next_[here], here = -1, next_[here]
        if here < 0:
            return None
        loops.append(loop)
    return loops


def _chain(links: np.ndarray, count: int) -> list[tuple[list[int], bool]]:
    """Chain links (m, 2) between numbered crossings into paths; (path, closed) for each, open ones from their end.

    Links are followed forwards while they can be, so that loops keep the surface's direction. A path that comes back
    to where it was gives off the loop it has closed: flesh that touches flesh along an edge is two loops.
    """
    onward: list[list[tuple[int, int]]] = [[] for _ in range(count)]
    back: list[list[tuple[int, int]]] = [[] for _ in range(count)]
    for number, (a, b) in enumerate(links.tolist()):
        onward[a].append((b, number))
        back[b].append((a, number))
    used = bytearray(len(links))
    loose = [i for i in range(count) if (len(onward[i]) + len(back[i])) % 2]
    starts = sorted(loose, key=lambda i: len(back[i]) - len(onward[i])) + list(range(count))
    chains = []
    for start in starts:
        path, place, here = [start], {start: 0}, start
        while True:
            step = next(((there, n) for ways in (onward, back) for there, n in ways[here] if not used[n]), None)
            if step is None:
                break
            here = step[0]
            used[step[1]] = 1
            if here in place:
                first = place[here]
                chains.append((path[first:], True))
                for gone in path[first + 1 :]:
                    del place[gone]
                del path[first + 1 :]
            else:
                place[here] = len(path)
                path.append(here)
        if len(path) > 1:
            chains.append((path, False))
    return chains
