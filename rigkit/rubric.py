"""Rubric arithmetic: measurements and a rubric give scores, findings, caps and a mark; nothing else goes in."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from rigkit.files.rubrics import CRITERIA, Rubric, read_finding_kinds, read_rubric
from rigkit.measures.base import Measurement
from rigkit.measures.structure import LIMB
from rigkit.mends import half_up, parts
from rigkit.rubric_place import UNTOLD, Charge, bend, centring, shares, station, too_far, with_mends

__all__ = ["Finding", "Judged", "Rubric", "Score", "judge", "read_rubric"]

DIGITS = 6  # of scores and of what was measured, as in the measurements


@dataclass(frozen=True)
class Score:
    """A criterion's score 0..1 (None where nothing could be judged), its weight, and whether it was judged."""

    score: float | None
    weight: float
    judged: bool


@dataclass(frozen=True)
class Finding:
    """What the rubric charges for, in the contract's fields; `move` is the mend in mm (out, up, forward), if any."""

    finding: str
    joint: str
    criterion: str
    measured: float | str
    allowed: float | str
    unit: str
    cost: float
    message: str
    mend: str
    move: tuple[float, float, float] | None = None


@dataclass(frozen=True)
class Judged:
    """A mark (0..100, to 0.1), the score of each criterion, the caps that apply, findings and notices."""

    mark: float
    criteria: Mapping[str, Score]
    caps: tuple[dict, ...]
    findings: tuple[Finding, ...]
    notices: tuple[str, ...]


def judge(measurements: Iterable[Measurement], rubric: Rubric) -> Judged:
    """Judge a hand-in by its measurements alone.

    mark = 100 x sum(weight x score) / sum(weight) over the judged criteria, then caps, rounded half up to 0.1.
    """
    table: dict[str, dict] = {}
    for one in measurements:
        table.setdefault(one.joint, {})[one.measure] = one.value
    found = {role: facts for role, facts in table.items() if facts.get("found") == "yes"}
    scores: dict[str, float | None] = dict.fromkeys(CRITERIA)
    charges: list[Charge] = []
    notices: list[str] = []
    scores["structure"], some = _structure(table, rubric, notices)
    charges += some
    for criterion, one_joint in (("centring", centring), ("fold", station), ("bend", bend), ("names", _names)):
        off = {one.joint for one in charges if one.finding in ("off-centre", "outside-flesh")}
        more = (off,) if one_joint is bend else ()
        rows = {role: one_joint(role, facts, rubric, *more) for role, facts in found.items()}
        part = shares({role: found[role] for role, (score, _) in rows.items() if score is not None})
        if part:
            scores[criterion] = sum(share * (rows[role][0] or 0.0) for role, share in part.items())
            charges += [replace(one, loss=one.loss * part[role]) for role in part for one in rows[role][1]]
    notices += sorted({facts["names-alike"] for facts in found.values() if "names-alike" in facts})
    for role, facts in found.items():
        if "offset" not in facts and facts.get("state") in UNTOLD:
            notices.append(f"{UNTOLD[facts['state']]} where the {role} lies, so its middle cannot be told.")
    charges = with_mends(charges, table, rubric)
    criteria = {
        name: Score(None if score is None else round(score, DIGITS), rubric.weights[name],
                    score is not None and rubric.weights[name] > 0)
        for name, score in scores.items()
    }  # fmt: skip
    judged_ones = [(one.weight, one.score or 0.0) for one in criteria.values() if one.judged]
    whole = sum(weight for weight, _ in judged_ones)
    mark = 100 * sum(weight * score for weight, score in judged_ones) / whole if whole else 0.0
    limits = dict(rubric.caps)
    if "joint-missing" in limits:
        limits["joint-missing"] *= _share_found(table)
    findings = _in_order([_finding(one, criteria, whole) for one in charges if _counts(one, criteria)], limits, table)
    there = {one.finding for one in findings}
    capped = half_up(min([mark, *(cap for kind, cap in limits.items() if kind in there)]), 1)
    caps: list[dict] = []
    for kind in sorted(there & set(limits), key=lambda kind: (limits[kind], kind)):  # the lowest takes it all
        took = 0.0 if caps else half_up(half_up(mark, 1) - capped, 1)
        caps.append({"finding": kind, "cap": half_up(limits[kind], 1), "before": half_up(mark, 1), "took": took})
    return Judged(capped, criteria, tuple(caps), findings, tuple(notices))


def _share_found(table: Mapping[str, Mapping]) -> float:
    """The share of required joints that are there."""
    required = [facts["found"] == "yes" for facts in table.values() if facts.get("need") == "required"]
    return sum(required) / len(required) if required else 1.0


def _in_order(findings: list[Finding], limits: Mapping[str, float], table: Mapping) -> tuple[Finding, ...]:
    """What caps first, the lowest cap first; then the dearest first; then as the exercise orders its joints. A move
    that mends several findings of a joint is told as the same one after the first."""
    roles = [joint for joint, facts in table.items() if "need" in facts]
    findings = sorted(
        findings,
        key=lambda one: (limits.get(one.finding, 101.0), -one.cost,
                         roles.index(one.joint) if one.joint in roles else len(roles), one.joint),
    )  # fmt: skip
    told: set[tuple] = set()
    for i, one in enumerate(findings):
        if (one.joint, one.move) in told and one.move is not None:
            findings[i] = replace(one, mend=one.mend.removesuffix(".") + ", only once: the same move mends this.")
        told.add((one.joint, one.move))
    return tuple(findings)


def _counts(charge: Charge, criteria: Mapping[str, Score]) -> bool:
    return criteria[read_finding_kinds()[charge.finding].criterion].judged


def _finding(charge: Charge, criteria: Mapping[str, Score], whole: float) -> Finding:
    kind = read_finding_kinds()[charge.finding]
    cost = half_up(100 * criteria[kind.criterion].weight * charge.loss / whole, 2)
    told, allowed = (value if isinstance(value, str) else round(value, DIGITS) + 0.0
                     for value in (charge.measured, charge.allowed))  # fmt: skip
    unit = "text" if isinstance(told, str) else kind.unit
    return Finding(
        charge.finding, charge.joint, kind.criterion, told, allowed, unit, cost,
        charge.message, charge.mend, charge.move,
    )  # fmt: skip


def _structure(table: Mapping[str, Mapping], rubric: Rubric, notices: list[str]) -> tuple[float, list[Charge]]:
    asked = {role: facts for role, facts in table.items() if "need" in facts}
    if LIMB in table:
        return 0.0, [_elsewhere(table[LIMB])]
    counted = [role for role, facts in asked.items() if facts["found"] == "yes" or facts["need"] == "required"]
    charges = []
    for role in counted:
        facts = asked[role]
        name, above = facts.get("name-asked"), facts["parent-asked"]
        if facts["found"] == "no":
            where = "" if above == "none" else f", below the {above}"
            charges.append(Charge("joint-missing", role, 1.0 / len(counted), "none", "one joint",
                                  f"There is no joint for the {role}.",
                                  f"Add a joint for the {role}{where}, and name it {name}."))  # fmt: skip
            continue
        if facts["parent"] != above:
            hangs = "on no other joint" if facts["parent"] == "none" else f"on the {facts['parent']}"
            should = "it should be the topmost of the limb" if above == "none" else f"it should hang on the {above}"
            mend = f"Take the {role} off its parent." if above == "none" else f"Make the {above} the {role}'s parent."
            charges.append(Charge("wrong-parent", role, (1.0 - rubric["structure.wrong_parent"]) / len(counted),
                                  facts["parent"], above, f"The {role} hangs {hangs}; {should}.", mend))  # fmt: skip
        gap, least = facts.get("parent-distance", float("inf")), rubric["structure.coincide_mm"]
        if gap < least:  # two joints in one place are as good as one
            charges.append(Charge("joints-coincide", role, 1.0 / len(counted), gap, least,
                                  f"The {role} and the {above} lie in one place, with no bone between them.",
                                  f"Move the {role} and the {above} apart, each to its own place."))  # fmt: skip
    charges += _extras(table, asked, rubric, notices)
    loss = sum(charge.loss for charge in charges)
    if loss > 1.0:
        charges = [replace(charge, loss=charge.loss / loss) for charge in charges]
    return max(1.0 - loss, 0.0), charges


def _elsewhere(facts: Mapping) -> Charge:
    """No asked joint was found though joints are there: one finding for all."""
    far = facts["distance"]
    about = f"{half_up(far / 1000, 0):g} m" if far >= 10000 else f"{half_up(far, -1):g} mm"
    other = {facts["side"], facts["side-asked"]} == {"left", "right"}
    side = f"on the character's {facts['side']} side, " if other else ""
    return Charge("limb-elsewhere", LIMB, 1.0, far, 0.0,
                  f"None of the joints asked for was found: the joints lie {side}about {about} from this limb "
                  f"({too_far(parts(facts, 'away'))}).",
                  "Check the side, the axes and the units of the export, and export it again.")  # fmt: skip


def _extras(table: Mapping[str, Mapping], asked: Mapping, rubric: Rubric, notices: list[str]) -> list[Charge]:
    """Joints that were not asked for: a finding where they do harm in the limb's own chain, else a notice for all."""
    names = {facts["name"]: role for role, facts in asked.items() if "name" in facts}
    twins, strays, spared = [], [], []
    for label, facts in table.items():
        if facts.get("extra", "ignored") == "ignored":
            continue
        near = facts.get("nearest-distance", float("inf")) <= rubric["structure.doubled_mm"]
        twin = names.get(facts["extra-name"], facts.get("nearest") if near else None)
        if facts["extra"] == "outside":
            spared.append(label)
        elif twin is not None:
            twins.append((label, f"{'lies in the same place' if near else 'has the same name'} as the {twin}"))
        elif facts["extra"] == "below" or facts.get("off-bone", 0.0) <= rubric["structure.beside_bone"]:
            spared.append(label)
        else:
            strays.append((label, f"was not asked for and lies {facts['extra']} the asked ones"))
    if spared:
        notices.append(f"Joints that were not asked for and do no harm: {_listed(spared, 6)}.")
    charges = []
    for kind, found, many, measured in (
        ("joint-doubled", twins, "are there twice", "two joints"),
        ("joint-extra", strays, "were not asked for", "one joint too many"),
    ):
        loss = rubric["structure.extra"] * len(found)
        if len(found) == 1:
            ((label, why),) = found
            charges.append(Charge(kind, label, loss, measured, "one joint" if found is twins else "none",
                                  f"The joint {label} {why}.", f"Take out the joint {label}."))  # fmt: skip
        elif found:
            charges.append(Charge(kind, LIMB, loss, f"{len(found)} joints too many", "none",
                                  f"{len(found)} joints {many}: {_listed([label for label, _ in found], 3)}.",
                                  "Take them out."))  # fmt: skip
    return charges


def _listed(labels: list[str], most: int) -> str:
    labels = sorted(labels)
    return ", ".join(labels[:most]) + (f" and {len(labels) - most} more" if len(labels) > most else "")


# problems of a name that cost of their own; every other one is a matter of style
NAMES = {"side-wrong": "side_wrong", "side-missing": "side_missing", "part-other": "part", "part-unknown": "part",
         "part-misspelt": "misspelt"}  # fmt: skip


def _names(role: str, facts: Mapping, rubric: Rubric) -> tuple[float, list[Charge]]:
    name, right = facts.get("name", ""), facts.get("name-asked", "")
    told = [(key.removeprefix("name-"), said) for key, said in facts.items()
            if key.startswith("name-") and key != "name-asked"]  # fmt: skip
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
            charges.append(Charge(kind, role, loss, name, right, message, f"Name it {right}."))
    return score, charges
