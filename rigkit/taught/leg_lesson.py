"""What lesson 11 shows of legs: crouches over a foot that stays, legs side by side, letters and the words to them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from rigkit import require
from rigkit.backdrops import ground
from rigkit.bench import Bench
from rigkit.bench_parts import Limb
from rigkit.frames import Frame, rotation_about, rotation_between
from rigkit.lesson import safely
from rigkit.limbs import Shape, practice_limb
from rigkit.limbs.base import surface_point
from rigkit.mesh import Mesh
from rigkit.openings import open_exercise
from rigkit.outline import Edges
from rigkit.picture import LIGHT, fit_views
from rigkit.plates import svg, words
from rigkit.skeleton import Skeleton
from rigkit.skin import bone_frame
from rigkit.solvers import closed_form
from rigkit.stills import Picture
from rigkit.taught.posed_plates import SIZE, Pose, plates
from rigkit.taught.posing import carried, looked_at
from rigkit.told import LOOK_AGAIN, NOT_YET, RIGHT, Told
from rigkit.vectors import unit

ROLES = ("hip", "knee", "ankle", "ball", "toe tip")
KINDS = {"leg": "Orlo's kind", "toe_walker": "Brassfoot's kind", "bird_leg": "Stiltjack's kind"}
NARROW = (262, 404)  # px: three of them stand beside each other in a notebook
COUSIN = 3
"""Seed of the legs that are shown side by side: not those that are laid on the bench. Orlo's kind has its lengths from
Drillis & Contini 1966; the others are invented, in the order of bones of such animals."""
X, UP, FORWARD = np.eye(3)
HEEL = {"leg": unit(-0.8 * FORWARD - 0.6 * UP), "toe_walker": unit(-0.92 * FORWARD + 0.38 * UP)}
"""From the ankle to the point of the heel bone; a bird has none of its own (standard anatomy)."""
TO_LEFT = {"leg": (2, 3), "toe_walker": (2,), "bird_leg": (1,)}
"""Joints whose names stand at their left, where there is room."""
LETTERS = {"C": "knee", "A": "ankle", "D": "heel", "B": "ball"}
"""From the hip down, so that their order tells nothing."""
LANKY = Shape(lengths={"hip": 0.85, "ankle": 1.3})
"""Of the leg with letters: a shorter thigh and a longer foot than the one that was shown with names."""
WRONG = {
    ("knee", "A"): "A points backward, and what hangs below it swings forward: that is an ankle. Look higher, "
                   "at the flank.",
    ("knee", "B"): "B is just above the toes, and there is more than one joint between it and the hip.",
    ("ankle", "C"): "Below C the leg swings back, as below a knee. Go on down to the next joint.",
    ("ankle", "D"): "D is a bone's end under the skin, and nothing folds there. The joint lies in front of it.",
    ("ankle", "B"): "B is where the toes begin. You took the paw for a whole foot; the foot is longer than that.",
    ("heel", "B"): "B stands on the ground, but on the balls of the toes. A heel bone stands out behind an ankle.",
    ("heel", "A"): "A is the joint itself. The heel bone reaches out behind it, to a point under the skin.",
}  # fmt: skip


def _posed(mesh: Mesh, rest: Skeleton, places: np.ndarray, names: Mapping[int, str]) -> Pose:
    """The flesh of a chain whose joints went to other places (j, 3), each bone by the smallest turn."""
    frames: list[Frame] = []
    for joint in range(len(rest)):
        below = rest.children(joint)
        turn = frames[-1].rotation if not below else rotation_between(
            rest.positions[below[0]] - rest.positions[joint], places[below[0]] - places[joint])  # fmt: skip
        frames.append(bone_frame(rest.positions[joint], places[joint], turn))
    return Pose(carried(mesh, rest, frames), places, rest.parents, names=names)


def _crouched(rest: np.ndarray, angle: float) -> np.ndarray:
    """Places (5, 3) with knee and ankle folded alike, the hip straight over where it was, the foot where it stands."""
    shank = rotation_about(X, angle) @ (rest[2] - rest[1])  # the foot, folded back by as much, keeps its direction
    chain = np.cumsum([rest[0], rest[1] - rest[0], shank, rest[3] - rest[2]], axis=0)
    turn = rotation_between(chain[3] - chain[0], rest[3] - rest[0])
    chain = rest[0] + (chain - rest[0]) @ turn.T
    return np.concatenate([chain + rest[3] - chain[3], rest[4:]])


def as_a_knee(name: str = "left-toe-walker", start: str = "as-human", down: float = 150) -> Picture:
    """A leg taken for a person's: at rest, and crouching by so many mm with a bend target in front of its "knee"."""
    exercise = open_exercise(name)
    rest = exercise.start(start).skeleton
    lower = require.number(down, "how far down", 0, 300) / 1000 * UP
    hip, knee, ankle = rest.positions[:3]
    solved = closed_form([hip, knee, ankle], ankle + lower, knee + FORWARD).positions
    places = np.concatenate([solved - lower, rest.positions[3:]])
    names = dict(enumerate(ROLES[:3]))
    shown = [("At rest", Pose(exercise.mesh, rest.positions, rest.parents, names=names)),
             ("Crouching", _posed(exercise.mesh, rest, places, names))]  # fmt: skip
    said = ["At rest, seen from the side, with Pell's names: the one called knee lies in the corner that points back.",
            "Crouching: that corner is pushed forward, through where the leg was."]  # fmt: skip
    return plates([(title, "side", pose) for title, pose in shown], said, exercise.side)


def crouch(what: Bench | str, start: str = "", angle: float = 40) -> Picture:
    """The leg on a bench at rest and crouching: knee and ankle fold by so many degrees, the foot stays where it is."""
    exercise, skeleton = looked_at(what, start)
    limb = Limb.of(exercise, skeleton)
    numbers = [limb.roles[role] for role in ROLES if role in limb.roles]
    parents = tuple(range(-1, len(numbers) - 1))
    chain = Skeleton(tuple(ROLES[: len(numbers)]), (None, *parents[1:]), skeleton.positions[numbers])
    places = _crouched(chain.positions, np.radians(require.number(angle, "degrees", 0, 60)))
    names = dict(enumerate(ROLES[:4]))
    poses = [("At rest", "side", Pose(exercise.mesh, chain.positions, chain.parents, names=names)),
             ("Crouching", "side", _posed(exercise.mesh, chain, places, names))]  # fmt: skip
    said = [f"{title}, seen from the side, with hip, knee, ankle and ball." for title, _, _ in poses]
    return plates(poses, said, exercise.side)


def _heel(mesh: Mesh, ankle: np.ndarray, kind: str) -> np.ndarray:
    """The point of the heel bone, a little under the skin."""
    return ankle + 0.8 * (surface_point(mesh, ankle, HEEL[kind]) - ankle)


def _with_heel(kind: str) -> Pose:
    limb = practice_limb(kind, COUSIN)
    places, parents, names = limb.key.positions, limb.key.parents, dict(enumerate(ROLES[:4]))
    long = np.linalg.norm(np.diff(places[:4], axis=0), axis=1)
    note = "thigh {:.0f} %, shank {:.0f} %, foot {:.0f} %".format(*100 * long / long.sum())
    if kind in HEEL:
        places, parents = np.concatenate([places, [_heel(limb.mesh, places[2], kind)]]), (*parents, 2)
        names |= {len(places) - 1: "heel"}
    return Pose(limb.mesh, places, parents, names=names, note=note, to_left=TO_LEFT[kind])


def side_by_side() -> Picture:
    """Three legs to one scale: a person's, a toe-walker's, a wader's, with the same joints, the heel bone where it is
    free, and thigh, shank and foot (ankle to ball) as shares of the three together."""
    poses = [(KINDS[kind], "side", _with_heel(kind)) for kind in KINDS]
    told = ["A person's leg from the side: hip, knee, ankle, ball; the heel on the ground.",
            "A toe-walker's leg: the knee high in front, the ankle half-way down, the heel bone behind it.",
            "A wader's leg: the knee among the feathers, the ankle half-way down; no heel of its own."]  # fmt: skip
    said = [f"{one} {pose.note.capitalize()}." for one, (_, _, pose) in zip(told, poses, strict=True)]
    room = np.concatenate([pose.mesh.vertices for _, _, pose in poses])
    return plates(poses, said, views=fit_views(poses[0][2].mesh, {"side": NARROW}, also=room))


class Letters:
    """A leg with letters, and what is said of them."""

    def __init__(self) -> None:
        self.given: dict[str, str] = {}

    def picture(self) -> Picture:
        """The right leg of a toe-walker from the side, with the letters A to D."""
        limb = practice_limb("toe_walker", COUSIN, "right", LANKY)
        view = fit_views(limb.mesh, {"side": SIZE}, limb.side)["side"]
        body, key = [ground(limb.mesh, Edges.of(limb.mesh.triangles), view, limb.side, LIGHT)], limb.key.positions
        lettered = np.concatenate([key[[1, 2]], [_heel(limb.mesh, key[2], "toe_walker")], key[[3]]])
        for letter, (x, y) in zip(LETTERS, view.project(lettered), strict=True):
            aside = -14 if LETTERS[letter] == "heel" else 14
            body.append(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4" fill="{LIGHT.ink}"/>')
            body.append(words(x + aside, y + 4, letter, LIGHT, anchor="middle", weight="bold"))
        said = ("A toe-walker's right leg from the side, facing right: C in front, high up; A in the corner "
                "below it, behind; D right behind A under the skin; B above the paw.")  # fmt: skip
        return Picture([(svg(view.size, said, body), said)])

    def say(self, **given: str) -> None:
        """Say which letter is the knee, the ankle, the heel bone's point."""
        self.given = {require.choice(part, "a part of the leg", ("knee", "ankle", "heel")): letter
                      for part, letter in given.items()}  # fmt: skip

    def check(self) -> Told:
        """Whether they are; never raises."""
        return safely(self._check)

    def _check(self) -> Told:
        said = {part: str(letter).strip().upper() for part, letter in self.given.items()}
        missing: Sequence[str] = [part for part in ("knee", "ankle", "heel") if said.get(part, "") not in LETTERS]
        if missing:
            return Told(NOT_YET, f"A letter for the {missing[0]} is wanted.", "Write A, B, C or D in the cell above.")
        for part, letter in said.items():
            if LETTERS[letter] != part:
                told = WRONG.get((part, letter), f"{letter} is not the {part}.")
                return Told(LOOK_AGAIN, told, "Follow the leg down from the hip once more.")
        return Told(RIGHT, "Knee at the flank, ankle in the corner, heel bone behind it.", "Go on.")
