"""Lesson 1: what a student wrote down, by word, beside what the sources say; joints on a bench beside their places."""

from __future__ import annotations

from collections.abc import Callable, Collection

import numpy as np

from rigkit import require
from rigkit.bench import Bench
from rigkit.lesson import safely
from rigkit.measures.base import own
from rigkit.mends import half_up, way_words
from rigkit.require import RigError
from rigkit.slices import MM
from rigkit.taught.study import LEG, by_source, expected, shares
from rigkit.told import LOOK_AGAIN, NOT_YET, RIGHT, Told

NEAR = 1.0
"""Local radii from its place within which a joint counts as expected rightly: the slice does the rest (learner)."""
ARM, FINGER = ("shoulder", "elbow", "wrist"), ("index 1", "index 2", "index 3", "index tip")
TOLLA = 1.60
"""Metres: the stature of the woman whose arm exercise 1 asks for (our own invention)."""
FINGER_ALLOWED = 5.0
"""Per cent of the finger by which an answer may differ: about one standard deviation of a bone (Buryanov & Kotiuk)."""
_WRONG_LEG = {
    ("B", "hip"): "The hip lies inside the body, where the leg begins; that is A",
    ("B", "ankle"): "At B the bone below swings back as the leg folds, as a shank swings back under a knee",
    ("C", "knee"): "At C the bone below swings forward as the leg folds. A knee lets its shank swing back",
    ("D", "ankle"): "Below D there are only toes. The ankle is one joint above the ball",
    ("C", "heel"): "The heel is the knob behind this joint, and no joint itself",
    ("D", "heel"): "A heel is no joint, and this bird's stands at C, high above the ground",
}  # fmt: skip


class Paper:
    """What a student has written down, by word; writing again replaces it."""

    def __init__(self) -> None:
        self._said: dict[str, object] = {}

    def say(self, **said: object) -> None:
        """Write down numbers or words, such as elbow=300 or B="knee"."""
        self._said |= said

    def _number(self, word: str) -> float:
        return require.number(self._said[word], f"your {word}", -1e5, 1e5)

    def check_arm(self) -> Told:
        """Whether elbow and wrist of a person of TOLLA metres are expected where the sources have them."""
        return safely(lambda: self._look(("elbow", "wrist"), self._arm))

    def check_finger(self) -> Told:
        """Whether a finger's joints are expected where the bones have them, in per cent of the way to its tip."""
        return safely(lambda: self._look(("middle", "last"), self._finger))

    def check_leg(self) -> Told:
        """Whether the letters of the bird's leg bear the right joints' names."""
        return safely(lambda: self._look(tuple(LEG), self._letters))

    def _look(self, need: tuple[str, ...], check: Callable[[], tuple[str, str] | None]) -> Told:
        if missing := [word for word in need if self._said.get(word) in (None, 0, "")]:
            return Told(NOT_YET, f"Nothing is written for {' and '.join(missing)}.", "Write it in the cell above.")
        fault = check()
        return Told(LOOK_AGAIN, *fault) if fault else Told(RIGHT, "So the sources have it.", "Go on.")

    def _arm(self) -> tuple[str, str] | None:
        elbow, wrist = self._number("elbow"), self._number("wrist")
        if max(elbow, wrist) < 100:
            return "No arm is as short as that.", "Write millimetres, not centimetres or per cent."
        if wrist < elbow:
            return "The wrist cannot lie above the elbow.", "Both count from the shoulder: add the two bones."
        for role, (least, most) in expected(TOLLA, *ARM).items():
            mm = self._number(role)
            if not half_up(least) <= mm <= half_up(most):
                way = "too far down" if mm > most else "too far up"
                found = f"{mm:g} mm is {way} for the {role}: no source has it there."
                return found, f"Take shares of {TOLLA:.2f} m, not of another height, and count from the shoulder."
        return None

    def _finger(self) -> tuple[str, str] | None:
        right = dict(zip(("middle", "last"), shares(*by_source(FINGER).values()), strict=True))
        said = {word: self._number(word) for word in right}
        if said["last"] < said["middle"]:
            return "The last joint lies beyond the middle one.", "Both count from the knuckle."
        if all(abs(said[word] - third) < 2 for word, third in (("middle", 100 / 3), ("last", 200 / 3))):
            return "A finger is not made of thirds.", "Its bones grow shorter: look at the table again."
        for word, share in right.items():
            if abs(said[word] - share) > FINGER_ALLOWED:
                way = "too far out" if said[word] > share else "too near the knuckle"
                return (
                    f"{said[word]:g} per cent is {way} for the {word} joint.",
                    "Add the bones up to the joint and divide by all.",
                )
        return None

    def _letters(self) -> tuple[str, str] | None:
        for letter, role in LEG.items():
            said = require.text(self._said[letter], f"your word for {letter}", 40).strip().lower()
            if said != role:
                why = _WRONG_LEG.get((letter, said), f"{letter} is not the {said}")
                return f"{why}.", "Count the joints from the hip: hip, knee, ankle, ball."
        return None


def check_near(bench: Bench, joints: Collection[str]) -> Told:
    """Whether joints on a bench lie within NEAR local radii of their places, in mm and radii."""
    return safely(lambda: _near(bench, joints))


def _near(bench: Bench, joints: Collection[str]) -> Told:
    if not isinstance(bench, Bench):
        raise RigError("the bench of this lesson", require.kind(bench), next_step="Run the cell that opens it first")
    if not bench.changed(joints):
        return Told(NOT_YET, "This still is as the lesson left it.", "Move a joint on the bench or in the cell above.")
    limb, told = bench.limb, []
    for role in joints:
        there = own(limb.exercise)[role]
        away = MM * limb.body @ (there.middle - bench.skeleton.positions[limb.roles[role]])
        far, radii = float(np.linalg.norm(away)), float(np.linalg.norm(away)) / (MM * (there.radius or np.nan))
        told.append(f"The {role} lies {far:.0f} mm, {radii:.1f} local radii, from its place.")
        if radii > NEAR:
            return Told(LOOK_AGAIN, told[-1], f"Move it {way_words(np.array([half_up(part) for part in away]))}.")
    return Told(RIGHT, " ".join(told), "The slice of lesson 2 does the rest.")
