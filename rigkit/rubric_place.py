"""Judging places: one joint's measurements and a rubric give scores 0..1 for centring, fold and bend, and charges."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace

import numpy as np

from rigkit import mends
from rigkit.centre import OVERLAPS
from rigkit.files.exercise import Exercise
from rigkit.files.rubrics import Rubric
from rigkit.kinematics import RIGHT, STRAIGHT, WRONG
from rigkit.measures.base import ASTRAY, own
from rigkit.mends import SIDES, apart, bend_of, half_up, main_way, millimetres, parts, way_words
from rigkit.require import RigError
from rigkit.schema import likely
from rigkit.section import NOTHING, OPEN, OUTSIDE

PAST = {"back": "backwards", "forward": "forwards", "up": "upwards", "down": "downwards", "out": "outwards",
        "in": "inwards"}  # fmt: skip

UNTOLD = {OPEN: "The mesh is open", OVERLAPS: "The flesh passes through itself"}
"""Why the middle cannot be told: the beginning of a sentence for each state."""


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
    moves: tuple[tuple[str, tuple[float, float, float]], ...] = ()
    """Roles and how far each has to move, in mm (out, up, forward)."""
    change: tuple[str, ...] = ()
    """What else the mend does: "name" and the new one; "parent" and the role; "remove" and labels; "hang", the role and
    what hangs on it from now on; "add", its name, the role above, the role it is told from, and the roles that hang on
    it."""


OPTIONAL = 0.2
"""What all optional joints together can take from a criterion: right fingers buy back no wrong elbow (our choice)."""


def shares(judged: Mapping[str, Mapping]) -> dict[str, float]:
    """How much each judged joint can take from a criterion, by role: the required ones all of it, alike, the optional
    ones a fifth more.

    >>> shares({"elbow": {"need": "required"}, "tip": {"need": "optional"}})
    {'elbow': 1.0, 'tip': 0.2}
    """
    optional = [role for role, facts in judged.items() if facts.get("need") == "optional"]
    required = len(judged) - len(optional)
    if not optional or not required:
        return dict.fromkeys(judged, 1.0 / max(len(judged), 1))
    return {role: OPTIONAL / len(optional) if role in optional else 1.0 / required for role in judged}


def falling(value: float, allowed: float, failing: float) -> float:
    """1 up to allowed, 0 from failing on, a straight line between."""
    return min(max((failing - value) / (failing - allowed), 0.0), 1.0)


def centring(role: str, facts: Mapping, rubric: Rubric) -> tuple[float | None, list[Charge]]:
    """Score and charge for centring; None where no middle can be told."""
    if facts.get("state") == NOTHING:
        return 0.0, [Charge("outside-flesh", role, 1.0, "no flesh", "in the flesh",
                            f"Where the {role} lies the limb has no flesh at all.", "")]  # fmt: skip
    if "offset" not in facts:
        return None, []
    charged, radius = mends.charged_offset(facts), facts["radius"]
    size = float(np.linalg.norm(charged))
    score = falling(size / radius, rubric["centring.allowed"], rubric["centring.failing"])
    outside = facts["state"] in (OUTSIDE, ASTRAY)
    if score == 1.0 and not outside:
        return score, []
    allowed = rubric["centring.allowed"] * radius
    middle = "middle of its region" if facts["place"] == "region" else "middle of the flesh"
    whole = facts["offset"]
    counts, lies, up_to = apart(size, whole, allowed) if whole > size + 1.0 else apart(size, size, allowed)
    air = {OUTSIDE: "outside the flesh, ", ASTRAY: "in the flesh of another part, "}.get(facts["state"], "")
    message = f"The {role} lies {air}{lies} from the {middle} ({too_far(charged)}); "
    if counts != lies:  # the limb as modelled must bend more or less than its middles do
        message += f"{counts} of that counts, since the limb has to bend; "
    message += f"up to {up_to} is right."
    return score, [Charge("outside-flesh" if outside else "off-centre", role, 1.0 - score, size, allowed, message, "")]


def too_far(arrow: np.ndarray) -> str:
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
    kind = "elsewhere" if facts["station-radius"] > failing else "off-station"
    place = f"{'above' if up_the_limb else 'below'} the stretch that folds"
    if kind == "elsewhere":
        place = "far from the stretch that folds"
    message = f"The {role} lies {millimetres(size)} too far {'up' if up_the_limb else 'down'} the limb, {place}."
    mend = f"Slide the {role} {'down' if up_the_limb else 'up'} along the limb: {way_words(move)}."
    return score, [Charge(kind, role, 1.0 - score, size, allowed * size / facts["station-radius"], message,
                          mend, ((role, tuple(move.tolist())),))]  # fmt: skip


def bend(role: str, facts: Mapping, rubric: Rubric, off: Collection[str] = ()) -> tuple[float | None, list[Charge]]:
    """Score and charges for the rest bend; None where it is not asked or cannot be told. off: roles off centre; where
    a neighbour is and this joint is not, the neighbour pays for what lies sideways."""
    found = bend_of(facts, rubric)
    if found is None and facts.get("bend-verdict") == "no line":
        message = f"There is no line from {facts['bend-from']} to {facts['bend-to']} that the {role} could lie off."
        return 0.0, [Charge("too-straight", role, 1.0, 0.0, "a line", message, "")]
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
    ends = [facts[end] for end in ("bend-from", "bend-to") if facts[end] != facts.get("bend-held")]
    blamed = [] if role in off else [end for end in ends if end in off]
    if score < 1.0:
        kind = "bend-slight" if along < found.least else "bend-much"
        kind = {WRONG: "bends-wrong-way", STRAIGHT: "too-straight", RIGHT: kind}[verdict]
        limit = found.most if kind == "bend-much" else found.least
        own = facts.get("offset-radius", 0.0) > rubric["centring.allowed"]
        words = _bend_words(role, facts, found, kind, [] if own else blamed)
        charges.append(Charge(kind, role, 1.0 - score, along, limit, words, ""))
    failing = found.askew * rubric["bend.sideways_failing"] / rubric["bend.sideways_allowed"]
    side = 1.0 if blamed else falling(abs(found.sideways), found.askew, failing)
    if side < 1.0 and score > 0.0:  # a limb that folds the wrong way is not charged for its plane as well
        way = main_way(np.sign(found.sideways) * found.side)
        lies, up_to = apart(found.sideways, found.askew)
        message = f"The {role} lies {lies} too far {way} to fold in its plane; up to {up_to} is right."
        charges.append(
            Charge("bend-sideways", role, score * (1.0 - side), abs(found.sideways), found.askew, message, "")
        )
    return score * side, charges


def _bend_words(role: str, facts: Mapping, found: mends.Bend, kind: str, blamed: list[str]) -> str:
    line = f"the line from {facts['bend-from']} to {facts['bend-to']}"
    away = main_way(found.away)
    there = SIDES[main_way(found.away if found.along >= 0 else -found.away)]
    limit = {"bend-slight": found.least, "bend-much": found.most}.get(kind, facts["bend-straight"] * found.line)
    size, edge = apart(found.along, limit)
    lies = f"The {role} lies {size} {there} {line}" if size != "0 mm" else f"The {role} lies on {line}"
    if blamed:
        lies += f" because the {' and the '.join(blamed)} {'lies' if len(blamed) == 1 else 'lie'} off"
        lies += " its place" if len(blamed) == 1 else " their places"
    return {
        "bends-wrong-way": f"{lies}, so the limb will fold {PAST[away]}, the wrong way.",
        "too-straight": f"{lies}; up to {edge} is too straight to tell which way the limb will fold.",
        "bend-slight": f"{lies}: the right side, but a slip could lose it; from {edge} on it is enough.",
        "bend-much": f"{lies}; at most {edge} is right: more is a pose, and the skin must bend to stretch it out.",
    }[kind]


CENTRE = ("off-centre", "outside-flesh", "joints-coincide")
BEND = ("bends-wrong-way", "too-straight", "bend-slight", "bend-much", "bend-sideways")


def agree(exercise: Exercise, rubric: Rubric) -> None:
    """Raise RigError where a rubric contradicts itself on an exercise: where its ring about a joint's own middle alone,
    the neighbours in theirs, holds places at which the limb is too straight to tell or bends the wrong way.

    A limb modelled too straight or too bent is left out: there the bend outranks the ring, which stretches.
    """
    known: set[str] = {*(joint.role for joint in exercise.joints), *(role for role, _ in exercise.naming.parts)}
    if stray := next((role for role in rubric.joints if role not in known), None):
        meant = likely(stray, known)
        raise RigError(f"the role of a joint that there is{f', such as {meant}' if meant else ''}", stray,
                       "it is misspelt", "Mend the name of that table", f"rubric {rubric.id}, joints")  # fmt: skip
    for asked in exercise.joints:
        here, fold, mine = own(exercise)[asked.role], asked.fold, rubric.of(asked.role)
        criteria = ("centring", "bend")
        if fold is None or here.bend is None or not all(rubric.weights[one] and rubric.judges(asked.role, one)
                                                        for one in criteria):  # fmt: skip
            continue
        ring, straight = mine["centring.allowed"] * (here.radius or 0.0), fold.straight * here.line
        if fold.least * here.line <= here.bend <= fold.most * here.line and here.bend - ring <= straight:
            room = (here.bend - straight) / (here.radius or np.inf)
            raise RigError(
                f"centring.allowed up to {np.ceil(100 * room - 1) / 100:.2f} for the {asked.role} of {exercise.id}",
                f"{mine['centring.allowed']:g}, a ring of {1000 * ring:.1f} mm about a middle that is bent by "
                f"{1000 * here.bend:.1f} mm, of which {1000 * straight:.1f} mm are too straight to tell",
                "a joint in its ring could bend the wrong way", f'Narrow it, or add [joints."{asked.role}"] with a '
                'narrower "centring.allowed" or leave_out = ["bend"]', f"rubric {rubric.id}",
            )  # fmt: skip


def with_mends(charges: list[Charge], table: Mapping[str, Mapping], rubric: Rubric) -> list[Charge]:
    """The same charges with the moves that mend what is wrong with a joint's place, in words too."""
    faults: dict[str, set[str]] = {}
    for charge in charges:
        if charge.finding in CENTRE + BEND:
            faults.setdefault(charge.joint, set()).add("centre" if charge.finding in CENTRE else "bend")
    roles = [role for role in table if role in faults]
    told = mends.plan({role: frozenset(faults[role]) for role in roles}, table, rubric)
    done = []
    for charge in charges:
        role = charge.joint
        if charge.finding not in CENTRE + BEND:
            done.append(charge)
            continue
        moves = {role: told[role][role]} if charge.finding in CENTRE else told[role]
        moves = {one: mends.rounded(move, table[one], rubric.of(one)) for one, move in moves.items()}
        words = [f"Move the {one} {way_words(move)}." for one, move in moves.items() if np.any(move)]
        done.append(replace(charge, mend=" ".join(words) or "What mends its neighbours mends this too.",
                            moves=tuple((one, tuple(move.tolist())) for one, move in moves.items())))  # fmt: skip
    return done
