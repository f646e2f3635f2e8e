"""The middle plane of a figure, found from its surface or from pairs of places (n, 3), metres, wherever it stands.

The plane's normal points to the figure's left.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np

from rigkit import require
from rigkit.mesh import Mesh
from rigkit.require import RigError
from rigkit.section import Plane
from rigkit.tolerance import NO_LENGTH, ROUND_OFF
from rigkit.vectors import length

FOUND, CANNOT_TELL = "found", "cannot tell"
MESH_MISFIT = 0.0005
"""Share of the figure's spread (root mean square distance from its middle): 0.3 mm on a pair of arms (learner: a side
made from the other, then smoothed or cut into other triangles). Measured on practice limbs: such pairs miss by up
to 0.00011, with 0.5 mm of noise by 0.00035; of 120 pairs of different seeds the two most alike by 0.00058."""
PATCH = 16
"""Neighbours over which the misfit is evened out, so that noise counts less than another shape does."""
JOINTS_MISFIT = 0.05
"""Share of the joints' spread: a learner's two sides may be a few centimetres apart on a whole figure."""
TRUSTED = 0.8
"""Share of the points that decides: a bag, a sword, a parting of the hair may lie on one side only."""

WEAK = 1e-4
"""Of the strongest direction: turns and shifts that the surface tells less than so (round-off: noise would choose)."""


@dataclass(frozen=True, eq=False)
class Middle:
    """A middle plane, or None where it cannot be told; misfit: metres, the root mean square by which the better
    `TRUSTED` share of the points misses the other side's, for the best plane there is (of a mesh: evened out over
    `PATCH` neighbours)."""

    plane: Plane | None
    misfit: float

    @property
    def state(self) -> str:
        """ "found" or "cannot tell"."""
        return CANNOT_TELL if self.plane is None else FOUND


def reflected(points: np.ndarray, plane: Plane) -> np.ndarray:
    """Points (n, 3) on the other side of a plane.

    >>> reflected(np.array([[1.0, 2.0, 3.0]]), Plane([0.5, 0, 0], [1, 0, 0])).tolist()
    [[0.0, 2.0, 3.0]]
    """
    points = require.points(points, "points to be reflected")
    return points - 2.0 * plane.heights(points)[:, None] * plane.normal


def _fitted(points: np.ndarray, images: np.ndarray, like: np.ndarray) -> Plane:
    """The plane that best reflects points (n, 3) to images (n, 3), by least squares; its normal's sign as `like`.

    The normal n makes n . sum(p q^T) n least, p and q from their means: so it is the matrix's last eigenvector (from
    |p - 2 n (n . p) - q|^2, expanded).
    """
    here, there = points.mean(axis=0), images.mean(axis=0)
    spread = (points - here).T @ (images - there)
    normal = np.linalg.eigh(spread + spread.T)[1][:, 0]
    return Plane((here + there) / 2.0, -normal if normal @ like < 0 else normal)


def _slid(points: np.ndarray, out: np.ndarray, normals: np.ndarray, plane: Plane) -> Plane:
    """The plane whose images of points (n, 3) lie nearest to the tangent planes, of unit `normals` (n, 3), that the
    images by the given plane miss by `out` (n,): one step of Gauss and Newton over its turn and its shift. The plane
    stays within the points' spread of their mean, for it is to halve them.

    The image is p - 2 h n, h = n . (p - o); a turn w about o moves it by -2 ((w . (p - o)) n + h w), a shift s by
    2 s n.
    """
    here, across = points.mean(axis=0), np.linalg.svd(plane.normal[None])[2][1:]
    arms, along = points - here, normals @ plane.normal
    reach = float(np.sqrt(np.mean(np.sum(arms**2, axis=1)))) + NO_LENGTH
    off = float(plane.heights(here))
    turn = (arms @ across.T) * along[:, None] + plane.heights(points)[:, None] * (normals @ across.T)
    step = np.linalg.lstsq(2.0 * np.column_stack([turn / reach, -along]), out, rcond=WEAK)[0]
    normal = plane.normal + step[:2] / reach @ across
    return Plane(here + np.clip(step[2] - off, -reach, reach) * plane.normal, normal)


def middle_of_mesh(mesh: Mesh, left: Sequence[float] | np.ndarray = (1.0, 0.0, 0.0)) -> Middle:
    """Find the plane in which a figure's surface is its own mirror image, wherever it stands and however it is turned.

    Planes through the surface's middle, square to its main directions, to those halfway between them and to `left`
    (3,), are each settled: vertices are reflected, matched with the nearest vertex and drawn to its tangent plane
    (iterative closest points: Besl & McKay 1992; Chen & Medioni 1992; both from memory), and the plane fitted again,
    to points first, then to the tangent planes themselves, which ends in the plane and not a millimetre before it.
    Of planes that do as well as the best, the one nearest to square to `left` is taken.

    Raises RigError for a mesh without triangles.
    """
    from scipy.spatial import cKDTree

    left, mesh = require.direction(left, "the figure's left"), mesh.mended
    normals = np.zeros_like(mesh.vertices)
    np.add.at(normals, mesh.triangles.ravel(), np.repeat(mesh.normals, 3, axis=0))
    used = length(normals) > NO_LENGTH**2
    if not used.any():
        raise RigError("a mesh with a surface", "none", where="the figure's middle plane")
    points, normals = mesh.vertices[used], normals[used] / length(normals[used])[:, None]
    area = length(mesh.normals) / length(mesh.normals).sum()
    centre = area @ mesh.corners.mean(axis=1)
    arrows = mesh.corners.mean(axis=1) - centre
    spreads, main = np.linalg.eigh((arrows * area[:, None]).T @ arrows)
    tree = cKDTree(points)

    def settled(plane: Plane, some: np.ndarray, steps: int, closely: bool) -> tuple[Plane, float]:
        for _ in range(steps):
            images = reflected(some, plane)
            far, nearest = tree.query(images)
            out = np.sum((images - points[nearest]) * normals[nearest], axis=1)
            best = np.argsort(far, kind="stable")[: max(3, int(TRUSTED * len(some)))]
            misfit = float(np.sqrt(np.mean(out[best] ** 2)))
            before = plane
            if closely:
                plane = _slid(some[best], out[best], normals[nearest][best], plane)
            else:
                plane = _fitted(some[best], (images - out[:, None] * normals[nearest])[best], left)
            shift = abs(float(plane.heights(before.origin))) + float(length(plane.normal - before.normal))
            if shift < NO_LENGTH:
                break
        return plane, misfit

    ways = [np.array(w) @ main.T for w in product((-1, 0, 1), repeat=3) if w > (0, 0, 0)]
    coarse = points[:: max(1, len(points) // 400)]
    guesses = [settled(Plane(centre, way), coarse, 10, False) for way in (left, *ways)]
    least = min(misfit for _, misfit in guesses)
    finer = points[:: max(1, len(points) // 2000)]
    good = [plane for plane, misfit in guesses if misfit <= 2.0 * least + ROUND_OFF][:3]
    finals = [settled(plane, finer, 40, True) for plane in good]
    least = min(misfit for _, misfit in finals)
    fits = [(plane, misfit) for plane, misfit in finals if misfit <= 2.0 * least + 1e-6]
    plane = max(fits, key=lambda one: abs(float(one[0].normal @ left)))[0]
    images = reflected(finer, plane)
    (around, patch), (far, nearest) = cKDTree(finer).query(finer, k=min(PATCH, len(finer))), tree.query(images)
    out = np.sum((images - points[nearest]) * normals[nearest], axis=1)
    out = np.where(far > 2.0 * around.reshape(len(finer), -1)[:, -1], far, out)  # beside the surface, not over it
    evened = np.sort(np.abs(out[patch.reshape(len(finer), -1)].mean(axis=1)))[: max(3, int(TRUSTED * len(finer)))]
    misfit = float(np.sqrt(np.mean(evened**2)))
    return Middle(plane if misfit <= MESH_MISFIT * np.sqrt(spreads.sum()) else None, misfit)


def middle_of_places(lefts: np.ndarray, rights: np.ndarray, middles: np.ndarray) -> Middle:
    """Find the middle plane from places (n, 3) on the left, their partners (n, 3), and places (m, 3) on the plane.

    What lies far off what the others say (three times their median) does not count. One pair alone says nothing: any
    two points have a plane between them; nor do partners that lie in nearly the same place.

    >>> found = middle_of_places([[1, 0, 0], [2, 1, 0]], [[-1, 0, 0], [-2, 1, 0]], [[0, 1, 1]])
    >>> found.state, found.plane.normal.tolist()
    ('found', [1.0, 0.0, 0.0])
    """
    lefts, rights, middles = (require.points(places, "paired places") for places in (lefts, rights, middles))
    if len(lefts) != len(rights):
        raise RigError(
            "as many places on the left as on the right", f"{len(lefts)} and {len(rights)}", where="a mirror"
        )
    if not len(lefts) or len(lefts) + len(middles) < 2:
        return Middle(None, 0.0)
    here, there = np.vstack([lefts, rights, middles]), np.vstack([rights, lefts, middles])
    like, kept = np.median(lefts - rights, axis=0), np.ones(len(here), dtype=bool)
    for _ in range(5):
        plane = _fitted(here[kept], there[kept], like)
        off = length(reflected(here, plane) - there)
        kept = off <= 3.0 * max(float(np.median(off)), NO_LENGTH)
    misfit = float(np.sqrt(np.mean(off[kept] ** 2)))
    spread = float(np.sqrt(np.mean(np.sum((here - here.mean(axis=0)) ** 2, axis=1))))
    told = float(length(like)) > JOINTS_MISFIT * spread > 0 and misfit <= JOINTS_MISFIT * spread
    return Middle(plane if told else None, misfit)
