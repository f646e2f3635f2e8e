"""Lesson 6's work: which edit mends an arm in one step, in how few steps, and what went along; offs (n, 3) in mm."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from rigkit.bench import Bench
from rigkit.lesson import check, safely
from rigkit.require import choice, number
from rigkit.taught.branch_lesson import MM, ROLES
from rigkit.told import LOOK_AGAIN, NOT_YET, RIGHT, Told
from rigkit.vectors import length

HAND = ROLES[2:]
PUZZLE: Mapping[str, tuple[float, float, float]] = {
    "shoulder": (-30, 0, 0), "elbow": (-30, 0, -12), "wrist": (-30, 0, 16),
    "thumb 1": (-30, 0, 16), "index 1": (-30, 0, 16),
}  # fmt: skip
"""The arm of exercise 4: by how many mm (out, up, forward) each joint lies off."""
ALONE, BELOW, SLIDE, SLIDE_BELOW = "alone", "below", "slide", "slide below"
EDITS = (ALONE, BELOW, SLIDE, SLIDE_BELOW)
CASES = {"A": ALONE, "B": BELOW, "C": SLIDE, "D": SLIDE_BELOW}


def fewest(parents: Sequence[int | None], offs: np.ndarray) -> int:
    """The least number of moves, each of one joint alone or with all below it, that take all offs (n, 3) away.

    >>> fewest((None, 0, 1), np.array([[5, 0, 0], [5, 0, 0], [5, 0, 0]]))
    1
    """
    offs = np.asarray(offs, dtype=float)
    arrows = np.vstack([np.zeros((1, 3)), offs])

    def cost(joint: int, carried: np.ndarray) -> int:
        children = [child for child, parent in enumerate(parents) if parent == joint]
        each = []
        for way in arrows:  # what all below has been moved by from here on
            moved, alone = not np.allclose(way, carried), not np.allclose(way, offs[joint])
            each.append(moved + alone + sum(cost(child, way) for child in children))
        return min(each)

    return sum(cost(joint, np.zeros(3)) for joint, parent in enumerate(parents) if parent is None)


# Checks --------------------------------------------------------------------------------------------

_WHY = {
    ("A", BELOW): "the wrist and the hand are right as they are, and would go along.",
    ("A", SLIDE): "too far forward is beside the bone, and a slide never leaves the bone's line.",
    ("B", ALONE): "thumb and finger are off by the same arrow, and would stay behind.",
    ("B", SLIDE): "too far in is no way along the bone.",
    ("C", ALONE): "it would do, but you would have to hit the line with three sliders; one slider keeps it for you.",
    ("C", BELOW): "the wrist and the hand are right as they are, and would go along.",
    ("D", ALONE): "thumb and finger are off by the same arrow, and would stay behind.",
    ("D", SLIDE): "thumb and finger are off by the same arrow, and would stay behind.",
    ("D", BELOW): "it would do, but you would have to hit the bone's line with three sliders; one keeps it for you.",
}


def check_cases(edit: Mapping[str, str]) -> Told:
    """Whether the edit chosen for each arm mends it in one step; never raises."""

    def answer() -> Told:
        if open_ones := [case for case in CASES if not str(edit.get(case, "")).strip()]:
            return Told(NOT_YET, f"Nothing is written for arm {', '.join(open_ones)}.", "Write in the cell above.")
        for case, right in CASES.items():
            said = choice(edit[case], f"the edit of arm {case}", EDITS)
            if said != right:
                why = _WHY.get((case, said), "the joints below are right as they are, and would go along."
                               if "below" not in right else "a slide never leaves the bone's line.")  # fmt: skip
                return Told(LOOK_AGAIN, f"Arm {case}, {said}: {why}", "Ask first what the joints below need.")
        return Told(RIGHT, "One step mends each of the four.", "Go on.")

    return safely(answer)


def check_hand(bench: Bench) -> Told:
    """Whether wrist, thumb and finger lie in their places; tells where a part of them was left behind."""

    def answer() -> Told:
        told = check(bench, joints=HAND)
        if told.state == NOT_YET:
            return told
        moved = {role: MM * (bench.skeleton.positions[n] - bench.start.positions[n]) for role, n in _numbers(bench)}
        wrist, fingers = moved["wrist"], [moved[role] for role in HAND[1:]]
        high = [role for role in ROLES[:2] if np.any(moved[role]) and np.allclose(moved[role], wrist, atol=0.5)]
        if high:
            return Told(LOOK_AGAIN, f"You took hold too high up: the {high[0]} had no such fault, and went along.",
                        "Press Start again, and take hold at the first joint that shares the arrow.")  # fmt: skip
        alone = np.any(wrist) and not np.any(fingers)
        if told.state == LOOK_AGAIN and alone and check(bench, joints=HAND[:1]).state == RIGHT:
            return Told(LOOK_AGAIN, "The wrist was moved, and thumb and finger stayed behind, off by the same arrow.",
                        "Press Take back, then move the wrist with With all below on, or below=True in writing.",
                        fault=told.fault)  # fmt: skip
        if told.state == RIGHT and (single := _single_moves(bench)):
            return Told(RIGHT, f"All three lie in their places, after {single} moves of one joint or two.",
                        "Press Start again and do it in one, with With all below.")  # fmt: skip
        return told

    return safely(answer)


def _single_moves(bench: Bench) -> int:
    """How many moves, since the hand last lay as at the start, took along a part of the hand and not all of it."""
    hand, count = [number_ for role, number_ in _numbers(bench) if role in HAND], 0
    places = [one.positions for one in (*bench.work.state.history.past, bench.skeleton)]
    for before, now in zip(places, places[1:], strict=False):
        moved, as_at_start = length(now[hand] - before[hand]) > 0, np.allclose(now[hand], bench.start.positions[hand])
        count = 0 if as_at_start else count + bool(moved.any() and not moved.all())
    return count


def check_elbow(bench: Bench) -> Told:
    """Whether the elbow was slid into its place, alone; tells where it left its line or took others along."""

    def answer() -> Told:
        told = check(bench, criteria=("centring", "fold"), joints=("elbow",))
        if told.state == NOT_YET:
            return told
        places, start, numbers = bench.skeleton.positions, bench.start.positions, dict(_numbers(bench))
        elbow, wrist = numbers["elbow"], numbers["wrist"]
        line = start[elbow] - start[numbers["shoulder"]]
        step = places[elbow] - start[elbow]
        beside = MM * float(length(step - step @ line / (line @ line) * line))
        hand = MM * (places[wrist] - start[wrist])
        if abs(hand[1]) >= 3.0:
            way = "up" if hand[1] > 0 else "down"
            return Told(LOOK_AGAIN, f"The wrist went {abs(hand[1]):.0f} mm {way} as well; it was right so far.",
                        "Press Take back, and slide the elbow with With all below switched off. After Start again "
                        "exercise 2 is to be done once more, too.")  # fmt: skip
        if told.state == LOOK_AGAIN and beside >= 3.0 and float(step @ line) < 0.0:
            return Told(LOOK_AGAIN, f"The elbow has left its bone's line by {beside:.0f} mm.",
                        "Take that back, and use the one slider along the bone.")  # fmt: skip
        if told.state == RIGHT:
            return Told(RIGHT, f"It went {MM * float(length(step)):.0f} mm along its bone.", "Go on.")
        return told

    return safely(answer)


def _numbers(bench: Bench) -> list[tuple[str, int]]:
    return list(bench.limb.roles.items())


def check_fewest(steps: object) -> Told:
    """Whether a number is the least number of steps for the arm of exercise 4; never raises."""

    def answer() -> Told:
        least = fewest((None, 0, 1, 2, 2), np.array(list(PUZZLE.values())))
        said = number(steps, "how many steps", 0, 100)
        if not said:
            return Told(NOT_YET, "No number is written.", "Count, and write it in the cell above.")
        if said == len(PUZZLE):
            return Told(LOOK_AGAIN, "That is a step for each joint, and most joints share an arrow with their parent.",
                        "Take the shared arrow away first, at the shoulder, with all below.")  # fmt: skip
        if said > least:
            return Told(LOOK_AGAIN, f"{said:g} steps will do, and fewer will, too.",
                        "What is left of each arrow when the shoulder's is taken away from all?")  # fmt: skip
        if said < least:
            return Told(LOOK_AGAIN, f"With {said:g} something is left over.",
                        "Take the shoulder's arrow away from all. Which joints are still off?")  # fmt: skip
        return Told(RIGHT, "Shoulder with all below, elbow alone, wrist with all below.", "Go on.")

    return safely(answer)
