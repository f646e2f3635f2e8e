"""Feedback: a Result -> what went well, in sentences, and which lessons to look at again, dearest first."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from rigkit.files.rubrics import read_finding_kinds
from rigkit.kinematics import RIGHT
from rigkit.marking import Result
from rigkit.word import MARK, set_by_word

LESSONS = {
    1: "Study before you place", 2: "Place a shoulder, elbow and wrist", 3: "Name and side",
    4: "Make it bend the right way", 5: "Find the middle", 6: "Move one joint, move a branch, slide along the bone",
    7: "Grow the hand", 8: "Where the limb begins", 9: "Give it axes, share the twist", 10: "Mirror",
    11: "The leg, and legs that are not ours", 12: "Bend the skin and hand in",
}  # fmt: skip
"""The lessons of the workbook by number; a test compares them with the notebooks."""
MOST_JOINTS = 4  # named in a sentence


@dataclass(frozen=True)
class Again:
    """A lesson to look at again: its number and title, the findings it teaches to mend, and the points they took."""

    lesson: int
    title: str
    findings: tuple[str, ...]
    points: float


def charged(result: Result) -> tuple[tuple[str, str, float], ...]:
    """What was taken from a mark: each finding, its joint and its points, and each limit, with "" for a joint. What an
    instructor's word set is left out: the word stands in its place."""
    settled = set_by_word(result)
    if MARK in settled:
        return ()
    rows = [(one.finding, one.joint, one.cost) for one in result.findings if one.criterion not in settled]
    return (*rows, *((cap["finding"], "", cap["took"]) for cap in result.caps if cap["took"]))


def lessons_again(results: Iterable[Result]) -> tuple[Again, ...]:
    """The lessons that teach what was found in some results, by what that took from the marks, limits included."""
    kinds = read_finding_kinds()
    took: dict[int, dict[str, float]] = {}
    for one in results:
        for kind, _, points in (*((found.finding, found.joint, 0.0) for found in one.findings), *charged(one)):
            row = took.setdefault(kinds[kind].lesson, {})
            row[kinds[kind].title] = row.get(kinds[kind].title, 0.0) + points
    rows = [
        Again(lesson, LESSONS.get(lesson, ""), tuple(sorted(row, key=lambda title: (-row[title], title))),
              round(sum(row.values()), 2))
        for lesson, row in took.items()
    ]  # fmt: skip
    return tuple(sorted(rows, key=lambda one: (-one.points, one.lesson)))


def went_well(result: Result) -> tuple[str, ...]:
    """What is right in a hand-in, a sentence for each criterion; with the numbers where a student can be proud of
    them. Empty where it could not be read, or nothing is right."""
    facts: dict[str, dict] = {}
    for one in result.measurements:
        facts.setdefault(one.joint, {})[one.measure] = one.value
    there = {joint: row for joint, row in facts.items() if row.get("found") == "yes"}
    wrong: dict[str, set[str]] = {}
    for found in result.findings:
        wrong.setdefault(found.criterion, set()).add(found.joint)
    judged = {name for name, score in (result.criteria or {}).items() if score.judged}
    said = []
    for name, sentence in (("structure", _structure), ("centring", _centring), ("fold", _fold), ("bend", _bend),
                           ("frames", _frames), ("names", _names), ("mirror", _mirror)):  # fmt: skip
        off = wrong.get(name, set())
        if name == "centring":  # a place that spoils the bend too is charged there
            off = off | wrong.get("bend", set()) | wrong.get("fold", set())
        good = {joint: row for joint, row in there.items() if joint not in off}
        if name in judged and (words := sentence(good, not off)):
            said.append(words)
    return tuple(said)


def _structure(good: Mapping, all_of_them: bool) -> str:
    how_many = f"{len(good)} joints, each" if len(good) > 1 else "one joint,"
    return f"Everything that is asked for is there: {how_many} under its right parent." if good and all_of_them else ""


def _centring(good: Mapping, all_of_them: bool) -> str:
    near = sorted((row["offset-radius"], joint, row["offset"]) for joint, row in good.items() if "offset-radius" in row)
    if not near:
        return ""
    names = _listed([f"{joint} ({offset:.1f} mm off)" for _, joint, offset in near])
    return f"{'In the middle, or near enough' if len(near) > 1 else 'Near enough to its middle'}: {names}."


def _fold(good: Mapping, all_of_them: bool) -> str:
    told = all_of_them and any("station" in row for row in good.values())
    return "No joint lies too high or too low along the limb." if told else ""


def _bend(good: Mapping, all_of_them: bool) -> str:
    bent = [f"{joint} ({row['bend']:.1f} mm off the line between its neighbours)" for joint, row in good.items()
            if row.get("bend-verdict") == RIGHT]  # fmt: skip
    return f"Bent the right way at rest: {_listed(bent)}." if bent else ""


def _frames(good: Mapping, all_of_them: bool) -> str:
    return "The joints' axes follow their bones and hinges." if all_of_them else ""


def _names(good: Mapping, all_of_them: bool) -> str:
    if all_of_them:
        return "Every name follows the naming rule."
    right = [joint for joint, row in good.items() if row.get("name") == row.get("name-asked")]
    return f"Named by the rule: {_listed(right)}." if right else ""


def _mirror(good: Mapping, all_of_them: bool) -> str:
    return "The two sides are mirror images of each other." if all_of_them else ""


def _listed(words: Sequence[str]) -> str:
    more = len(words) - MOST_JOINTS
    return ", ".join(words[:MOST_JOINTS]) + (f" and {more} more" if more > 0 else "")
