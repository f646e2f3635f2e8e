"""Judging structure: which joints are missing, hang wrongly, coincide or are too many -> a score 0..1 and charges."""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from rigkit.files.rubrics import Rubric
from rigkit.measures.structure import LIMB
from rigkit.mends import half_up, parts, way_words
from rigkit.rubric_place import Charge, too_far

MOST_TOLD = 40  # joints listed to be taken out


def structure(table: Mapping[str, Mapping], rubric: Rubric, notices: list[str]) -> tuple[float, list[Charge]]:
    """Score and charges for the joints and parents of a hand-in, from its measurements by joint; adds to `notices`."""
    asked = {role: facts for role, facts in table.items() if "need" in facts}
    if LIMB in table:
        return 0.0, [_elsewhere(table[LIMB])]
    counted = [role for role, facts in asked.items() if facts["found"] == "yes" or facts["need"] == "required"]
    charges = []
    for role in counted:
        facts = asked[role]
        name, above = facts.get("name-asked"), facts["parent-asked"]
        if facts["found"] == "no":
            mend = f"Add a joint for the {role}"
            moves: tuple = ()
            change = ("add", str(name), above, facts.get("anchor", ""), *facts.get("carries", "").split(" and the "))
            if "anchor" in facts:
                way = np.array([half_up(part) for part in parts(facts, "from-anchor")])
                moves = ((role, tuple(way.tolist())),)
                mend += f", {way_words(way)} from the place of the {facts['anchor']}"
            mend += f"; name it {name}" + ("" if above == "none" else f", and make the {above} its parent")
            mend += f". Make it the parent of the {facts['carries']}." if "carries" in facts else "."
            charges.append(Charge("joint-missing", role, 1.0 / len(counted), "none", "one joint",
                                  f"There is no joint for the {role}.", mend, moves, change))  # fmt: skip
            continue
        if facts["parent"] != above:
            hangs = "on no other joint" if facts["parent"] == "none" else f"on the {facts['parent']}"
            should = "it should be the topmost of the limb" if above == "none" else f"it should hang on the {above}"
            mend = f"Take the {role} off its parent." if above == "none" else f"Make the {above} the {role}'s parent."
            charges.append(Charge("wrong-parent", role, (1.0 - rubric["structure.wrong_parent"]) / len(counted),
                                  facts["parent"], above, f"The {role} hangs {hangs}; {should}.", mend,
                                  change=("parent", above)))  # fmt: skip
        gap, least = facts.get("parent-distance", float("inf")), rubric["structure.coincide_mm"]
        if gap < least:  # two joints in one place are as good as one
            charges.append(Charge("joints-coincide", role, 1.0 / len(counted), gap, least,
                                  f"The {role} and the {above} lie in one place, with no bone between them.",
                                  ""))  # fmt: skip
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
    partners = {facts["pair-name"] for facts in asked.values() if "pair-name" in facts}  # asked for, and judged apart
    twins, strays, spared = [], [], []
    for label, facts in table.items():
        if facts.get("extra", "ignored") == "ignored" or facts["extra-name"] in partners:
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
                                  f"The joint {label} {why}.", f"Take out the joint {label}.",
                                  change=("remove", label)))  # fmt: skip
        elif found:
            charges.append(Charge(kind, LIMB, loss, f"{len(found)} joints too many", "none",
                                  f"{len(found)} joints {many}: {_listed([label for label, _ in found], 3)}.",
                                  f"Take out {_listed([label for label, _ in found], MOST_TOLD)}.",
                                  change=("remove", *(label for label, _ in found))))  # fmt: skip
    return charges


def _listed(labels: list[str], most: int) -> str:
    labels = sorted(labels)
    return ", ".join(labels[:most]) + (f" and {len(labels) - most} more" if len(labels) > most else "")
