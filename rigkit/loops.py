"""Bend loops: where along a limb the mesh is denser, told from triangles alone; stations in metres along the bone.

A modeller lays edge loops closer together where a limb folds. glTF keeps no quads, but the edges that run along the
limb are short there and long elsewhere.
"""

from dataclasses import dataclass

import numpy as np

from rigkit import require
from rigkit.mesh import Mesh
from rigkit.skin import distance_to_bones
from rigkit.vectors import unit

FOUND, CANNOT_TELL = "found", "cannot tell"
DENSER = 0.68
"""Loops at most this share as far apart as is usual on their own bone are bend loops (our choice: most of the practice
limbs' are at a quarter to 0.6; evenly spaced loops stay at 1)."""
USUAL = 0.75  # of the spacings on a bone, the quantile that counts as usual: the dense stretch may fill half of it
AGAIN = 0.8  # of the way from usual to densest: where that comes a second time, the loops are not this joint's alone
ALONG = 0.8  # cosine: an edge that runs along the limb, not around it and not along a quad's diagonal
WINDOW = 0.6  # share of the bones on either side that is looked at
NEAR = 0.15  # share of the shorter bone within which the loops must lie
STEPS = 241  # stations looked at


@dataclass(frozen=True)
class BendLoops:
    """Where the loops of a joint lie.

    state: "found" or "cannot tell". station: metres from the joint to the middle of the dense stretch, along the bone,
    positive down the limb; None when it cannot be told. spacing, usual: metres between loops there and elsewhere on
    the same bone; 0.0 where no edges run along it.
    """

    state: str
    station: float | None
    spacing: float
    usual: float


def bend_loops(mesh: Mesh, parent: np.ndarray, joint: np.ndarray, child: np.ndarray) -> BendLoops:
    """Find the bend loops of the joint between two bones, from parent (3,) over joint (3,) to child (3,), metres.

    Measured at the true joints of the practice limbs: within 5 mm at elbow, knee and digits (7 on the creature's long
    arm); up to 18 mm at a foot's ankle and 13 at a bird's ankle and the balls of feet, where stations of both
    bones overlap. A mesh whose loops crowd in two places is not told; one that was refined in
    a single place elsewhere can mislead. Raises RigError when two of the three coincide.

    >>> from rigkit.limbs import practice_arm
    >>> arm = practice_arm(7)
    >>> there = bend_loops(arm.mesh, *arm.key.positions[:3])
    >>> there.state, abs(there.station) < 0.005
    ('found', True)
    """
    parent, joint, child = (require.vector(place, "a joint's place") for place in (parent, joint, child))
    upper, lower = unit(joint - parent, "the upper bone"), unit(child - joint, "the lower bone")
    lengths = float(np.linalg.norm(joint - parent)), float(np.linalg.norm(child - joint))
    middles, spans = _edges_along(mesh, parent, joint, child, upper, lower)
    stations = np.linspace(-WINDOW * lengths[0], WINDOW * lengths[1], STEPS)
    covers = np.abs(stations[:, None] - middles) <= spans / 2.0
    counts = covers.sum(axis=1)
    if np.count_nonzero(counts) < STEPS / 2:
        return BendLoops(CANNOT_TELL, None, 0.0, 0.0)
    spacing = np.divide(covers @ spans, counts, out=np.full(STEPS, np.nan), where=counts > 0)
    beside = (spacing[:-2] + spacing[2:]) / 2.0  # all edges end at a ring that lies flat at a station
    spacing[1:-1] = np.where(counts[1:-1] > 0, spacing[1:-1], beside)
    below = stations > 0
    wide = [float(np.nanquantile(spacing[half], USUAL)) if counts[half].any() else np.nan for half in (~below, below)]
    if np.isnan(wide).any():
        return BendLoops(CANNOT_TELL, None, 0.0, 0.0)
    usual = np.where(below, wide[1], wide[0])
    spacing = np.where(np.isnan(spacing), usual, spacing)
    share = spacing / usual
    near = np.flatnonzero(np.abs(stations) <= NEAR * min(lengths))
    least = int(near[np.argmin(share[near])])
    there = float(spacing[least]), float(usual[least])
    limit = share[least] + 0.25 * (1.0 - share[least])  # the dense stretch: loops nearly as close as the closest
    dense = share <= limit
    first, last = least, least
    while first > 0 and dense[first - 1]:
        first -= 1
    while last < STEPS - 1 and dense[last + 1]:
        last += 1
    again = np.concatenate([share[:first], share[last + 1 :]])
    if share[least] > DENSER or (again <= AGAIN * share[least] + (1 - AGAIN)).any():
        return BendLoops(CANNOT_TELL, None, *there)
    # The middle is taken in loops rather than in metres, so that a bone with wide loops does not draw it to its side.
    stretch = slice(first, last + 1)
    weights = (1.0 / share[stretch] - 1.0) / usual[stretch]
    middle = float(weights @ (stations[stretch] / usual[stretch]) / weights.sum())
    station = middle * (wide[1] if middle > 0 else wide[0])
    return BendLoops(FOUND, station, *there)


def _edges_along(mesh, parent, joint, child, upper, lower) -> tuple[np.ndarray, np.ndarray]:
    """The edges that run along the two bones: stations of their middles (e,) and how far each reaches along (e,)."""
    ends = mesh.index.edge_ends
    a, b = mesh.vertices[ends[:, 0]], mesh.vertices[ends[:, 1]]
    middles, arrows = (a + b) / 2.0 - joint, b - a
    across = unit(upper + lower, "a limb that is not folded flat")
    stations = middles @ across
    down = np.where((stations < 0)[:, None], upper, lower)
    spans = np.abs(np.sum(arrows * down, axis=1))
    size = np.linalg.norm(arrows, axis=1)
    bones = np.array([[parent, joint], [joint, child]])
    near = np.flatnonzero((spans >= ALONG * size) & (size > 0))
    # Only the flesh of these two bones: within twice the distance that its middle half keeps from them, and in one
    # piece with what lies nearest to the joint; a neighbouring finger hangs together with it only farther off.
    far = distance_to_bones(joint + middles, bones).min(axis=1)
    above, below = WINDOW * np.linalg.norm(bones[:, 1] - bones[:, 0], axis=1)
    own = near[np.abs(stations[near]) <= min(above, below)]
    reach = 2.0 * float(np.median(np.sort(far[own])[: max(1, len(own) // 2)])) if len(own) else 0.0
    seen = np.flatnonzero((far <= reach) & (stations >= -above) & (stations <= below))
    if not len(seen):
        return np.zeros(0), np.zeros(0)
    piece = pieces(ends[seen], len(mesh.vertices))[ends[seen, 0]]
    kept = seen[(piece == piece[np.argmin(np.sum(middles[seen] ** 2, axis=1))]) & np.isin(seen, near)]
    return stations[kept], spans[kept]


def pieces(edges: np.ndarray, count: int) -> np.ndarray:
    """Which of `count` vertices hang together by edges (e, 2): for each the lowest number in its piece, (count,)."""
    lowest = np.arange(count)
    while True:
        before = lowest.copy()
        np.minimum.at(lowest, edges[:, 0], before[edges[:, 1]])
        np.minimum.at(lowest, edges[:, 1], before[edges[:, 0]])
        lowest = lowest[lowest]
        if (lowest == before).all():
            return lowest
