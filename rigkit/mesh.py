"""Triangle meshes: vertices (n, 3) in metres and triangles (m, 3) of vertex numbers; frozen, order never changed."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from rigkit import require
from rigkit.frames import Frame, mirror_matrix
from rigkit.require import RigError
from rigkit.surface_index import SurfaceIndex
from rigkit.tolerance import WELD

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
        """Enclosed volume in cubic metres: positive when closed and facing outward (divergence theorem)."""
        middle = self.vertices.mean(axis=0) if len(self.vertices) else np.zeros(3)
        a = self.corners[:, 0] - middle
        return float(np.sum(a * self.normals) / 6.0)

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
        """The index that sections use; made on the first cut, seams welded."""
        return SurfaceIndex(self.vertices, self.welded[self.triangles])

    @cached_property
    def is_closed(self) -> bool:
        """True when, seams welded, every edge has exactly two triangles that run along it in opposite ways."""
        corners = self.welded[self.triangles]
        edges = np.concatenate([corners[:, [0, 1]], corners[:, [1, 2]], corners[:, [2, 0]]])
        edges = edges[edges[:, 0] != edges[:, 1]]
        if not len(edges):
            return False
        forth, forth_counts = np.unique(edges, axis=0, return_counts=True)
        back = np.unique(edges[:, ::-1], axis=0)
        return bool(np.all(forth_counts == 1) and np.array_equal(forth, back))

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
    first = np.arange(len(vertices))
    pairs = []
    for step in range(1, min(len(vertices), _MOST_NEIGHBOURS)):
        near = np.flatnonzero(along[order[step:]] - along[order[:-step]] <= reach)
        if not len(near):
            break
        a, b = order[near], order[near + step]
        same = np.sum((vertices[a] - vertices[b]) ** 2, axis=1) <= reach**2
        pairs.append(np.sort(np.stack([a[same], b[same]], axis=1), axis=1))
    links = np.concatenate(pairs) if pairs else np.zeros((0, 2), dtype=int)
    while len(links):
        low = np.minimum(first[links[:, 0]], first[links[:, 1]])
        before = first.copy()
        np.minimum.at(first, links[:, 0], low)
        np.minimum.at(first, links[:, 1], low)
        first = first[first]
        if np.array_equal(first, before):
            break
    return first
