"""Rubric arithmetic: measurements and a rubric give scores, findings, caps and a mark; nothing else goes in."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from rigkit.files.rubrics import CRITERIA, Rubric, read_finding_kinds, read_rubric
from rigkit.measures.base import Measurement
from rigkit.mends import half_up, way_words
from rigkit.rubric_frames import frames, mirrored
from rigkit.rubric_place import UNTOLD, Charge, bend, centring, shares, station, with_mends
from rigkit.rubric_structure import structure

__all__ = ["Finding", "Judged", "Rubric", "Score", "judge", "read_rubric"]

DIGITS = 6  # of what was measured, as in the measurements
SCORED = 9  # of scores: their rounding must not be seen in a mark, where two criteria share one loss


@dataclass(frozen=True)
class Score:
    """A criterion's score 0..1 (None where nothing could be judged), its weight, and whether it was judged."""

    score: float | None
    weight: float
    judged: bool


@dataclass(frozen=True)
class Finding:
    """What the rubric charges for, in the contract's fields; `moves` and `change` are its mend for machines
    (see `Charge`), `mark_after` the mark of the hand-in with this mend alone, where it was worked out."""

    finding: str
    joint: str
    criterion: str
    measured: float | str
    allowed: float | str
    unit: str
    cost: float
    message: str
    mend: str
    moves: tuple[tuple[str, tuple[float, float, float]], ...] = ()
    change: tuple[str, ...] = ()
    mark_after: float | None = None

    @property
    def move(self) -> tuple[float, float, float] | None:
        """How far the finding's own joint has to move, mm, where that is (part of) the mend."""
        return dict(self.moves).get(self.joint)


@dataclass(frozen=True)
class Judged:
    """A mark (0..100, to 0.1), the score of each criterion, the caps that apply, findings and notices."""

    mark: float
    criteria: Mapping[str, Score]
    caps: tuple[dict, ...]
    findings: tuple[Finding, ...]
    notices: tuple[str, ...]


def judge(
    measurements: Iterable[Measurement], rubric: Rubric, unjudged: Iterable[str] = (), mends: bool = True
) -> Judged:
    """Judge a hand-in by its measurements alone; `unjudged` are criteria that cannot be judged from its file.

    mends: whether moves that mend places are worked out; marks and costs are the same without.

    mark = 100 x sum(weight x score) / sum(weight) over the judged criteria, then caps, rounded half up to 0.1.
    """
    table: dict[str, dict] = {}
    for joint, measure, value, _ in measurements:
        table.setdefault(joint, {})[measure] = value
    found = {role: facts for role, facts in table.items() if facts.get("found") == "yes"}
    scores: dict[str, float | None] = dict.fromkeys(CRITERIA)
    charges: list[Charge] = []
    notices: list[str] = []
    scores["structure"], some = structure(table, rubric, notices)
    charges += some
    spared = {(role, name) for role, own in rubric.joints.items() for name in own.get("leave_out", ())}
    rows = {name: {role: judged(role, facts, rubric.of(role)) for role, facts in found.items()
                   if (role, name) not in spared} for name, judged in BY_JOINT.items()
            if rubric.weights[name] > 0 or name not in WHERE_WEIGHED}  # fmt: skip
    off = {role for role, (_, some) in rows["centring"].items() if some}
    rows["bend"] = {role: bend(role, facts, rubric.of(role), off) for role, facts in found.items()
                    if (role, "bend") not in spared}  # fmt: skip
    part = {name: shares({role: found[role] for role, (score, _) in judged.items() if score is not None})
            for name, judged in rows.items()}  # fmt: skip
    _pay_once(rows, part, rubric)
    for name in rows:
        if part[name]:
            some = [replace(one, loss=one.loss * share) for role, share in part[name].items()
                    for one in rows[name][role][1]]  # fmt: skip
            most = max(1.0, lost := sum(one.loss for one in some))
            scores[name] = max(1.0 - lost, 0.0)
            charges += some if most == 1.0 else [replace(one, loss=one.loss / most) for one in some]
    scores |= dict.fromkeys(unjudged)
    notices += sorted({facts["names-alike"] for facts in found.values() if "names-alike" in facts})
    for role, facts in found.items():
        if "offset" not in facts and facts.get("state") in UNTOLD:
            notices.append(f"{UNTOLD[facts['state']]} where the {role} lies, so its middle cannot be told.")
    charges = with_mends(charges, table, rubric) if mends else charges
    criteria = {
        name: Score(None if score is None else round(score, SCORED), rubric.weights[name],
                    score is not None and rubric.weights[name] > 0)
        for name, score in scores.items()
    }  # fmt: skip
    judged_ones = [(one.weight, one.score or 0.0) for one in criteria.values() if one.judged]
    whole = sum(weight for weight, _ in judged_ones)
    mark = 100 * sum(weight * score for weight, score in judged_ones) / whole if whole else 0.0
    findings = [_finding(one, criteria, whole) for one in charges if _counts(one, criteria)]
    there = {one.finding for one in findings if table.get(one.joint, {}).get("need") != "optional"}
    limits = {kind: cap * _share(kind, findings, table) for kind, cap in rubric.caps.items() if kind in there}
    ordered = _in_order(findings, limits, table)
    capped = half_up(min([mark, *limits.values()]), 1)
    caps: list[dict] = []
    for kind in sorted(limits, key=lambda kind: (limits[kind], kind)):  # the lowest takes it all
        took = 0.0 if caps else half_up(half_up(mark, 1) - capped, 1)
        caps.append({"finding": kind, "cap": half_up(limits[kind], 1), "before": half_up(mark, 1), "took": took})
    return Judged(capped, criteria, tuple(caps), ordered, tuple(notices))


def _pay_once(rows: dict, part: dict, rubric: Rubric) -> None:
    """A place that spoils the bend as well is paid for once: what the bend costs is taken off what centring costs, so
    that both together cost what the dearer does alone. Outside the flesh, which is worse than either, both count."""
    for role, share in part["bend"].items():
        score, charges = rows["centring"].get(role, (None, []))
        if not charges or role not in part["centring"] or charges[0].finding == "outside-flesh":
            continue
        whole = rubric.weights["centring"] * part["centring"][role]
        paid = rubric.weights["bend"] * share * (1.0 - (rows["bend"][role][0] or 0.0))
        left = max(1.0 - (score or 0.0) - paid / whole, 0.0) if whole else 0.0
        words = charges[0].message + (" What its bend costs is taken off." if paid else "")
        rows["centring"][role] = (1.0 - left, [replace(charges[0], loss=left, message=words)] if left > 0.0 else [])


def _share(kind: str, findings: Iterable[Finding], table: Mapping[str, Mapping]) -> float:
    """How much of a cap is left, for those that sink with each joint: with one missing, and each more outside the
    flesh than the first, by an equal part of the required joints."""
    required = [role for role, facts in table.items() if facts.get("need") == "required"]
    gone = sum(table[role]["found"] == "no" for role in required) if kind == "joint-missing" else 0
    if kind == "outside-flesh":
        gone = len({one.joint for one in findings if one.finding == kind and one.joint in required}) - 1
    return 1.0 - gone / len(required) if required else 1.0


def _in_order(findings: list[Finding], limits: Mapping[str, float], table: Mapping) -> tuple[Finding, ...]:
    """What caps first, the lowest cap first; then the dearest first; then as the exercise orders its joints. A move
    that mends several findings of a joint is told as the same one after the first."""
    place = {joint: number for number, joint in enumerate(j for j, facts in table.items() if "need" in facts)}
    findings.sort(key=lambda one: (limits.get(one.finding, 101.0), -one.cost, place.get(one.joint, 999), one.joint))
    told: set[tuple] = set()
    for i, one in enumerate(findings):
        again = [role for role, move in one.moves if (role, move) in told and any(move)]
        if again and len(again) == len(one.moves):
            findings[i] = replace(one, mend=one.mend.removesuffix(".") + ", only once: the same move mends this.")
        elif again:
            new = [(role, move) for role, move in one.moves if role not in again and any(move)]
            words = [f"Move the {role} {way_words(np.array(move))}." for role, move in new]
            words.append(f"The move of the {' and the '.join(again)} told above is needed too.")
            findings[i] = replace(one, mend=" ".join(words))
        told |= set(one.moves)
    return tuple(findings)


def _counts(charge: Charge, criteria: Mapping[str, Score]) -> bool:
    return criteria[read_finding_kinds()[charge.finding].criterion].judged


def _finding(charge: Charge, criteria: Mapping[str, Score], whole: float) -> Finding:
    kind = read_finding_kinds()[charge.finding]
    cost = half_up(100 * criteria[kind.criterion].weight * charge.loss / whole, 2)
    told, allowed = (value if isinstance(value, str) else round(value, DIGITS) + 0.0
                     for value in (charge.measured, charge.allowed))  # fmt: skip
    unit = "text" if isinstance(told, str) else kind.unit
    return Finding(charge.finding, charge.joint, kind.criterion, told, allowed, unit, cost, charge.message,
                   charge.mend, charge.moves, charge.change)  # fmt: skip


# problems of a name that cost of their own; every other one is a matter of style
NAMES = {"side-wrong": "side_wrong", "side-missing": "side_missing", "part-other": "part", "part-unknown": "part",
         "part-misspelt": "misspelt"}  # fmt: skip


def _names(role: str, facts: Mapping, rubric: Rubric) -> tuple[float, list[Charge]]:
    name, right = facts.get("name", ""), facts.get("name-asked", "")
    told = [(key.removeprefix("name-"), said) for key, said in facts.items()
            if key[:5] == "name-" and key != "name-asked"]  # fmt: skip
    shown = f'named "{name}"' if name else "without a name"
    rows = [(kind, rubric[f"names.{NAMES[kind]}"], f"The {role}, {shown}: {said}.")
            for kind, said in told if kind in NAMES]  # fmt: skip
    style = [(kind, said) for kind, said in told if kind not in NAMES]
    if style:
        why = "; ".join(said for _, said in style)
        rows.append((style[0][0], rubric["names.style"],
                     f'The {role}: it is written "{name}"; the rule says {right} ({why}).'))  # fmt: skip
    score, charges = 1.0, []
    for kind, cost, message in rows:
        loss = min(cost, score)
        score -= loss
        if loss > 0:
            kind = kind if kind in read_finding_kinds() else f"name-{kind}"
            charges.append(Charge(kind, role, loss, name, right, message, f"Name it {right}.", change=("name", right)))
    return score, charges


BY_JOINT = {"centring": centring, "fold": station, "names": _names, "frames": frames, "mirror": mirrored}
"""What judges one joint by one criterion; the bend is apart, since its neighbours are looked at too."""
WHERE_WEIGHED = ("frames", "mirror")
"""Criteria that a rubric may leave out altogether, without a table of their own."""
