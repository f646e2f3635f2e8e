"""Rubric arithmetic: measurements and a rubric give scores, findings, caps and a mark; nothing else goes in."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from rigkit.files.rubrics import CRITERIA, Rubric, read_finding_kinds, read_rubric
from rigkit.measures.base import Measurement
from rigkit.mends import half_up
from rigkit.rubric_place import Charge, bend, centring, station, with_mends

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
        rows = [one_joint(role, facts, rubric) for role, facts in found.items()]
        judged = [score for score, _ in rows if score is not None]
        if judged:
            scores[criterion] = sum(judged) / len(judged)
            charges += [replace(charge, loss=charge.loss / len(judged)) for _, more in rows for charge in more]
    for role, facts in found.items():
        if facts.get("state") == "open mesh" and "offset" not in facts:
            notices.append(f"The mesh is open where the {role} lies, so its middle cannot be told.")
    charges = with_mends(charges, table, rubric)
    criteria = {
        name: Score(None if score is None else round(score, DIGITS), rubric.weights[name],
                    score is not None and rubric.weights[name] > 0)
        for name, score in scores.items()
    }  # fmt: skip
    judged_ones = [(one.weight, one.score or 0.0) for one in criteria.values() if one.judged]
    whole = sum(weight for weight, _ in judged_ones)
    mark = 100 * sum(weight * score for weight, score in judged_ones) / whole if whole else 0.0
    findings = tuple(_finding(charge, criteria, whole) for charge in charges if _counts(charge, criteria))
    caps: tuple[dict, ...] = tuple(
        {"finding": kind, "cap": cap, "before": half_up(mark, 1)}
        for kind, cap in rubric.caps.items() if any(one.finding == kind for one in findings)
    )  # fmt: skip
    lowest = min([mark, *(rubric.caps[one["finding"]] for one in caps)])
    return Judged(half_up(lowest, 1), criteria, caps, findings, tuple(notices))


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
    counted = [role for role, facts in asked.items() if facts["found"] == "yes" or facts["need"] == "required"]
    charges = []
    for role in counted:
        facts = asked[role]
        name, above = facts["name-asked"], facts["parent-asked"]
        if facts["found"] == "no":
            where = "" if above == "none" else f", below the {above}"
            charges.append(Charge("joint-missing", role, 1.0 / len(counted), "none", "one joint",
                                  f"There is no joint for the {role}.",
                                  f"Add a joint for the {role}{where}, and name it {name}."))  # fmt: skip
        elif facts["parent"] != above:
            hangs = "on no other joint" if facts["parent"] == "none" else f"on the {facts['parent']}"
            should = "it should be the topmost of the limb" if above == "none" else f"it should hang on the {above}"
            mend = f"Take the {role} off its parent." if above == "none" else f"Make the {above} the {role}'s parent."
            charges.append(Charge("wrong-parent", role, (1.0 - rubric["structure.wrong_parent"]) / len(counted),
                                  facts["parent"], above, f"The {role} hangs {hangs}; {should}.", mend))  # fmt: skip
    names = {facts["name"]: role for role, facts in asked.items() if "name" in facts}
    spared = []
    for label, facts in table.items():
        if facts.get("extra", "ignored") == "ignored":
            continue
        near = facts.get("nearest-distance", float("inf")) <= rubric["structure.doubled_mm"]
        twin = names.get(facts["extra-name"], facts.get("nearest") if near else None)
        take_out = f"Take out the joint {label}."
        if twin is not None:
            why = "lies in the same place" if near else "has the same name"
            charges.append(Charge("joint-doubled", label, rubric["structure.extra"], "two joints", "one joint",
                                  f"The joint {label} {why} as the {twin}.", take_out))  # fmt: skip
        elif facts["extra"] in ("above", "below") or facts.get("off-bone", 1.0) <= rubric["structure.on_line"]:
            spared.append(label)
        else:
            charges.append(Charge("joint-extra", label, rubric["structure.extra"], "one joint too many", "none",
                                  f"The joint {label} was not asked for and lies {facts['extra']} the asked ones.",
                                  take_out))  # fmt: skip
    if spared:
        more = f" and {len(spared) - 6} more" if len(spared) > 6 else ""
        notices.append(f"Joints that were not asked for and do no harm: {', '.join(spared[:6])}{more}.")
    loss = sum(charge.loss for charge in charges)
    if loss > 1.0:
        charges = [replace(charge, loss=charge.loss / loss) for charge in charges]
    return max(1.0 - loss, 0.0), charges


def _names(role: str, facts: Mapping, rubric: Rubric) -> tuple[float, list[Charge]]:
    kinds = read_finding_kinds()
    problems = [(key.removeprefix("name-"), said) for key, said in facts.items()
                if key.startswith("name-") and key != "name-asked"]  # fmt: skip
    each = min(rubric["names.each"], 1.0 / len(problems)) if problems else 0.0
    shown = f'named "{facts["name"]}"' if facts["name"] else "without a name"
    charges = [
        Charge(kind if kind in kinds else f"name-{kind}", role, each, facts["name"], facts["name-asked"],
               f"The {role}, {shown}: {said}.", f"Name it {facts['name-asked']}.")
        for kind, said in problems
    ]  # fmt: skip
    return 1.0 - each * len(problems), charges
