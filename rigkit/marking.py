"""Marking: one layout and its exercise give a Result, the contract's entry for a hand-in; a Class holds many."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace

import numpy as np

from rigkit.files.exercise import Exercise
from rigkit.files.layout import METRES, UNITS, Layout
from rigkit.files.rubrics import Rubric
from rigkit.measures import Measurement, measure_all
from rigkit.require import RigError
from rigkit.rubric import Finding, Score, judge

ROOM = 0.5  # a hand-in fits its exercise where all joints lie within the mesh's bounds, widened by half their size


@dataclass(frozen=True)
class Result:
    """One hand-in, marked, or unreadable with its reason. `to_dict()` gives the entry of results.json."""

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

    def to_dict(self) -> dict:
        """The contract's entry: plain dicts, lists, numbers and text."""
        findings = [{key: value for key, value in asdict(one).items() if key != "moves"} for one in self.findings]
        return {
            "id": self.id, "file": self.file, "status": self.status, "reason": self.reason, "mark": self.mark,
            "criteria": {name: asdict(score) for name, score in (self.criteria or {}).items()},
            "caps": [dict(cap) for cap in self.caps],
            "measurements": [asdict(one) for one in self.measurements],
            "findings": findings,
            "notices": list(self.notices),
        }  # fmt: skip


@dataclass(frozen=True)
class Class:
    """All results of one exercise; `counting` is the one Result of each id that counts; `absent` the ids on the
    roster without a hand-in (None without a roster); `passed_over` (file, reason) for what is no hand-in."""

    exercise: str
    title: str
    rubric: Rubric
    results: tuple[Result, ...]
    counting: tuple[Result, ...]
    absent: tuple[str, ...] | None = None
    passed_over: tuple[tuple[str, str], ...] = ()


def mark(layout: Layout, exercise: Exercise, rubric: Rubric | None = None, file: str = "") -> Result:
    """Mark one layout; the exercise's own rubric unless another is given.

    Raises RigError when the layout says that it is for another exercise.

    Example: `mark(exercise.key, exercise).mark` is 100.0.
    """
    if layout.exercise and layout.exercise != exercise.id:
        raise RigError(f"a hand-in for {exercise.id}", f"one for {layout.exercise}",
                       "it was put into the wrong folder", "Hand it in where it belongs", file)  # fmt: skip
    layout, told = in_metres(layout, exercise)
    measurements = measure_all(layout, exercise)
    judged = judge(measurements, rubric or exercise.rubric)
    notices = (*layout.notices, *told, *judged.notices)
    return Result(layout.id, file, "marked", "", judged.mark, judged.criteria, judged.caps, measurements,
                  judged.findings, notices, layout.attempt)  # fmt: skip


def in_metres(layout: Layout, exercise: Exercise) -> tuple[Layout, tuple[str, ...]]:
    """Recognise a layout whose numbers are in another unit than it says: they fit the mesh only after conversion."""
    low, high = exercise.mesh.bounds
    room = ROOM * (high - low)
    places = layout.skeleton.positions

    def fits(factor: float) -> bool:
        return bool(np.all(places * factor >= low - room) and np.all(places * factor <= high + room))

    if not fits(1.0):
        for unit, factor in METRES.items():
            wide = len(places) > 1 and np.ptp(places, axis=0).max() * factor > 0.1 * room.max()
            if unit != "m" and fits(factor) and wide:
                told = f"The numbers fit the mesh only in {UNITS[unit]}; they were taken so and converted to metres."
                return replace(layout, skeleton=layout.skeleton.at(places * factor)), (told,)
    return layout, ()
