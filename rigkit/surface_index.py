"""An index over a surface: blocks of neighbouring triangles in boxes, so that a cut looks at those near the plane only.

Triangles (m, 3) of vertex numbers, their edges numbered; places in metres.
"""

import numpy as np

from rigkit.tolerance import ROUND_OFF

_ENTERS, _LEAVES = np.array([0, 0, 1, 1, 2, 0, 2, 0]), np.array([0, 2, 0, 2, 1, 1, 0, 0])
"""Which side of a triangle a cut enters and leaves by, by the corners above it: 1 for the first, 2 and 4 for others."""
BLOCK = 32
"""Triangles in a block: few enough to skip most of a limb, enough to keep the boxes few (measured: 16 to 64 alike)."""


class SurfaceIndex:
    """Made once for a surface. vertices (n, 3), metres; triangles (m, 3), seams welded; slivers drop out.

    >>> index = SurfaceIndex(np.eye(3), np.array([[0, 1, 2]]))
    >>> enters, leaves = index.cut(np.array([0.0, 0.0, 0.5]), np.array([0.0, 0.0, 1.0]))
    >>> index.crossings(leaves, np.array([0.0, 0.0, 0.5]), np.array([0.0, 0.0, 1.0])).tolist()
    [[0.0, 0.5, 0.5]]
    """

    def __init__(self, vertices: np.ndarray, triangles: np.ndarray):
        a, b, c = triangles.T
        triangles = triangles[(a != b) & (b != c) & (c != a)]
        corners = vertices[triangles]
        order = _along_a_curve(corners.mean(axis=1))
        self._triangles, corners = triangles[order], corners[order]
        blocks = -(-len(order) // BLOCK)
        spare = blocks * BLOCK - len(order)
        # The last block is filled with points, which no plane cuts.
        corners = np.concatenate([corners, np.broadcast_to(corners[-1:, :1], (min(spare, 1) * spare, 3, 3))])
        boxed = corners.reshape(blocks, BLOCK * 3, 3)
        least, most = boxed.min(axis=1, initial=np.inf), boxed.max(axis=1, initial=-np.inf)
        self._middles, self._halves = (least + most) / 2.0, (most - least) / 2.0
        self._slack = np.abs(self._middles).sum(axis=1) + 1.0
        self._boxed = np.ascontiguousarray(corners.reshape(blocks, BLOCK, 3, 3).transpose(3, 0, 2, 1))
        self._vertices = vertices
        sides = np.stack([self._triangles, np.roll(self._triangles, -1, axis=1)], axis=2).reshape(-1, 2)
        keys = sides.min(axis=1) * len(vertices) + sides.max(axis=1)
        known, numbers = np.unique(keys, return_inverse=True)
        self._edges = numbers.ravel()
        self._low, self._high = np.divmod(known, max(len(vertices), 1))

    @property
    def edge_ends(self) -> np.ndarray:
        """The two vertex numbers (e, 2) of each edge, the lower first."""
        return np.stack([self._low, self._high], axis=1)

    def cut(self, origin: np.ndarray, normal: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """The triangles that a plane cuts: numbers (k,) and (k,) of the edges where the cut enters and leaves each.

        The plane goes through origin (3,) square to the unit vector normal (3,); a corner on it counts as above. Seen
        against the normal the cut runs with the flesh on its left.
        """
        blocks = self._near(origin, normal).nonzero()[0]
        a, b, c = (_heights(self._boxed[:, blocks], origin, normal) >= 0.0).view(np.uint8).swapaxes(0, 1)
        above = (a + 2 * b + 4 * c).ravel()
        found = ((above > 0) & (above < 7)).nonzero()[0]
        edges, above = 3 * (blocks[found // BLOCK] * BLOCK + found % BLOCK), above[found]
        return self._edges[edges + _ENTERS[above]], self._edges[edges + _LEAVES[above]]

    def beside(self, origin: np.ndarray, axes: np.ndarray, slack: float) -> tuple[np.ndarray, np.ndarray]:
        """The triangles that a line may meet, within slack (metres): their vertex numbers (k, 3), and their corners
        (k, 3, 3) as seen from its origin (3,) along axes (3, 3), two square to it and its own."""
        blocks = (self._near(origin, axes[0]) & self._near(origin, axes[1])).nonzero()[0]
        numbers = (blocks[:, None] * BLOCK + np.arange(BLOCK)).ravel()
        numbers = numbers[numbers < len(self._triangles)]
        corners = self._boxed[:, blocks].swapaxes(1, 2).reshape(3, 3, -1)[:, :, : len(numbers)]
        for axis in axes[:2]:
            a, b, c = _heights(corners, origin, axis)
            least, most = np.minimum(np.minimum(a, b), c), np.maximum(np.maximum(a, b), c)
            met = ((least <= slack) & (most >= -slack)).nonzero()[0]
            numbers, corners = numbers[met], corners[:, :, met]
        return self._triangles[numbers], np.array([_heights(corners, origin, axis) for axis in axes]).T

    def _near(self, origin: np.ndarray, normal: np.ndarray) -> np.ndarray:
        """Which boxes a plane may cut."""
        reach = self._halves @ np.abs(normal)
        return np.abs((self._middles - origin) @ normal) <= reach + ROUND_OFF * (self._slack + reach)

    def crossings(self, edges: np.ndarray, origin: np.ndarray, normal: np.ndarray) -> np.ndarray:
        """Where the plane crosses edges that it cuts, by number (k,): places (k, 3), metres."""
        a, b = self._vertices[self._low[edges]], self._vertices[self._high[edges]]
        low, high = _heights(a.T, origin, normal), _heights(b.T, origin, normal)
        return a + (low / (low - high))[:, None] * (b - a)


def _heights(places: np.ndarray, origin: np.ndarray, normal: np.ndarray) -> np.ndarray:
    """Heights (...,) over a plane of places (3, ...). Plain products, not a matrix product: a corner that many
    triangles share must come out the same to the last digit in each."""
    (x, y, z), (a, b, c), (along_x, along_y, along_z) = places, origin.tolist(), normal.tolist()
    heights, more, most = x - a, y - b, z - c
    heights *= along_x
    more *= along_y
    most *= along_z
    heights += more
    heights += most
    return heights


def _along_a_curve(places: np.ndarray) -> np.ndarray:
    """An order (m,) of places (m, 3) in which neighbours in space are mostly neighbours (Morton 1966, from memory)."""
    if not len(places):
        return np.zeros(0, dtype=np.int64)
    span = np.maximum(np.ptp(places, axis=0), 1e-30)
    cells = ((places - places.min(axis=0)) / span.max() * 1023.0).astype(np.int64)
    code = np.zeros(len(places), dtype=np.int64)
    for bit in range(10):
        for axis in range(3):
            code |= ((cells[:, axis] >> bit) & 1) << (3 * bit + axis)
    return np.argsort(code, kind="stable")
