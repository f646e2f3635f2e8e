"""Practice limbs made from a seed: a closed mesh, and the true joints known from the curves it was built on.

The left limb is built, by the form of its kind, and the right one mirrored. Metres, +Y up, faces +Z, left is +X.
"""

import hashlib
from collections.abc import Mapping
from dataclasses import replace
from importlib import import_module
from types import MappingProxyType

import numpy as np

from rigkit import require
from rigkit.limbs.base import SIDES, Made, PracticeLimb, Shape, finished

__all__ = ["KINDS", "Made", "PracticeLimb", "Shape", "limb_seed", "practice_arm", "practice_limb"]

_FORMS = {  # kind: the module and the function that make it, and a line about it
    "arm": ("arm.arm", "an arm with its shoulder and a five-finger hand"),
    "shoulder_arm": ("arm.shoulder_arm", "the same arm, its clavicle asked for as well"),
    "finger": ("finger.finger", "one finger from its knuckle to its tip, a close-up of about life size"),
    "creature_arm": ("arm.creature_arm", "the arm of a marsh walker: a long forearm, three fingers and a thumb"),
    "leg": ("legs.leg", "a leg with its hip, knee, ankle and foot"),
    "toe_walker": ("walkers.toe_walker", "the hind leg of a walker on its toes, its ankle high above the ground"),
    "bird_leg": ("walkers.bird_leg", "the leg of a wading bird: what looks like its knee is the ankle"),
    "hips": ("legs.hips", "a pelvis, one whole leg with its foot, and a stub of the other thigh"),
}
KINDS: Mapping[str, str] = MappingProxyType({kind: words for kind, (_, words) in _FORMS.items()})
"""The kinds of practice limbs, each with a line about it."""
MOST_SEED = 2**63 - 1
LEAST, MOST = 2000, 10_000
"""Triangles of a practice limb; a density that would give fewer or more is brought nearer to 1."""


def practice_limb(kind: str, seed: int, side: str = "left", shape: Shape = Shape()) -> PracticeLimb:  # noqa: B008
    """A practice limb of a kind.

    kind: one of KINDS. seed: a whole number below 2**63; the same seed gives the same bytes on every machine. side:
    "left" or "right". shape: how it departs from what the seed alone gives.
    Raises RigError for a kind, seed, side or shape that cannot be used.

    >>> arm = practice_limb("arm", 7)
    >>> arm.key.names[:4], arm.mesh.is_closed
    (('left_shoulder', 'left_elbow', 'left_wrist', 'left_thumb_1'), True)
    """
    require.choice(kind, "the kind of a practice limb", KINDS)
    require.choice(side, "the side of a practice limb", SIDES)
    if isinstance(seed, bool) or not isinstance(seed, (int, np.integer)) or not 0 <= seed <= MOST_SEED:
        raise require.RigError("a whole number from 0", require.shown(seed), where="the seed of a practice limb")
    module, form = _FORMS[kind][0].split(".")
    form, own = getattr(import_module(f"rigkit.limbs.{module}"), form), shape.checked()
    while not LEAST <= len((made := form(int(seed), own)).mesh.triangles) <= MOST:
        aim = 1.04 * LEAST if len(made.mesh.triangles) < LEAST else 0.96 * MOST
        own = replace(own, density=own.density * aim / len(made.mesh.triangles))
    return finished(kind, side, int(seed), made, shape)


def practice_arm(seed: int, side: str = "left") -> PracticeLimb:
    """`practice_limb("arm", seed, side)`."""
    return practice_limb("arm", seed, side)


def limb_seed(student: str, salt: str) -> int:
    """The seed of a student's own limb: the first eight bytes of sha256 of salt and id, the top bit cleared.

    Capitals and outer spaces of the id make no difference; in the salt they do.

    >>> limb_seed("wren", "spring") == limb_seed("wren", "spring") != limb_seed("teasel", "spring")
    True
    """
    student, salt = require.text(student, "a student's id").strip().casefold(), require.text(salt, "the salt")
    if not student or not salt.strip():
        raise require.RigError("a student's id and a salt", "an empty one", where="a limb of one's own")
    digest = hashlib.sha256(f"{len(salt)}:{salt}{student}".encode()).digest()
    return int.from_bytes(digest[:8]) & MOST_SEED
