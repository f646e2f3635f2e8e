"""Triangle meshes: vertices (n, 3) in metres and triangles (m, 3) of vertex numbers; frozen, order never changed."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from rigkit import require
from rigkit.frames import Frame, mirror_matrix
from rigkit.require import RigError
from rigkit.surface_index import SurfaceIndex
from rigkit.tolerance import WELD

TWICE, MIXED = "triangles that are there twice", "neighbours that face opposite sides"

_SLANT = np.array([0.61803399, 0.41421356, 0.30277564])
_MOST_NEIGHBOURS = 64  # in sorted order; a hostile heap of vertices still links up, neighbour by neighbour
_SLANT /= np.sqrt(np.sum(_SLANT**2))  # a direction along which no modelled grid of points lines up


@dataclass(frozen=True, eq=False)
class Mesh:
    """A surface of triangles, counter-clockwise seen from outside (as in glTF 2.0).

    vertices: (n, 3) float64, metres. triangles: (m, 3) int64, numbers of vertices. Both read-only.
    Raises RigError for wrong shapes, numbers that are not finite, or triangles that name no vertex.

    >>> tetrahedron = Mesh([[0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1]], [[0, 2, 1], [0, 1, 3], [0, 3, 2], [1, 2, 3]])
    >>> round(tetrahedron.volume, 6), tetrahedron.is_closed
    (0.166667, True)
    """

    vertices: np.ndarray
    triangles: np.ndarray

    def __post_init__(self) -> None:
        object.__setattr__(self, "vertices", require.points(self.vertices, "the mesh's vertices"))
        triangles = np.array(self.triangles)
        if triangles.size == 0:
            triangles = triangles.reshape(0, 3)
        if triangles.ndim != 2 or triangles.shape[1] != 3 or (triangles.size and triangles.dtype.kind not in "iu"):
            raise RigError("rows of three vertex numbers", require.shown(triangles), where="the mesh's triangles")
        triangles = triangles.astype(np.int64)
        if triangles.size and not 0 <= triangles.min() <= triangles.max() < len(self.vertices):
            raise RigError(
                f"vertex numbers from 0 to {len(self.vertices) - 1}",
                f"{triangles.min()} to {triangles.max()}", where="the mesh's triangles",
            )  # fmt: skip
        triangles.setflags(write=False)
        object.__setattr__(self, "triangles", triangles)

    @cached_property
    def corners(self) -> np.ndarray:
        """The triangles' corner places (m, 3, 3), metres."""
        return self.vertices[self.triangles]

    @cached_property
    def normals(self) -> np.ndarray:
        """The triangles' normals (m, 3), outward, as long as twice their area in square metres."""
        a, b, c = np.moveaxis(self.corners, 1, 0)
        return np.cross(b - a, c - a)

    @cached_property
    def volume(self) -> float:
        """Enclosed volume, cubic metres, of the `mended` mesh, positive when facing outward (divergence theorem); of an
        open one its sign alone means something."""
        middle = self.vertices.mean(axis=0) if len(self.vertices) else np.zeros(3)
        a = self.mended.corners[:, 0] - middle
        return float(np.sum(a * self.mended.normals) / 6.0)

    @cached_property
    def bounds(self) -> np.ndarray:
        """Least and greatest coordinates, (2, 3), metres."""
        if not len(self.vertices):
            raise RigError("a mesh with vertices", "none", where="the mesh")
        return np.array([self.vertices.min(axis=0), self.vertices.max(axis=0)])

    @cached_property
    def welded(self) -> np.ndarray:
        """For each vertex (n,) the lowest number of a vertex at the same place, within a micrometre.

        Files double vertices along seams; a section must not break there. Chains of close vertices weld to one.
        """
        return weld(self.vertices, WELD)

    @cached_property
    def index(self) -> SurfaceIndex:
        """The index that sections use; made on the first cut, seams welded, of the `mended` mesh."""
        return SurfaceIndex(self.vertices, self.welded[self.mended.triangles])

    @cached_property
    def _edges(self) -> np.ndarray:
        """Edges (3 m, 2), seams welded, each the way its triangle runs along it; of a sliver, all with equal ends."""
        corners = self.welded[self.triangles]
        sliver = np.any(corners == np.roll(corners, -1, axis=1), axis=1)
        corners = np.where(sliver[:, None], corners[:, :1], corners)
        return np.stack([corners, np.roll(corners, -1, axis=1)], axis=2).reshape(-1, 2)

    @cached_property
    def is_closed(self) -> bool:
        """True when, seams welded, every edge has exactly two triangles that run along it in opposite ways."""
        a, b = self._edges[self._edges[:, 0] != self._edges[:, 1]].T
        forth, back = np.sort(a * len(self.vertices) + b), np.sort(b * len(self.vertices) + a)
        return bool(len(a) and np.all(forth[1:] > forth[:-1]) and np.array_equal(forth, back))

    @cached_property
    def mended(self) -> "Mesh":
        """The mesh with one side to its surface, vertices as they were; itself where nothing is wrong.

        Triangles that are there twice count once, reversed ones (two-sided) where all of a piece is there both ways
        round. A piece whose neighbours face opposite sides is made to face outward.
        """
        triangles = _one_sided(self.vertices, self.triangles, self._edges)
        if triangles is self.triangles:
            return self
        mesh = Mesh(self.vertices, triangles)
        mesh.__dict__.update(mended=mesh, welded=self.welded)  # what cannot be mended (one side only) stays
        return mesh

    @property
    def fault(self) -> str:
        """What was mended: "triangles that are there twice", "neighbours that face opposite sides", or ""."""
        if self.mended is self:
            return ""
        return TWICE if len(self.mended.triangles) < len(self.triangles) else MIXED

    def moved(self, new_from_old: Frame) -> "Mesh":
        """The mesh carried by a rigid frame; triangles as they were."""
        return Mesh(new_from_old @ self.vertices, self.triangles)

    def mirrored(self, point: np.ndarray, normal: np.ndarray) -> "Mesh":
        """The mesh reflected in a plane; each triangle turned round so that outside stays outside."""
        flipped = (self.vertices - point) @ mirror_matrix(normal) + point
        return Mesh(flipped, self.triangles[:, ::-1])


def weld(vertices: np.ndarray, reach: float) -> np.ndarray:
    """Number (n,) of the first vertex at the same place as each one, places within `reach` metres being the same.

    Vertices are sorted along a slanted direction; two that are within reach are within reach along it too, so
    every close pair is seen, however the noise falls on a grid.

    >>> weld(np.array([[0.0, 0, 0], [1, 0, 0], [3e-7, 0, 0]]), 1e-6).tolist()
    [0, 1, 0]
    """
    along = vertices @ _SLANT
    order = np.argsort(along, kind="stable")
    pairs = []
    for step in range(1, min(len(vertices), _MOST_NEIGHBOURS)):
        near = np.flatnonzero(along[order[step:]] - along[order[:-step]] <= reach)
        if not len(near):
            break
        a, b = order[near], order[near + step]
        same = np.sum((vertices[a] - vertices[b]) ** 2, axis=1) <= reach**2
        pairs.append(np.sort(np.stack([a[same], b[same]], axis=1), axis=1))
    return _linked(len(vertices), np.concatenate(pairs) if pairs else np.zeros((0, 2), dtype=int))


def _linked(count: int, links: np.ndarray) -> np.ndarray:
    """For each of `count` things (n,) the lowest number that links (m, 2) lead to."""
    first = np.arange(count)
    while len(links):
        low = np.minimum(first[links[:, 0]], first[links[:, 1]])
        before = first.copy()
        np.minimum.at(first, links[:, 0], low)
        np.minimum.at(first, links[:, 1], low)
        first = first[first]
        if np.array_equal(first, before):
            break
    return first


def _one_sided(vertices: np.ndarray, triangles: np.ndarray, edges: np.ndarray) -> np.ndarray:
    """Triangles (k, 3) with one side, as `Mesh.mended` says; the very same array where nothing is wrong."""
    count, real = len(vertices), edges[:, 0] != edges[:, 1]
    forth = np.sort((edges[:, 0] * count + edges[:, 1])[real])
    if not np.any(forth[1:] == forth[:-1]):  # no two triangles run the same way along an edge
        return triangles
    corners, sliver = edges[:, 0].reshape(-1, 3), ~real[::3]
    same = np.unique(np.sort(corners, axis=1), axis=0, return_inverse=True)[1].ravel()
    after = np.take_along_axis(corners, (np.argmin(corners, axis=1)[:, None] + [1, 2]) % 3, axis=1)
    seen, once = np.unique(2 * same + (after[:, 0] < after[:, 1]), return_index=True)
    twins, piece = np.bincount(seen // 2)[same] == 2, _linked(count, edges)[corners[:, 0]]
    sided = np.isin(piece, piece[~twins & ~sliver], invert=True)  # all of the piece is there both ways round
    lone = np.isin(np.arange(len(same)), np.unique(same, return_index=True)[1])
    kept = np.flatnonzero(sliver | lone | np.isin(np.arange(len(same)), once) & ~sided)
    turned = _turned(vertices[triangles[kept]], edges.reshape(-1, 3, 2)[kept].reshape(-1, 2))
    if len(kept) == len(triangles) and not turned.any():
        return triangles
    return np.where(turned[:, None], triangles[kept][:, ::-1], triangles[kept])


def _turned(corners: np.ndarray, edges: np.ndarray) -> np.ndarray:
    """Which triangles (m,), corners (m, 3, 3) and edges (3 m, 2), to turn round so that neighbours face the same side.

    Each triangle is taken twice, as it is and turned round; neighbours, over edges of two triangles, link those that
    agree. Of a piece's two halves that come of it, where it was at odds, the one that faces outward is taken.
    """
    count, order = len(corners), np.flatnonzero(edges[:, 0] != edges[:, 1])
    _, first, uses = np.unique(np.sort(edges[order], axis=1), axis=0, return_inverse=True, return_counts=True)
    order, first = order[np.argsort(first, kind="stable")], np.cumsum(uses) - uses
    one, two = order[first[uses == 2]], order[first[uses == 2] + 1]
    odds, one, two = edges[one, 0] == edges[two, 0], one // 3, two // 3
    links = [np.stack([one + side * count, two + (odds ^ side) * count], axis=1) for side in (0, 1)]
    as_is, other = _linked(2 * count, np.concatenate(links)).reshape(2, -1)
    turned, piece = as_is > other, np.minimum(as_is, other)
    a, b, c = np.moveaxis(corners - corners.mean(axis=(0, 1)), 1, 0)
    volume = np.bincount(piece, np.sum(a * np.cross(b, c), axis=1) * np.where(turned, -1, 1), count)
    return turned ^ ((volume[piece] < 0) & np.isin(piece, piece[one[odds]]))
