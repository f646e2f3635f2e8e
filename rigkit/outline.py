"""Contours: where flesh turns away from the eye; vertices (n, 2) px and triangles (m, 3) -> pieces (k, 2, 2) px."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

DEPTH_CELL = 5.0  # px: width of the cells in which the nearest flesh is kept, about half a triangle of a small limb
WIDE = 0.75  # of a triangle's size: cells where triangles are larger, as in a look from near, so that none stays empty
OUT = 1.6  # cells from a contour at which other flesh is looked for: clear of the cell that the contour itself lies in
EDGE_ON = 1e-6  # square px: a triangle of less area is seen edge-on, and round-off would decide its side
NEARER = 0.002  # metres by which other flesh must lie nearer to the eye to hide a contour


def front_facing(flat: np.ndarray, triangles: np.ndarray) -> np.ndarray:
    """Which of the triangles (m, 3) turn their outer side to the eye, from projected vertices (n, 2): booleans (m,)."""
    a, b, c = flat[triangles[:, 0]], flat[triangles[:, 1]], flat[triangles[:, 2]]
    return (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0]) < -EDGE_ON


@dataclass(frozen=True)
class Edges:
    """The edges two triangles share: vertex pairs (e, 2) in the first one's direction, both triangles (e, 2), the
    vertex opposite in each (e, 2); and the edges of one triangle alone, at a tear: pairs (t, 2), their triangles (t,).

    even: whether each shared edge runs one way in one triangle and the other way in the other.
    """

    ends: np.ndarray
    faces: np.ndarray
    opposite: np.ndarray
    torn: np.ndarray
    torn_faces: np.ndarray
    even: bool

    @classmethod
    def of(cls, triangles: np.ndarray) -> Edges:
        """The edges of triangles (m, 3)."""
        count = len(triangles)
        directed = np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]])
        across = np.concatenate([triangles[:, 2], triangles[:, 0], triangles[:, 1]])
        pairs = np.sort(directed, axis=1)
        order = np.lexsort((pairs[:, 1], pairs[:, 0]))
        same = np.flatnonzero((pairs[order[:-1]] == pairs[order[1:]]).all(axis=1))
        one, other = order[same], order[same + 1]
        alone = np.setdiff1d(np.arange(len(directed)), np.concatenate([one, other]))
        even = bool((directed[one] == directed[other][:, ::-1]).all()) and len(alone) + 2 * len(one) == len(directed)
        return cls(directed[one], np.stack([one % count, other % count], 1), np.stack([across[one], across[other]], 1),
                   directed[alone], alone % count, even)  # fmt: skip


def rim_loops(edges: Edges, front: np.ndarray) -> list[np.ndarray]:
    """The rim of the triangles that face the eye, booleans (m,): closed loops of vertex numbers (k,).

    Filled by the rule that counts how often a loop winds round a place, these loops cover what the triangles cover: the
    sum of the triangles' rims, where all that is shared has cancelled.

    >>> square = np.array([[0, 1, 2], [0, 2, 3]])
    >>> [loop.tolist() for loop in rim_loops(Edges.of(square), np.array([True, True]))]
    [[0, 1, 2, 3]]
    """
    facing = front[edges.faces]
    turning = facing[:, 0] != facing[:, 1]
    ends = edges.ends[turning]
    ends = np.concatenate([np.where(facing[turning, :1], ends, ends[:, ::-1]), edges.torn[front[edges.torn_faces]]])
    onward: dict[int, list[int]] = {}
    for start, end in ends.tolist():
        onward.setdefault(start, []).append(end)
    loops = []
    while onward:
        here = next(iter(onward))
        loop = []
        while here in onward:
            loop.append(here)
            ways = onward[here]
            to = ways.pop()
            if not ways:
                del onward[here]
            here = to
        loops.append(np.array(loop))
    return loops


def contour_lines(
    edges: Edges, flat: np.ndarray, depth: np.ndarray, front: np.ndarray, triangles: np.ndarray, size: tuple[int, int]
) -> tuple[np.ndarray, np.ndarray]:
    """Where the flesh turns away from the eye: seen and hidden pieces, each (k, 2, 2) px.

    A piece is hidden where flesh a little further out lies nearer to the eye; coarse, but it only decides how a
    line is drawn.
    """
    facing = front[edges.faces]
    turning = facing[:, 0] != facing[:, 1]
    pieces = flat[edges.ends[turning]]
    middle = pieces.mean(axis=1)
    inner = np.where(facing[turning, 0], edges.opposite[turning, 0], edges.opposite[turning, 1])
    along = pieces[:, 1] - pieces[:, 0]
    normal = np.stack([along[:, 1], -along[:, 0]], axis=1)
    normal *= -np.sign(np.sum(normal * (flat[inner] - middle), axis=1, keepdims=True))
    corners = triangles[front]
    a, b, c = flat[corners[:, 0]], flat[corners[:, 1]], flat[corners[:, 2]]
    twice = np.abs((b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0]))
    cell = max(DEPTH_CELL, WIDE * float(np.sqrt(np.median(twice)))) if len(twice) else DEPTH_CELL
    normal *= OUT * cell / np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-9)

    high = int(size[1] // cell) + 1
    last = np.array([size[0] // cell, high - 1])
    nearest = np.full((int(last[0]) + 1) * high, -np.inf)

    def number_of(places: np.ndarray) -> np.ndarray:
        """The cell of each place (n, 2)."""
        inside = np.minimum(np.maximum(places / cell, 0.0), last).astype(np.intp)
        return inside[:, 0] * high + inside[:, 1]

    ends, shown = edges.ends[facing.any(axis=1)], np.zeros(len(flat), bool)
    shown[corners] = True
    samples = np.concatenate([flat[shown], (a + b + c) / 3.0, flat[ends].mean(axis=1)])
    depths = np.concatenate([depth[shown], depth[corners].mean(axis=1), depth[ends].mean(axis=1)])
    np.maximum.at(nearest, number_of(samples), depths)
    hidden = nearest[number_of(middle + normal)] > depth[edges.ends[turning]].mean(axis=1) + NEARER
    return pieces[~hidden], pieces[hidden]
