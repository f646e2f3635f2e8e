"""Judging structure: which joints are missing, hang wrongly, coincide or are too many -> a score 0..1 and charges."""

from collections.abc import Collection, Mapping
from dataclasses import replace

import numpy as np

from rigkit.files.rubrics import Rubric
from rigkit.measures.structure import LIMB
from rigkit.mends import MARGIN, apart, half_up, parts, way_words
from rigkit.rubric_place import Charge, falling, too_far

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
        if "twist-to" in facts:  # it may pass near a joint of another bone, in the palm
            near = near and facts.get("nearest") in (facts["twist-from"], facts["twist-to"])
        twin = names.get(facts["extra-name"], facts.get("nearest") if near else None)
        if facts["extra"] == "outside":
            spared.append(label)
        elif twin is not None:
            twins.append((label, f"{'lies in the same place' if near else 'has the same name'} as the {twin}"))
        elif facts["extra"] == "below" or facts.get("off-bone", 0.0) <= rubric["structure.beside_bone"]:
            spared.append(label)
        else:
            strays.append((label, f"was not asked for and lies {facts['extra']} the asked ones"))
    charges = _twists(table, {label for label, _ in (*twins, *strays)}, rubric)
    astray = {charge.joint for charge in charges}
    if spared := [label for label in spared if label not in astray]:
        notices.append(f"Joints that were not asked for and do no harm: {_listed(spared, 6)}.")
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


def _twists(table: Mapping[str, Mapping], taken: Collection[str], rubric: Rubric) -> list[Charge]:
    """Charges for twist joints that stand unevenly, off their bone, or carry more than it. taken: joints that are to be
    taken out, which are paid for."""
    most, charges = rubric["structure.twist"], []
    for label, facts in table.items():
        if "twist-to" not in facts or label in taken or most <= 0.0:
            continue
        bone, kept = f"the bone from the {facts['twist-from']} to the {facts['twist-to']}", 1.0
        rows = (
            ("twist-uneven", facts["twist-bone"], facts["twist-uneven"] * facts["twist-bone"], "twist",
             f"its even place, {half_up(100 * facts['twist-even']):g} % of the way down {bone}", "along its bone: "),
            ("twist-off-line", facts.get("twist-radius"), facts["twist-off"], "twist_off", bone, "onto its bone: "),
        )  # fmt: skip
        room = min(rubric[f"structure.{key}_allowed"] * size for _, size, _, key, *_ in rows if size)
        move = np.array([half_up(part, 0 if room > 4.0 * MARGIN else 1) for part in parts(facts, "twist-home")])
        for finding, size, off, key, place, way in rows:
            if not size:
                continue
            allowed, failing = rubric[f"structure.{key}_allowed"] * size, rubric[f"structure.{key}_failing"] * size
            loss = most * kept * (1.0 - falling(off, allowed, failing))
            if loss > 0.0:
                lies, up_to = apart(off, allowed)
                mend = f"Slide the joint {label} {way}{way_words(move)}."
                charges.append(Charge(finding, label, loss, off, allowed,
                                      f"The twist joint {label} lies {lies} from {place}; up to {up_to} is right.",
                                      mend, ((label, tuple(move.tolist())),)))  # fmt: skip
            kept -= loss / most
        carried = sorted(one for one, row in table.items() if row.get("on-twist") == label and one not in taken
                         and row.get("parent") == row.get("parent-asked"))  # fmt: skip
        if carried:
            start, words = facts["twist-from"], _listed(carried, MOST_TOLD)
            charges.append(Charge("twist-carries", label, most, words, "none",
                                  f"On the twist joint {label} hangs more than its bone: {words}. That would turn by a "
                                  f"share of the turn only.",
                                  " ".join(f"Make the {start} the {one}'s parent." for one in carried),
                                  change=("hang", start, *carried)))  # fmt: skip
    return charges


def _listed(labels: list[str], most: int) -> str:
    labels = sorted(labels)
    return ", ".join(labels[:most]) + (f" and {len(labels) - most} more" if len(labels) > most else "")
