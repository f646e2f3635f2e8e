"""Marking: one layout and its exercise give a Result, the contract's entry for a hand-in; a Class holds many."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, replace
from functools import cached_property

from rigkit.files.exercise import Exercise
from rigkit.files.layout import Layout
from rigkit.files.rubrics import Rubric
from rigkit.measures import Measurement, measure_all
from rigkit.mended import mended
from rigkit.own_limbs import EXAMPLE, OwnLimbs
from rigkit.require import RigError
from rigkit.rubric import Finding, Score, judge
from rigkit.rubric_place import agree
from rigkit.skeleton import Skeleton
from rigkit.standing import recognised

FOR_MACHINES = ("moves", "change", "mark_after")
"""Fields of a finding that results.json does not have: its mend says the same in words."""
MOST_MENDED = 8  # findings of which the mark after the mend is worked out, dearest first: each costs as much as marking


@dataclass(frozen=True)
class Result:
    """One hand-in, marked, or unreadable with its reason; `skeleton` as it was read; `words` what an
    instructor set by hand, in sentences (notices too); `spots` where its joints lie within their limb (see `spots`),
    for pictures of a class. `to_dict()` gives the entry of results.json."""

    id: str
    file: str
    status: str
    reason: str = ""
    mark: float | None = None
    criteria: Mapping[str, Score] | None = None
    caps: tuple[dict, ...] = ()
    measurements: tuple[Measurement, ...] = ()
    findings: tuple[Finding, ...] = ()
    notices: tuple[str, ...] = ()
    attempt: int = 0
    skeleton: Skeleton | None = None
    words: tuple[str, ...] = ()
    spots: Mapping[str, tuple[float, float, float]] = field(default_factory=dict)

    def to_dict(self) -> dict:
        """The contract's entry: plain dicts, lists, numbers and text."""
        findings = [{key: value for key, value in asdict(one).items() if key not in FOR_MACHINES}
                    for one in self.findings]  # fmt: skip
        return {
            "id": self.id, "file": self.file, "status": self.status, "reason": self.reason, "mark": self.mark,
            "criteria": {name: asdict(score) for name, score in (self.criteria or {}).items()},
            "caps": [dict(cap) for cap in self.caps],
            "measurements": [one._asdict() for one in self.measurements],
            "findings": findings,
            "notices": list(self.notices),
        }  # fmt: skip


@dataclass(frozen=True)
class Class:
    """All results of one exercise; `counting` is the one Result of each id that counts; `absent` the ids on the
    roster without a hand-in (None without a roster); `passed_over` (file, reason) for what is no hand-in; `asked` the
    exercise itself, for pictures, None where everyone has an own limb: then it is one of `own`."""

    exercise: str
    title: str
    rubric: Rubric
    results: tuple[Result, ...]
    counting: tuple[Result, ...]
    absent: tuple[str, ...] | None = None
    passed_over: tuple[tuple[str, str], ...] = ()
    asked: Exercise | None = None
    own: OwnLimbs | None = None

    def exercise_of(self, student: str) -> Exercise | None:
        """The exercise in which a student worked, by id; None where the class does not know it."""
        return self.asked if self.own is None else self.own.of(student)

    @cached_property
    def example(self) -> Exercise | None:
        """The exercise that stands for all of them: the one there is, or one with a limb that is nobody's."""
        return self.asked if self.own is None else self.own.of(EXAMPLE)


def mark(
    layout: Layout, exercise: Exercise, rubric: Rubric | None = None, file: str = "", after: bool = False
) -> Result:
    """Mark one layout; the exercise's own rubric unless another is given. after: also work out, for each finding, the
    mark after its mend alone, by marking the mended layout.

    Raises RigError when the layout says that it is for another exercise, nothing in it can be judged, or
    the rubric contradicts itself on this exercise.

    Example: `mark(exercise.key, exercise).mark` is 100.0.
    """
    if layout.exercise and layout.exercise != exercise.id:
        raise RigError(f"a hand-in for {exercise.id}", f"one for {layout.exercise}",
                       "it was put into the wrong folder", "Hand it in where it belongs", file)  # fmt: skip
    rubric = rubric or exercise.rubric
    agree(exercise, rubric)
    layout, told = recognised(layout, exercise)
    measurements = measure_all(layout, exercise)
    judged = judge(measurements, rubric, layout.unjudged)
    asked = {"frames": exercise.frame_convention != "not-judged"}
    gone = [reason for criterion, reason in layout.unjudged.items()
            if rubric.weights[criterion] > 0 and asked.get(criterion, True)]  # fmt: skip
    if gone and not any(score.judged for score in judged.criteria.values()):
        raise RigError("something that the rubric weighs", "none of it", next_step=" ".join(gone), where=file)
    notices = (*layout.notices, *told, *gone, *judged.notices)
    if any(layout.hints):
        notices += (f"Hints asked for on the bench: {sum(layout.hints)}. They cost nothing.",)
    findings = judged.findings
    if after:
        findings = tuple(
            replace(one, mark_after=_after(one, layout, exercise, rubric)) if number < MOST_MENDED else one
            for number, one in enumerate(findings)
        )
    return Result(layout.id, file, "marked", "", judged.mark, judged.criteria, judged.caps, measurements, findings,
                  notices, layout.attempt, layout.skeleton)  # fmt: skip


def _after(finding: Finding, layout: Layout, exercise: Exercise, rubric: Rubric) -> float | None:
    """The mark after one mend; None where it is told in words only, or cannot be done before others are."""
    if not finding.moves and not finding.change:
        return None
    try:
        return judge(measure_all(mended(layout, exercise, [finding]), exercise), rubric, layout.unjudged).mark
    except RigError:  # the new parent hangs on this joint until that is mended too
        return None
