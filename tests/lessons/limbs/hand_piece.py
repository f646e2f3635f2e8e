"""Lesson 7's limbs: a hand cut off a practice arm and hung straight down (PracticeLimb), one finger; their starts.

Knuckles lie nearer to the back of the hand than to the palm, as bones do (standard anatomy). Metres, world frame.
`python -m tests.lessons.limbs.hand_piece` writes both exercise folders anew.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import numpy as np

from rigkit.exercise_text import IGNORED, Heading, layout_text
from rigkit.frames import Frame, rotation_between
from rigkit.limbs import PracticeLimb, Shape, practice_limb
from rigkit.limbs.loft import GRID
from rigkit.make_exercise import make_exercise, write_exercise
from rigkit.mesh import Mesh
from rigkit.skeleton import Skeleton
from rigkit.tables import data_folder

SEED = 7
FOREARM = 0.05
"""Metres of forearm that stay above the wrist."""
PLACE = np.array([0.3, 0.8, 0.0])
"""Where the wrist hangs."""
DEPTH = 1 / 3
"""Share of the way from the skin over a knuckle to the skin of the palm at which the joint lies: our choice."""
WIDE = 2
"""So many times as far as a place that is found may a knuckle be off: its depth is a choice, not a finding."""
FINGERS = ("middle", "index", "ring", "little")  # the student's own first: its fold is what the bench tells
ROLES = ("wrist", *(f"{digit} {part}" for digit in (*FINGERS, "thumb") for part in (1, 2, 3, "tip")))
OUT, UP, FORWARD = np.eye(3)
PELL = {
    "middle 1": -0.017 * UP - 0.003 * OUT, "middle 2": -0.003 * UP + 0.004 * FORWARD, "middle 3": -0.004 * FORWARD,
    "thumb 2": 0.006 * OUT - 0.002 * FORWARD,
}  # fmt: skip
"""How far Pell's joints lie off: a knuckle in the webbing, a finger that goes to and fro, a thumb laid as a finger."""
ZIGZAG = {"index 2": 0.004 * FORWARD - 0.005 * OUT, "index 3": 0.003 * UP - 0.004 * FORWARD + 0.002 * OUT}
"""The same of the finger alone: its second joint lies to the palm side, both to the sides."""


def hand_piece(seed: int = SEED) -> PracticeLimb:
    """The left hand of the practice arm of a seed, with a piece of forearm.

    >>> hand = hand_piece()
    >>> hand.mesh.is_closed, hand.roles[:3]
    (True, ('wrist', 'middle 1', 'middle 2'))
    """
    elbow, wrist = practice_limb("arm", seed).key.positions[1:3]
    turn = rotation_between(wrist - elbow, np.array([0.0, -1.0, 0.0]))
    arm = practice_limb("arm", seed, shape=Shape(place=Frame(turn, PLACE - turn @ wrist)))
    places, landmarks, regions = arm.key.positions.copy(), dict(arm.landmarks), dict(arm.regions)
    for finger in FINGERS:
        back, pad = (landmarks[f"{finger}_1_{end}"] for end in ("back", "pad"))
        under = back + 2 * DEPTH * (pad - back)
        under = np.round(under / GRID) * GRID
        landmarks[f"{finger}_1_under"] = under
        half = float(np.linalg.norm(under - back)) / 2
        regions[f"{finger} 1"] = ((f"{finger}_1_back", f"{finger}_1_under"), round(WIDE * half, 4))
        places[arm.roles.index(f"{finger} 1")] = np.round((back + under) / 2 / GRID) * GRID
    numbers = [arm.roles.index(role) for role in ROLES]
    parents = tuple(
        None if role == "wrist" else 0 if role.endswith(" 1") else place - 1 for place, role in enumerate(ROLES)
    )
    key = Skeleton(tuple(arm.key.names[number] for number in numbers), parents, places[numbers])
    kept = {mark for role in ROLES if role in regions for mark in regions[role][0]}
    return replace(
        arm, mesh=_cut_off(arm.mesh, PLACE[1] + FOREARM), key=key, roles=ROLES, regions=regions,
        landmarks={mark: landmarks[mark] for mark in landmarks if mark in kept},
        optional=tuple(role for role in ROLES if role.endswith("tip")),
    )  # fmt: skip


def _cut_off(mesh: Mesh, height: float) -> Mesh:
    """What of a mesh has all its corners below a height, the hole closed by a fan."""
    kept = mesh.triangles[np.all(mesh.corners[:, :, 1] < height, axis=1)]
    edges = {(int(a), int(b)) for triangle in kept for a, b in zip(triangle, np.roll(triangle, -1), strict=True)}
    after = {b: a for a, b in edges if (b, a) not in edges}  # the rim, against the way the triangles turn
    rim = [min(after)]
    while after[rim[-1]] != rim[0]:
        rim.append(after[rim[-1]])
    middle = np.round(mesh.vertices[rim].mean(axis=0) / GRID) * GRID
    fan = [(one, other, len(mesh.vertices)) for one, other in zip(rim, rim[1:] + rim[:1], strict=True)]
    triangles = np.concatenate([kept, np.array(fan)])
    used = np.unique(triangles)
    vertices = np.concatenate([mesh.vertices, middle[None]])[used]
    return Mesh(vertices, np.searchsorted(used, triangles))


def put_off(limb: PracticeLimb, steps: Mapping[str, np.ndarray]) -> Skeleton:
    """The true joints, some of them put off by steps (3,); names that say nothing."""
    places = limb.key.positions.copy()
    for role, step in steps.items():
        places[limb.roles.index(role)] += step
    return Skeleton(tuple(f"joint_{n + 1}" for n in range(len(places))), limb.key.parents, places)


def write_hand(folder: Path | str) -> Path:
    """Write the exercise "left-hand" into a folder; returns it."""
    hand, pose = hand_piece(), "the hand hangs straight down, its back faces out, the thumb points forward"
    layouts = {"key": hand.key, "start-pell": put_off(hand, PELL)}
    return write_exercise(folder, hand, Heading("left-hand", "Orlo's left hand", pose, IGNORED), layouts)


def write_finger(folder: Path | str) -> Path:
    """Write the exercise "left-finger" into a folder; returns it."""
    limb = practice_limb("finger", SEED)
    made = make_exercise(folder, limb, name="left-finger", title="Orlo's left index finger")
    text = layout_text("start-zigzag", "left-finger", put_off(limb, ZIGZAG))
    (made / "start-zigzag.json").write_bytes(text.encode())
    return made


if __name__ == "__main__":
    write_hand(data_folder() / "exercises" / "left-hand")
    write_finger(data_folder() / "exercises" / "left-finger")
