"""Fault matrix and paid once: every finding, put in by its mutator, is found, named and on the right joint, and takes
its marks from its own criterion alone. One row for each hand-in: dicts of finding, size, kind, hit, beside, lost."""

import tomllib
from collections import Counter
from zlib import crc32

import numpy as np

from rigkit.marking import mark
from tests.proof import faults
from tests.proof.case import ANY, CLEAR, GROSS, JUST, Case
from tests.proof.ground import PROJECT, STANDARD, ground
from tests.proof.right import untouched

ON_PARENT = "a joint that lies on its parent is away from its own place as well, along the limb and across it"
STRONGLY = ("where a limb rests strongly bent, or is thin, its joint leaves its ring, or the flesh, before its bend is at "
            "fault; both together cost what the dearer does alone")  # fmt: skip
TOO_STRAIGHT = "twist is judged only where a bend is too straight to have a hinge, so what shows it is bent wrongly too"
EXCEPTIONS = {
    ("joints-coincide", "centring"): ON_PARENT,
    ("joints-coincide", "fold"): ON_PARENT,
    ("joints-coincide", "bend"): "without a bone between them, or with one the wrong way, nothing bends rightly",
    (
        "off-centre",
        "bend",
    ): "off its middle a joint spoils the bend of a neighbour that has room for less",
    (
        "outside-flesh",
        "bend",
    ): "outside the flesh both are paid: a joint in the air carries nothing, and the limb folds as it lies",
    ("off-station", "bend"): "the line on which a neighbour's bend is measured turns with the joint",
    ("elsewhere", "bend"): "the line on which a neighbour's bend is measured turns with the joint",
    ("bends-wrong-way", "centring"): STRONGLY,
    ("too-straight", "centring"): STRONGLY,
    ("bend-slight", "centring"): STRONGLY,
    ("bend-much", "centring"): STRONGLY,
    ("frame-twisted", "bend"): TOO_STRAIGHT,
    ("frame-twisted", "centring"): TOO_STRAIGHT,
    (
        "bend-sideways",
        "centring",
    ): "a joint beside its plane lies off its middle too; both cost what the dearer does alone",
}
"""What one fault spoils beside its own criterion, by finding and criterion, with the reason."""
CRITERION = {name: row["criterion"] for name, row in tomllib.loads(
    (PROJECT / "data" / "findings.toml").read_text("utf-8"))["findings"].items()}  # fmt: skip


def examine(kind: str, seed: int, draws: int) -> list[dict]:
    """Every finding on one limb, so many times."""
    g, rows = ground(kind, seed), []
    for finding in faults.listed():
        if finding in faults.NOT_YET:
            continue
        for draw in range(draws):
            chance = np.random.default_rng([seed, crc32(finding.encode()), draw])
            for case in faults.cases(finding, g, chance):
                rows.append(_row(g, case))
    return rows


def _row(g, case: Case) -> dict:
    result = mark(case.layout, case.exercise or g.exercise)
    found = {(one.finding, one.joint) for one in result.findings}
    wanted = {(case.finding, joint) for joint in case.joints}
    whole = sum(one.weight for one in result.criteria.values() if one.judged)
    lost = {name: 100 * one.weight * (1 - one.score) / whole
            for name, one in result.criteria.items() if one.judged and one.score < 1}  # fmt: skip
    beside = sorted({f"{one}{'' if joint in case.joints else ' (another joint)'}" for one, joint in found - wanted})
    spared = set(case.spared)
    if len(case.layout.skeleton) == len(g.roles) and case.layout.skeleton.parents == g.parents:
        spared |= untouched(g, case.layout.skeleton.positions)
    return {"spared": spared, "finding": case.finding, "size": case.size, "kind": g.kind, "seed": g.seed, "joints": case.joints,
            "hit": wanted <= found, "beside": beside, "lost": lost, "mark": result.mark}  # fmt: skip


def found_all(rows: list[dict]) -> list[str]:
    """What was not found, in words; nothing where all was."""
    missed = [f"{row['finding']} ({row['size']}) at {', '.join(row['joints'])} of {row['kind']} {row['seed']}; found "
              f"{row['beside']}" for row in rows if not row["hit"]]  # fmt: skip
    absent = set(faults.listed()) - faults.NOT_YET - {row["finding"] for row in rows}
    return missed + [f"{finding} was never put in" for finding in sorted(absent)]


def paid_elsewhere(rows: list[dict]) -> Counter:
    """How often a finding's hand-ins lost marks in a criterion that is not its own."""
    return Counter((row["finding"], criterion) for row in rows for criterion in row["lost"]
                   if criterion != CRITERION[row["finding"]])  # fmt: skip


def paid_once(rows: list[dict]) -> list[str]:
    """Losses beyond a finding's own column that no exception names, and findings that cost nothing in it."""
    bad = [f"{finding} costs in {criterion} too ({many} hand-ins)" for (finding, criterion), many
           in paid_elsewhere(rows).items() if (finding, criterion) not in EXCEPTIONS]  # fmt: skip
    bad += [
        f"{row['finding']} ({row['size']}) of {row['kind']} {row['seed']} at {', '.join(row['joints'])} costs in "
        f"{criterion}, where nothing is wrong"
        for row in rows
        for criterion in row["spared"] & set(row["lost"])
    ]
    return bad + [f"{row['finding']} ({row['size']}) of {row['kind']} {row['seed']} costs nothing in its own criterion"
                  for row in rows if row["hit"] and CRITERION[row["finding"]] not in row["lost"]]  # fmt: skip


def fault_table(rows: list[dict]) -> list[str]:
    """Markdown: each finding with what was found at each size, and what else was found beside it."""
    sizes = (JUST, CLEAR, GROSS, ANY)
    lines = ["| finding | just beyond | clear | gross | no size | limbs | found beside it (share of hand-ins) |",
             "|---|---|---|---|---|---|---|"]  # fmt: skip
    for finding in dict.fromkeys(row["finding"] for row in rows):
        some = [row for row in rows if row["finding"] == finding]
        cells = []
        for size in sizes:
            hits = [row["hit"] for row in some if row["size"] == size]
            cells.append(f"{sum(hits)} of {len(hits)}" if hits else "")
        beside = Counter(one for row in some for one in row["beside"])
        told = ", ".join(f"{one} {100 * many / len(some):.0f} %" for one, many in beside.most_common())
        limbs = len({(row["kind"], row["seed"]) for row in some})
        lines.append(f"| {finding} | {' | '.join(cells)} | {limbs} | {told} |")
    return lines


def paid_table(rows: list[dict]) -> list[str]:
    """Markdown: marks lost by finding and criterion, mean over its hand-ins (most in brackets), own column bold."""
    criteria = [name for name in STANDARD["weights"]]
    lines = ["| finding | " + " | ".join(criteria) + " |", "|---" * (len(criteria) + 1) + "|"]
    for finding in dict.fromkeys(row["finding"] for row in rows):
        some = [row["lost"] for row in rows if row["finding"] == finding]
        cells = []
        for name in criteria:
            lost = [one.get(name, 0.0) for one in some]
            cell = f"{np.mean(lost):.1f} ({max(lost):.1f})" if max(lost) > 0 else ""
            cells.append(f"**{cell}**" if name == CRITERION[finding] and cell else cell)
        lines.append(f"| {finding} | {' | '.join(cells)} |")
    return lines
