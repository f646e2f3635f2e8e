"""Frames (3, 3) of mirrored sides: two honest conventions, which one a pair of joints follows, and a test by posing.

A reflection leaves no frame right-handed, so one or three of the reflected axes have to be reversed. A turn about a
reflected axis mirrors with the opposite sign, about a reversed one with the same sign.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np

from rigkit import require
from rigkit.axes import posed
from rigkit.frames import as_rotation, mirror_matrix, quaternion_from_rotation, rotation_about
from rigkit.mesh import Mesh
from rigkit.section import Plane
from rigkit.skeleton import Skeleton
from rigkit.skin import bend_skin, proximity_weights
from rigkit.vectors import length

SAME_NUMBERS, SAME_DIRECTION, NEITHER = "same-numbers", "same-direction", "neither"
CONVENTIONS = (SAME_NUMBERS, SAME_DIRECTION)
SAME, OPPOSITE, CANNOT_TELL = "same", "opposite", "cannot tell"
PATTERNS = ((-1, -1, -1), (1, 1, -1), (1, -1, 1), (-1, 1, 1))
"""Signs of a reflected frame's axes that leave it right-handed."""
FRAME_ALLOWED = np.radians(5.0)
"""Radians between a frame and the mirror image of its partner: what a learner can be asked for."""
CLEAR = 0.25
"""Share of how far the skin moves: nearer than that a pose is the mirror image of another (far from 1 and from 0)."""
MOVED = 1e-4
"""Metres: skin that moves less than a tenth of a millimetre shows nothing."""


def mirrored_rotation(rotation: np.ndarray, normal: np.ndarray, convention: str, hinge: str = "z") -> np.ndarray:
    """A frame (3, 3) on the other side of a plane with this normal (3,), by "same-numbers" or "same-direction".

    Same numbers: reflected, all three axes reversed. Same direction: reflected, and the axis `hinge` ("x", "y" or "z")
    alone reversed, so that the bone axis points down the bone on both sides and a positive turn folds both.

    >>> mirrored_rotation(np.eye(3), [1, 0, 0], "same-numbers").diagonal().tolist()
    [1.0, -1.0, -1.0]
    """
    require.choice(convention, "how frames are mirrored", CONVENTIONS)
    require.choice(hinge, "the hinge's axis", "xyz")
    signs = [-1 if convention == SAME_NUMBERS or letter == hinge else 1 for letter in "xyz"]
    return mirror_matrix(normal) @ as_rotation(rotation) * signs


@dataclass(frozen=True)
class PairAxes:
    """How the frames of a left and a right joint go together: the convention they follow, or "neither"; the signs of
    the three axes against the reflected ones, and by what angle (radians) they miss the nearest pattern of signs."""

    convention: str
    signs: tuple[int, int, int]
    off: float


def pair_axes(left: np.ndarray, right: np.ndarray, normal: np.ndarray, bone: str = "x") -> PairAxes:
    """Recognise the convention of two frames (3, 3) on either side of a plane. bone: the axis along the bone, "x" to
    "z"; by *same direction* it is one that is not reversed.

    >>> pair_axes(np.eye(3), np.diag([1.0, -1, -1]), [1, 0, 0]).convention
    'same-numbers'
    """
    place = "xyz".index(require.choice(bone, "the bone's axis", "xyz"))
    reflected, offs = mirror_matrix(normal) @ as_rotation(left), {}
    for signs in PATTERNS:
        quaternion = quaternion_from_rotation((reflected * signs).T @ right)
        offs[signs] = 2.0 * float(np.arctan2(length(quaternion[:3]), quaternion[3]))
    signs = min(PATTERNS, key=lambda one: offs[one])
    known = SAME_NUMBERS if sum(signs) == -3 else SAME_DIRECTION if signs[place] == 1 else NEITHER
    return PairAxes(known if offs[signs] <= FRAME_ALLOWED else NEITHER, signs, offs[signs])


@dataclass(frozen=True)
class AxisBehaviour:
    """What a turn about one local axis of a left joint and of its right partner does to the skin.

    sign: "same" where the same angle on both sides gives mirror images, "opposite" where the opposite angle does,
    "neither", or "cannot tell" where the skin hardly moves. same, opposite: metres between the mirror image of the left
    pose and the right pose, at the vertex where it is greatest, for either angle. moved: metres that the skin moves.
    """

    left: int
    right: int
    axis: str
    sign: str
    same: float
    opposite: float
    moved: float


def mirror_behaviour(
    skeleton: Skeleton,
    mesh: Mesh,
    plane: Plane,
    pairs: Iterable[tuple[int, int]],
    turn: float = np.radians(20.0),
    weigh: Callable[[Mesh, np.ndarray], np.ndarray] = proximity_weights,
    most: int = 1000,
) -> tuple[AxisBehaviour, ...]:
    """Turn each local axis of each pair of joints (left, right), pose the skin, and compare it with its mirror image.

    The mesh is skinned to the left side and its mirror image to the right, so what is compared are the joints and
    their frames, not how even the mesh is. weigh: weights (n, k) of a mesh on bones (k, 2, 3). most: vertices looked
    at, at least; evenly picked. By *same numbers* every axis says "same".
    """
    bones = [(parent, joint) for joint, parent in enumerate(skeleton.parents) if parent is not None]
    pieces, step = skeleton.positions[np.array(bones, dtype=int).reshape(-1, 2)], max(1, len(mesh.vertices) // most)
    sides = [mesh, mesh.mirrored(plane.origin, plane.normal)]
    skins = [(Mesh(side.vertices[::step], np.zeros((0, 3), dtype=int)), weigh(side, pieces)[::step]) for side in sides]
    mirror = mirror_matrix(plane.normal)

    def bent(side: int, joint: int, axis: np.ndarray, angle: float) -> np.ndarray:
        frames = posed(skeleton, {joint: rotation_about(axis, angle)})
        return bend_skin(*skins[side], [frames[parent] for parent, _ in bones]).vertices

    found = []
    for left, right in pairs:
        for letter, axis in zip("xyz", np.eye(3), strict=True):
            here = bent(0, left, axis, turn)
            image = (here - plane.origin) @ mirror + plane.origin
            moved = float(length(here - skins[0][0].vertices).max(initial=0.0))
            same, opposite = (
                float(length(image - bent(1, right, axis, angle)).max(initial=0.0)) for angle in (turn, -turn)
            )
            sign = SAME if same <= opposite else OPPOSITE
            sign = CANNOT_TELL if moved < MOVED else sign if min(same, opposite) < CLEAR * moved else NEITHER
            found.append(AxisBehaviour(left, right, letter, sign, same, opposite, moved))
    return tuple(found)
