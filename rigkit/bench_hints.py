"""Hints in four rungs (nudge, direction, amount, show), from what the marks find: a joint and a move (3,) in mm."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import replace

import numpy as np

from rigkit.bench_parts import Limb
from rigkit.files.exercise import Exercise
from rigkit.files.layout import Layout
from rigkit.measures import measure_all
from rigkit.mends import WAYS, half_up, main_way, way_words
from rigkit.rubric import Finding, judge
from rigkit.skeleton import Skeleton
from rigkit.slices import MM

NOTHING_LEFT = "✓ nothing to mend: every joint asked for here is as it may be."


def findings_in(layout: Layout, exercise: Exercise, criteria: Collection[str]) -> list[Finding]:
    """What the marks find in some criteria. Without `bend` among them nothing is forgiven for a bend's sake."""
    measured = measure_all(layout, exercise)
    if "bend" not in criteria:
        measured = tuple(one for one in measured if not one.measure.startswith("bend"))
    return [one for one in judge(measured, exercise.rubric).findings if one.criterion in criteria]


def first_to_mend(findings: Iterable[Finding], limb: Limb) -> Finding | None:
    """The finding to mend first, or None.

    Neighbours of a fold come before the joint that folds, for they carry its line; what has a move comes before what
    has none; the place along the limb before the middle; names last; else as the marks rank them.
    """
    folding = limb.fold_role if limb.folding is not None else ""
    return min(
        findings,
        key=lambda one: (one.criterion == "names", one.joint == folding, one.move is None, one.criterion != "fold"),
        default=None,
    )


def settled(role: str, layout: Layout, limb: Limb, criteria: Collection[str]) -> np.ndarray:
    """The whole move (3,) in mm (out, up, forward) that leaves no finding with a move on a joint, mend after mend."""
    number, whole, skeleton = limb.roles[role], np.zeros(3), layout.skeleton
    for _ in range(4):
        found = findings_in(replace(layout, skeleton=skeleton), limb.exercise, criteria)
        move = next((one.move for one in found if one.joint == role and one.move), None)
        if move is None:
            break
        whole += move
        skeleton = skeleton.moved(number, skeleton.positions[number] + np.array(move) / MM @ limb.body)
    return whole


def rungs(
    finding: Finding | None, limb: Limb, layout: Layout, start: Skeleton, criteria: Collection[str]
) -> tuple[str, ...]:
    """The hints for one finding, each telling more than the last; one sentence where there is none."""
    if finding is None:
        return (NOTHING_LEFT,)
    role, move = finding.joint, finding.move
    if finding.criterion == "names":
        return (f"Read the {role}'s name aloud, then the rule.", finding.message, finding.mend)
    if move is None and finding.moves:  # another joint is to be moved for it
        role, move = next((one for one in finding.moves if any(one[1])), finding.moves[0])
    if move is None or role not in limb.roles:
        return (f"Look at the {role}.", finding.message, finding.mend)
    number = limb.roles[role]
    now = limb.body @ (layout.skeleton.positions[number] - start.positions[number]) * MM
    whole = settled(role, layout, limb, criteria)
    whole = whole if np.any(whole) else np.array(move)
    settings = ", ".join(f"{way} {round(value)}" for (way, _), value in zip(WAYS, now + whole, strict=True))
    look = {
        "bend": "Look at it from the side, and at the line between its neighbours.",
        "fold": "Look along the limb: where does the flesh fold?",
    }
    slices = "Look at it in every view and in the slice."
    if limb.exercise.asked(role).place == "region":
        slices = "Look at it in every view, and at the cross in the slice: landmarks decide."
    step = np.array([half_up(part) for part in whole])
    return (
        f"The {role}. {look.get(finding.criterion, slices)}",
        f"Move the {role} {main_way(step if np.any(step) else whole)}.",
        f"Move it {way_words(step if np.any(step) else whole)}.",
        f"Choose the {role} and set its sliders to {settings}.",
    )
