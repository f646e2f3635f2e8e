"""Judging places: one joint's measurements and a rubric give scores 0..1 for centring, fold and bend, and charges."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from rigkit import mends
from rigkit.files.rubrics import Rubric
from rigkit.kinematics import RIGHT, STRAIGHT, WRONG
from rigkit.mends import SIDES, bend_of, half_up, main_way, millimetres, parts, way_words
from rigkit.section import NOTHING, OUTSIDE

PAST = {"back": "backwards", "forward": "forwards", "up": "upwards", "down": "downwards", "out": "outwards",
        "in": "inwards"}  # fmt: skip


@dataclass(frozen=True)
class Charge:
    """A finding before its cost is known: `loss` is what it takes from the joint's score in its criterion."""

    finding: str
    joint: str
    loss: float
    measured: float | str
    allowed: float | str
    message: str
    mend: str
    move: tuple[float, float, float] | None = None


def falling(value: float, allowed: float, failing: float) -> float:
    """1 up to allowed, 0 from failing on, a straight line between."""
    return min(max((failing - value) / (failing - allowed), 0.0), 1.0)


def centring(role: str, facts: Mapping, rubric: Rubric) -> tuple[float | None, list[Charge]]:
    """Score and charge for centring; None where no middle can be told."""
    if facts.get("state") == NOTHING:
        return 0.0, [Charge("outside-flesh", role, 1.0, "no flesh", "in the flesh",
                            f"Where the {role} lies the limb has no flesh at all.",
                            f"Move the {role} into the limb.")]  # fmt: skip
    if "offset" not in facts:
        return None, []
    charged, radius = mends.charged_offset(facts), facts["radius"]
    size = float(np.linalg.norm(charged))
    score = falling(size / radius, rubric["centring.allowed"], rubric["centring.failing"])
    if score == 1.0:
        return score, []
    allowed = rubric["centring.allowed"] * radius
    middle = "middle of its region" if facts["place"] == "region" else "middle of the flesh"
    outside = facts["state"] == OUTSIDE
    whole = facts["offset"]
    message = (
        f"The {role} lies {'outside the flesh, ' if outside else ''}{millimetres(max(whole, size))} from the {middle}"
    )
    message += f" ({_ways(charged)}); "
    if whole > size + 1.0:  # the rest is paid for as a bend
        message += f"{millimetres(size)} of that counts here, the rest as its bend; "
    message += f"up to {millimetres(allowed)} is right."
    return score, [Charge("outside-flesh" if outside else "off-centre", role, 1.0 - score, size, allowed, message, "")]


def _ways(arrow: np.ndarray) -> str:
    """The body directions that matter in an arrow: "too far out and forward"."""
    rounded = np.array([half_up(x) if abs(x) > 0.35 * np.abs(arrow).max() else 0.0 for x in arrow])
    names = [words.split()[0] for words in way_words(rounded).replace(" and ", ", ").split(", ")]
    return "too far " + " and ".join(names)


def station(role: str, facts: Mapping, rubric: Rubric) -> tuple[float | None, list[Charge]]:
    """Score and charge for the place along the limb; None where it is not asked or cannot be told."""
    if "station-radius" not in facts:
        return None, []
    allowed, failing = rubric["fold.allowed"], rubric["fold.failing"]
    score = falling(facts["station-radius"], allowed, failing)
    if score == 1.0:
        return score, []
    size = facts["station"]
    beyond = parts(facts, "station")
    up_the_limb = float(beyond @ parts(facts, "axis")) > 0
    move = np.array([half_up(x) for x in -beyond * (size + 1.0) / size])
    message = (f"The {role} lies {millimetres(size)} too far {'up' if up_the_limb else 'down'} the limb, "
               f"{'above' if up_the_limb else 'below'} the stretch that folds.")  # fmt: skip
    mend = f"Slide the {role} {'down' if up_the_limb else 'up'} along the limb: {way_words(move)}."
    return score, [Charge("off-station", role, 1.0 - score, size, allowed * size / facts["station-radius"], message,
                          mend, tuple(move.tolist()))]  # fmt: skip


def bend(role: str, facts: Mapping, rubric: Rubric) -> tuple[float | None, list[Charge]]:
    """Score and charges for the rest bend; None where it is not asked or cannot be told."""
    found = bend_of(facts)
    if found is None and facts.get("bend-verdict") == "no line":
        ends = f"the {facts['bend-from']} and the {facts['bend-to']}"
        message = f"There is no line from {facts['bend-from']} to {facts['bend-to']} that the {role} could lie off."
        mend = f"Move {ends} to their places first, then look at the {role} again."
        return 0.0, [Charge("too-straight", role, 1.0, 0.0, "a line", message, mend)]
    if found is None:
        return None, []
    along = found.along
    straight = facts["bend-straight"] * found.line
    verdict = facts["bend-verdict"]
    if verdict in (WRONG, STRAIGHT):
        score = 0.0
    elif along < found.least:
        score = (along - straight) / (found.least - straight)
    else:
        score = falling(along, found.most, 2.0 * found.most)
    charges = []
    if score < 1.0:
        kind = "bend-slight" if along < found.least else "bend-much"
        kind = {WRONG: "bends-wrong-way", STRAIGHT: "too-straight", RIGHT: kind}[verdict]
        limit = found.most if kind == "bend-much" else found.least
        charges.append(Charge(kind, role, 1.0 - score, along, limit, _bend_words(role, facts, found, kind), ""))
    allowed = rubric["bend.sideways_allowed"]
    side = falling(abs(facts["bend-sideways-share"]), allowed, rubric["bend.sideways_failing"])
    if side < 1.0 and score > 0.0:  # a limb that folds the wrong way is not charged for its plane as well
        way = main_way(np.sign(found.sideways) * found.side)
        message = (f"The {role} lies {millimetres(found.sideways)} too far {way} to fold in its plane; "
                   f"up to {millimetres(allowed * found.line)} is right.")  # fmt: skip
        charges.append(
            Charge("bend-sideways", role, score * (1.0 - side), abs(found.sideways), allowed * found.line, message, "")
        )
    return score * side, charges


def _bend_words(role: str, facts: Mapping, found: mends.Bend, kind: str) -> str:
    line = f"the line from {facts['bend-from']} to {facts['bend-to']}"
    away = main_way(found.away)
    there = SIDES[main_way(found.away if found.along >= 0 else -found.away)]
    lies = f"The {role} lies {millimetres(found.along)} {there} {line}"
    return {
        "bends-wrong-way": f"{lies}, so the limb will fold {PAST[away]}, the wrong way.",
        "too-straight": f"{lies}: too straight to tell which way the limb will fold.",
        "bend-slight": f"{lies}; only from {millimetres(found.least)} on is it sure which way the limb will fold.",
        "bend-much": f"{lies}; at most {millimetres(found.most)} is right, or the limb cannot stretch out.",
    }[kind]


KINDS = {"off-centre": "centre", "outside-flesh": "centre", "bend-sideways": "sideways", "bends-wrong-way": "bend",
         "too-straight": "bend", "bend-slight": "bend", "bend-much": "bend"}  # fmt: skip


def with_mends(charges: list[Charge], table: Mapping[str, Mapping], rubric: Rubric) -> list[Charge]:
    """The same charges with one move for all that is wrong with a joint's place.

    Where a neighbour is off centre and the joint itself is not, a bend is mended at the neighbour.
    """
    off = {one.joint for one in charges if KINDS.get(one.finding) == "centre"}
    done = []
    for charge in charges:
        facts = table[charge.joint]
        if charge.mend or charge.finding not in KINDS:
            done.append(charge)
            continue
        faults = frozenset(KINDS[one.finding] for one in charges if one.joint == charge.joint and one.finding in KINDS)
        first = [facts[end] for end in ("bend-from", "bend-to") if facts.get(end) in off]
        move = mends.place_move(facts, rubric, faults)
        found = bend_of(facts)
        uncured = charge.finding == "bend-sideways" and found is not None and (
            abs(found.sideways + float(move @ found.side)) > rubric["bend.sideways_allowed"] * found.line
        )  # fmt: skip
        if (first and "centre" not in faults) or (uncured and first):
            mend, moved = f"Mend the {' and the '.join(first)} first, then look at the {charge.joint} again.", None
        else:
            mend, moved = f"Move the {charge.joint} {way_words(move)}.", tuple(move.tolist())
        done.append(Charge(charge.finding, charge.joint, charge.loss, charge.measured, charge.allowed, charge.message,
                           mend, moved))  # fmt: skip
    return done
