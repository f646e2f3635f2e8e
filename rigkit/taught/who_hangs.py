"""Lesson 8: who hangs on whom in a figure, and what a child does when its parent moves; heights in whole mm."""

from __future__ import annotations

import numpy as np

from rigkit.anatomy import facts
from rigkit.edits import reparented
from rigkit.lesson import safely
from rigkit.require import choice, number
from rigkit.skeleton import Skeleton
from rigkit.told import LOOK_AGAIN, NOT_YET, RIGHT, Table, Told

HEIGHTS = {"root": 0, "pelvis": 958, "spine": 1060, "chest": 1250, "left_clavicle": 1403, "left_shoulder": 1391,
           "left_hip": 909}  # fmt: skip
"""Millimetres above the ground: clavicle, shoulder, pelvis and hip as on the practice limbs, the spine between them."""
LEFT = {"root": None, "pelvis": "chest", "spine": "root", "chest": "spine", "left_clavicle": "chest",
        "left_shoulder": "chest", "left_hip": "root"}  # fmt: skip
"""What each hangs on, as somebody left it."""
MAY = {"pelvis": ("root",), "spine": ("pelvis", "root"), "chest": ("spine",), "left_clavicle": ("chest",),
       "left_shoulder": ("left_clavicle",), "left_hip": ("pelvis",)}  # fmt: skip
"""What each may hang on (common practice; whether the spine hangs on the pelvis or beside it, studios differ)."""
ELSE = {
    "pelvis": "the hips sway whenever that bends",
    "spine": "the trunk follows what it should carry",
    "chest": "it no longer follows the spine",
    "left_clavicle": "it does not follow the chest",
    "left_shoulder": "the clavicle lifts and the arm stays behind",
    "left_hip": "the pelvis tilts and the leg stays behind",
}


STANDARD = ("sacroiliac", "l_hip", "l_sternoclavicular", "l_acromioclavicular", "l_shoulder")


class Figure:
    """The joints from which Orlo's limbs begin, hung as somebody left them; `hang` hangs one on another."""

    def __init__(self) -> None:
        names = tuple(HEIGHTS)
        places = np.array([[0.0, mm / 1000, 0.0] for mm in HEIGHTS.values()])
        above = tuple(None if LEFT[name] is None else names.index(str(LEFT[name])) for name in names)
        self.skeleton, self.hung = Skeleton(names, above, places), set[str]()
        self.lines = dict[str, str]()  # by joint, what came of its last line
        self.said: tuple[float, float] | None = None

    def hang(self, joint: str, on: str) -> Told:
        """Hang a joint on another one; no place changes. A circle is refused in words. Tells of all lines so far, for a
        cell shows its last line's answer alone."""

        def answer() -> Told:
            number_ = self.skeleton.index(choice(joint, "a joint", MAY))
            self.skeleton = reparented(self.skeleton, number_, self.skeleton.index(on))
            self.hung.add(joint)
            self.lines[joint] = f"{joint} on {on}"
            return Told("hung", f"{', '.join(self.lines.values())}.")

        self.lines[joint] = f"{joint} not (that line was refused)"
        return safely(answer)

    def above(self, joint: str) -> str:
        """What a joint hangs on; "" for the topmost."""
        parent = self.skeleton.parents[self.skeleton.index(joint)]
        return "" if parent is None else self.skeleton.names[parent]

    def goes_along(self, *joints: str) -> Table:
        """For each joint, what goes along when it moves."""
        rows = []
        for joint in joints:
            below = self.skeleton.branch(self.skeleton.index(joint))[1:]
            rows.append((joint, ", ".join(self.skeleton.names[one] for one in below) or "nothing"))
        return Table(("when this moves", "this goes along"), rows)

    def say(self, shoulder_at: float, number_in_file: float) -> Told:
        """The answers of the exercise on numbers, in mm."""

        def answer() -> Told:
            self.said = (
                number(shoulder_at, "shoulder_at", -1e5, 1e5),
                number(number_in_file, "number_in_file", -1e5, 1e5),
            )
            return Told("kept", f"{self.said[0]:g} and {self.said[1]:g} mm.")

        return safely(answer)


def lifted(joint: str, child: str, up: float) -> Table:
    """What becomes of a child's height and of its number in the file when its parent is lifted by so many mm."""
    here, below = HEIGHTS[choice(joint, "a joint", HEIGHTS)], HEIGHTS[choice(child, "a joint", HEIGHTS)]
    rows = [
        ("before", f"{here}", f"{below}", f"{below - here:+d}"),
        ("its number is kept", f"{here + up:g}", f"{below + up:g}", f"{below - here:+d}"),
        ("its place is kept", f"{here + up:g}", f"{below}", f"{below - here - up:+g}"),
    ]
    return Table(("mm", f"{joint} is at", f"{child} is at", "number in the file"), rows)


def hanim() -> Table:
    """What the roots of the left limbs hang on in the open standard's figure (data/reference/hanim.csv)."""
    rows = [(row.about[0], row.about[2]) for row in facts("hanim") if row.about[0] in STANDARD]
    return Table(("H-Anim's joint", "hangs on"), rows)


def check_tree(figure: Figure) -> Told:
    """Whether every joint hangs where its limb begins; never raises."""

    def answer() -> Told:
        for joint, may in MAY.items():
            above = figure.above(joint)
            if above not in may:
                state = LOOK_AGAIN if figure.hung else NOT_YET
                return Told(state, f"{joint} hangs on {above}: {ELSE[joint]}.", "Ask which joint carries it.")
        return Told(RIGHT, "Each limb begins where the body carries it.", "Go on.")

    return safely(answer)


LOWERED = -20
"""Millimetres by which the exercise moves the clavicle up."""


def check_numbers(figure: Figure) -> Told:
    """Whether the shoulder's height and its number in the file are right, with the clavicle lowered; never raises."""

    def answer() -> Told:
        if figure.said is None:
            return Told(NOT_YET, "No numbers are given.", "Write them in the cell above.")
        at, in_file = figure.said
        along = HEIGHTS["left_shoulder"] + LOWERED
        stays = HEIGHTS["left_shoulder"] - HEIGHTS["left_clavicle"] - LOWERED
        if at != along:
            return Told(
                LOOK_AGAIN, f"With its number kept the shoulder is not at {at:g} mm.", "It goes along with its parent."
            )
        if in_file != stays:
            return Told(LOOK_AGAIN, f"With {in_file:g} in the file the shoulder would be at "
                        f"{HEIGHTS['left_clavicle'] + LOWERED + in_file:g} mm, not at {HEIGHTS['left_shoulder']}.",
                        "The number is the shoulder's height less the clavicle's, as that is now.")  # fmt: skip
        return Told(RIGHT, "One number is kept, or one place; never both.", "Go on.")

    return safely(answer)
