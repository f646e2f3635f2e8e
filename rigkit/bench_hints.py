"""Hints in four rungs (nudge, direction, amount, show), from what the marks find: a joint and a move (3,) in mm."""

from __future__ import annotations

from collections.abc import Collection, Iterable

import numpy as np

from rigkit.bench_parts import Limb
from rigkit.mends import WAYS, main_way, way_words
from rigkit.rubric import Finding
from rigkit.skeleton import Skeleton
from rigkit.slices import MM

NOTHING_LEFT = "✓ nothing to mend: every joint asked for here is as it may be."


def first_to_mend(findings: Iterable[Finding], criteria: Collection[str], limb: Limb) -> Finding | None:
    """The finding to mend first among some criteria.

    Neighbours of a fold come before the joint that folds, for they carry its line; what has a move comes before what
    has none; names come last; else as the marks rank them.
    """
    rest = [one for one in findings if one.criterion in criteria]
    return min(
        rest, key=lambda one: (one.criterion == "names", one.joint == limb.fold_role, one.move is None), default=None
    )


def rungs(finding: Finding | None, limb: Limb, skeleton: Skeleton, start: Skeleton) -> tuple[str, ...]:
    """The hints for one finding, each telling more than the last; one sentence where there is none."""
    if finding is None:
        return (NOTHING_LEFT,)
    role = finding.joint
    if finding.criterion == "names":
        return (f"Read the {role}'s name aloud, then the rule.", finding.message, finding.mend)
    if finding.move is None or role not in limb.roles:
        return (f"Look at the {role}.", finding.message, finding.mend)
    number, move = limb.roles[role], np.array(finding.move)
    now = limb.body @ (skeleton.positions[number] - start.positions[number]) * MM
    settings = ", ".join(f"{way} {round(value)}" for (way, _), value in zip(WAYS, now + move, strict=True))
    look = {
        "bend": "Look at it from the side, and at the line between its neighbours.",
        "fold": "Look along the limb: where does the flesh fold?",
    }
    return (
        f"The {role}. {look.get(finding.criterion, 'Look at it in every view and in the slice.')}",
        f"Move the {role} {main_way(move)}.",
        f"Move it {way_words(move)}.",
        f"Choose the {role} and set its sliders to {settings}.",
    )
