"""Lesson 5: tables of what each way to the middle makes of a joint, and checks of who decides; told in mm."""

from __future__ import annotations

import re
from collections.abc import Mapping

import numpy as np

from rigkit.bench import Bench
from rigkit.bench_parts import OPPOSITE, Limb, nearest_way
from rigkit.centre import middles
from rigkit.lesson import safely
from rigkit.loops import bend_loops
from rigkit.openings import open_exercise
from rigkit.require import RigError
from rigkit.slices import MM
from rigkit.taught.middle_plates import answers_picture, outline_picture, roots_picture, sights_picture
from rigkit.taught.middle_ways import answers_of, every_way
from rigkit.told import LOOK_AGAIN, NOT_YET, RIGHT, Table, Told
from rigkit.vectors import length

__all__ = [
    "answers_picture",
    "check_deciders",
    "check_verdict",
    "outline_picture",
    "roots_picture",
    "settle",
    "sights_picture",
    "three_answers",
    "ways",
]

FLESH, LANDMARKS = "flesh", "landmarks"
ANSWERS = ("flesh", "anatomy", "loops")
RUNS_ON = {"hip": "the pelvis and the other thigh", "thumb 1": "the palm", "index 1": "the palm"}
LEAST_WORDS = 4  # of a reason: fewer hardly name one
SEEN = re.compile(
    r"\b(anatom|bend|bone|centre|edge|epicondyle|flesh|fold|knob|kneecap|loop|middle|skin|slice|thick)", re.I
)
"""How a word begins that names what can be seen or measured at a joint; a reason holds one (learner)."""


def ways(role: str, out: float = 0, up: float = 0, forward: float = 0) -> Table:
    """What each way of looking makes of a joint that lies so many mm from its place: how far from the middle of the
    flesh it ends, and how far it slid along the limb meanwhile."""
    found = every_way(role, np.array([out, up, forward]) / MM)
    rows = [(name, f"{off:.0f} mm", _along(slid)) for name, (off, slid) in found.items()]
    return Table((f"the {role}", "from the middle", "slid along the limb"), rows)


def _along(mm: float, nothing: str = "-") -> str:
    return f"{abs(mm):.0f} mm {'down' if mm > 0 else 'up'}" if abs(mm) >= 0.5 else nothing


def settle(name: str = "left-arm", start: str = "scattered", rounds: int = 4) -> Table:
    """ "The middle is here" down a chain whose root is kept: how far each joint moves, round by round; and where along
    the limb the bend loops then lie."""
    exercise = open_exercise(name)
    limb = Limb.of(exercise, exercise.start(start).skeleton)
    before, roles = exercise.start(start).skeleton.positions[list(limb.roles.values())], list(limb.roles)
    rows = []
    for number in range(1, rounds + 1):
        after = middles(exercise.mesh, before, kept=[0], most=1).positions
        rows.append((str(number), *(f"{MM * length(step):.2f} mm" for step in (after - before)[1:])))
        before = after
    station = bend_loops(exercise.mesh, *before[:3]).station
    told = "cannot be told" if station is None else f"lie {_along(MM * station)} the limb from the {roles[1]}"
    return Table(("round", *(f"{role} moves" for role in roles[1:])), rows, (f"Now the bend loops {told}.",))


def three_answers(what: Bench | str, role: str, start: str = "") -> Table:
    """What flesh, anatomy and loops say of a joint, each told from where it lies now."""
    limb, found = answers_of(what, role, start)
    ahead = nearest_way(limb, found.away)

    def across(place: np.ndarray) -> str:
        mm = MM * float((place - found.here) @ found.away)
        return f"{abs(mm):.0f} mm {ahead if mm > 0 else OPPOSITE[ahead]}" if abs(mm) >= 0.5 else "where it is"

    fold = "cannot tell" if found.fold is None else _along(MM * found.fold, "where it is")
    rows = [("flesh: the middle of the slice", across(found.flesh), "says nothing"),
            ("anatomy: half-way between the knobs", across(found.anatomy), "says nothing"),
            ("loops: where edges lie close", "says nothing", fold)]  # fmt: skip
    head = (f"the {role} belongs", f"{ahead} or {OPPOSITE[ahead]}", "along the limb")
    return Table(head, rows, (f"The rule of the knobs: {found.source}.",))


def check_deciders(answers: Mapping[str, str]) -> Told:
    """Whether "flesh" or "landmarks" is said rightly for each of hip, ankle, wrist, thumb 1, thumb 2, index 1 and 2."""

    def answer() -> Told:
        if not isinstance(answers, Mapping) or not any(answers.values()):
            return Told(NOT_YET, "No joint has an answer.", f'Write "{FLESH}" or "{LANDMARKS}" beside each.')
        for role, said in answers.items():
            if said not in (FLESH, LANDMARKS):
                return Told(LOOK_AGAIN, f'The {role}: "{said}" is neither.', f'Write "{FLESH}" or "{LANDMARKS}".')
            if role in RUNS_ON and said == FLESH:
                found = f"The {role}: a slice there runs on into {RUNS_ON[role]}."
                return Told(LOOK_AGAIN, found, "Its middle is not the joint's. What is left to go by?")
            if role not in RUNS_ON and said == LANDMARKS:
                found = f"The {role}: a slice there holds the limb or the finger alone."
                return Told(LOOK_AGAIN, found, "Then its middle can be trusted, within a few millimetres.")
        return Told(RIGHT, "A slice decides where it holds the limb alone, landmarks where it does not.", "Go on.")

    return safely(answer)


def check_verdict(bench: Bench, role: str, across: str, along: str, why: str) -> Told:
    """Whether a student's verdict on a joint names answers that can give it, and a reason, and the joint follows it."""

    def answer() -> Told:
        if not across and not along and not why:
            return Told(NOT_YET, "Nothing is decided.", f"Write {', '.join(ANSWERS[:-1])} or {ANSWERS[-1]}.")
        for said, name in ((across, "across"), (along, "along")):
            if said not in ANSWERS:
                raise RigError(" or ".join(ANSWERS), repr(said), where=name)
        if across == "loops":
            return Told(LOOK_AGAIN, "The loops say how far down the limb, and nothing across it.",
                        "Which two answers have a place in the slice?")  # fmt: skip
        if along != "loops":
            return Told(LOOK_AGAIN, "A slice has a middle, and knobs on either side, at every height.",
                        "Which answer says how far down?")  # fmt: skip
        if len(re.findall(r"[^\W\d_]{2,}", str(why))) < LEAST_WORDS:
            return Told(LOOK_AGAIN, "Somebody will ask why.", "Give your reason in a few words more.")
        if not SEEN.search(str(why)):
            return Told(LOOK_AGAIN, f"Your reason names nothing that can be seen at a {role}.",
                        "Name what you saw in the slice or on the mesh: then others can look, too.")  # fmt: skip
        limb, found = answers_of(bench, role)
        off = float(length((found.flesh if across == "flesh" else found.anatomy) - found.here))
        ring = limb.exercise.rubric["centring.allowed"] * found.loop.radius
        said = f"Your {role} lies {MM * off:.0f} mm from what {across} says"
        if off > ring:
            return Told(LOOK_AGAIN, f"{said}; up to {MM * ring:.0f} mm agrees.", "Move it, or decide otherwise.")
        return Told(
            RIGHT,
            f"{said}, and you wrote a reason.",
            "No check can weigh a reason: tell it to somebody who would decide otherwise.",
        )

    return safely(answer)
