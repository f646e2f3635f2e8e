"""Skin weights (n, k) by heat that spreads over the surface from the bones that each vertex sees.

Baran & Popovic, "Automatic rigging and animation of 3D characters", ACM Trans. Graphics 26(3), 2007, section 4.
"""

from dataclasses import dataclass

import numpy as np

from rigkit.mesh import Mesh
from rigkit.require import RigError, frozen
from rigkit.sight import ENCLOSED, winding
from rigkit.skin import checked_bones, distance_to_bones, nearest_on, proximity_weights
from rigkit.tolerance import NO_LENGTH

HEAT = 1.0
"""The paper's constant c: heat taken in at a vertex is c / distance^2; 1 is the paper's own choice (from memory)."""
MOST_BONES = 4
"""Bones a vertex: what glTF 2.0 stores in one set of joints and weights."""
AS_NEAR = 1.0001
"""Bones are equally near within a ten-thousandth: those that meet in a joint differ by round-off there."""
STEEPEST = 1e4
"""Cotangents beyond this come from slivers flatter than a ten-thousandth of their length."""
BY_HEAT, BY_BOTH, BY_NEARNESS = "by heat", "by heat, the rest from the flesh beside it", "by nearness"
LEAST_SEEN = 0.2
"""Share of a shell's area that must see its bone: practice limbs see theirs with 0.8 or more."""
PIECES = 8
"""Of an open mesh a bone warms by those of so many pieces that lie in the flesh: one in front of a hole is seen too."""
LEAST_HEAT = 1e-6
"""... and the heat that it must take in (a limb around its bone takes in tens): less could not be reckoned with."""
SLACK = 1e-9
"""Share of a triangle by which it reaches over its edges, so that no line slips through between two; triangles as near
as this to a direction are equally near."""
_BATCH = 20_000  # lines looked along at once: bounds the memory


@dataclass(frozen=True, eq=False)
class SkinWeights:
    """weights: (n, k), none below zero, at most four above it in a row, each row sums to one. manner: "by heat",
    "by heat, the rest from the flesh beside it" or "by nearness". why: the reason in words. idle: numbers of bones
    that hold no flesh."""

    weights: np.ndarray
    manner: str
    why: str
    idle: tuple[int, ...]


def heat_weights(mesh: Mesh, bones: np.ndarray) -> SkinWeights:
    """Weights of a mesh on bones (k, 2, 3), metres, by heat: (-L + H) w = H p on the welded surface.

    L: cotangent Laplacian, no edge below zero, so that no weight leaves 0 to 1. H: c / distance^2 times the area of
    a vertex where it sees its nearest bone, else 0; p: 1 for that bone (bones equally near share). A vertex sees a
    bone when the straight line to the bone's nearest place starts into the flesh between the triangles around it and
    meets no other: so an open surface works too. Of more than four bones the fifth's weight is taken off all, which
    leaves no step. A shell that does not see its bones from a fifth of its area (clothes, nails) takes the weights of
    the nearest flesh that does, as vertices without triangles do; where none does, all go by nearness. The result says
    which. Raises RigError for no bones or an empty mesh.

    >>> square = Mesh([[0, 0, 0], [2, 0, 0], [2, 2, 0], [0, 2, 0], [1, 1, 1]],
    ...               [[0, 2, 1], [0, 3, 2], [0, 1, 4], [1, 2, 4], [2, 3, 4], [3, 0, 4]])
    >>> skin = heat_weights(square, [[[0.5, 1, 0.3], [1, 1, 0.3]], [[1, 1, 0.3], [1.5, 1, 0.3]]])
    >>> skin.manner, skin.weights[4].round(6).tolist()
    ('by heat', [0.5, 0.5])
    """
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components
    from scipy.sparse.linalg import splu

    bones = checked_bones(bones)
    if not len(mesh.vertices):
        raise RigError("a mesh with vertices", "none", where="the skin")
    fault, mesh = mesh.fault and f"; mended: {mesh.fault}", mesh.mended
    kept, place = np.unique(mesh.welded, return_inverse=True)
    points, triangles = mesh.vertices[kept], place[mesh.triangles]
    a, b, c = triangles.T
    triangles = triangles[(a != b) & (b != c) & (c != a)]
    count = len(points)
    edges, slopes, areas = _surface(points, triangles)
    vertex, bone, warmth = _seen(points, triangles, 1 if mesh.volume >= 0 else -1, bones)
    if not mesh.is_closed:
        warmth = warmth * _enclosed(mesh, points[vertex], bones, bone)
    taken = coo_array((areas[vertex] * warmth, (vertex, bone)), (count, len(bones))).toarray()
    flow = coo_array((slopes, (edges[:, 0], edges[:, 1])), (count, count)).tocsr()
    flow = flow + flow.T
    flow.data = np.maximum(flow.data, 1 / STEEPEST)  # what hangs together stays so
    shells, shell = connected_components(flow, directed=False)
    heat, used = taken.sum(axis=1), np.isin(np.arange(count), triangles)
    seen = np.bincount(shell, areas * (heat > 0.0), shells) >= LEAST_SEEN * np.bincount(shell, areas, shells)
    warm = (seen & (np.bincount(shell, heat, shells) > LEAST_HEAT))[shell]
    if not warm.any():
        near = _few(proximity_weights(mesh, bones))
        return _told(near, BY_NEARNESS, "hardly a vertex sees its nearest bone: the bones lie outside the flesh")
    flow = flow[warm][:, warm]
    system = coo_array((heat[warm] + flow.sum(axis=1), (np.arange(warm.sum()),) * 2)).tocsc() - flow
    solver = splu(system.tocsc(), permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options={"SymmetricMode": True})
    weights = np.zeros((count, len(bones)))
    weights[warm] = _few(solver.solve(taken[warm]))
    told = fault if mesh.is_closed else f"{fault}; the surface is open, so triangles alone tell which side is inside"
    if not warm.all():
        weights[~warm] = _few(_beside(points[~warm], points[warm], weights[warm]))
    blind, shells = (len(np.unique(shell[some])) for some in (used & ~warm, used))
    if not blind:
        return _told(weights[place], BY_HEAT, f"every shell sees a bone{told}")
    why = f"{blind} of {shells} shells see no bone, or hardly, through their own flesh{told}"
    return _told(weights[place], BY_BOTH, why)


def _told(weights: np.ndarray, manner: str, why: str) -> SkinWeights:
    idle = tuple(np.flatnonzero(weights.max(axis=0) <= 0.0).tolist())
    return SkinWeights(frozen(weights), manner, why, idle)


def _surface(points: np.ndarray, triangles: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Edges (3 m, 2) with half the cotangent opposite (3 m,); a third of the area around (n,)."""
    corners = points[triangles]
    cross = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    double = np.sqrt(np.sum(cross**2, axis=1))
    ahead, behind = np.roll(corners, -1, axis=1) - corners, np.roll(corners, 1, axis=1) - corners
    dots = np.sum(ahead * behind, axis=2)
    slopes = dots / np.maximum(double[:, None], np.abs(dots) / STEEPEST + np.finfo(float).tiny) / 2.0
    edges = np.stack([np.roll(triangles, -1, axis=1), np.roll(triangles, 1, axis=1)], axis=2)
    areas = np.bincount(triangles.ravel(), np.repeat(double / 6.0, 3), len(points))
    return edges.reshape(-1, 2), slopes.ravel(), areas


def _seen(points, triangles, outward, bones) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Which vertex sees which nearest bone, numbers (p,) and (p,), and the heat c / distance^2 it takes in (p,).
    outward: 1, or -1 for a surface turned inside out."""
    far = distance_to_bones(points, bones)
    vertex, bone = np.nonzero(far <= far.min(axis=1, keepdims=True) * AS_NEAR)
    arrows = nearest_on(points[vertex], bones[bone]) - points[vertex]
    least = max(1e-4 * np.ptp(points, axis=0).max(), NO_LENGTH)  # a vertex on its bone sees it
    inward = _inward(points, triangles, vertex, arrows * outward) | (far[vertex, bone] <= least)
    vertex, bone, arrows = vertex[inward], bone[inward], arrows[inward]
    clear = ~_blocked(points, triangles, vertex, arrows)
    vertex, bone = vertex[clear], bone[clear]
    return vertex, bone, HEAT / np.maximum(far[vertex, bone], least) ** 2


def _enclosed(mesh: Mesh, points: np.ndarray, bones: np.ndarray, bone: np.ndarray) -> np.ndarray:
    """Whether the piece nearest to each point (p, 3) of its bone, by number (p,), lies in the flesh."""
    shares = ((np.arange(PIECES) + 0.5) / PIECES)[:, None]
    middles = bones[:, None, 0] + shares * (bones[:, None, 1] - bones[:, None, 0])
    within = (winding(mesh, middles.reshape(-1, 3)) >= ENCLOSED).reshape(-1, PIECES)
    nearest = np.argmin(np.sum((points[:, None] - middles[bone]) ** 2, axis=2), axis=1)
    return within[bone, nearest]


def _inward(points, triangles, vertex, arrows) -> np.ndarray:
    """Which arrows (p, 3) from vertices (p,) start into the flesh, told by the triangles around the vertex alone.

    The part of them nearest to the arrow's direction tells: a triangle by its normal, an edge by the sum of its two;
    where all lie behind, the vertex by all, each by its angle (Baerentzen & Aanaes 2005, IEEE TVCG 11(3)). An average
    of normals alone lets lines out at sharp rims.
    """
    corner = np.argsort(triangles.ravel(), kind="stable")
    uses = np.bincount(triangles.ravel(), minlength=len(points))
    many = uses[vertex]
    line = np.repeat(np.arange(len(vertex)), many)
    number = np.arange(len(line)) - np.repeat(np.cumsum(many) - many, many)
    row, turn = np.divmod(corner[(np.cumsum(uses) - uses)[vertex[line]] + number], 3)
    at = points[vertex[line]]
    ahead, behind = (_units(points[triangles[row, (turn + step) % 3]] - at) for step in (1, 2))
    normal, arrow = _units(np.cross(ahead, behind), SLACK), _units(arrows)[line]  # a sliver's says nothing
    height = np.sum(arrow * normal, axis=1)
    over = (np.sum(np.cross(ahead, arrow) * normal, axis=1) > 0) & (
        np.sum(np.cross(arrow, behind) * normal, axis=1) > 0
    )
    edge = np.maximum(np.sum(arrow * ahead, axis=1), np.sum(arrow * behind, axis=1))
    near = np.where(over, np.sqrt(np.maximum(1.0 - height**2, 0.0)), edge)
    nearest = np.zeros(len(vertex))
    np.maximum.at(nearest, line, near)
    angle = np.arccos(np.clip(np.sum(ahead * behind, axis=1), -1.0, 1.0))
    share = np.where(nearest[line] > 0.0, near >= nearest[line] - SLACK, angle)
    return np.bincount(line, share * height, len(vertex)) < 0.0


def _units(arrows: np.ndarray, least: float = np.finfo(float).tiny) -> np.ndarray:
    return arrows / np.maximum(np.sqrt(np.sum(arrows**2, axis=1, keepdims=True)), least)


def _blocked(points, triangles, vertex, arrows) -> np.ndarray:
    """Which lines (p,) from vertices along arrows (p, 3), to their tips, meet a triangle not at that vertex.

    A tree of boxes, eight to a box; lines go down it all at once. Boxes by separating axes (Gottschalk, Lin & Manocha
    1996), triangles after Moller & Trumbore 1997, J. Graphics Tools 2(1).
    """
    hit = np.zeros(len(vertex), dtype=bool)
    if not len(triangles) or not len(vertex):
        return hit
    depth = max(int(np.ceil(np.log(len(triangles) / 4.0) / np.log(8.0))), 0)
    leaf = -(-len(triangles) // 8**depth)
    middles = points[triangles].mean(axis=1)
    order = (np.arange(8**depth * leaf) % len(triangles))[None]  # a few twice: harmless
    for cut in range(3 * depth):
        turn = np.argsort(middles[order, cut % 3], axis=1)
        order = np.take_along_axis(order, turn, axis=1).reshape(2 * len(order), -1)
    corners = points[triangles[order.ravel()]]
    low, high = corners.min(axis=1), corners.max(axis=1)
    boxes = [(low.reshape(8**d, -1, 3).min(axis=1), high.reshape(8**d, -1, 3).max(axis=1)) for d in range(1, depth + 1)]
    for first in range(0, len(vertex), _BATCH):
        start, half = points[vertex[first : first + _BATCH]], arrows[first : first + _BATCH] / 2.0
        line, box = np.arange(len(start)), np.zeros(len(start), dtype=np.int64)
        for below, above in boxes:
            line, box = np.repeat(line, 8), (box[:, None] * 8 + np.arange(8)).ravel()
            size, way = (above - below)[box] / 2.0 * (1 + 1e-9), half[line]
            gap, reach = start[line] + way - (above + below)[box] / 2.0, np.abs(way)
            near = np.all(np.abs(gap) <= size + reach, axis=1)
            line, box, size, way, gap, reach = (x[near] for x in (line, box, size, way, gap, reach))
            near = np.all(np.abs(np.cross(gap, way)) <= size[:, [1, 2, 0]] * reach[:, [2, 0, 1]]
                          + size[:, [2, 0, 1]] * reach[:, [1, 2, 0]] + 1e-15, axis=1)  # fmt: skip
            line, box = line[near], box[near]
        line, row = np.repeat(line, leaf), (box[:, None] * leaf + np.arange(leaf)).ravel()
        others = np.all(triangles[order.ravel()[row]] != vertex[first + line][:, None], axis=1)
        line, row = line[others], row[others]
        a, way = corners[row, 0], 2.0 * half[line]
        one, two, off = corners[row, 1] - a, corners[row, 2] - a, start[line] - a
        p, q = np.cross(way, two), np.cross(off, one)
        with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
            det = np.sum(one * p, axis=1)
            u, v, t = np.sum(off * p, axis=1) / det, np.sum(way * q, axis=1) / det, np.sum(two * q, axis=1) / det
            hit[first + line[(u >= -SLACK) & (v >= -SLACK) & (u + v <= 1 + SLACK) & (t > 0) & (t < 1)]] = True
    return hit


def _few(weights: np.ndarray) -> np.ndarray:
    """Weights with at most four above zero in each row, none below it, rows summing to one."""
    weights = np.maximum(weights, 0.0)
    if weights.shape[1] > MOST_BONES:
        weights = weights * (1.0 - 1e-6 * np.arange(weights.shape[1]))  # of five alike the last gives way
        fifth = np.partition(weights, -MOST_BONES - 1, axis=1)[:, -MOST_BONES - 1]
        weights = np.maximum(weights - fifth[:, None], 0.0)
    return weights / weights.sum(axis=1, keepdims=True)


def _beside(points: np.ndarray, flesh: np.ndarray, weights: np.ndarray) -> np.ndarray:
    """Weights for points (n, 3) from the nearest few places of the flesh (Franke & Little's weights, from memory)."""
    from scipy.spatial import cKDTree

    few = min(6, len(flesh))
    far, near = cKDTree(flesh).query(points, k=np.arange(1, few + 1))
    share = (far[:, -1:] * (1 + 1e-9) - far + 1e-12) / np.maximum(far, 1e-9)
    share = share**2 / np.sum(share**2, axis=1, keepdims=True)
    return np.einsum("nf,nfk->nk", share, weights[near])
