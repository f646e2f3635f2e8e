"""Lesson 11's limbs: Orlo's leg, the leg of a walker on its toes and a wader's, each with wrong joints to begin with.

`python -m tests.lessons.limbs.leg_pieces` writes the exercise folders anew.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import numpy as np

from rigkit.exercise_text import layout_text
from rigkit.limbs import PracticeLimb, practice_limb
from rigkit.make_exercise import make_exercise
from rigkit.skeleton import Skeleton
from rigkit.tables import data_folder

TITLES = {
    "leg": "Orlo's left leg",
    "toe_walker": "Brassfoot's left leg",
    "bird_leg": "Stiltjack's left leg",
}
SEEDS = {"leg": 7, "toe_walker": 7, "bird_leg": 11}
OUT, UP, FORWARD = np.eye(3)
STEPS = {"hip": 0.05 * OUT + 0.055 * UP, "knee": -0.045 * FORWARD, "ankle": -0.032 * FORWARD - 0.018 * UP}
"""How far Orlo's joints lie off: the hip on the hip bone, the knee in its hollow, the ankle in the heel; metres."""


def as_human(limb: PracticeLimb) -> np.ndarray:
    """Places (5, 3) of one who takes a toe-walker's leg for a person's: every name a joint too far down."""
    hip, _, ankle, ball, tip = limb.key.positions
    return np.array([hip, ankle, ball, (ball + tip) / 2, tip])


def too_low(limb: PracticeLimb, knee: float, ankle: float) -> np.ndarray:
    """The true places (5, 3), knee and ankle that share of their next bone too low, the hip too far back."""
    places = limb.key.positions.copy()
    places[1] += knee * (limb.key.positions[2] - places[1])
    places[2] += ankle * (limb.key.positions[3] - places[2])
    places[0] -= 0.4 * limb.regions["hip"][1] * FORWARD
    return places


def starts(kind: str, limb: PracticeLimb) -> Mapping[str, np.ndarray]:
    """The lesson's own start layouts of a kind: name -> places (5, 3)."""
    if kind == "leg":
        steps = [STEPS.get(role, np.zeros(3)) for role in limb.roles]
        return {"by-eye": limb.key.positions + np.array(steps)}
    if kind == "toe_walker":
        return {"as-human": as_human(limb), "too-low": too_low(limb, 0.4, 0.22)}
    return {"too-low": too_low(limb, 0.42, 0.0)}


def write_leg(kind: str, folder: Path | str) -> Path:
    """Write the exercise of a kind of leg, such as "left-toe-walker", into a folder; returns it."""
    limb, name = practice_limb(kind, SEEDS[kind]), f"left-{kind.replace('_', '-')}"
    made = make_exercise(folder, limb, name=name, title=TITLES[kind])
    for start, places in starts(kind, limb).items():
        joints = Skeleton(limb.key.names, limb.key.parents, np.round(places, 5))
        (made / f"start-{start}.json").write_bytes(layout_text(f"start-{start}", name, joints).encode())
    return made


if __name__ == "__main__":
    for leg in TITLES:
        write_leg(leg, data_folder() / "exercises" / f"left-{leg.replace('_', '-')}")
