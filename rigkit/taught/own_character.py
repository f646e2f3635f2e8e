"""A character of one's own on its way to an exercise: answers and mends change its draft, and what is odd is told."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from rigkit.anatomy import folds
from rigkit.draft import Draft, DraftJoint
from rigkit.files.gltf_write import skinned_glb
from rigkit.limbs import Shape, practice_limb
from rigkit.mends import half_up, way_words
from rigkit.naming import bundled_rules, read_rule
from rigkit.require import choice, number
from rigkit.rubric_place import too_far
from rigkit.skeleton import Skeleton
from rigkit.slices import MM
from rigkit.told import Table
from rigkit.understood import AGREE, ALIKE, WAYS
from rigkit.vectors import length
from rigkit.work import WORK, own_folder

DEMO, DEMO_SEED, DEMO_SLIP = "minnow_leg.glb", 5, (0.021, 0.003, 0.0)  # metres that the demo's ball lies off on purpose
FOLDING = ("elbow", "knee", "ankle")
"""Roles whose fold anatomy tells (see `understood`)."""
FEWEST = 3  # words of a sentence that says how a figure rests (our choice)
ASKED = "asked"
SIGNS = "In is a negative out, down a negative up, back a negative forward."


class Character:
    """A character while it becomes an exercise: the draft as it is now, and as it was opened."""

    def __init__(self, draft: Draft, demo: bool = False):
        self.opened = self.draft = draft
        self.demo = demo

    def joint(self, name: str, **answers) -> Table:
        """Answer about a joint, by its role or name: role, need, place, middle, plane, stretch, fold, names."""
        one = self.one(name)
        draft = self.draft.with_joint(name, **answers)
        if answers.get("need") == "ignored":  # nobody is asked for it: what it was taken for says nothing any more
            kept = {key: value for key, value in draft.answers[one.number].items() if key != "role"}
            draft = replace(draft, answers={**draft.answers, one.number: kept})
        self.draft = draft
        return lines([now for now in draft.joints if now.number == one.number], draft)

    def one(self, name: str) -> DraftJoint:
        """A joint by its role or name. Raises RigError with the names in the file."""
        if not any(name in (one.role, one.name) for one in self.draft.joints):
            choice(name, "a joint", [one.name for one in self.draft.joints])
        return self.draft.joint(name)

    def say(self, **words: str) -> Table:
        """Say of the whole: title, rest_pose, side, naming, rubric, frame_convention, id."""
        self.draft = self.draft.with_said(**words)
        return Table(("what", "as it is now"), [(key, str(getattr(self.draft, key))) for key in words])

    def mend(self, name: str, out: float = 0, up: float = 0, forward: float = 0, called: str = "") -> Table:
        """Put a joint of the key so many mm from where the file has it, or call it otherwise; all that was mended."""
        number = self.one(name).number
        to = self.opened.figure.positions[number] + self.arrow(out, up, forward)
        self.draft = self.draft.changed(name, to, called)
        rows = []
        for one in sorted(self.draft.joints, key=lambda one: one.number):
            move = MM * self.flip * (self.draft.figure.positions[one.number] - self.opened.figure.positions[one.number])
            told = way_words(np.array([half_up(x, 1) for x in move])) if np.any(abs(move) > 0.05) else ""
            if told or one.name != self.opened.figure.names[one.number]:
                rows.append((one.name, told, fold_told(one, self.draft.side)))
        return Table(("mended", "from where the file has it", "off its line"), rows)

    def arrow(self, out: float, up: float, forward: float) -> np.ndarray:
        """Millimetres out, up and forward as an arrow (3,), metres, world."""
        way = [number(one, what, -1000, 1000) for what, one in (("out", out), ("up", up), ("forward", forward))]
        return np.array(way) / MM * self.flip

    @property
    def flip(self) -> np.ndarray:
        """What turns world directions into out, up and forward, and back (3,)."""
        return np.array([-1.0 if self.draft.side == "right" else 1.0, 1.0, 1.0])

    @property
    def mended(self) -> bool:
        """Whether anything in the key is otherwise than in the file."""
        now, then = self.draft.figure, self.opened.figure
        return now.names != then.names or not np.array_equal(now.positions, then.positions)

    @property
    def asking(self) -> Draft:
        """The draft with what this notebook asks beside: a word of a naming rule for each joint that is asked for, a
        title, and a sentence for those who cannot see the figure."""
        draft, more = self.draft, []
        rules = (*bundled_rules(), read_rule(draft.naming))
        known = {role for rule in rules for role, _ in rule.parts}
        for one in draft.asked:
            if one.role not in known:
                more.append(f'{one.name}: no naming rule has the word "{one.role}", so nobody can be asked for it. '
                            "Which joint is it (role), or is it ignored?")  # fmt: skip
        if draft.rest_pose.strip() and len(re.findall(r"[^\W\d_]{2,}", draft.rest_pose)) < FEWEST:
            more.append("rest_pose: that is no sentence. How does the figure rest? Say it for those who cannot see it.")
        if not re.search(r"[^\W_]", draft.title):
            more.append("title: what shall students call it?")
        return replace(draft, doubts=(*draft.doubts, *more))

    def odd(self, topic: str = "") -> tuple[str, str] | None:
        """What an answer of a topic ("joints", "folds", "" for all) would lead to that is hardly meant, and the next
        step; None where there is nothing."""
        for one in self.draft.asked if self.demo and topic in ("", "joints") else ():
            if one.name == "joint_4":
                return f"As it is, students have to lay a {one.role} half-way down the shank.", "Make joint_4 ignored."
        for one in self.draft.asked if topic in ("", "folds") else ():
            if one.between is None or one.role not in FOLDING or any("(fold)" in doubt for doubt in one.doubts):
                continue
            fact = folds(one.role, "right" if self.draft.side == "right" else "left")
            if one.away is None:
                return (f"With none the bend of the {one.role} is not judged: one that folds backwards loses nothing.",
                        f"Say which way the {one.role} lies off its line, unless it does not fold.")  # fmt: skip
            if np.dot(one.away, fact.numbers) < ALIKE:
                return (f"The {one.role} is to lie {way(one.away, self.draft.side)}; anatomy has it {fact.about[2]} of "
                        "its line.", f"Choose {fact.about[2]}, unless your creature is made so.")  # fmt: skip
        return None

    def astray(self) -> list[tuple[str, str, str]]:
        """Joints of the key that lie off the middle of their slice, the farthest first: role, how far, what to do."""
        found = []
        for one in self.draft.asked:
            if one.lie is None or one.lie.place != "flesh" or one.lie.middle is None:
                continue
            off = self.draft.figure.positions[one.number] - one.lie.middle
            if one.away is not None and "fold" in self.draft.answers.get(one.number, {}):
                off = off - max(float(np.dot(off, one.away)), 0.0) * one.away  # the bend that was asked for
            if (far := float(length(off))) > AGREE * one.lie.radius:
                told = f"{MM * far:.0f} mm from the middle of its slice, {too_far(MM * off * self.flip)}"
                found.append((far, (one.role, f"The {one.role} now lies {told}.", SIGNS)))
        return [row for _, row in sorted(found, key=lambda row: -row[0])]

    @property
    def folder(self) -> Path:
        """Where the exercise is written: beside the notebook's other work."""
        return own_folder(WORK) / "exercises" / self.draft.id

    @property
    def for_students(self) -> Path:
        """Where the students' copy is written."""
        return self.folder.with_name(f"{self.draft.id}-for-students")


def demo_character() -> str:
    """Write Minnow's left leg as her modeller left it, mesh and joints in one .glb file; returns the file's place.

    A knee modelled straight, a helper without a name, and a ball of the foot in the wrong place.
    """
    leg = practice_limb("leg", DEMO_SEED, "left", Shape(bend=0.0, thickness=0.86))
    hip, knee, ankle, ball, tip = leg.key.positions
    places = [hip * [0, 1, 1] + [0, 0.06, 0], hip, knee, (knee + ankle) / 2, ankle, ball + DEMO_SLIP, tip]
    names = ("pelvis", "left_hip", "left_knee", "joint_4", "left_ankle", "left_ball", "left_toe_tip")
    path = own_folder(WORK) / DEMO
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(skinned_glb(leg.mesh, Skeleton(names, (None, 0, 1, 2, 2, 4, 5), np.array(places))))
    return str(path)


def lines(joints: Sequence[DraftJoint], draft: Draft) -> Table:
    """What joints are taken for, whether they are asked for, what judges them, which way they lie off their line."""
    rows = [(*taken(one), one.lie.place if one.lie else "", fold_told(one, draft.side), one.lie.said if one.lie else "")
            for one in joints]  # fmt: skip
    under = draft.notices if len(joints) == len(draft.joints) else ()
    return Table(("joint in the file", "taken for", "need", "judged by", "off its line", "why"), rows, under)


def taken(one: DraftJoint) -> tuple[str, str, str]:
    """A joint's name, role and need, "asked" where they are not known."""
    unknown = any("Which joint" in doubt for doubt in one.doubts)
    return (one.name, "?" if unknown else one.role, ASKED if unknown else one.need)


def fold_told(one: DraftJoint, side: str) -> str:
    """Which way a joint lies off its line, "asked" where that is open, or ""."""
    if any("(fold)" in doubt for doubt in one.doubts):
        return ASKED
    return "" if one.away is None else way(one.away, side)


def way(away: np.ndarray, side: str) -> str:
    """The body direction that an arrow (3,) of a limb on a side points to most."""
    flip = np.array([-1.0 if side == "right" else 1.0, 1.0, 1.0])
    return max(WAYS, key=lambda word: float(np.dot(np.array(WAYS[word]) * flip, away)))
