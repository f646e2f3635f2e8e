"""What a turn at a joint does to the flesh: volume kept, skin folded over, stretched, pushed through itself; metres.

Three joints (3, 3), root, middle, end: the root stays, the lower bone turns about an axis through the middle, radians.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from rigkit import require
from rigkit.frames import IDENTITY, rotation_about
from rigkit.heat import heat_weights
from rigkit.mesh import Mesh
from rigkit.require import RigError
from rigkit.section import Plane, cut
from rigkit.skin import bend_skin, bone_frame
from rigkit.tolerance import NO_LENGTH
from rigkit.vectors import along_and_across, any_square_to, length, unit

OWN = 2.0
"""Local radii of limb up and down from the joint that count as its own flesh: what bending changes lies within."""
LOOKED = 4.0
"""Local radii around the joint within which flesh inside flesh is looked for."""
LINES = 10
"""Lines a local radius on which that is measured: four times as many change it by less than 0.001 of own flesh."""
SHIFT = 0.3
"""Share of the local radius by which `shifts` moves the joint."""
BEYOND = 2.0
"""A shift tells where it changes a measure by more than this many times what sliding along the bone does."""
LEAST = 0.002
"""... and by this much of own flesh at least: the lines alone may miss half of it."""

THINNEST, THINNEST_SHARE = 1e-4, 1e-3
"""Least local radius, in metres and as a share of the mesh's size: a fingertip is 0.003 of a person (from memory);
less is another unit or a stray, and shares of its flesh would say nothing."""


@dataclass(frozen=True)
class Bulk:
    """A turn measured, in shares of the joint's own flesh: a tube of its section, two local radii up and down.

    angle: radians. kept: 1 + change of the signed volume. overlap: volume that flesh fills more than once (twice more
    counts twice), beyond what was so at rest: skin through skin at the fold and forearm in upper arm alike. It cannot
    tell which, nor whether it shows. folded: triangles turned over, by their area at rest: their normals point against
    what turning by their own share of the turn makes of them; turned: their number. stretched: area that the triangles
    which grew have gained. manner: how the skin got its weights.
    """

    angle: float
    kept: float
    overlap: float
    folded: float
    turned: int
    stretched: float
    manner: str

    @property
    def harms(self) -> dict[str, float]:
        """The measures as harms, 0 at rest: `volume` (lost or gained), `overlap`, `folded`, `stretched`."""
        volume = abs(self.kept - 1.0)
        return {"volume": volume, "overlap": self.overlap, "folded": self.folded, "stretched": self.stretched}


@dataclass(frozen=True, eq=False)
class Shift:
    """The joint moved along the unit vector `toward` (3,), at `around` radians from the outer side of the fold about
    the limb (0 outer, pi inner); what that does, and the harms it lessens and worsens by more than noise."""

    around: float
    toward: np.ndarray
    bulk: Bulk
    better: tuple[str, ...]
    worse: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class Shifts:
    """unshifted: the placement as it is. noise: for each harm, the change that is no news. each: the eight shifts."""

    unshifted: Bulk
    noise: MappingProxyType
    each: tuple[Shift, ...]


def hinge_axis(joints: np.ndarray, away: np.ndarray) -> np.ndarray:
    """Unit axis (3,) about which a positive turn folds the lower bone to the side opposite to `away` (3,).

    >>> axis = hinge_axis(np.array([[0, 2.0, 0], [0, 1, 0], [0, 0, 0]]), [0, 0, -1])
    >>> (axis + 0.0).tolist()  # a positive turn about it brings the forearm forward
    [-1.0, 0.0, 0.0]
    """
    line = unit(joints[2] - joints[0], "the joints on either side of the bend")
    across = along_and_across(require.direction(away, "the fold direction"), line)[1]
    return np.cross(unit(across, "the fold direction"), line)


def turned(mesh: Mesh, joints, axis, angles: Sequence[float], still=None, radius: float | None = None) -> tuple:
    """A `Bulk` for each turn of the lower bone about an axis (3,) through the middle joint: a hinge bends, the bone's
    own direction twists.

    joints: (3, 3) root, middle, end, metres. angles: radians. still: bones (k, 2, 3) that hold the rest of the body.
    radius: of the flesh at the joint; None: from the section halfway between the bones. Skin by heat weights. Raises
    RigError for an open mesh, coinciding joints, no flesh at the joint, a radius that does not fit the mesh.
    """
    root, middle, end = joints = require.points(joints, "the joints")
    if not mesh.is_closed:
        got = mesh.fault or "one with open edges"
        raise RigError("a closed mesh", got, "volume has no meaning there", where="the flesh")
    axis, below = require.direction(axis, "the axis of the turn"), unit(end - middle, "the lower bone")
    tip = end + below * max(float(((mesh.vertices - end) @ below).max()), 0.01)
    bones = np.array([[root, middle], [middle, end], [end, tip], *([] if still is None else still)])
    skin = heat_weights(mesh, bones)
    size = float(np.ptp(mesh.bounds, axis=0).max())
    radius = local_radius(mesh, joints) if radius is None else radius
    radius = require.number(radius, "the local radius, metres", max(THINNEST, THINNEST_SHARE * size), size)
    volume, side = 2 * OWN * np.pi * radius**3, 4 * OWN * np.pi * radius**2
    upper = along_and_across(middle - root, axis)[1]
    u = unit(upper) if length(upper) > NO_LENGTH else any_square_to(axis)
    frame = np.array([u, np.cross(axis, u), axis])
    share = skin.weights[:, 1:3].sum(axis=1)[mesh.triangles].mean(axis=1)
    areas = length(mesh.normals) / 2.0
    before = overlap_volume(mesh, middle, frame, radius)
    results = []
    for angle in (require.number(angle, "the angle of the turn") for angle in angles):
        lower = bone_frame(middle, middle, rotation_about(axis, angle))
        bent = bend_skin(mesh, skin.weights, [IDENTITY, lower, lower, *[IDENTITY] * (len(bones) - 3)])
        over = np.sum(bent.normals * _about(mesh.normals, axis, share * angle), axis=1) < 0.0
        gained = np.maximum(length(bent.normals) / 2.0 - areas, 0.0).sum()
        overlap = (overlap_volume(bent, middle, frame, radius) - before) / volume
        kept, folded = 1.0 + (bent.volume - mesh.volume) / volume, float(areas[over].sum() / side)
        results.append(Bulk(angle, kept, overlap, folded, int(over.sum()), float(gained / side), skin.manner))
    return tuple(results)


def shifts(mesh: Mesh, joints, away, angle: float = np.pi / 2, still=None) -> Shifts:
    """What a placement does to the skin: the middle joint moved by 0.3 of the local radius in eight directions around
    the limb, skinned anew and bent by `angle` radians about the same hinge, each compared with the joint as it is.

    Noise is what sliding the joint a tenth of the radius up and down the bone does: no eye would call that a fault.
    Measured on ten practice arms, all alike: at 90 and 120 degrees a shift to the outer side loses volume, one to the
    inner side keeps more and stretches the skin more; along the hinge hardly anything changes. Raises as `turned`.
    """
    joints = require.points(joints, "the joints")
    axis, radius = hinge_axis(joints, away), local_radius(mesh, joints)
    along = _halfway(joints)
    out = unit(along_and_across(require.direction(away, "the fold direction"), along)[1], "the fold direction")

    def placed(offset: np.ndarray) -> Bulk:
        moved = joints + np.array([[0.0], [radius], [0.0]]) * offset
        return turned(mesh, moved, axis, [angle], still, radius)[0]

    unshifted, slid = placed(np.zeros(3)), [placed(0.1 * along), placed(-0.1 * along)]
    harms = unshifted.harms
    noise = {name: max(LEAST, BEYOND * max(abs(s.harms[name] - harm) for s in slid)) for name, harm in harms.items()}
    each = []
    for eighth in range(8):
        around = eighth * np.pi / 4
        toward = require.direction(out * np.cos(around) + np.cross(along, out) * np.sin(around), "a shift")
        bulk = placed(SHIFT * toward)
        change = {name: bulk.harms[name] - harms[name] for name in harms}
        better = tuple(name for name in harms if change[name] < -noise[name])
        each.append(Shift(around, toward, bulk, better, tuple(name for name in harms if change[name] > noise[name])))
    return Shifts(unshifted, MappingProxyType(noise), tuple(each))


def local_radius(mesh: Mesh, joints: np.ndarray) -> float:
    """Radius in metres of a circle with the area of the section through the middle joint, halfway between the bones;
    of the nearest flesh where the joint lies outside. Raises RigError where there is none in that plane."""
    held = cut(mesh, Plane(joints[1], _halfway(joints))).holding(joints[1])
    if held.loop is None or not held.loop.closed or held.loop.radius < NO_LENGTH:
        raise RigError("flesh at the middle joint", held.state, where="the local radius")
    return held.loop.radius


def _halfway(joints: np.ndarray) -> np.ndarray:
    """Unit direction (3,) halfway between the two bones, down the limb."""
    upper, lower = unit(joints[1] - joints[0], "the upper bone"), unit(joints[2] - joints[1], "the lower bone")
    return unit(upper + lower, "a limb not folded shut")


def _about(arrows: np.ndarray, axis: np.ndarray, angles: np.ndarray) -> np.ndarray:
    """Arrows (m, 3), each turned about the axis by its own angle (m,) (Rodrigues' formula)."""
    c, s = np.cos(angles)[:, None], np.sin(angles)[:, None]
    return arrows * c + np.cross(axis, arrows) * s + np.outer(arrows @ axis, axis) * (1 - c)


def overlap_volume(mesh: Mesh, centre: np.ndarray, frame: np.ndarray, radius: float) -> float:
    """Volume that the flesh fills more than once, cubic metres, near a centre: on lines along the frame's third axis,
    LINES a radius, the winding number goes up where a line enters the flesh and down where it leaves."""
    step, triangles = radius / LINES, mesh.welded[mesh.triangles]
    flat = (mesh.vertices - centre) @ frame.T
    grid, most = flat[:, :2] / step + 0.5, int(LOOKED * LINES)
    low = np.clip(np.ceil(grid[triangles].min(axis=1)), -most, most + 1).astype(int)
    high = np.clip(np.floor(grid[triangles].max(axis=1)), -most - 1, most).astype(int)
    wide, tall = np.maximum(high - low + 1, 0).T
    row = np.repeat(np.arange(len(triangles)), wide * tall)
    number = np.arange(len(row)) - np.repeat(np.cumsum(wide * tall) - wide * tall, wide * tall)
    line = low[row] + np.stack(np.divmod(number, np.maximum(tall[row], 1)), axis=1)
    a, b = triangles[row], np.roll(triangles[row], -1, axis=1)
    start, end = grid[np.minimum(a, b)], grid[np.maximum(a, b)]  # both triangles of an edge reckon its side alike
    off, way = line[:, None] - start, end - start
    cross = way[..., 0] * off[..., 1] - way[..., 1] * off[..., 0]
    left = np.where(a < b, 1, -1) * np.where(cross >= 0.0, 1, -1)
    meets = np.abs(left.sum(axis=1)) == 3
    shares, corners = np.abs(cross[meets]), flat[np.roll(a[meets], 1, axis=1), 2]
    depth = np.sum(shares * corners, axis=1) / np.maximum(shares.sum(axis=1), np.finfo(float).tiny)
    line = line[meets] @ np.array([2 * most + 3, 1])
    order = np.lexsort((depth, line))
    within = np.cumsum(-left[meets][order, 0])[:-1]  # a line meets a closed surface as often inward as outward
    same = line[order][1:] == line[order][:-1]
    return float(step**2 * np.sum(np.diff(depth[order]) * np.maximum(within - 1, 0) * same))
