"""The same mark for the same work, wherever it stands and however it is written: rows of what was changed and whether
marks, scores, caps, findings and costs stayed."""

import json
import re
import tempfile
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

import numpy as np

from rigkit.classroom import mark_class
from rigkit.files.layout import METRES, Axes, Layout, read_layout
from rigkit.limbs import practice_limb
from rigkit.make_exercise import make_exercise
from rigkit.marking import mark
from tests.arms import as_file, carried
from tests.proof.ground import ground, numbers
from tests.proof.student import beginning
from tests.shapes import random_frame

ROUND_OFF = 1e-4  # mm: what was measured is rounded to 1e-6, and lies a few steps of float64 on metres apart
AXES = [Axes(units, up, facing) for units in METRES for up, facing in (("+y", "+z"), ("+z", "-y"), ("+y", "-z"))]
JOBS = (1, 2, 3)


def said(result, label=lambda name: name) -> tuple[list, list[float]]:
    """What must be the same to the letter, each finding's message and mend as well, and the measured numbers in the same
    order. A joint's number in a label goes with the order of joints."""

    def plain(text: str) -> str:
        return label(re.sub(r" \(joint \d+\)", "", text))

    rows = sorted((one.finding, plain(one.joint), one.cost, plain(one.message), plain(one.mend),
                   0.0 if isinstance(one.measured, str) else one.measured) for one in result.findings)  # fmt: skip
    scores = {name: one.judged and round(one.score, 5) for name, one in result.criteria.items()}
    words = [result.mark, scores, [cap["finding"] for cap in result.caps], [row[:5] for row in rows]]
    return words, [row[5] for row in rows]


def file_of(layout: Layout, axes: Axes, chance) -> bytes:
    """The layout as a file in other units and axes, its joints and all keys in another order."""
    skeleton = as_file(layout.skeleton, axes)
    order = chance.permutation(len(skeleton)).tolist()
    joints = [{"name": skeleton.names[old], "position": skeleton.positions[old].tolist(), "rotation": None,
               "parent": None if skeleton.parents[old] is None else order.index(skeleton.parents[old])}
              for old in order]  # fmt: skip
    table = {"format": "rigkit-layout", "version": 1, "id": "wren", "exercise": layout.exercise, "attempt": 1,
             "units": axes.units, "up": axes.up, "facing": axes.facing,
             "joints": [_shuffled(joint, chance) for joint in joints]}  # fmt: skip
    return json.dumps(_shuffled(table, chance)).encode()


def _shuffled(table: dict, chance) -> dict:
    keys = list(table)
    return {keys[i]: table[keys[i]] for i in chance.permutation(len(keys))}


def examine(kind: str, seed: int, count: int | Iterable[int]) -> list[dict]:
    """So many wrong hand-ins of one limb, each carried, mirrored, and written in another way."""
    left, right, rows = ground(kind, seed, "left"), ground(kind, seed, "right"), []
    for number in numbers(count):
        chance = np.random.default_rng([seed, number, 8])
        layout = beginning(left, chance).hand_in()
        plain = said(mark(layout, left.exercise))
        frame = random_frame(int(chance.integers(2**31)), reach=3.0)
        carried_one = replace(layout, skeleton=layout.skeleton.transformed(frame))
        axes = AXES[int(chance.integers(len(AXES)))]
        written = read_layout(file_of(layout, axes, chance), "wren.json")
        ways = {
            "rigid motion": said(mark(carried_one, carried(left.exercise, frame))),
            "mirrored, sides swapped": said(mark(_mirrored(layout, right), right.exercise), swapped),
            "units, axes, order of joints and keys": said(mark(written, left.exercise)),
        }
        for way, (words, values) in ways.items():
            same = words == plain[0] and np.allclose(values, plain[1], rtol=0, atol=ROUND_OFF)
            rows.append({"kind": kind, "seed": seed, "number": number, "way": way, "same": same,
                         "marks": [plain[0][0], words[0]], "said": (plain, (words, values))})  # fmt: skip
    return rows


SWAP = {"left": "right", "LEFT": "RIGHT", "l": "r"}
SWAP |= {other: one for one, other in SWAP.items()}


def swapped(name: str) -> str:
    """A name, or words about one, for the other side; "up to 5 mm is right" stays."""
    return re.sub(r"left|(?<!is )right|LEFT|RIGHT|\b[lr](?=_)|(?<=not )[lr]\b", lambda found: SWAP[found[0]], name)


def _mirrored(layout: Layout, right) -> Layout:
    skeleton = replace(layout.skeleton, names=tuple(map(swapped, layout.skeleton.names)),
                       positions=layout.skeleton.positions * [-1.0, 1.0, 1.0])  # fmt: skip
    return replace(layout, skeleton=skeleton, exercise=right.exercise.id)


def with_jobs(kind: str, seed: int, count: int) -> list[dict]:
    """One class of such hand-ins, marked by one process and by several."""
    limb = ground(kind, seed, "left")
    with tempfile.TemporaryDirectory() as place:
        folder, handins = make_exercise(Path(place) / "limb", practice_limb(kind, seed, "left")), Path(place) / "class"
        handins.mkdir()
        for number in range(count):
            chance = np.random.default_rng([seed, number, 9])
            data = file_of(beginning(limb, chance).hand_in(), AXES[number % len(AXES)], chance)
            (handins / f"student{number}.json").write_bytes(data)
        told = [[one.to_dict() for one in mark_class([handins], folder, jobs=jobs).results] for jobs in JOBS]
    return [{"kind": kind, "seed": seed, "number": number, "way": "number of jobs",
             "same": all(other[number] == one for other in told), "marks": [other[number]["mark"] for other in told]}
            for number, one in enumerate(told[0])]  # fmt: skip


def differing(rows: list[dict]) -> list[str]:
    """What was not the same."""
    return [f"{row['way']}: {row['kind']} {row['seed']} hand-in {row['number']}: {row['marks']}"
            for row in rows if not row["same"]]  # fmt: skip
