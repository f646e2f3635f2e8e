"""What the bench says: lines of text that begin with a sign, as HTML for its panel and for screen readers."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

import numpy as np

from rigkit.bench_folds import Pull, folds_of, goal_of
from rigkit.bench_parts import (
    OPPOSITE,
    Limb,
    bend_fault,
    bend_or_none,
    counted,
    limits_of,
    line_name,
    nearest_way,
    placed_joint,
)
from rigkit.kinematics import RIGHT, STRAIGHT, WRONG
from rigkit.measures.base import ASTRAY
from rigkit.mends import SIDES, WAYS, apart, half_up, way_words
from rigkit.picture import FONTS_ON_SCREEN, LIGHT, Sign, Style
from rigkit.rubric_place import PAST
from rigkit.section import OUTSIDE
from rigkit.skeleton import Skeleton
from rigkit.slices import MM
from rigkit.vectors import angle_between, unit


def place_sentences(limb: Limb, skeleton: Skeleton, role: str, after_bend: bool = False) -> list[str]:
    """Where a joint lies against the middle that decides and, where that is wrong, along the limb; with millimetres.

    after_bend: where the joint's bend is at fault, its place is told without a verdict, for a fault counts once.
    """
    where, rubric = placed_joint(limb, skeleton, role), limb.exercise.rubric
    off = counted(limb, where, role)
    if off is None or where.radius is None:
        return [f"? cannot tell: the {role} cannot be measured here ({where.state})."]
    region = limb.exercise.asked(role).place == "region"
    middle = "the middle of the landmarks" if region else "the middle of the flesh"
    allowed = where.radius * rubric["centring.allowed"]
    size, ring = apart(MM * float(np.linalg.norm(off)), MM * allowed)
    elsewhere = {OUTSIDE: " It is outside the flesh.", ASTRAY: " It is in the flesh of another part."}
    outside = elsewhere.get(where.state, "")
    bend = bend_or_none(limb, skeleton) if after_bend and role == limb.fold_role else None
    if np.linalg.norm(off) <= allowed:
        lines = [f"✓ in the middle: the {role} lies {size} from {middle}, within the ring of {ring}.{outside}"]
    elif bend is not None and bend.verdict != RIGHT and not outside:
        return [
            f"From the middle of the slice it lies {size}, {_too_far(limb, off)}. Mend the bend first, then the middle."
        ]
    else:
        how = f"{size} from {middle}, {_too_far(limb, off)}"
        lines = [f"✗ off the middle: the {role} lies {how}; up to {ring} is right.{outside}"]
    station = MM * float(np.linalg.norm(where.beyond))
    if station > MM * where.radius * rubric["fold.allowed"]:  # first along the limb, then the slice there
        stretch = np.asarray(limb.exercise.asked(role).stretch)  # there is one where a joint can lie beyond it
        way = "up" if float(where.beyond @ (stretch[0] - stretch[1])) > 0 else "down"
        how = f"{station:.0f} mm too far {way} the limb, beyond where the flesh folds, {_too_far(limb, where.beyond)}"
        return [f"✗ along the limb: the {role} lies {how}. Then look at its slice.{outside}"]
    return lines


def quiet_sentences(limb: Limb, skeleton: Skeleton, role: str, after_bend: bool = False) -> list[str]:
    """The same without how far and which way: whether a joint lies in its ring, and where the flesh folds."""
    lines = []
    for line in place_sentences(limb, skeleton, role, after_bend):
        outside = " It is" + line.rpartition(" It is")[2] if " It is " in line else ""
        head = line.partition(":")[0]
        if line.startswith("✓"):
            lines.append(f"{head}: the {role} lies within its ring.{outside}")
        elif "off the middle" in head:
            lines.append(f"{head}: the {role} lies outside its ring.{outside}")
        elif "along the limb" in head:
            way = "up" if "too far up the limb" in line else "down"
            lines.append(f"{head}: the {role} lies too far {way} the limb, beyond where the flesh folds.{outside}")
        else:
            lines.append("Mend the bend first, then the middle." if line.startswith("From") else line)
    return lines


def neighbours_first(limb: Limb, skeleton: Skeleton) -> str:
    """That the neighbours of the joint that folds are to be laid first, where one is off its place; else ""."""
    off = []
    for role in limb.fold.between if bend_or_none(limb, skeleton) is not None else ():
        where = placed_joint(limb, skeleton, role)
        counts = counted(limb, where, role)
        ring = (where.radius or 0.0) * limb.exercise.rubric["centring.allowed"]
        if counts is not None and float(np.linalg.norm(counts)) > ring:
            off.append(role)
    if not off:
        return ""
    lies = "it lies beside its place" if len(off) == 1 else "they lie beside their places"
    return f"First the {' and the '.join(off)}: {lies}, and the bend is measured from there."


TOO = {"up": "too high", "down": "too low"} | {way: f"too far {way}" for way in ("out", "in", "forward", "back")}


def _too_far(limb: Limb, step: np.ndarray) -> str:
    """A step (3,) in metres in words: "12 mm too far forward and 4 mm too high"; parts under 1 mm are left out."""
    shares = [(half_up(part), pair) for part, pair in zip(MM * (limb.body @ step), WAYS, strict=True)]
    told = [
        f"{abs(part):.0f} mm {TOO[pair[part < 0]]}" for part, pair in sorted(shares, key=lambda s: -abs(s[0])) if part
    ]
    return " and ".join(told) if len(told) < 3 else f"{told[0]}, {told[1]} and {told[2]}"


def bend_sentence(limb: Limb, skeleton: Skeleton) -> str:
    """The rest bend's verdict in words with millimetres, and what pulling the limb would do."""
    bend, fold, role = bend_or_none(limb, skeleton), limb.fold, limb.fold_role
    root, end = fold.between
    if bend is None:
        joints = f"{root}, {role} and {end}"
        return f"? cannot tell: of {joints} two lie in one place, or all lie straight to the front. Move them apart."
    away, along = nearest_way(limb, fold.away), MM * bend.along
    line = f"the {line_name(limb)}"
    straight, (least, most, _) = MM * fold.straight * bend.line, (MM * limit for limit in limits_of(limb, bend))
    size, edge = apart(along, straight)
    if bend.verdict == WRONG:
        low, high = _in_the_ring(limb, skeleton, bend.along, least, most)
        return (
            f"✗ {WRONG}: the {role} lies {size} {SIDES[OPPOSITE[away]]} {line}. Pulled, the limb "
            f"would fold {PAST[away]}: the {role} goes {OPPOSITE[away]}. "
            f"Bring it {np.ceil(low):.0f} to {np.floor(high):.0f} mm {SIDES[away]} the line."
        )
    if bend.verdict == STRAIGHT:
        return (
            f"? {STRAIGHT}: the {role} lies {size} off {line}, within {edge} of it. "
            f"Pulled, it might go {away} or {OPPOSITE[away]}: nothing tells which."
        )
    lies = f"the {role} lies {apart(along, least, most)[0]} {SIDES[away]} {line}."
    fault = bend_fault(limb, bend)
    if fault == "too little":
        return f"✗ {RIGHT}, but too little: {lies} this exercise asks for {apart(along, least)[1]} and more."
    if fault == "too much":
        return f"✗ {RIGHT}, but too much: {lies} {apart(along, most)[1]} is the most for a limb at rest."
    if fault:
        return f"✗ {RIGHT}, but askew: {lies} It also lies {abs(MM * bend.sideways):.0f} mm to the side."
    return f"✓ {RIGHT}: {lies} Pulled, the {role} goes {away}, as it should."


def _in_the_ring(limb: Limb, skeleton: Skeleton, along: float, least: float, most: float) -> tuple[float, float]:
    """The part (mm) of what is right for the bend at which the joint also lies in the ring of its slice."""
    where = placed_joint(limb, skeleton, limb.fold_role)
    if where.offset is None or where.radius is None:
        return least, most
    middle = MM * (along - float(where.offset @ limb.fold.away))
    ring = MM * where.radius * limb.exercise.rubric["centring.allowed"]
    low, high = max(least, middle - ring), min(most, middle + ring)
    return (low, high) if low < high else (least, most)


IN_PLANE = 20.0  # degrees that a bend target may stand beside the plane of folding before it is told


def pull_sentences(limb: Limb, skeleton: Skeleton, pull: Pull) -> list[str]:
    """How the limb is pulled, and what a goal beside the straight pull or a bend target make of it."""
    told = [f"The limb is pulled by {round(100 * pull.amount)} per cent."]
    folds = folds_of(limb, skeleton, pull)
    if not folds:
        return told
    root, middle, end = limb.triple
    if any(pull.aside):
        goal = goal_of(limb, skeleton, pull)
        short = MM * float(np.linalg.norm(goal - folds[0].positions[end]))
        reach = "the limb reaches it" if short < 0.5 else f"out of reach by {short:.0f} mm"
        told = [f"The goal lies {way_words(np.array(pull.aside))} beside the straight pull; {reach}."]
    if pull.target is None:
        return told
    line = unit(folds[0].positions[end] - folds[0].positions[root])
    off = folds[0].positions[middle] - folds[0].positions[root]
    meant = limb.fold.away - limb.fold.away @ line * line
    angle = float(np.degrees(angle_between(off - off @ line * line, meant)))
    role = limb.fold_role
    if len(folds) > 1:
        return [*told, "? cannot tell: the bend target lies on the line to the goal, so it tells no side."]
    if angle <= IN_PLANE:
        return [*told, f"✓ bend target: it stands in the plane of folding, and the {role} follows it there."]
    side = f"✗ bend target: it stands beside the plane, so the {role} is carried {angle:.0f}° out of it"
    return [*told, side + (", past the wrong side." if angle > 90 else ".")]


def names_told(limb: Limb, skeleton: Skeleton) -> str:
    """How many names follow the rule, without saying which do not."""
    rule, exercise = limb.exercise.naming, limb.exercise
    wrong = [role for role, i in limb.roles.items()
             if rule.check(skeleton.names[i], role, exercise.side_of(role), exercise.asked(role).names)]  # fmt: skip
    if not wrong:
        return "✓ named: every name follows the rule."
    right = len(limb.roles) - len(wrong)
    return f"Names that follow the rule: {right} of {len(limb.roles)}. A check says what is wrong."


def told_place(limb: Limb, skeleton: Skeleton, role: str) -> str:
    """Where a joint lies, as one sentence without signs."""
    return " ".join(
        line.removeprefix("✓ ").removeprefix("✗ ").removeprefix("? ") for line in place_sentences(limb, skeleton, role)
    )


def picture_sentence(limb: Limb, skeleton: Skeleton, role: str, amount: float, with_bend: bool) -> str:
    """What a screen reader says of a view: the chosen joint, how far the limb is pulled, and what shows."""
    pulled = f"Pulled {round(100 * amount)} per cent. " if amount > 0 else "At rest. "
    if with_bend:
        return f"The {role} is chosen. {pulled}{bend_sentence(limb, skeleton)[2:]}"
    return f"The {role} is chosen. {pulled}{told_place(limb, skeleton, role)}"


def _sign_of(line: str, style: Style) -> Sign | None:
    return {"✓": style.right, "✗": style.wrong, "!": style.wrong, "?": style.unsure}.get(line[:1])


def feedback(lines: Iterable[str], height: int, style: Style = LIGHT) -> str:
    """Lines as HTML of fixed height: sign, colour and rule at the left agree; a line without a sign is plain."""
    shown = []
    for line in lines:
        if not line:
            continue
        sign = _sign_of(line, style)
        if sign is None:
            shown.append(f'<p style="margin:0 0 8px 0;padding-left:12px">{escape(line)}</p>')
            continue
        rule = {"": "solid", style.wrong.dash: "dashed"}.get(sign.dash, "dotted")
        head, colon, rest = line[1:].strip().partition(":")
        strong = f'<b style="color:{sign.ink}">{line[0]} {escape(head)}{colon}</b>{escape(rest)}'
        if not colon or len(head) > 60:
            strong = f'<b style="color:{sign.ink}">{line[0]}</b> {escape(line[1:].strip())}'
        shown.append(f'<p style="margin:0 0 8px 0;padding-left:9px;border-left:3px {rule} {sign.colour}">{strong}</p>')
    return (
        f'<div role="status" style="box-sizing:border-box;height:{height}px;overflow:auto;padding:12px 14px;'
        f'background:{style.paper};color:{style.ink};font:13.5px/1.45 {FONTS_ON_SCREEN}">{"".join(shown)}</div>'
    )
