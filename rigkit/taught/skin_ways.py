"""An arm's skin bent at its middle joint: joints (3, 3), moved by mm -> bent meshes and what was kept; metres."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from rigkit import require
from rigkit.bench import Bench
from rigkit.bench_parts import Limb
from rigkit.bulk import OWN, Bulk, Shifts, hinge_axis, local_radius, shifts, turned
from rigkit.frames import IDENTITY, rotation_about
from rigkit.heat import heat_weights
from rigkit.mesh import Mesh
from rigkit.openings import open_exercise
from rigkit.skin import bend_skin, bone_frame, proximity_weights
from rigkit.slices import MM
from rigkit.vectors import length, unit

WAYS = ("out", "up", "forward")
SMOOTH = 0.008  # metres


@dataclass(frozen=True, eq=False)
class Bent:
    """A limb's skin bent: its mesh, the joints' places (3, 3), and the flesh at rest."""

    mesh: Mesh
    places: np.ndarray
    rest: Mesh

    def kept(self, radius: float) -> float:
        """Share of the flesh of a joint with this local radius (metres) that is kept, as in `Bulk`."""
        return 1.0 + (self.mesh.volume - self.rest.volume) / (2 * OWN * np.pi * radius**3)

    def stretched(self, radius: float) -> float:
        """Area that the skin has gained where it grew, as a share of the joint's own, as in `Bulk`."""
        gained = np.maximum(length(self.mesh.normals) - length(self.rest.normals), 0.0).sum() / 2.0
        return float(gained / (4 * OWN * np.pi * radius**2))


@dataclass(frozen=True, eq=False)
class Hung:
    """A limb with its skin hung on three joints (3, 3): root, middle, end. `names` are their roles."""

    limb: Limb
    joints: np.ndarray

    @property
    def mesh(self) -> Mesh:
        """The flesh at rest."""
        return self.limb.exercise.mesh

    @property
    def axis(self) -> np.ndarray:
        """The hinge (3,): a positive turn folds the limb as it should."""
        return hinge_axis(self.joints, self.limb.fold.away)

    @property
    def bones(self) -> np.ndarray:
        """Upper and lower bone, the piece from the end to the tip of the flesh, and what holds the trunk (k, 2, 3)."""
        root, middle, end = self.joints
        below = unit(end - middle, "the lower bone")
        tip = end + below * max(float(((self.mesh.vertices - end) @ below).max()), 0.01)
        return np.concatenate([[[root, middle], [middle, end], [end, tip]], self.limb.still])

    def moved(self, out: float = 0, up: float = 0, forward: float = 0) -> Hung:
        """The middle joint laid so many mm elsewhere."""
        shift = np.array([require.number(mm, way, -200, 200) for mm, way in zip((out, up, forward), WAYS, strict=True)])
        return Hung(self.limb, self.joints + np.array([[0.0], [1.0], [0.0]]) * (shift / MM @ self.limb.body))

    def bent(self, degrees: float) -> Bent:
        """The skin, its weights by heat, with the middle joint turned."""
        lower = bone_frame(self.joints[1], self.joints[1], rotation_about(self.axis, np.radians(degrees)))
        frames = [IDENTITY, lower, lower, *[IDENTITY] * len(self.limb.still)]
        places = np.array([*self.joints[:2], lower @ self.joints[2]])
        return Bent(bend_skin(self.mesh, heat_weights(self.mesh, self.bones).weights, frames), places, self.mesh)

    def measured(self, degrees: list[float], radius: float | None = None) -> tuple[Bulk, ...]:
        """What bending does to the flesh, a `Bulk` for each angle."""
        return turned(self.mesh, self.joints, self.axis, np.radians(degrees).tolist(), self.limb.still, radius)

    @property
    def radius(self) -> float:
        """The local radius at the middle joint, metres."""
        return local_radius(self.mesh, self.joints)

    def eight(self, degrees: float) -> Shifts:
        """What a shift in each of eight directions does (see `shifts`)."""
        return shifts(self.mesh, self.joints, self.limb.fold.away, float(np.radians(degrees)), self.limb.still)

    def lower_share(self, stations: np.ndarray, by_heat: bool) -> np.ndarray:
        """How much of the skin the lower bone and the hand carry, 0 to 1, at stations (k,) along the limb from the
        middle joint, metres: the mean of the vertices, each counting less the farther off it is (by `SMOOTH`)."""
        weights = heat_weights(self.mesh, self.bones).weights if by_heat else proximity_weights(self.mesh, self.bones)
        along = unit(self.joints[2] - self.joints[0], "the limb")
        here, share = (self.mesh.vertices - self.joints[1]) @ along, weights[:, 1:3].sum(axis=1)
        near = np.exp(-(((here[:, None] - stations) / SMOOTH) ** 2))
        return share @ near / near.sum(axis=0)


@lru_cache(maxsize=8)
def _of_start(name: str, start: str) -> Hung:
    exercise = open_exercise(name)
    skeleton = exercise.start(start).skeleton
    limb = Limb.of(exercise, skeleton)
    return Hung(limb, skeleton.positions[list(limb.triple)])


def hung(what: Bench | str, start: str = "") -> Hung:
    """The skin on the joints of a bench, or on those of a start layout of an exercise."""
    if isinstance(what, Bench):
        return Hung(what.limb, what.skeleton.positions[list(what.limb.triple)])
    return _of_start(what, start)
