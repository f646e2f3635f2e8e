"""Other numbers in a rubric, and a class marked again by them from its measurements alone: who changes, and why.

No mesh is cut and no hand-in read: what was measured once is judged as often as a rubric changes. What changes is the
rubric's text, which is read as any rubric is, so that the marks shown are the marks that its file will give.
"""

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from tempfile import TemporaryDirectory

from rigkit.files.exercise import Exercise
from rigkit.files.rubrics import Rubric, read_finding_kinds, read_rubric
from rigkit.marking import Class, Result
from rigkit.measures import Measurement
from rigkit.require import RigError, choice
from rigkit.rubric import judge
from rigkit.rubric_place import agree
from rigkit.tables import data_folder
from rigkit.word import Word, with_words

TABLE, NUMBER = re.compile(r"\s*\[([^\[\]]+)\]"), re.compile(r"(\s*([A-Za-z0-9_-]+)\s*=\s*)[-+.\w]+(.*)")
CAME, WENT, STAYED = "is new", "is gone", "takes"
SEEN = 0.005  # points: costs are kept to 0.01, so less is no change


@dataclass(frozen=True)
class Sheet:
    """What a rubric needs to know of a hand-in: the student's id, what was measured, the criteria that its file cannot
    be judged by, and the instructor's words, which hold under any rubric."""

    id: str
    measurements: tuple[Measurement, ...]
    unjudged: tuple[str, ...] = ()
    words: tuple[Word, ...] = ()


@dataclass(frozen=True)
class Reason:
    """A part of a change: the finding, its joints (none: the limit that it sets), whether it came, went or stayed, the
    points that this gives back (below 0: takes), and all of it in words."""

    finding: str
    joints: tuple[str, ...]
    how: str
    points: float
    words: str


@dataclass(frozen=True)
class Change:
    """A student whose mark changes: before, after (None: no mark), and the reasons, those that matter most first."""

    id: str
    before: float | None
    after: float | None
    reasons: tuple[Reason, ...] = field(default=())


def sheets(room: Class, words: Mapping[str, tuple[Word, ...]] | None = None) -> tuple[Sheet, ...]:
    """The sheets of a class: of each id the hand-in that counts, where it could be read. room: marked without words,
    so that its own scores tell what a file cannot be judged by; words: the instructor's, by id."""
    made = []
    for one in room.counting:
        if one.measurements and one.criteria is not None:
            told = judge(one.measurements, room.rubric, mends=False).criteria
            gone = tuple(name for name, score in told.items()
                         if score.score is not None and one.criteria[name].score is None)  # fmt: skip
            made.append(Sheet(one.id, one.measurements, gone, (words or {}).get(one.id, ())))
    return tuple(made)


def marked_again(papers: Iterable[Sheet], rubric: Rubric, mends: bool = True) -> dict[str, Result]:
    """Each sheet judged by a rubric, by id: mark, scores, caps and findings as marking the files would give them.

    mends: whether the findings say how to mend a place; without, it is quicker.

    Without a mark where the rubric weighs nothing that the file can be judged by.
    """
    results = {}
    for paper in papers:
        done = judge(paper.measurements, rubric, paper.unjudged, mends)
        nothing = bool(paper.unjudged) and not any(score.judged for score in done.criteria.values())
        one = Result(paper.id, "", "unreadable" if nothing else "marked", "", None if nothing else done.mark,
                     done.criteria, done.caps, paper.measurements, done.findings, done.notices)  # fmt: skip
        results[paper.id] = with_words(one, paper.words) if paper.words else one
    return results


def changes(before: Mapping[str, Result], after: Mapping[str, Result]) -> tuple[Change, ...]:
    """Who has another mark after than before, in the order of before, each with the reasons."""
    return tuple(Change(name, one.mark, after[name].mark, _reasons(one, after[name])) for name, one in before.items()
                 if name in after and one.mark != after[name].mark)  # fmt: skip


def _reasons(old: Result, new: Result) -> tuple[Reason, ...]:
    """What changed, finding by finding; joints with the same change of the same finding are told together."""
    was, now = _costs(old), _costs(new)
    told: dict[tuple[str, str, bool], list[tuple[str, float, float]]] = {}
    for finding, joint in dict.fromkeys((*was, *now)):
        key = finding, joint
        how = CAME if key not in was else WENT if key not in now else STAYED
        before, after = was.get(key, 0.0), now.get(key, 0.0)
        if how != STAYED or abs(before - after) > SEEN:
            told.setdefault((finding, how, joint is None), []).append((joint or "", before, after))
    reasons = []
    for (finding, how, limit), rows in told.items():
        title, joints = read_finding_kinds()[finding].title, tuple(joint for joint, _, _ in rows)
        before, after = sum(row[1] for row in rows), sum(row[2] for row in rows)
        about = f"The limit for {title.lower()}" if limit else f"{title} ({', '.join(joints)})"
        what = {CAME: f"{how}, takes {_points(after)}", WENT: f"{how}, gives back {_points(before)}",
                STAYED: f"{how} {_points(after)}, before {_points(before)}"}[how]  # fmt: skip
        reasons.append(Reason(finding, () if limit else joints, how, round(before - after, 2) + 0.0, f"{about} {what}"))
    return tuple(sorted(reasons, key=lambda one: -abs(one.points)))


def _points(cost: float) -> str:
    return f"{cost:.1f}" if cost >= 0.1 else f"{cost:.2f}"


def _costs(result: Result) -> dict[tuple[str, str | None], float]:
    """What each finding of a joint costs, and what each cap takes (under no joint)."""
    costs: dict[tuple[str, str | None], float] = {}
    for one in result.findings:
        costs[one.finding, one.joint] = costs.get((one.finding, one.joint), 0.0) + one.cost
    return costs | {(cap["finding"], None): cap["took"] for cap in result.caps if cap["took"] > 0}


def grade(mark: float | None, grades: Mapping[str, float]) -> str:
    """The grade whose least mark is the highest that is reached; "none" where there is no such.

    >>> grade(69.9, {"A": 85, "B": 70, "C": 55})
    'C'
    """
    reached = [name for name, least in grades.items() if mark is not None and mark >= least]
    return max(reached, key=lambda name: grades[name]) if reached else "none"


def rubric_text(rubric: str | Path) -> str:
    """The text of a rubric's file, or of a bundled one by its name. Raises RigError where it is no rubric."""
    read_rubric(rubric)
    path = Path(rubric)
    bundled = path.suffix == "" and path.name == str(path)
    return (data_folder() / "rubrics" / f"{path.name}.toml" if bundled else path).read_text(encoding="utf-8-sig")


def with_numbers(text: str, numbers: Mapping[str, float], name: str = "", head: Sequence[str] = ()) -> str:
    """A rubric's text with other numbers, by "table.key" such as "weights.names"; the remarks beside them stay.

    name: the new rubric's id and title; head: what takes the place of the remarks at the top.

    >>> with_numbers("[weights]\\nnames = 15  # of 100\\n", {"weights.names": 30.0})
    '[weights]\\nnames = 30  # of 100\\n'
    """
    lines, table = list[str](), ""
    left = {key: f"{number:.6g}" for key, number in numbers.items()}
    for line in text.splitlines():
        if head_of := TABLE.match(line):
            table = head_of.group(1).strip()
        elif (found := NUMBER.match(line)) and (key := f"{table}.{found.group(2)}") in left:
            line = f"{found.group(1)}{left.pop(key)}{found.group(3)}"
        elif name and not table and (said := re.match(r"\s*(id|title)\s*=", line)):
            line = f'{said.group(1)} = "{name if said.group(1) == "id" else name.replace("-", " ").capitalize()}"'
        lines.append(line)
    for key, digits in left.items():  # not there yet: a criterion that had no weight, a finding that had no cap
        table, _, entry = key.partition(".")
        place = next((i for i, line in enumerate(lines) if line.strip().startswith(f"[{table}]")), None)
        if place is None:
            lines += ["", f"[{table}]"]
            place = len(lines) - 1
        lines.insert(place + 1, f"{entry} = {digits}")
    if head:
        first = next((i for i, line in enumerate(lines) if not line.startswith("#")), len(lines))
        lines[:first] = [f"# {line}" for line in head]
    return "\n".join(lines) + "\n"


def rubric_from(text: str, exercise: Exercise | None = None, name: str = "rubric.toml") -> Rubric:
    """A rubric from its text, read as its file would be. Raises RigError where it contradicts itself, on an exercise
    too where one is given."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / name
        path.write_text(text, encoding="utf-8", newline="\n")
        rubric = read_rubric(path)
    if exercise is not None:
        agree(exercise, rubric)
    return rubric


def number_of(rubric: Rubric, key: str) -> float | None:
    """A number of a rubric by "table.key"; None where it has none, as a finding without a cap.

    >>> number_of(read_rubric("standard"), "caps.bends-wrong-way")
    50.0
    """
    table, _, entry = key.partition(".")
    if table == "weights":
        return rubric.weights[choice(entry, "a criterion", tuple(rubric.weights))]
    if table == "caps":
        cap = rubric.caps.get(choice(entry, "a finding", tuple(read_finding_kinds())))
        return None if cap is None else float(cap)
    return rubric.values[choice(key, "a number of the rubric", tuple(rubric.values))]


def retuned(text: str, numbers: Mapping[str, float], exercise: Exercise | None = None, name: str = "",
            head: Sequence[str] = ()) -> tuple[str, Rubric]:  # fmt: skip
    """The text of a rubric with other numbers, and the rubric that it is. Raises RigError where it contradicts itself,
    or where the text does not take a number, as one that has all of a table in one line."""
    new = with_numbers(text, numbers, name, head)
    rubric = rubric_from(new, exercise, f"{name or 'rubric'}.toml")
    for key, number in numbers.items():
        if (got := number_of(rubric, key)) is None or abs(got - number) > 1e-5 * max(1.0, abs(number)):
            raise RigError(
                f"a line for {key}", "the rubric says it in another form", next_step="Write one number a line"
            )
    return new, rubric
