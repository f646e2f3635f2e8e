"""Surfaces lofted over rings: control rings -> a grid of vertices (rings, around, 3) -> one closed triangle mesh.

A ring is an oval in a plane of its own: a centre, an outward axis u and a forward axis v, and four extents
(out, front, in, back). Lengths are metres. Angles around a ring run out (0), front (90), in (180), back (270).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from rigkit.mesh import Mesh

GRID = 1e-5
"""Metres: coordinates are rounded to a hundredth of a millimetre, coarser than any difference in the last digit
between machines, so that the same seed gives the same bytes everywhere."""
KEPT = 2
"""Edge loops on either side of a joint that are never thinned."""


class Draws:
    """Numbers drawn from raw 64-bit words of one generator, the same on every machine and numpy version.

    >>> Draws(7).between(0.0, 1.0) == Draws(7).between(0.0, 1.0)
    True
    """

    def __init__(self, seed: int):
        self._words = np.random.PCG64(seed)

    def between(self, least: float, most: float) -> float:
        """The next number, evenly spread from least to most."""
        return least + (most - least) * (int(self._words.random_raw()) >> 11) / 2.0**53


def smooth_through(stations: np.ndarray, values: np.ndarray, wanted: np.ndarray) -> np.ndarray:
    """Values (k, ...) at rising stations (k,), read between them by monotone cubics: (w, ...) at `wanted` (w,).

    Never swings past its control values, so a thin wrist stays thin. Slopes by the harmonic mean of the chords
    (Fritsch & Butland 1984, SIAM J. Sci. Stat. Comput. 5:300-304), zero where the chords disagree in sign.

    >>> smooth_through(np.array([0.0, 1, 2]), np.array([0.0, 1, 2]), np.array([0.5, 1.5])).tolist()
    [0.5, 1.5]
    """
    flat = values.reshape(len(values), -1)
    step = np.diff(stations)[:, None]
    chord = np.diff(flat, axis=0) / step
    slope = np.concatenate([chord[:1], np.zeros_like(flat[1:-1]), chord[-1:]])
    before, after = chord[:-1], chord[1:]
    agree = before * after > 0
    weight_before, weight_after = 2 * step[1:] + step[:-1], step[1:] + 2 * step[:-1]
    bottom = weight_before / np.where(agree, before, 1) + weight_after / np.where(agree, after, 1)
    slope[1:-1] = np.where(agree, (weight_before + weight_after) / np.where(agree, bottom, 1), 0.0)
    piece = np.clip(np.searchsorted(stations, wanted, side="right") - 1, 0, len(stations) - 2)
    t = ((wanted - stations[piece]) / np.diff(stations)[piece])[:, None]
    width = step[piece]
    result = (
        (1 + 2 * t) * (1 - t) ** 2 * flat[piece]
        + t**2 * (3 - 2 * t) * flat[piece + 1]
        + width * (t * (1 - t) ** 2 * slope[piece] - t**2 * (1 - t) * slope[piece + 1])
    )
    return result.reshape(len(wanted), *values.shape[1:])


def dense(stations: ArrayLike, kept: ArrayLike, density: float) -> np.ndarray:
    """Rising stations (r,) thinned or crowded by a factor, as crowded relative to each other as before; the first, the
    last, and those `kept` with two on either side are never thinned.

    >>> dense([0, 1, 2, 4], [0], 2.0).tolist()
    [0.0, 0.5, 1.0, 1.5, 2.0, 3.0, 4.0]
    >>> dense([0, 1, 2, 4, 6, 8, 11, 14, 17], [2], 0.5).tolist()
    [0.0, 1.0, 2.0, 4.0, 6.0, 11.0, 17.0]
    """
    stations = np.asarray(stations, dtype=float)
    last = len(stations) - 1
    near = np.argmin(np.abs(stations - np.reshape(kept, (-1, 1))), axis=1)
    marks = np.unique(np.clip([0, last, *np.add.outer(near, np.arange(-KEPT, KEPT + 1)).ravel()], 0, last))
    steps = [int(np.ceil((b - a) * density - 0.05)) for a, b in zip(marks[:-1], marks[1:], strict=True)]
    pieces = [np.linspace(a, b, n, endpoint=False) for a, b, n in zip(marks[:-1], marks[1:], steps, strict=True)]
    return np.interp(np.concatenate([*pieces, [last]]), np.arange(last + 1), stations)


@dataclass(frozen=True)
class Bump:
    """A swelling (or, with a negative height, a hollow): where along and around, how wide, how high."""

    station: float
    reach: float
    angle: float  # degrees around the ring
    width: float  # degrees
    height: float

    def over(self, stations: np.ndarray, angles: np.ndarray) -> np.ndarray:
        """Its height at stations (r,) and angles (a,) or (r, a) in degrees: (r, a), metres."""
        along = np.exp(-0.5 * ((stations - self.station) / self.reach) ** 2)
        turn = (angles - self.angle + 180.0) % 360.0 - 180.0
        return self.height * (along[:, None] * np.exp(-0.5 * (turn / self.width) ** 2))


def ovals(extents: np.ndarray, exponents: np.ndarray, turn: np.ndarray) -> np.ndarray:
    """Ring outlines (r, a, 2) in (u, v): quarters of superellipses with their own extents.

    extents: (r, 4) out, front, in, back. exponents: (r, 2) of the outer and inner half; 2 is an ellipse, more is
    squarer. turn: angles (a,), or (r, a) ring by ring, in radians. The quarters meet without a corner.
    """
    c, s = np.round(np.cos(turn), 15), np.round(np.sin(turn), 15)
    power = np.where(c > 0, exponents[:, :1], exponents[:, 1:])
    outward = np.where(c > 0, extents[:, :1], extents[:, 2:3])
    forward = np.where(s > 0, extents[:, 1:2], extents[:, 3:])
    u = outward * np.sign(c) * np.abs(c) ** (2 / power)
    v = forward * np.sign(s) * np.abs(s) ** (2 / power)
    return np.stack([u, v], axis=2)


def area_centroids(outlines: np.ndarray) -> np.ndarray:
    """Area centroids (r, 2) of closed outlines (r, a, 2), by the shoelace sums of their triangles."""
    after = np.roll(outlines, -1, axis=1)
    cross = outlines[..., 0] * after[..., 1] - outlines[..., 1] * after[..., 0]
    return np.sum((outlines + after) * cross[..., None], axis=1) / (3 * cross.sum(axis=1))[:, None]


def halves(quads: np.ndarray, vertices: np.ndarray) -> np.ndarray:
    """Quads (q, 4) cut into triangles (2 q, 3) along their shorter diagonal, decided in whole grid steps."""
    grid = np.rint(vertices / GRID).astype(np.int64)
    a, b, c, d = quads.T
    first = np.sum((grid[a] - grid[c]) ** 2, axis=1) <= np.sum((grid[b] - grid[d]) ** 2, axis=1)
    one = np.where(first[:, None], np.stack([a, b, c], axis=1), np.stack([a, b, d], axis=1))
    two = np.where(first[:, None], np.stack([a, c, d], axis=1), np.stack([b, c, d], axis=1))
    return np.stack([one, two], axis=1).reshape(-1, 3)


class Patchwork:
    """A surface put together from tubes, windows and caps: it numbers the vertices and gathers the quads.

    >>> work = Patchwork()
    >>> ring = work.add(ovals(np.ones((1, 4)), np.full((1, 2), 2.0), np.arange(8) * np.pi / 4)[0] @ np.eye(2, 3))
    >>> ring.tolist()
    [0, 1, 2, 3, 4, 5, 6, 7]
    """

    def __init__(self) -> None:
        self.points = np.zeros((0, 3))
        self._quads: list[np.ndarray] = []
        self._triangles: list[np.ndarray] = []

    def add(self, points: np.ndarray) -> np.ndarray:
        """Take in vertices (..., 3); returns their numbers, in the same shape without the last axis."""
        first = len(self.points)
        self.points = np.concatenate([self.points, points.reshape(-1, 3)])
        return np.arange(first, len(self.points)).reshape(points.shape[:-1])

    def quads(self, quads: np.ndarray) -> None:
        """Take in quads (..., 4) of vertex numbers, counter-clockwise seen from outside."""
        self._quads.append(quads.reshape(-1, 4))

    def tube(self, numbers: np.ndarray, window: tuple[slice, slice] | None = None) -> None:
        """Quads between successive rings (r, a) of vertex numbers that turn from u to v; outward along u x v. A
        window of them (rows, columns) is left out."""
        after = np.roll(numbers, -1, axis=1)
        quads = np.stack([numbers[:-1], after[:-1], after[1:], numbers[1:]], axis=2)
        kept = np.ones(quads.shape[:2], dtype=bool)
        if window is not None:
            kept[window] = False
        self.quads(quads[kept])

    def close(self, loop: np.ndarray, middle: np.ndarray) -> None:
        """Close a loop of vertex numbers (k,) by triangles to a new vertex at `middle` (3,); they turn as it does."""
        number = np.full(len(loop), self.add(middle[None])[0])
        self._triangles.append(np.stack([loop, np.roll(loop, -1), number], axis=1))

    def soften(self, numbers: np.ndarray, share: float = 0.5, times: int = 1) -> None:
        """Move vertices towards the mean of those that an edge of a quad joins them to, by a share, several times."""
        quads = np.concatenate(self._quads)
        edges = np.concatenate([quads[:, [0, 1]], quads[:, [1, 2]], quads[:, [2, 3]], quads[:, [3, 0]]])
        count = np.bincount(edges[:, 0], minlength=len(self.points)).clip(1)[:, None]
        for _ in range(times):
            total = np.stack([np.bincount(edges[:, 0], self.points[edges[:, 1], axis], len(self.points))
                              for axis in range(3)], axis=1)  # fmt: skip
            self.points[numbers] += share * (total / count - self.points)[numbers]

    def mesh(self) -> Mesh:
        """The triangle mesh, its vertices on the grid; vertices that nothing uses are left out."""
        vertices = np.round(self.points / GRID) * GRID + 0.0
        triangles = np.concatenate([halves(np.concatenate(self._quads), vertices), *self._triangles])
        used = np.zeros(len(vertices), dtype=bool)
        used[triangles] = True
        return Mesh(vertices[used], (np.cumsum(used) - 1)[triangles])


def window(rows: tuple[int, int], columns: tuple[int, int], around: int) -> np.ndarray:
    """Vertex numbers along the rim of a block of quads of a tube (first and last row, first and last column)."""
    (top, bottom), (left, right) = rows, columns
    number = [(top, c) for c in range(left, right)] + [(r, right) for r in range(top, bottom)]
    number += [(bottom, c) for c in range(right, left, -1)] + [(r, left) for r in range(bottom, top, -1)]
    return np.array([r * around + c % around for r, c in number])


def side_tube(rim: np.ndarray, path: np.ndarray, radii: np.ndarray, across: np.ndarray, root: np.ndarray) -> np.ndarray:
    """Rings (r, k, 3) of a tube that grows out of a rim (k, 3), each with the rim's number of points, in its order.

    path: centres (r, 3) from the rim's middle. radii: (r, 2) along and square to the unit vector `across` (3,).
    root: unit vector (3,) square to `across` along which the tube leaves; the rim turns counter-clockwise about it.
    """
    middle = rim.mean(axis=0)
    travel = np.gradient(np.concatenate([np.zeros((1, 3)), path]), axis=0)[1:]
    travel = travel / np.sqrt(np.sum(travel**2, axis=1, keepdims=True))
    spokes = rim - middle
    angle = np.unwrap(np.arctan2(spokes @ np.cross(root, across), spokes @ across))
    even = (angle.mean() + 2 * np.pi * (np.arange(len(rim)) - (len(rim) - 1) / 2) / len(rim))[:, None]
    rings = []
    for centre, along, (wide, deep) in zip(path, travel, radii, strict=True):
        a = across - along * (across @ along)
        a = a / np.sqrt(a @ a)
        rings.append(middle + centre + wide * np.cos(even) * a + deep * np.sin(even) * np.cross(along, a))
    return np.array(rings)
