"""Lesson 9: the twist joints of Orlo's forearm as a student puts them, and the checks of what was put."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from rigkit.frames import quaternion_from_rotation, rotation_about
from rigkit.lesson import safely
from rigkit.require import RigError, choice, number, whole
from rigkit.skeleton import Skeleton
from rigkit.stills import Picture
from rigkit.taught.forearm_twist import curves, length_mm, orlos_arm, picture_with, thinnest
from rigkit.taught.own_axes import lowered
from rigkit.told import LOOK_AGAIN, NOT_YET, RIGHT, Told
from rigkit.twist import check_twist_joints

TURN = 150.0
"""Degrees by which the exercises turn the hand."""
JOINTS = ("elbow", "twist_1", "twist_2", "wrist")
PLACES, TURNS, ABOVE = (40.0, 95.0), (0.0, 0.0), "twist_2"
"""How the twist joints were left: mm from the elbow, degrees of TURN, and what the wrist hangs on."""
EVEN, SHARED = 0.03, 5.0
"""How far a twist joint may be from its even place (share of the forearm) and from its share of the turn (degrees):
evenly is common practice, the numbers are this course's choice."""
COUNTED, KEPT = 120.0, 92
"""Degrees by which the hand is turned where twist joints are counted, and per cent of the thickness to keep (this
course's choice: by the rule alone one joint fewer would do)."""


class Forearm:
    """The twist joints of Orlo's forearm as somebody left them, for a hand turned by TURN degrees; `put`, `share` and
    `hang_wrist` change them and tell how all stands. They raise RigError for what will not do."""

    def __init__(self) -> None:
        self.places, self.turns, self.above = PLACES, TURNS, ABOVE

    def put(self, *mm_from_the_elbow: float) -> Told:
        """Put two twist joints on the bone, each so many mm from the elbow."""
        self.places = _two(mm_from_the_elbow, "mm from the elbow", length_mm())
        return self._told

    def share(self, *degrees: float) -> Told:
        """Say by how many degrees each of the two turns when the hand turns by TURN."""
        self.turns = _two(degrees, "degrees", 180)
        return self._told

    def hang_wrist(self, on: str) -> Told:
        """Say which joint the wrist hangs on."""
        self.above = choice(lowered(on), "a joint for the wrist to hang on", JOINTS[:-1])
        return self._told

    @property
    def _told(self) -> Told:
        said = "The twist joints stand {:g} and {:g} mm from the elbow and turn by {:g} and {:g} degrees."
        return Told("kept", said.format(*self.places, *self.turns), f"The wrist hangs on {self.above}.", "And")

    @property
    def in_line(self) -> bool:
        """Whether the wrist hangs on the lower one and each turns by its own step: then they stand in line."""
        first, second = (mm / length_mm() * TURN for mm in self.places)
        steps = (first, second - first)
        near = all(abs(turn - step) <= SHARED for turn, step in zip(self.turns, steps, strict=True))
        return self.above == ABOVE and near

    @property
    def whole(self) -> tuple[float, float]:
        """By how many degrees each of the two is turned in all, against the elbow."""
        first, second = self.turns
        return (first, first + second) if self.in_line else (first, second)

    @property
    def skeleton(self) -> Skeleton:
        """elbow, twist_1, twist_2 and wrist, turned as with the hand turned by TURN."""
        _, (_, elbow, wrist) = orlos_arm()
        down = (wrist - elbow) / np.linalg.norm(wrist - elbow)
        places = np.array([elbow, *(elbow + mm / 1000 * down for mm in self.places), wrist])
        turns = [quaternion_from_rotation(rotation_about(down, np.radians(one))) for one in (0.0, *self.whole, TURN)]
        return Skeleton(JOINTS, (None, 0, 0, JOINTS.index(self.above)), places, tuple(turns))

    def picture(self) -> Picture:
        """The forearm with these twist joints, the hand turned by TURN."""
        return picture_with(TURN, *self._stations)

    def along(self) -> Picture:
        """What each place of the forearm keeps with these twist joints, and with none."""
        return curves(TURN, {"none": ((), ()), "yours": self._stations})

    @property
    def _stations(self) -> tuple[tuple[float, ...], tuple[float, ...]]:
        """Stations (shares of the forearm, rising) and turns in all (degrees)."""
        order = np.argsort(self.places)
        return tuple(self.places[n] / length_mm() for n in order), tuple(self.whole[n] for n in order)


def _two(given: Sequence[float], what: str, most: float) -> tuple[float, float]:
    if len(given) != 2:
        raise RigError("two numbers, one for each twist joint", f"{len(given)}", where=what)
    return number(given[0], what, 0, most), number(given[1], what, 0, most)


def check_count(twist_joints: int | None) -> Told:
    """Whether so many twist joints are enough, and none too many; never raises."""

    def answer() -> Told:
        if twist_joints is None:
            return Told(NOT_YET, "No number is given.", "Write one in place of None.")
        count = whole(twist_joints, "how many twist joints", 0, 12)
        kept = thinnest(COUNTED, count)
        if kept < KEPT:
            said = f"With {count} the thinnest place keeps {kept} per cent."
            by_rule = 100 * np.cos(np.radians(COUNTED / (count + 1) / 2)) >= KEPT
            more = " By the rule it would be: measure the skin." if by_rule else ""
            return Told(LOOK_AGAIN, said, f"That is not enough.{more}")
        if count and thinnest(COUNTED, count - 1) >= KEPT:
            return Told(LOOK_AGAIN, f"With {count} it keeps {kept} per cent.", "Fewer would do: each joint costs.")
        return Told(RIGHT, f"With {count} the thinnest place keeps {kept} per cent.", "Go on.")

    return safely(answer)


def check(forearm: Forearm) -> Told:
    """Whether the two twist joints stand evenly, take their shares and carry nothing but skin; never raises."""

    def answer() -> Told:
        if (forearm.places, forearm.turns, forearm.above) == (PLACES, TURNS, ABOVE):
            return Told(NOT_YET, "The twist joints are as they were left.", "Write in the cell above.")
        found = check_twist_joints(forearm.skeleton, 0, 3, (1, 2))
        for place, one in enumerate(found, start=1):
            if abs(one.uneven) > EVEN:
                where = "too near to the wrist" if one.uneven > 0 else "too near to the elbow"
                said = f"Twist joint {place} of 2 stands at {100 * one.station:.0f} per cent of the forearm, {where}."
                return Told(LOOK_AGAIN, said, "Two joints divide the bone into three equal pieces.")
        for place, one in enumerate(found, start=1):
            off = np.degrees(one.turn_off or 0.0)
            if abs(off) > SHARED:
                said = f"Twist joint {place} stands at {100 * one.station:.0f} per cent of the bone and turns by "
                said += f"{abs(off):.0f}° too {'much' if off > 0 else 'little'}."
                return Told(LOOK_AGAIN, said, "Take the same share of the turn as of the way.")
        if forearm.in_line:
            return Told(RIGHT, "Even places; in line, each turns by its own step, the wrist by the last.", "Go on.")
        if any(one.carries for one in found) or forearm.above != "elbow":
            said = f"The wrist hangs on {forearm.above}: when that turns, it takes the hand along once more."
            return Told(LOOK_AGAIN, said, "A twist joint carries skin and nothing else.")
        return Told(RIGHT, "Even places, even shares, and nothing hangs below them.", "Go on.")

    return safely(answer)
