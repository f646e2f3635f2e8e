"""Practice limbs made from a seed: a closed mesh, and the true joints known from the curve it was lofted on.

The left arm is built and the right one mirrored. Frame: metres, +Y up, faces +Z, left is +X.
"""

from dataclasses import dataclass

import numpy as np

from rigkit import require
from rigkit.limbs.arm import AROUND, STATIONS, arm_build, arm_surface
from rigkit.mesh import Mesh
from rigkit.skeleton import Skeleton


@dataclass(frozen=True, eq=False)
class PracticeLimb:
    """A practice limb. Everything in metres, world frame.

    mesh: closed, outward. key: its true joints, each named by the plain rule. landmarks: named points (3,).
    planes: for each role the normal (3,) of the measuring plane, pointing down the limb. stretches: for each role
    two points (2, 3) on the limb's axis between which it may be cut. away: for each role that folds, the unit
    vector (3,) along which it lies off the line of its neighbours.
    """

    kind: str
    side: str
    seed: int
    mesh: Mesh
    key: Skeleton
    landmarks: dict[str, np.ndarray]
    planes: dict[str, np.ndarray]
    stretches: dict[str, np.ndarray]
    away: dict[str, np.ndarray]


def _surface_point(mesh: Mesh, origin: np.ndarray, along: np.ndarray) -> np.ndarray:
    """The first point (3,) where a ray from inside leaves the mesh (Moller & Trumbore 1997, J. Graphics Tools)."""
    a, b, c = np.moveaxis(mesh.corners, 1, 0)
    p = np.cross(along, c - a)
    det = np.sum((b - a) * p, axis=1)
    det = np.where(np.abs(det) < 1e-15, np.nan, det)
    u = np.sum((origin - a) * p, axis=1) / det
    q = np.cross(origin - a, b - a)
    v, t = q @ along / det, np.sum((c - a) * q, axis=1) / det
    hit = (u >= -1e-9) & (v >= -1e-9) & (u + v <= 1 + 1e-9) & (t > 0)
    return origin + t[hit].min() * along


def _shoulder_landmarks(mesh: Mesh, shoulder: np.ndarray) -> dict[str, np.ndarray]:
    """The highest point of the armpit, and where rays from the true shoulder leave the flesh in front, behind and
    opposite the armpit."""
    inner = [AROUND * row + AROUND // 2 for row, station in enumerate(STATIONS) if -100 < station < 60]
    fold = mesh.vertices[inner]
    armpit = fold[np.argmax(fold[:, 1])]
    rays = {"shoulder_top": shoulder - armpit, "shoulder_front": (0.0, 0.0, 1.0), "shoulder_back": (0.0, 0.0, -1.0)}
    cast = {name: _surface_point(mesh, shoulder, require.direction(ray, name)) for name, ray in rays.items()}
    return {**cast, "armpit": armpit}


def practice_arm(seed: int, side: str = "left") -> PracticeLimb:
    """A practice arm: trunk stub, upper arm, forearm, palm and thumb, hanging about 35 degrees out from the body.

    seed: a whole number; the same seed gives the same vertices on every machine. side: "left" or "right".
    Raises RigError for another side or a seed that is none.

    >>> arm = practice_arm(7)
    >>> arm.key.names, arm.mesh.is_closed
    (('left_shoulder', 'left_elbow', 'left_wrist'), True)
    """
    require.choice(side, "the side of a practice arm", ("left", "right"))
    if isinstance(seed, bool) or not isinstance(seed, (int, np.integer)) or not 0 <= seed < 2**63:
        raise require.RigError("a whole number from 0", require.shown(seed), where="the seed of a practice arm")
    build = arm_build(int(seed))
    mesh, joints = arm_surface(build), build.joints
    shoulder, elbow, wrist = joints
    down_upper, down_fore = elbow - shoulder, wrist - elbow
    down_upper, down_fore = down_upper / np.sqrt(down_upper @ down_upper), down_fore / np.sqrt(down_fore @ down_fore)
    bisector = (down_upper + down_fore) / np.sqrt(np.sum((down_upper + down_fore) ** 2))
    landmarks = _shoulder_landmarks(mesh, shoulder)
    landmarks["trunk_middle"] = shoulder + np.array([-0.09, -0.06, 0.0]) * build.thick
    planes = {"elbow": bisector, "wrist": down_fore}
    stretches = {
        "elbow": np.array([elbow - 0.025 * down_upper, elbow + 0.025 * down_fore]),
        "wrist": np.array([wrist - 0.015 * down_fore, wrist + 0.015 * down_fore]),
    }
    away = {"elbow": np.array([0.0, 0.0, -1.0])}
    key = Skeleton(tuple(f"{side}_{role}" for role in ("shoulder", "elbow", "wrist")), (None, 0, 1), joints)
    if side == "right":
        across = np.array([1.0, 0.0, 0.0])
        mesh, key = mesh.mirrored(np.zeros(3), across), key.mirrored(np.zeros(3), across)
        flip = np.array([-1.0, 1.0, 1.0])
        landmarks, planes, stretches, away = (
            {name: value * flip for name, value in table.items()} for table in (landmarks, planes, stretches, away)
        )
    return PracticeLimb("arm", side, int(seed), mesh, key, landmarks, planes, stretches, away)
