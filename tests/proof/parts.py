"""The parts of the proof: what each examines at which size, and from its rows what came of it, in words."""

from collections import Counter
from dataclasses import dataclass

import numpy as np

from rigkit.limbs import KINDS
from tests.proof import lines, matrix, outside, right, same, student
from tests.proof.matrix import EXCEPTIONS

ASTRAY = 1.0  # local radii within which the other joints lie, where lines are measured among misplaced ones
EXAMINE = {
    "matrix": matrix.examine, "right": right.examine, "lines": lines.examine, "student": student.examine,
    "same": same.examine, "outside": outside.examine,
    "astray": lambda kind, seed, count: lines.examine(kind, seed, count, ASTRAY),
}  # fmt: skip
FULL = {"matrix": 1, "right": 50, "lines": 25, "student": 25, "same": 5, "outside": 6, "astray": 10}  # on each limb
SAMPLE = {"matrix": 1, "right": 8, "lines": 2, "student": 4, "same": 1, "outside": 2, "astray": 1}
LIMBS = {
    True: [(kind, seed) for kind in KINDS for seed in range(100, 105)],
    False: [(kind, 100 + number % 2) for number, kind in enumerate(KINDS)],
}  # 40 limbs, or eight; those of odd seeds are right ones
JOBS = ("leg", 100)


def work(full: bool) -> list[tuple[str, str, int, int]]:
    """(part, kind, seed, how many) for all parts on all limbs, the long ones first."""
    counts = FULL if full else SAMPLE
    return [(part, kind, seed, counts[part]) for kind, seed in LIMBS[full] for part in EXAMINE]


def done(job: tuple[str, str, int, int]) -> list[dict]:
    """One part on one limb."""
    part, kind, seed, count = job
    return EXAMINE[part](kind, seed, count)


def with_jobs(full: bool) -> list[dict]:
    """A class marked with one process and with several."""
    return same.with_jobs(*JOBS, 24 if full else 6)


@dataclass(frozen=True)
class Line:
    """One line of the report."""

    what: str
    many: str
    result: str
    reached: bool | None
    """None for what is measured and not asked for."""


def table(found: dict[str, list[dict]]) -> list[Line]:
    """The report's table."""
    hits, rows = matrix.found_all(found["matrix"]), found["matrix"]
    limbs = len({(row["kind"], row["seed"]) for row in rows})
    lone = sum(not row["beside"] for row in rows)
    told = [Line("Fault matrix: each fault found, named, on the right joint",
                 f"{len({row['finding'] for row in rows})} findings, {limbs} limbs, {len(rows)} hand-ins",
                 f"{100 * sum(row['hit'] for row in rows) / len(rows):.1f} %; {lone} with nothing found beside it"
                 + _first(hits), not hits)]  # fmt: skip
    wrong, rows = right.wrong(found["right"]), found["right"]
    told.append(Line("Right layouts, jittered inside what is allowed: no finding", f"{len(rows)} layouts",
                     f"{len(wrong)} with a finding" + _first(wrong), not wrong))  # fmt: skip
    bad, elsewhere = matrix.paid_once(found["matrix"]), matrix.paid_elsewhere(found["matrix"])
    told.append(Line("Paid once: loss in the finding's own criterion only", f"{len(found['matrix'])} hand-ins",
                     f"{sum(elsewhere.values())} losses in another, all by {len(EXCEPTIONS)} listed exceptions"
                     if not bad else f"{len(bad)} not listed" + _first(bad), not bad))  # fmt: skip
    falls, rows = lines.falls(found["lines"]), found["lines"]
    told.append(Line("Monotone: no step on a straight line home lowers the mark, others in their places",
                     f"{len(rows)} lines, {sum(len(row['marks']) - 1 for row in rows)} steps",
                     f"{len(falls)} lines with a fall" + _sizes(rows), not falls))  # fmt: skip
    falls, rows = lines.falls(found["astray"]), found["astray"]
    told.append(Line(f"The same, others within {ASTRAY:g} local radius", f"{len(rows)} lines",
                     f"{100 * len(falls) / len(rows):.1f} % with a fall" + _sizes(rows), None))  # fmt: skip
    everything = found["same"] + found["jobs"]
    for way in dict.fromkeys(row["way"] for row in everything):
        rows = [row for row in everything if row["way"] == way]
        other = same.differing(rows)
        told.append(Line(f"The same mark, scores, findings and costs: {way}", f"{len(rows)} hand-ins",
                         f"{len(other)} differ" + _first(other), not other))  # fmt: skip
    return told + _students(found["student"]) + _outside(found["outside"])


def _students(rows: list[dict]) -> list[Line]:
    left, fell = student.unmended(rows), student.lowered(rows)
    rounds = Counter(len(row["marks"]) - 1 for row in rows if row["marks"][-1] == 100.0)
    after = ", ".join(f"{many} after {number}" for number, many in sorted(rounds.items()))
    lost = max((one - two for row in rows for one, two in zip(row["marks"], row["marks"][1:], strict=False)), default=0)
    puzzled = sum(bool(row["puzzled"]) for row in rows)
    return [Line(f"Enough to mend: full marks within {student.ROUNDS} rounds by the mends' words alone",
                 f"{len(rows)} students", f"{len(rows) - len(left)} ({after}); {puzzled} met a mend that they could not "
                 "follow" + _first(left), not left),
            Line("No round of mending lowers the mark", f"{len(rows)} students",
                 f"{len(fell)} lowered" + (f", by {lost:.1f} at most" if fell else "") + _first(fell), not fell)]  # fmt: skip


def _outside(rows: list[dict]) -> list[Line]:
    apart, bends = outside.disagreeing(rows), outside.hanim()
    off = max(max(abs(mm), abs(degrees)) for _, mm, degrees, _ in bends)
    kinds = len({row["kind"] for row in rows})
    return [Line("Section offsets and radii beside trimesh's, within 1 % of a radius", f"{len(rows)} joints, {kinds} kinds",
                 f"at most {100 * max(row['apart'] for row in rows):.2f} %, mean "
                 f"{100 * np.mean([row['apart'] for row in rows]):.3f} %" + _first(apart), not apart),
            Line("H-Anim's rest arm and leg bend as the reference states", f"{len(bends)} limbs",
                 ", ".join(f"{name} {verdict}" for name, *_, verdict in bends) + f"; at most {off:.2f} (mm, degrees) off",
                 off < 0.05 and all(verdict == "right way" for *_, verdict in bends))]  # fmt: skip


def _sizes(rows: list[dict]) -> str:
    falls = sorted((row for row in rows if row["fall"] > 1e-9), key=lambda row: -row["fall"])
    if not falls:
        return ""
    roles = Counter(row["role"] for row in falls)
    return (f", of {falls[0]['fall']:.1f} at most, {falls[len(falls) // 2]['fall']:.1f} in the middle; at "
            + ", ".join(f"{role} {many}" for role, many in roles.most_common()))  # fmt: skip


def _first(wrong: list[str]) -> str:
    return f"; first: {wrong[0]}" if wrong else ""


def appendix(found: dict[str, list[dict]]) -> list[str]:
    """The fault matrix, marks lost by finding and criterion, and the exceptions with their reasons."""
    rows = found["matrix"]
    return ["", "**Fault matrix**", "", *matrix.fault_table(rows), "",
            "**Marks lost, mean (and most), by finding and criterion; its own in bold**", "", *matrix.paid_table(rows),
            "", "**Exceptions: what one fault spoils beside its own criterion**", "",
            *(f"- {finding} in {criterion}: {why}" for (finding, criterion), why in EXCEPTIONS.items())]  # fmt: skip
