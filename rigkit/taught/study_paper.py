"""Lesson 1: what a student wrote down, by word, beside what the sources say; joints on a bench beside their places."""

from __future__ import annotations

from collections.abc import Callable, Collection

import numpy as np

from rigkit import require
from rigkit.anatomy import facts
from rigkit.bench import Bench
from rigkit.lesson import safely
from rigkit.measures.base import own
from rigkit.mends import half_up, main_way
from rigkit.require import RigError
from rigkit.slices import MM
from rigkit.taught.study import LEG, NONE, by_source, expected, shares
from rigkit.told import LOOK_AGAIN, NOT_YET, RIGHT, Told

NEAR = 1.0
"""Local radii from its place within which a joint counts as expected rightly: the slice does the rest (learner)."""
FAR = 2.0
"""Local radii from its place beyond which a joint is called far off (learner)."""
ARM, FINGER = ("shoulder", "elbow", "wrist"), ("index 1", "index 2", "index 3", "index tip")
TOLLA = 1.60
"""Metres: the stature of the woman whose arm exercise 1 asks for (our own invention)."""
FINGER_ALLOWED = 2.0
"""Per cent of the finger by which an answer may differ from its table: a half and three quarters, 1.3 and 1.0 off, are
near enough; shares of the way to the end of the bone, 3.7 off at the last joint, are not (learner)."""
_WRONG_LEG = {
    ("A", "knee"): "At A the feathers end, and nothing folds. A knee lets the shank below it swing back",
    ("A", "ankle"): "At A the feathers end, and nothing folds. An ankle lets the foot below it swing forward",
    ("B", "ankle"): "Below B there are only toes. The ankle is one joint above the ball",
    ("B", "heel"): "A heel is no joint, and this bird's stands high above the ground",
    ("D", "heel"): "The heel is the knob behind this joint, and no joint itself",
    ("D", "knee"): "At D the bone below swings forward as the leg folds. A knee lets its shank swing back",
    ("E", "hip"): "The hip lies inside the body, where the leg begins",
    ("E", "ankle"): "At E the bone below swings back as the leg folds, as a shank swings back under a knee",
}  # fmt: skip


def joint_to_joint(height: float) -> dict[str, tuple[float, float]]:
    """Least and most distance (mm) of elbow and wrist below the shoulder *joint*, for a height in metres.

    Lengths felt from knob to knob (Gordon et al.) lose what lies above the one joint and below the other (de Leva
    1996b).

    >>> {role: (round(a), round(b)) for role, (a, b) in joint_to_joint(1.6).items()}
    {'elbow': (254, 298), 'wrist': (497, 531)}
    """
    knobs = {row.about[0]: row.value for row in facts("joint_centres") if row.about[1:] == ("acromion", "radiale")}
    places = []
    for (source, _), (upper, forearm) in by_source(ARM).items():
        top, foot = (knobs["shoulder"], knobs["elbow"]) if source.startswith("Gordon") else (0.0, 1.0)
        places.append((upper * (foot - top), upper * (1 - top) + forearm))
    mm = MM * height * np.array(places)
    return {role: (float(a), float(b)) for role, a, b in zip(ARM[1:], mm.min(axis=0), mm.max(axis=0), strict=True)}


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
        return safely(lambda: self._look(("elbow", "wrist"), self._arm, self._sourced_arm))

    def check_finger(self) -> Told:
        """Whether a finger's joints are expected where the bones have them, in per cent of the way to its tip."""
        return safely(lambda: self._look(("middle", "last"), self._finger, self._sourced_finger))

    def check_leg(self) -> Told:
        """Whether the letters of the bird's leg bear the right joints' names."""
        right = "Hip, knee, ankle, ball: the order of the parts holds."
        return safely(lambda: self._look(tuple(LEG), self._letters, lambda: right))

    def _look(
        self, need: tuple[str, ...], check: Callable[[], tuple[str, str] | None], right: Callable[[], str]
    ) -> Told:
        if missing := [word for word in need if self._said.get(word) in (None, 0, "")]:
            return Told(NOT_YET, f"Nothing is written for {', '.join(missing)}.", "Write it in the cell above.")
        fault = check()
        return Told(LOOK_AGAIN, *fault) if fault else Told(RIGHT, right(), "Go on.")

    def _arm(self) -> tuple[str, str] | None:
        elbow, wrist = self._number("elbow"), self._number("wrist")
        if min(elbow, wrist) < 100:
            return "No arm is as short as that.", "Write millimetres, not metres, centimetres or per cent."
        if wrist < elbow:
            return "The wrist cannot lie above the elbow.", "Both count from the shoulder: add the two bones."
        for role, (least, most) in joint_to_joint(TOLLA).items():
            mm = self._number(role)
            if half_up(most) < mm <= half_up(expected(TOLLA, *ARM)[role][1]):
                found = f"{mm:g} mm is the {role} below the top of the shoulder, felt from knob to knob."
                return found, "From where to where? Take off what lies above the shoulder joint."
            if not half_up(least) <= mm <= half_up(most):
                way = "too far down" if mm > most else "too far up"
                found = f"{mm:g} mm is {way} for the {role}: no source has it there."
                return found, f"Take shares of {TOLLA:.2f} m, not of another height, and count from the shoulder."
        return None

    def _sourced_arm(self) -> str:
        found = joint_to_joint(TOLLA).items()
        spans = [f"the {role} {half_up(least):g} to {half_up(most):g} mm" for role, (least, most) in found]
        return f"{self._wrote('elbow', 'wrist')}; from joint to joint the sources have {' and '.join(spans)}."

    def _sourced_finger(self) -> str:
        middle, last = shares(*by_source(FINGER).values())
        return f"{self._wrote('middle', 'last')}; the X-rays have {middle:.1f} and {last:.1f} per cent."

    def _wrote(self, *words: str) -> str:
        return f"You wrote {' and '.join(f'{self._number(word):g}' for word in words)}"

    def _finger(self) -> tuple[str, str] | None:
        right = dict(zip(("middle", "last"), shares(*by_source(FINGER).values()), strict=True))
        said = {word: self._number(word) for word in right}
        if said["last"] < said["middle"]:
            return "The last joint lies beyond the middle one.", "Both count from the knuckle."
        if all(abs(said[word] - third) < 2 for word, third in (("middle", 100 / 3), ("last", 200 / 3))):
            return "A finger is not made of thirds.", "Its bones grow shorter: look at the table again."
        to_the_bone = shares(*by_source((*FINGER[:-1], "index bone end")).values())
        if all(abs(one - other) < 1 for one, other in zip(said.values(), to_the_bone, strict=True)):
            return "That is the way to the end of the last bone.", "Flesh comes after it: divide by the way to the tip."
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
                other = f"There is a joint at {letter}" if said == NONE else f"{letter} is not the {said}"
                why = _WRONG_LEG.get((letter, said), other)
                return f"{why}.", "Count the joints from the hip: hip, knee, ankle, ball."
        return None


def check_near(bench: Bench, joints: Collection[str]) -> Told:
    """Whether joints on a bench lie within NEAR local radii of their places, and no other was moved off its own."""
    return safely(lambda: _near(bench, joints))


def _near(bench: Bench, joints: Collection[str]) -> Told:
    if not isinstance(bench, Bench):
        raise RigError("the bench of this lesson", require.kind(bench), next_step="Run the cell that opens it first")
    if not bench.changed(joints):
        return Told(NOT_YET, "This still is as the lesson left it.", "Move a joint on the bench or in the cell above.")
    limb, found, steps = bench.limb, [], []
    for role in sorted(limb.roles, key=lambda role: role not in joints):
        there = own(limb.exercise)[role]
        away = MM * limb.body @ (there.middle - bench.skeleton.positions[limb.roles[role]])
        radii = float(np.linalg.norm(away)) / (MM * (there.radius or np.nan))
        if radii <= NEAR or (role not in joints and not bench.changed([role])):
            continue
        where = "far from its place" if radii > FAR else "a little off its place"
        found.append(f"The {role} lies {where}." if role in joints else f"The {role} was right, and is not any more.")
        steps.append(f"Move the {role} {_ways(away)}.")
    if found:
        return Told(LOOK_AGAIN, " ".join(found), " ".join((*steps, "How long does the sheet have the bones?")))
    near = f"{' and '.join(joints).capitalize()}: near enough, within one local radius."
    return Told(RIGHT, near, "The slice of lesson 2 does the rest.")


def _ways(away: np.ndarray) -> str:
    """The directions that make up most of a way (3,), the longest first: "up and forward". How far, students find."""
    most = np.abs(away).max()
    return " and ".join(
        main_way(away * (np.arange(3) == i)) for i in np.argsort(-np.abs(away)) if abs(away[i]) > most / 3
    )
