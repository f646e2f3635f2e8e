"""Hints in four rungs (nudge, direction, amount, show), from what the marks find: a joint and a move (3,) in mm."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Iterator
from dataclasses import replace

import numpy as np

from rigkit.bench_parts import Limb, placed_joint
from rigkit.edits import slid
from rigkit.files.exercise import Exercise
from rigkit.files.layout import Layout
from rigkit.meant import DIGITS
from rigkit.measures import measure_all
from rigkit.mends import WAYS, half_up, main_way, way_words
from rigkit.rubric import Finding, judge
from rigkit.skeleton import Skeleton
from rigkit.slices import MM
from rigkit.vectors import length

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


def in_order(findings: Iterable[Finding], limb: Limb, chosen: str = "") -> list[Finding]:
    """Findings, those first that are to be mended first.

    The chosen joint's own place comes first; neighbours of a fold come before the joint that folds, for they carry its
    line; what has a move before what has none; then down the limb, and the place along it before the middle; names
    after all places; the other side, which is made from all this, last.
    """
    folding = limb.fold_role if limb.folding is not None else ""
    ranks = {role: rank for rank, role in enumerate(limb.roles)}

    def rank(one: Finding) -> tuple:
        down = ranks.get(one.joint, len(ranks))
        if one.criterion in LATER:
            return LATER.index(one.criterion), down
        first = one.joint == chosen and one.criterion != "bend"
        return -1, not first, one.joint == folding, one.move is None, down, one.criterion != "fold"

    return sorted(findings, key=rank)


def first_to_mend(findings: Iterable[Finding], limb: Limb, chosen: str = "") -> Finding | None:
    """The finding to mend first, or None."""
    return next(iter(in_order(findings, limb, chosen)), None)


def next_step(finding: Finding, exercise: Exercise) -> str:
    """What to do about a finding, short of the answer: which way to move, or how the rule names a joint elsewhere."""
    role = finding.joint
    if finding.criterion == "mirror":
        return "Press Mirror: it makes the other side anew from this one."
    if finding.criterion != "names":
        ways = [f"the {one} {main_way(np.array(move))}" for one, move in finding.moves if any(move)]
        return f"Move {' and '.join(ways)}." if ways and not finding.change else finding.mend
    digit, number = role.rsplit(" ", 1) if " " in role else (role, "")
    middle = exercise.side_of(role) is None
    like = next(one for one in (("chest", "neck") if middle else ("knee", "ankle")) if one != role)
    if digit in DIGITS:
        like = f"{next(one for one in reversed(DIGITS) if one != digit)} {number}"
    side = None if middle else "right" if exercise.side == "left" else "left"
    said = f"{side} {like}" if side else like
    return f"By the rule the {said} is {exercise.naming.name_for(like, side)}; build this name in the same way."


def learner(finding: Finding) -> str:
    """What a finding says to somebody who is to look for themselves: of a place no millimetres, of a name not the right
    one."""
    if finding.criterion == "centring":
        told = (one for one in ("outside the flesh", "in the flesh of another part") if one in finding.message)
        return f"The {finding.joint} lies {next(told, 'off its middle')}."
    if finding.criterion == "fold":
        return re.sub(r" [0-9.]+ mm", "", finding.message)
    return finding.message.replace(f"; the rule says {finding.allowed}", "") if finding.change else finding.message


def checked(findings: Iterable[Finding], limb: Limb, skeleton: Skeleton, tools: Collection[str]) -> tuple[str, ...]:
    """What Check says: the first findings, each with its next step, and how many are left; or praise. A branch that
    lies off as one is one thing, where there is a control that moves it so."""
    found, lines = in_order(findings, limb), list[str]()
    while found and len(lines) < AT_ONCE:
        one = found.pop(0)
        if "below" in tools and one.move and (branch := off_as_one(limb, skeleton, one.joint)):
            found = [other for other in found if other.joint not in branch or not other.move]
            lines.append(f"✗ The {one.joint} and all below it lie off alike. {next_step(one, limb.exercise)}")
        else:
            lines.append(f"✗ {learner(one)} {next_step(one, limb.exercise)}")
    if found:
        lines.append(f"{len(found)} more after these." if len(found) > 1 else "One more after these.")
    return tuple(lines) or ("✓ checked: nothing to mend.",)


def off_as_one(limb: Limb, skeleton: Skeleton, role: str) -> tuple[str, ...]:
    """A role and all roles below it, where they lie off by one arrow, to within their rings; else none."""
    asked = {joint.role: joint.parent for joint in limb.exercise.joints}
    branch = [role]
    for one in limb.roles:  # parents stand before their children
        if asked.get(one) in branch:
            branch.append(one)
    wheres = [placed_joint(limb, skeleton, one) for one in branch]
    allowed = limb.exercise.rubric["centring.allowed"]
    arrows = [where.offset + where.beyond for where in wheres if where.offset is not None]
    rings = [allowed * where.radius for where in wheres if where.radius is not None]
    if len(branch) == 1 or not len(arrows) == len(rings) == len(branch):
        return ()
    alike = all(length(arrow - arrows[0]) <= ring < length(arrow) for arrow, ring in zip(arrows, rings, strict=True))
    return tuple(branch) if alike else ()


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
    finding: Finding | None, limb: Limb, layout: Layout, start: Skeleton, criteria: Collection[str],
    tools: Collection[str] = (),
) -> tuple[str, ...]:  # fmt: skip
    """The hints for one finding, each telling more than the last; one sentence where there is none. tools: the controls
    there are; those that move a branch, or slide along a bone, are spoken of where they do it in one step."""
    if finding is None:
        return (NOTHING_LEFT,)
    role, move = finding.joint, finding.move
    if finding.criterion == "names":
        told = next_step(finding, limb.exercise)
        return (f"Read the {role}'s name aloud, then the rule.", learner(finding), told, finding.mend)
    if finding.criterion == "mirror":
        return (f"Look at the {role} and its partner.", finding.message, next_step(finding, limb.exercise))
    if move is None and finding.moves:  # another joint is to be moved for it
        role, move = next((one for one in finding.moves if any(one[1])), finding.moves[0])
    if move is None or role not in limb.roles:
        return (f"Look at the {role}.", finding.message, finding.mend)
    number, skeleton = limb.roles[role], layout.skeleton
    now = limb.body @ (skeleton.positions[number] - start.positions[number]) * MM
    whole = settled(role, layout, limb, criteria)
    whole = whole if np.any(whole) else np.array(move)

    def clear(after: Skeleton, roles: Collection[str]) -> bool:
        found = findings_in(replace(layout, skeleton=after), limb.exercise, criteria)
        return not any(one.move for one in found if one.joint in roles)

    branch = off_as_one(limb, skeleton, role) if "below" in tools else ()
    moved = skeleton.moved_branch if branch else skeleton.moved
    step = next((part for part in parts_of(whole)
                 if clear(moved(number, skeleton.positions[number] + part / MM @ limb.body), branch or (role,))),
                whole)  # fmt: skip
    step = step if np.any(step) else whole
    if branch:
        together = f"With all below on, move the {role}"
        return (
            f"The {role}, and what hangs on it. How do they lie off, each by itself?",
            f"The {role} and all below it lie off alike: one move mends them, and With all below makes it.",
            f"{together} {main_way(step)}.",
            f"{together} {way_words(step)}.",
        )
    look = {
        "bend": "Look at it from the side, and at the line between its neighbours.",
        "fold": "Look along the limb: where does the flesh fold?",
    }
    slices = "Look at it in every view and in the slice."
    if limb.exercise.asked(role).place == "region":
        slices = "Look at it in every view, and at the cross in the slice: landmarks decide."
    nudge, way = f"The {role}. {look.get(finding.criterion, slices)}", next_step(finding, limb.exercise)
    if "along" in tools and finding.criterion == "fold":
        size = half_up(float(length(whole)))
        for by, toward in ((size, "next"), (-size, "last")):
            if size and clear(slid(skeleton, number, by / MM).skeleton, (role,)):
                return (nudge, way, f"It lies on its bone: slide it along, towards the {toward} joint.",
                        f"Slide the {role} along its bone by {by:g} mm.")  # fmt: skip
    settings = ", ".join(f"{way} {round(value)}" for (way, _), value in zip(WAYS, now + step, strict=True))
    return (nudge, way, f"Move it {way_words(step)}.", f"Choose the {role} and set its sliders to {settings}.")


def parts_of(move: np.ndarray) -> Iterator[np.ndarray]:
    """The largest part of a move (3,) in mm alone, then the two largest, then all three, in whole millimetres."""
    order = np.argsort(-np.abs(move), kind="stable")
    for count in (1, 2, 3):
        yield np.array([half_up(part) if axis in order[:count] else 0.0 for axis, part in enumerate(move)])
