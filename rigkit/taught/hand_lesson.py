"""What lesson 7 shows of fingers: a hand closed about the hinges that its own joints give, and bones by length."""

from __future__ import annotations

from collections.abc import Collection, Sequence

import numpy as np

from rigkit import lesson
from rigkit.anatomy import proportions, range_of_motion, segment
from rigkit.bench import Bench
from rigkit.bench_parts import Limb, nearest_way
from rigkit.kinematics import chain_hinges
from rigkit.mends import half_up
from rigkit.require import choice, number
from rigkit.skeleton import Skeleton
from rigkit.slices import MM
from rigkit.stills import Picture
from rigkit.taught.posed_plates import Pose, plates
from rigkit.taught.posing import carried, looked_at, turned
from rigkit.told import LOOK_AGAIN, RIGHT, Table, Told
from rigkit.vectors import angle_between

DIGITS = ("thumb", "index", "middle", "ring", "little")
FLAT = 15.0
"""Degrees that the two hinges of a digit may point apart (this course's choice)."""


def _hinges(limb: Limb, skeleton: Skeleton, digit: str) -> np.ndarray:
    """Hinges (2, 3) of a digit's second and third joint, each square to its own two bones."""
    return _hinges_of(limb, digit, skeleton.positions[[limb.roles[f"{digit} {part}"] for part in (1, 2, 3, "tip")]])


def _hinges_of(limb: Limb, digit: str, places: np.ndarray) -> np.ndarray:
    """The same from the places (4, 3) of the digit's joints and tip."""
    folds = [limb.exercise.asked(f"{digit} {part}").fold for part in (2, 3)]
    return chain_hinges(places, np.array([fold.away for fold in folds if fold is not None]))[1:]


def curled(
    what: Bench | str, start: str = "", close: float = 70, views: Sequence[str] = ("front", "turned"),
    strong: Collection[str] = DIGITS,
) -> Picture:  # fmt: skip
    """The hand or finger on a bench (or of a start layout) closed by so many per cent of what its joints can do.

    Each joint turns about its own hinge, a knuckle about that of the joint below it; the thumb's base stays. How far
    joints fold: the least that the sources in data/reference/motion.csv say. The skin hangs on the joints by heat.
    strong: the digits whose joints are drawn strong, the others faint.
    """
    exercise, skeleton = looked_at(what, start)
    limb, share = Limb.of(exercise, skeleton), number(close, "how far to close", 0, 100) / 100
    turns = {}
    for digit in DIGITS:
        if f"{digit} 1" not in limb.roles:
            continue
        second, third = _hinges(limb, skeleton, digit)
        for part, hinge in ((1, second), (2, second), (3, third)):
            if digit != "thumb" or part > 1:
                most = range_of_motion(f"{digit} {part}", "flexion").least
                turns[limb.roles[f"{digit} {part}"]] = (hinge, np.radians(share * most))
    frames, places = turned(skeleton, turns)
    faint = {joint for role, joint in limb.roles.items() if role.split()[0] not in ("wrist", *strong)}
    names = {limb.roles[f"{digit} 1"]: digit for digit in strong} if faint else {}
    left = [joint for joint, digit in names.items() if digit == "thumb"]
    mesh = carried(exercise.mesh, skeleton, frames)
    pose = Pose(mesh, places, skeleton.parents, names=names, faint=faint, to_left=left)
    said = f"Closed by {close:g} per cent, each joint about its own hinge"
    shown = [(f"{view.capitalize()}, closed", view, pose) for view in views]
    return plates(shown, [f"{title}. {said}." for title, _, _ in shown], exercise.side)


def published() -> Table:
    """The bones of each digit from the knuckle to the tip, mm and shares, from data/reference/finger_bones.csv."""
    rows = []
    for digit in DIGITS:
        parts = [segment(f"{digit} {start}", f"{digit} {end}").least for start, end in ((1, 2), (2, 3), (3, "tip"))]
        shares = [f"{100 * part / sum(parts):.0f} %" for part in parts]
        rows.append((digit, f"{sum(parts):.0f} mm", *shares))
    under = "Means of 66 adults by X-ray, the last bone with the flesh beyond it: Buryanov & Kotiuk 2010."
    return Table(("digit", "1 to tip", "1 to 2", "2 to 3", "3 to tip"), rows, (under,))


def finger_table(what: Bench | str, digit: str = "index", start: str = "") -> Table:
    """A digit's bones beside the published ones, as shares of the digit, and how far apart its hinges point (degrees).

    Source: data/reference/finger_bones.csv (Buryanov & Kotiuk 2010), each last bone with the flesh beyond it.
    """
    exercise, skeleton = looked_at(what, start)
    limb = Limb.of(exercise, skeleton)
    there = tuple(one for one in DIGITS if f"{one} 1" in limb.roles)
    digit = choice(digit, "a digit of this hand", there)
    places = {role: skeleton.positions[joint] for role, joint in limb.roles.items() if role.startswith(digit)}
    rows = [
        (" to ".join(one.bone), f"{100 * one.share:.0f} %", f"{100 * one.table:.0f} %")
        for one in proportions(places)
        if one.whole == digit
    ]
    hinges = _hinges(limb, skeleton, digit)
    parted = np.degrees(angle_between(*hinges))
    under = [
        f"The hinges of {digit} 2 and {digit} 3 point {parted:.0f} degrees apart; in a flat chain they are parallel."
    ]
    if digit != "index" and "index 1" in limb.roles:
        beside = np.degrees(angle_between(hinges[0], _hinges(limb, skeleton, "index")[0]))
        under.append(f"Its first hinge is turned by {beside:.0f} degrees against the index finger's.")
    return Table(("bone", "here", "published"), rows, under)


def check(bench: Bench, digit: str, criteria: Collection[str] = (), joints: Collection[str] = ()) -> Told:
    """What `lesson.check` says and, where that is right, whether the digit is flat: its two hinges no more than FLAT
    degrees apart; if not, which joint lies farthest out of the digit's own plane. Never raises."""

    def answer() -> Told:
        told = lesson.check(bench, criteria, joints)
        if told.state != RIGHT:
            return told
        parted = float(np.degrees(angle_between(*_hinges(bench.limb, bench.skeleton, digit))))
        said = f"the hinges of {digit} 2 and {digit} 3 point {parted:.0f} degrees apart"
        if parted <= FLAT:
            return Told(RIGHT, f"Nothing here needs mending, and {said}.", "Go on.")
        meant = {f"{digit} {part}": bench.exercise.asked(f"{digit} {part}").middle for part in (1, 2, 3, "tip")}
        plane = _hinges_of(bench.limb, digit, np.array(list(meant.values())))[0]
        here = {role: bench.skeleton.positions[bench.limb.roles[role]] for role in meant}
        aside = {role: float((here[role] - meant[role]) @ plane) for role in meant}
        worst = max(meant, key=lambda role: abs(aside[role]))
        way, far = nearest_way(bench.limb, -np.sign(aside[worst]) * plane), half_up(MM * abs(aside[worst]), 1)
        mend = f"Begin with {worst}: {far:g} mm {way} brings it into the plane of the {digit}'s own flesh."
        return Told(LOOK_AGAIN, f"Each joint lies in its ring, but {said}; up to {FLAT:.0f} is flat.", mend)

    return lesson.safely(answer)
