"""Faults put into right layouts: each finding's mutator, from a limb's own key to hand-ins with that fault and no more.

Nothing in here knows how rigkit measures: a few lines of vector arithmetic on what the exercise's files say.
"""

import tomllib
from collections.abc import Callable
from functools import cache

from tests.proof import faults_frames as frames
from tests.proof import faults_place as place
from tests.proof import faults_structure as structure
from tests.proof import faults_twists as twists
from tests.proof.case import Case
from tests.proof.faults_names import NAMES
from tests.proof.ground import PROJECT, Ground

PLACES = (structure.joint_missing, structure.joint_doubled, structure.joint_extra, structure.wrong_parent,
          structure.joints_coincide, structure.limb_elsewhere, twists.twist_uneven,
          twists.twist_off_line, twists.twist_carries, place.off_centre, place.outside_flesh, place.off_station,
          place.elsewhere, place.bends_wrong_way, place.too_straight, place.bend_slight, place.bend_much,
          place.bend_sideways, frames.axis_other, frames.axis_off_bone, frames.frame_twisted, frames.hinge_off, frames.frame_scaled,
          frames.pair_missing, frames.pair_place, frames.pair_name, frames.pair_frames)  # fmt: skip
MUTATORS: dict[str, Callable] = {one.__name__.replace("_", "-"): one for one in PLACES}
NOT_YET: frozenset[str] = frozenset()  # findings that the list has and the marks cannot yet give


@cache
def listed() -> tuple[str, ...]:
    """All findings of data/findings.toml, read by the proof itself."""
    return tuple(tomllib.loads((PROJECT / "data" / "findings.toml").read_text("utf-8"))["findings"])


def cases(finding: str, g: Ground, chance) -> list[Case]:
    """Hand-ins with that fault on that limb; a finding without a mutator is an error, so that none is forgotten."""
    if finding in NAMES:
        return list(NAMES[finding](finding, g, chance))
    return list(MUTATORS[finding](g, chance))
