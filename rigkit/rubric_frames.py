"""Judging frames and mirrored pairs: one joint's measurements and a rubric give a score 0..1 and charges."""

from collections.abc import Mapping

import numpy as np

from rigkit.files.rubrics import Rubric
from rigkit.mends import apart, half_up, parts, way_words
from rigkit.rubric_place import Charge, falling, too_far

CONVENTIONS = {"same-numbers": "the same numbers on both sides", "same-direction": "the same direction on both sides"}


def frames(role: str, facts: Mapping, rubric: Rubric) -> tuple[float | None, list[Charge]]:
    """Score and charges for a joint's own axes; None where its file keeps none, or no bone begins there, and they are
    not scaled either.

    Another axis along the bone than on the rest of the limb is one fault; else each angle counts beside the others.
    """
    score, charges = _scale(role, facts, rubric)
    if "axis-off-bone" not in facts:
        return (score, charges) if charges else (None, [])
    axis, limb, to = facts["axis"], facts["axis-of-limb"], facts["axis-to"]
    if axis != limb:
        return 0.0, [*charges,
                     Charge("axis-other", role, score, axis, limb,
                            f"At the {role} the {axis} axis runs along the bone; on the rest of the limb it is the "
                            f"{limb} axis.", f"Turn the {role} until its {limb} axis points to the {to}.",
                            change=("turn",))]  # fmt: skip
    rows = (
        ("axis-off-bone", "axis-off-bone", "bone", f"the {limb} axis of the {role} points {{}} past the {to}",
         f"Turn the {role} until its {limb} axis points to the {to}: by {{}}."),
        ("frame-twisted", "twist", "twist", f"the {role} is turned by {{}} about its bone against the joint above",
         f"Turn the {role} back about its {limb[-1]} axis by {{}}."),
        ("hinge-off", "hinge-off", "hinge", f"the {facts.get('hinge-axis')} axis of the {role} lies {{}} off its hinge",
         f"Turn the {role} about its {limb[-1]} axis until its {facts.get('hinge-axis')} axis lies along the hinge: "
         f"by {{}}."),
    )  # fmt: skip
    for finding, measure, name, said, mend in rows:
        angle = abs(facts.get(measure, 0.0))
        allowed = rubric[f"frames.{name}_allowed"]
        kept = falling(angle, allowed, rubric[f"frames.{name}_failing"])
        if kept < 1.0:
            words = degrees(angle)
            message = said[0].upper() + said[1:].format(words) + f"; up to {degrees(allowed)} is right."
            charges.append(Charge(finding, role, score * (1.0 - kept), angle, allowed, message, mend.format(words),
                                  change=("turn",)))  # fmt: skip
            score *= kept
    return score, charges


SCALES = {
    "scaled": ("is scaled by {} against the joint above", "Set the scale of the {} to 1, and export again."),
    "sheared": ("is sheared, by {} at most", "Set uneven scales at and above the {} to 1, and export again."),
    "mirrored": ("is mirrored, so that its turns go the wrong way round",
                 "Take the negative scale off the {}, and export again."),
}  # fmt: skip
"""What may be wrong with a frame beside its turn, and its mend."""


def _scale(role: str, facts: Mapping, rubric: Rubric) -> tuple[float, list[Charge]]:
    """What a frame that does more than turn keeps of its score, and its charge; all of it where a file shows none."""
    size, allowed = facts.get("frame-scale", 0.0), rubric["frames.scale_allowed"]
    score = falling(size, allowed, rubric["frames.scale_failing"])
    if score == 1.0:
        return score, []
    said, mend = SCALES[facts["frame-scale-kind"]]
    words = next(told for told in (f"{half_up(size, digits):g} %" for digits in (0, 1, 2, 6)) if told != "0 %")
    message = f"The frame of the {role} {said.format(words)}; up to {allowed:g} % is right."
    mending = mend.format(role)
    return score, [Charge("frame-scaled", role, 1.0 - score, size, allowed, message, mending, change=("unscale",))]


def degrees(angle: float) -> str:
    """An angle in words, whole degrees."""
    return f"{half_up(angle):g}°"


def mirrored(role: str, facts: Mapping, rubric: Rubric) -> tuple[float | None, list[Charge]]:
    """Score and charges for the joint that mirrors one; None where both sides are not asked for."""
    if "pair" not in facts:
        return None, []
    right = facts["pair-name-asked"]
    if facts["pair"] == "no":
        return 0.0, [Charge("pair-missing", role, 1.0, "none", "one joint",
                            f"The {role} has no partner on the other side.",
                            f"Mirror the {role}, and name its image {right}.", change=("pair-add", right))]  # fmt: skip
    allowed, name = rubric["mirror.allowed_mm"], facts["pair-name"]
    score = falling(facts["pair-off"], allowed, rubric["mirror.failing_mm"])
    charges = []
    if score < 1.0:
        away = parts(facts, "pair-off")
        lies, up_to = apart(facts["pair-off"], allowed)
        move = np.array([half_up(part, 0 if allowed > 1.5 else 1) for part in -away])
        charges.append(Charge("pair-place", role, 1.0 - score, facts["pair-off"], allowed,
                              f"{name or 'A joint without a name'} lies {lies} from the mirror image of the {role} "
                              f"({too_far(away)}); up to {up_to} is right.",
                              f"Move the partner of the {role} {way_words(move)}.",
                              change=("pair-move", *map(str, move.tolist()))))  # fmt: skip
    rows = []
    if name != right:
        shown = f'named "{name}"' if name else "without a name"
        rows.append(("pair-name", "name", name, right, f"The partner of the {role} is {shown}.",
                     f"Name the partner of the {role} {right}."))  # fmt: skip
    follows, kept = facts.get("pair-frames", ""), facts.get("pair-frames-asked", "")
    if follows != kept:
        how = CONVENTIONS.get(follows, "neither convention")
        rows.append(("pair-frames", "frame", follows, kept,
                     f"The frames of the {role} and its partner follow {how}; {CONVENTIONS[kept]} is asked for.",
                     f"Mirror the frame of the {role} again, by {CONVENTIONS[kept]}."))  # fmt: skip
    for finding, key, measured, wanted, message, mend in rows:
        loss = min(rubric[f"mirror.{key}"], score)
        score -= loss
        what = ("pair-name", right) if finding == "pair-name" else ("pair-frame", str(wanted))
        charges.append(Charge(finding, role, loss, measured, wanted, message, mend, change=what))
    return score, charges
