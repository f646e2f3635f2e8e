"""What anatomy says of limbs: facts read from `data/reference/*.csv`, each with its source and how it is known.

Nothing here marks a layout. A fact "from memory" is shown beside the others and never decides. Metres and radians.
"""

import csv
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike

from rigkit import require
from rigkit.require import RigError
from rigkit.tables import data_folder
from rigkit.tolerance import NO_LENGTH, ROUND_OFF

MEMORY = "from memory"
READ = ("read in the source", "quoted by another publication", "computed from a cited source", "common practice")
EVERY, SOME, NONE = "within every source's range", "within some sources' range", "beyond every source's range"

_JOINT = {f"{f} {n}": j for f in ("index", "middle", "ring", "little") for n, j in enumerate(("mcp", "pip", "dip"), 1)}
_JOINT |= {"thumb 1": "thumb_cmc", "thumb 2": "thumb_mcp", "thumb 3": "thumb_ip"}


@dataclass(frozen=True)
class Fact:
    """One row of a table. about: its first columns. numbers: one, or x, y, z; none where there is nothing to give."""

    about: tuple[str, ...]
    numbers: tuple[float, ...]
    unit: str
    source: str
    how_known: str
    note: str

    @property
    def value(self) -> float:
        """The row's one number, in its unit."""
        return self.numbers[0]


def read_facts(path: Path) -> tuple[Fact, ...]:
    """Read a table: first what a row is about, then value (or x, y, z), unit, source, how_known, note.

    Raises RigError, naming file and line, for other columns, a number that is none, a row without source or label.
    """
    try:
        head, *rows = csv.reader(path.read_text(encoding="utf-8").splitlines(), strict=True)
    except (OSError, ValueError, csv.Error) as error:
        got = getattr(error, "strerror", None) or str(error)
        raise RigError("comma-separated values in UTF-8", got, where=path.name) from None
    tail = (*(("x", "y", "z") if "x" in head else ("value",)), "unit", "source", "how_known", "note")
    if tuple(head[-len(tail) :]) != tail or len(set(head)) < len(head):
        raise RigError(f"columns that end in {', '.join(tail)}", ", ".join(head), where=path.name)
    found = []
    for line, row in enumerate(rows, 2):
        where = f"{path.name}, line {line}"
        if len(row) != len(head) or not row[-3].strip() or row[-2] not in (*READ, MEMORY):
            expected = f"{len(head)} cells, a source, and how it is known: {', '.join((*READ, MEMORY))}"
            raise RigError(expected, f"{len(row)} cells, {', '.join(map(require.shown, row[-3:-1]))}", where=where)
        about, cells = row[: -len(tail)], row[-len(tail) : -4]
        try:
            numbers = tuple(require.number(float(cell), where) for cell in cells if any(cells) or len(cells) == 1)
        except ValueError:  # a RigError is one too
            raise RigError("finite numbers", require.shown(cells), where=where) from None
        found.append(Fact(tuple(about), numbers, *row[-4:]))
    return tuple(found)


@cache
def facts(table: str) -> tuple[Fact, ...]:
    """The rows of a table of `data/reference`: segments, finger_bones, joint_centres, motion, folds or hanim."""
    known = sorted(path.stem for path in (data_folder() / "reference").glob("*.csv"))
    return read_facts(data_folder() / "reference" / f"{require.choice(table, 'a reference table', known)}.csv")


@dataclass(frozen=True)
class Span:
    """Least and most of what the sources say, in `unit`; `rows` holds them all, also those from memory."""

    least: float
    most: float
    unit: str
    rows: tuple[Fact, ...]


def _span(table: tuple[Fact, ...], pair: tuple[str, str]) -> Span:
    rows = tuple(row for row in table if row.about[:2] == pair)
    if not (values := [row.value for row in rows if row.how_known != MEMORY]):
        raise RigError("a value that was read somewhere", "values from memory alone", where=" ".join(pair))
    return Span(min(values), max(values), rows[0].unit, rows)


@cache
def _bones() -> tuple[Fact, ...]:
    """All segments, as shares of stature where the source gives the stature of the same people."""
    rows = facts("segments") + facts("finger_bones")
    tall = {(row.source, row.about[3]): row.value for row in rows if row.about[:2] == ("ground", "crown")}
    shares = {
        row: row.value / tall[who] for row in rows if row.unit == "mm" and (who := (row.source, row.about[3])) in tall
    }
    return tuple(replace(row, numbers=(shares[row],), unit="x stature") if row in shares else row for row in rows)


def segment(role_from: str, role_to: str) -> Span:
    """How long a segment is, as a share of stature (finger bones: mm), over all sources.

    Raises RigError naming the segments there are.

    >>> upper_arm = segment("shoulder", "elbow")
    >>> round(upper_arm.least, 6), round(upper_arm.most, 6), upper_arm.unit
    (0.158559, 0.191096, 'x stature')
    """
    pairs = dict.fromkeys(f"{row.about[0]} to {row.about[1]}" for row in _bones())
    require.choice(f"{role_from} to {role_to}", "a segment", pairs)
    return _span(_bones(), (role_from, role_to))


def range_of_motion(role: str, motion: str) -> Span:
    """How far a joint moves, degrees, least and most over the sources. role: "elbow", "index 2", or a joint's "pip".

    >>> elbow = range_of_motion("elbow", "flexion")
    >>> elbow.least, elbow.most
    (143.0, 160.0)
    """
    rows, joint = facts("motion"), _JOINT.get(role, role)
    require.choice(joint, "a joint with a range of motion", dict.fromkeys(row.about[0] for row in rows))
    motions = dict.fromkeys(row.about[1] for row in rows if row.about[0] == joint)
    require.choice(motion, f"a motion of the {joint}", motions)
    return _span(rows, (joint, motion))


def check_range(role: str, angle: float) -> tuple[str, str]:
    """A fold beside every source's range: the state (EVERY, SOME or NONE), and a sentence with degrees and sources.

    angle: radians from straight (ankle: from the foot square to the shank), positive the way the joint folds,
    negative beyond straight. The sources measured people, not toe-walkers or birds; rows from memory say nothing.
    Raises RigError for a joint or a way that no table knows.

    >>> check_range("knee", 2.4)[0]  # 137.5 degrees
    "within some sources' range"
    """
    degrees = math.degrees(require.number(angle, "a fold in radians", -math.pi, math.pi))
    ways = ("extension", "plantarflexion") if degrees < 0 else ("flexion", "dorsiflexion")
    known = {row.about[0]: row.about[1] for row in facts("motion") if row.about[1] in ways}
    joint = require.choice(_JOINT.get(role, role), f"a joint with a range of {' or '.join(ways)}", known)
    said: dict[bool, list[str]] = {True: [], False: []}
    for row in range_of_motion(joint, known[joint]).rows:
        if row.how_known != MEMORY:
            people = f", {row.about[2]}" if row.about[2] else ""
            short = re.split(r", | \(| '", row.source)[0]
            said[abs(degrees) <= row.value + 180 * ROUND_OFF].append(f"{row.value:g} ({short}{people})")
    state = EVERY if not said[False] else SOME if said[True] else NONE
    parts = "; ".join(f"{'within' if key else 'beyond'} {', '.join(said[key])}" for key in said if said[key])
    return state, f"{abs(degrees):.1f} degrees of {known[joint]} ({joint}), {state}: {parts}."


def folds(role: str, side: str = "left") -> Fact:
    """Which way a joint folds ("elbow", "knee", "index 2", "ankle": also a toe-walker's and a bird's).

    about: the joint, the way it folds, and the way it lies off its neighbours' line, opposite. numbers: the latter as
    a unit vector, world frame, where arm or leg hangs and the palm faces the thigh; none for the thumb, which has a
    plane of its own.

    >>> folds("elbow").about, folds("elbow").numbers
    (('elbow', 'forward', 'back'), (0.0, 0.0, -1.0))
    """
    rows = {row.about[0]: row for row in facts("folds")}
    row = rows[require.choice(_JOINT.get(role, role), "a joint that folds", rows)]
    mirrored = require.choice(side, "a side", ("left", "right")) == "right" and row.numbers
    return replace(row, numbers=(0.0 - row.numbers[0], *row.numbers[1:])) if mirrored else row


def joint_centres(role: str, landmarks: Mapping[str, ArrayLike]) -> tuple[tuple[np.ndarray, Fact], ...]:
    """Where anatomy puts a joint's centre: a place (3,) in metres and its rule, for each whose landmarks are there.

    landmarks: name -> (3,) metres. Raises RigError for a role without a rule, and where no rule has its landmarks.

    >>> elbow = {"lateral_epicondyle": [0.24, 1.1, 0], "medial_epicondyle": [0.18, 1.12, 0]}
    >>> place, rule = joint_centres("elbow", elbow)[0]
    >>> place.round(6).tolist(), rule.source[:16]
    ([0.21, 1.11, 0.0], 'Wu et al. 2005, ')
    """
    rules = [row for row in facts("joint_centres") if row.about[1]]
    require.choice(role, "a joint with a rule for its centre", dict.fromkeys(row.about[0] for row in rules))
    rules, found = [row for row in rules if row.about[0] == role], []
    for rule in rules:
        if all(name in landmarks for name in rule.about[1:]):
            start, end = (require.vector(landmarks[name], f"landmark {name}") for name in rule.about[1:])
            found.append((require.frozen(start + rule.value * (end - start)), rule))
    if not found:
        need = ", or ".join(" and ".join(dict.fromkeys(rule.about[1:])) for rule in rules)
        raise RigError(f"the landmarks {need}", ", ".join(sorted(landmarks)) or "none", where=f"the {role}'s centre")
    return tuple(found)


@dataclass(frozen=True)
class Proportion:
    """A bone beside one source: `share` and what the `table` says, both shares of `whole`; `deviation` in percent."""

    bone: tuple[str, str]
    share: float
    table: float
    deviation: float
    whole: str
    people: str
    source: str


def proportions(places: Mapping[str, ArrayLike], stature: float | None = None) -> tuple[Proportion, ...]:
    """Each bone's length beside every source that has it, without an opinion.

    places: role -> (3,) metres. stature: metres, if known: then shares are of it wherever a source knows it, else of
    the bones that the layout and that source share in the same limb, two or more. Raises RigError where all coincide.

    >>> arm = {"shoulder": [0, 0.332, 0], "elbow": [0, 0.146, 0], "wrist": [0, 0, 0]}
    >>> first = proportions(arm, stature=1.0)[0]
    >>> first.bone, round(first.share, 6), round(first.deviation, 6)
    (('shoulder', 'elbow'), 0.186, 0.0)
    """
    spots = {role: require.vector(place, f"the place of {role}") for role, place in places.items()}
    tall = None if stature is None else require.number(stature, "the stature", 0.01, 100.0)
    wholes: dict[tuple[str, str, str], list[Fact]] = {}
    for row in _bones():
        start, end, limb, people = row.about
        if limb and row.how_known != MEMORY and start in spots and end in spots:
            whole = "stature" if tall is not None and row.unit == "x stature" else limb
            wholes.setdefault((row.source, people, whole), []).append(row)
    found = []
    for (source, people, whole), rows in wholes.items():
        lengths = [math.dist(spots[row.about[0]], spots[row.about[1]]) for row in rows]
        lone, ours, theirs = len(rows) == 1, sum(lengths), sum(row.value for row in rows)
        if whole == "stature" and tall is not None:
            lone, ours, theirs = False, tall, 1.0
        elif ours < NO_LENGTH:
            raise RigError("joints apart from each other", "joints that all coincide", where=f"the {whole}")
        for row, length in zip(rows, lengths, strict=True) if not lone else ():
            share, table = length / ours, row.value / theirs
            bone = (row.about[0], row.about[1])
            found.append(Proportion(bone, share, table, 100 * (share / table - 1), whole, people, source))
    return tuple(found)
