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
DENSER = 0.75
"""Loops at most this share as far apart as usual are bend loops (our choice: the practice limbs' are at a half to two
thirds; an evenly spaced, a sculpted or a reduced mesh stays above 0.9)."""
ALONG = 0.8  # cosine: an edge that runs along the limb, not around it and not along a quad's diagonal
WINDOW = 0.6  # share of the bones on either side that is looked at
NEAR = 0.3  # share of the shorter bone within which the loops must lie
STEPS = 241  # stations looked at


@dataclass(frozen=True)
class BendLoops:
    """Where the loops of a joint lie.

    state: "found" or "cannot tell". station: metres from the joint to the middle of the dense stretch, along the bone,
    positive down the limb; None when it cannot be told. spacing, usual: metres between loops there and elsewhere on
    the two bones; 0.0 where no edges run along them.
    """

    state: str
    station: float | None
    spacing: float
    usual: float


def bend_loops(mesh: Mesh, parent: np.ndarray, joint: np.ndarray, child: np.ndarray) -> BendLoops:
    """Find the bend loops of the joint between two bones, from parent (3,) over joint (3,) to child (3,), metres.

    Raises RigError when two of the three coincide.

    >>> from rigkit.limbs import practice_arm
    >>> arm = practice_arm(7)
    >>> there = bend_loops(arm.mesh, *arm.key.positions[:3])
    >>> there.state, abs(there.station) < 0.003
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
    usual = float(np.nanmedian(spacing))
    near = np.abs(stations) <= NEAR * min(lengths)
    spacing = np.where(np.isnan(spacing), usual, spacing)
    least = int(np.flatnonzero(near)[np.argmin(spacing[near])])
    if spacing[least] > DENSER * usual:
        return BendLoops(CANNOT_TELL, None, float(spacing[least]), usual)
    limit = (spacing[least] + usual) / 2.0  # the dense stretch: where loops are nearer to the closest than to the usual
    first, last = least, least
    while first > 0 and spacing[first - 1] <= limit:
        first -= 1
    while last < STEPS - 1 and spacing[last + 1] <= limit:
        last += 1
    weights = 1.0 / spacing[first : last + 1] - 1.0 / usual
    station = float(weights @ stations[first : last + 1] / weights.sum())
    return BendLoops(FOUND, station, float(spacing[least]), usual)


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
    # Only the flesh of these two bones: within twice the distance that its middle half keeps from them.
    far = distance_to_bones(joint + middles[near], bones).min(axis=1)
    own = np.abs(stations[near]) <= WINDOW * np.linalg.norm(bones[:, 1] - bones[:, 0], axis=1).min()
    reach = 2.0 * float(np.median(np.sort(far[own])[: max(1, own.sum() // 2)])) if own.any() else 0.0
    kept = near[far <= reach]
    return stations[kept], spans[kept]
