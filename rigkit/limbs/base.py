"""What every practice limb is: a closed mesh, its true joints, and what a marker needs to know of each; metres, world.

The left limb is built, by the form of its kind; `finished` makes the asked side of it and puts it in its place.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike

from rigkit import require
from rigkit.frames import IDENTITY, Frame
from rigkit.limbs.loft import GRID, Draws
from rigkit.mesh import Mesh
from rigkit.naming import MIDLINE
from rigkit.section import Plane, cut
from rigkit.skeleton import Skeleton
from rigkit.vectors import any_square_to, unit

SIDES = ("left", "right")


@dataclass(frozen=True)
class Shape:
    """How a limb departs from what its seed alone gives.

    lengths: factor for the bone that starts at a role ({"elbow": 1.2}: a longer forearm). thickness: factor; on digits
    and strongly folded legs it takes effect as far as their flesh stays apart. bend: metres that the main middle joint
    lies off the line of its neighbours, the right way, no more than its flesh can fold; None: as the seed says. place:
    the frame in which the limb stands. density: factor on the number of edge loops along the limb; those at a joint
    that folds are never thinned, and it goes as far as the limb keeps 2,000 to 10,000 triangles. roughness: metres,
    height of an uneven surface, less where edges are short.
    What is too much together (a broad palm and a short thumb) is refused when the limb is made, in words.
    """

    lengths: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    thickness: float = 1.0
    bend: float | None = None
    place: Frame = IDENTITY
    density: float = 1.0
    roughness: float = 0.0

    def checked(self) -> "Shape":
        """The shape itself. Raises RigError for a factor or length that no limb can have."""
        for role, factor in self.lengths.items():
            require.number(factor, f"shape, lengths.{role}", 0.75, 1.5)
        require.number(self.thickness, "shape, thickness", 0.75, 1.2)
        require.number(self.density, "shape, density", 0.5, 2.0)
        require.number(self.roughness, "shape, roughness", 0.0, 0.004)
        if self.bend is not None:
            require.number(self.bend, "shape, bend", 0.0, 0.08)
        return self

    def bent(self, usual: float, bones: ArrayLike, most: float) -> float:
        """The bend asked for, or the usual one. Raises RigError for more than a share `most` of the shorter bone."""
        most *= float(np.min(bones))
        return usual if self.bend is None else require.number(self.bend, "shape, bend", 0.0, round(most, 3))

    def length_of(self, roles: tuple[str, ...]) -> list[float]:
        """The factor for the bone that starts at each of the roles, 1 where none is given."""
        for role in self.lengths:
            require.choice(role, "shape, lengths", roles)
        return [float(self.lengths.get(role, 1.0)) for role in roles]


@dataclass(frozen=True, eq=False)
class Made:
    """A left limb as a form makes it: what cannot be worked out from the joints alone.

    roles, parents, joints (n, 3): the true joints, in key order. away: for each role that folds, the unit vector (3,)
    along which it lies off the line of its neighbours. landmarks: named points (3,). regions: for each role that no
    section can judge, the names of the landmarks whose middle decides, and a radius in metres. stretch: for each
    role, how far up and down the bones it may be cut, metres. optional: roles that need not be placed.
    planes: for each role whose bisecting plane cuts badly, the normal (3,) of a better one, pointing down the limb.
    """

    mesh: Mesh
    roles: tuple[str, ...]
    parents: tuple[int | None, ...]
    joints: np.ndarray
    away: dict[str, np.ndarray]
    landmarks: dict[str, np.ndarray]
    regions: dict[str, tuple[tuple[str, ...], float]]
    stretch: dict[str, float]
    optional: tuple[str, ...] = ()
    planes: dict[str, np.ndarray] = field(default_factory=dict)


@dataclass(frozen=True, eq=False)
class PracticeLimb:
    """A practice limb. Everything in metres, world frame.

    mesh: closed, outward. key: its true joints, each named by the plain rule, its side first. roles: the key's roles,
    in its order. planes: for each role the normal (3,) of the measuring plane, pointing down the limb. stretches: for
    each role two points (2, 3) on the limb's axis between which it may be cut. Others as in `Made`.
    """

    kind: str
    side: str
    seed: int
    mesh: Mesh
    key: Skeleton
    roles: tuple[str, ...]
    landmarks: dict[str, np.ndarray]
    regions: dict[str, tuple[tuple[str, ...], float]]
    planes: dict[str, np.ndarray]
    stretches: dict[str, np.ndarray]
    away: dict[str, np.ndarray]
    optional: tuple[str, ...] = ()


def surface_point(mesh: Mesh, origin: np.ndarray, along: np.ndarray) -> np.ndarray:
    """The first point (3,) where a ray from inside leaves the mesh (Moller & Trumbore 1997, J. Graphics Tools)."""
    side = any_square_to(along)
    flat = ((mesh.vertices - origin) @ np.stack([side, np.cross(along, side)], axis=1)).T[:, mesh.triangles.T]
    near = np.all((flat.min(axis=1) <= 1e-9) & (flat.max(axis=1) >= -1e-9), axis=0)  # the ray may meet these alone
    a, b, c = np.moveaxis(mesh.corners[near], 1, 0)
    p = np.cross(along, c - a)
    det = np.sum((b - a) * p, axis=1)
    det = np.where(np.abs(det) < 1e-15, np.nan, det)
    u = np.sum((origin - a) * p, axis=1) / det
    q = np.cross(origin - a, b - a)
    v, t = q @ along / det, np.sum((c - a) * q, axis=1) / det
    hit = (u >= -1e-9) & (v >= -1e-9) & (u + v <= 1 + 1e-9) & (t > 0)
    return origin + t[hit].min() * along


def directions(made: Made, joint: int) -> tuple[np.ndarray, np.ndarray]:
    """Unit directions (3,) of the bone that ends at a joint and of the one that starts there.

    At the top both are the lower bone's (the first child's); at a tip, and where the limb parts into several, both
    are the upper one's.
    """
    parent = made.parents[joint]
    below = [i for i, above in enumerate(made.parents) if above == joint]
    up = None if parent is None else unit(made.joints[joint] - made.joints[parent])
    if up is None and not below:
        raise require.RigError("a limb of two joints or more", "a single joint", where="a practice limb")
    down = unit(made.joints[below[0]] - made.joints[joint]) if up is None or len(below) == 1 else up
    return (down if up is None else up), down


def _roughened(made: Made, planes: dict[str, np.ndarray], seed: int, height: float) -> Mesh:
    """The mesh with its surface raised and sunk along its normals by smooth waves, up to `height` metres, less where
    the limb is thin; around the joints, as far as their sections reach, it stays as it is."""
    mesh, joints, found = made.mesh, made.joints, []
    for role, place in zip(made.roles, joints, strict=True):
        loop = cut(mesh, Plane(place, planes[role])).holding(place).loop if role in planes else None
        found.append(loop.radius if loop is not None else made.regions[role][1])
    radii, draws = np.array(found), Draws(seed + 1)
    wave = np.zeros(len(mesh.vertices))
    for _ in range(8):
        turn, level = draws.between(0, 2 * np.pi), draws.between(-1, 1)
        way = np.array([np.cos(turn) * np.sqrt(1 - level**2), np.sin(turn) * np.sqrt(1 - level**2), level])
        length = draws.between(0.016, 0.05)
        wave += np.cos(2 * np.pi * mesh.vertices @ way / length + draws.between(0, 2 * np.pi)) / 4
    gaps = np.sqrt(np.sum((mesh.vertices[:, None] - joints) ** 2, axis=2))
    fade = np.clip((gaps / radii - 1.35) / 0.9, 0, 1)
    most = np.minimum(height, 0.07 * radii[np.argmin(gaps / radii, axis=1)]) * np.prod(fade**2 * (3 - 2 * fade), axis=1)
    shortest = np.full(len(mesh.vertices), np.inf)  # fine edges lie in folds and on thin digits
    for one, other in ((0, 1), (1, 2), (2, 0)):
        edges = np.sqrt(np.sum((mesh.corners[:, one] - mesh.corners[:, other]) ** 2, axis=1))
        np.minimum.at(shortest, mesh.triangles[:, [one, other]].ravel(), np.repeat(edges, 2))
    most = np.minimum(most, shortest**2 / 0.06)
    normals = np.stack([np.bincount(mesh.triangles.ravel(), np.repeat(mesh.normals[:, axis], 3), len(mesh.vertices))
                        for axis in range(3)], axis=1)  # fmt: skip
    normals = normals / np.maximum(np.sqrt(np.sum(normals**2, axis=1, keepdims=True)), 1e-18)
    return _on_grid(mesh.vertices + (most * np.clip(wave, -1, 1))[:, None] * normals, mesh.triangles)


def _on_grid(vertices: np.ndarray, triangles: np.ndarray) -> Mesh:
    return Mesh(np.round(vertices / GRID) * GRID + 0.0, triangles)


def named(role: str, side: str) -> str:
    """A role's name by the plain rule: "left_thumb_1"; a joint in the middle has no side.

    >>> named("thumb 1", "left"), named("pelvis", "left")
    ('left_thumb_1', 'pelvis')
    """
    return role if role in MIDLINE else f"{side}_{role.replace(' ', '_')}"


def finished(kind: str, side: str, seed: int, made: Made, shape: Shape = Shape()) -> PracticeLimb:  # noqa: B008
    """The practice limb of a made left limb: planes and stretches worked out, mirrored for the right, put in place."""
    planes, stretches = {}, {}
    for joint, role in enumerate(made.roles):
        if role in made.regions:
            continue
        up, down = (made.planes[role],) * 2 if role in made.planes else directions(made, joint)
        planes[role] = unit(up + down)
        half = made.stretch[role]
        stretches[role] = np.array([made.joints[joint] - half * up, made.joints[joint] + half * down])
    mesh = made.mesh if shape.roughness == 0 else _roughened(made, planes, seed, shape.roughness)
    key = Skeleton(tuple(named(role, side) for role in made.roles), made.parents, made.joints)
    landmarks, away = made.landmarks, made.away
    if side == "right":
        across = np.array([1.0, 0.0, 0.0])
        mesh, key = mesh.mirrored(np.zeros(3), across), key.mirrored(np.zeros(3), across)
        flip = np.array([-1.0, 1.0, 1.0])
        landmarks, planes, stretches, away = (
            {name: value * flip for name, value in table.items()} for table in (landmarks, planes, stretches, away)
        )
    if shape.place is not IDENTITY:
        put = shape.place
        mesh, key = _on_grid(put @ mesh.vertices, mesh.triangles), key.transformed(put)
        key = key.at(np.round(key.positions / GRID) * GRID)
        landmarks, stretches = ({k: put @ v for k, v in table.items()} for table in (landmarks, stretches))
        planes, away = ({k: put.rotation @ v for k, v in table.items()} for table in (planes, away))
    return PracticeLimb(
        kind, side, seed, mesh, key, made.roles, landmarks, made.regions, planes, stretches, away, made.optional
    )
