"""Hints in four rungs (nudge, direction, amount, show), from what the marks find: a joint and a move (3,) in mm."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import replace

import numpy as np

from rigkit.bench_parts import Limb
from rigkit.files.exercise import Exercise
from rigkit.files.layout import Layout
from rigkit.meant import DIGITS
from rigkit.measures import measure_all
from rigkit.mends import WAYS, half_up, main_way, way_words
from rigkit.rubric import Finding, judge
from rigkit.skeleton import Skeleton
from rigkit.slices import MM

AT_ONCE = 3
"""Findings that Check tells at once: more are no help while the first stand (learner)."""
LATER = ("names", "mirror")
"""Criteria that come after all others, in this order."""
NOTHING_LEFT = "✓ nothing to mend: every joint asked for here is as it may be."


def findings_in(layout: Layout, exercise: Exercise, criteria: Collection[str]) -> list[Finding]:
    """What the marks find in some criteria. Without `bend` among them nothing is forgiven for a bend's sake."""
    measured = measure_all(layout, exercise)
    if "bend" not in criteria:
        measured = tuple(one for one in measured if not one.measure.startswith("bend"))
    return [one for one in judge(measured, exercise.rubric).findings if one.criterion in criteria]


def in_order(findings: Iterable[Finding], limb: Limb) -> list[Finding]:
    """Findings, those first that are to be mended first.

    Neighbours of a fold come before the joint that folds, for they carry its line; what has a move comes before what
    has none; the place along the limb before the middle; then names, down the limb; the other side, which is made from
    all this, last; else as the marks rank them.
    """
    folding = limb.fold_role if limb.folding is not None else ""
    ranks = {role: rank for rank, role in enumerate(limb.roles)}

    def rank(one: Finding) -> tuple:
        if one.criterion in LATER:
            return LATER.index(one.criterion), ranks.get(one.joint, len(ranks))
        return -1, one.joint == folding, one.move is None, one.criterion != "fold"

    return sorted(findings, key=rank)


def first_to_mend(findings: Iterable[Finding], limb: Limb) -> Finding | None:
    """The finding to mend first, or None."""
    return next(iter(in_order(findings, limb)), None)


def next_step(finding: Finding, exercise: Exercise) -> str:
    """What to do about a finding, short of the answer: which way to move, or how the rule names a joint elsewhere."""
    role = finding.joint
    if finding.criterion == "mirror":
        return "Press Mirror: it makes the other side anew from this one."
    if finding.criterion == "fold":
        return finding.mend.partition(":")[0].rstrip(".") + "."
    if finding.criterion != "names":
        ways = [f"the {one} {main_way(np.array(move))}" for one, move in finding.moves if any(move)]
        return f"Move {' and '.join(ways)}." if ways else finding.mend
    digit, number = role.rsplit(" ", 1) if " " in role else (role, "")
    middle = exercise.side_of(role) is None
    like = next(one for one in (("chest", "neck") if middle else ("knee", "ankle")) if one != role)
    if digit in DIGITS:
        like = f"{next(one for one in reversed(DIGITS) if one != digit)} {number}"
    side = None if middle else "right" if exercise.side == "left" else "left"
    said = f"{side} {like}" if side else like
    return f"By the rule the {said} is {exercise.naming.name_for(like, side)}; build this name in the same way."


def checked(findings: Iterable[Finding], limb: Limb) -> tuple[str, ...]:
    """What Check says: the first findings, each with its next step, and how many are left; or praise."""
    found = in_order(findings, limb)
    lines = [f"✗ {one.message} {next_step(one, limb.exercise)}" for one in found[:AT_ONCE]]
    if (left := len(found) - AT_ONCE) > 0:
        lines.append(f"{left} more after these." if left > 1 else "One more after these.")
    return tuple(lines) or ("✓ checked: nothing to mend.",)


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
        told = next_step(finding, limb.exercise)
        return (f"Read the {role}'s name aloud, then the rule.", finding.message, told, finding.mend)
    if finding.criterion == "mirror":
        return (f"Look at the {role} and its partner.", finding.message, next_step(finding, limb.exercise))
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
