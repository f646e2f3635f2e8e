"""Classes of honest students, each with habits and errors of their own, and copies planted in them: Results of one limb.

`python -m tests.honest CLASSES STUDENTS EXERCISE...` counts false and found pairs; the tests run a sample of it.
"""

import sys
from dataclasses import replace
from functools import cache

import numpy as np

from rigkit.copies import copies
from rigkit.files.exercise import Exercise, read_exercise
from rigkit.files.layout import Layout
from rigkit.marking import Class, Result
from rigkit.measures import measure_all
from rigkit.measures.base import own
from rigkit.skeleton import Skeleton
from tests.arms import PROJECT

STYLES = ("{}", "{}", "{}", "{}", "{}", "{}", "l_{}", "{}_l", "{}.L", "{}_left", "L{}")
WAYS = ("as it is", "shifted", "mirrored", "renamed", "one changed", "nudged")


@cache
def exercise(name: str) -> Exercise:
    """One of the bundled exercises."""
    return read_exercise(PROJECT / "data" / "exercises" / name)


def honest_class(name: str, count: int, seed: int) -> Class:
    """So many honest students on a bundled exercise; classes differ in what misleads them, and in where they work."""
    asked, chance = exercise(name), np.random.default_rng([seed, count])
    starts = [asked.start(path.stem.removeprefix("start-")).skeleton.positions
              for path in sorted(asked.folder.glob("start-*.json"))]  # fmt: skip
    common = {
        "bias": 0.5 * chance.normal(size=(len(asked.joints), 3)), "follows": chance.choice([0.0, 0.3, 0.7]),
        "halfway": chance.choice([0.0, 0.0, 0.05, 0.2]), "starts": starts if chance.uniform() < 0.8 else [],
    }  # fmt: skip
    return as_class(asked, [_student(asked, chance, common) for _ in range(count)])


def _student(asked: Exercise, chance: np.random.Generator, common: dict) -> Skeleton:
    """One student's joints. Each has an own share of skill, and some share what the mesh misleads a class to. Some work
    at the bench, from a start, in steps, and leave joints or axes as they were; some in another program."""
    roles, key = [joint.role for joint in asked.joints], asked.key.skeleton
    middles = np.array([own(asked)[role].middle for role in roles])
    radii = np.array([own(asked)[role].radius or 0.02 for role in roles])
    places = middles + chance.lognormal(np.log(0.18), 0.8) * radii[:, None] * chance.normal(size=middles.shape)
    for joint, role in enumerate(roles):
        stretch = asked.asked(role).stretch
        if stretch is not None and chance.uniform() < 0.7:
            places[joint] += chance.uniform(-0.5, 0.5) * (stretch[1] - stretch[0])
        if chance.uniform() < 0.15:  # a blunder
            places[joint] += radii[joint] * chance.normal(size=3)
        if chance.uniform() < common["follows"]:
            places[joint] += common["bias"][joint] * radii[joint] + 0.003 * chance.normal(size=3)
    if chance.uniform() < 0.05:  # all of it beside the limb
        places += 0.02 * chance.normal(size=3)
    if common["starts"] and chance.uniform() < 0.7:
        places = _at_the_bench(places, middles, key.parents, chance, common)
    return Skeleton(tuple(_names(key.names, chance)), key.parents, np.round(places, 5))


def _at_the_bench(places: np.ndarray, middles: np.ndarray, parents, chance, common: dict) -> np.ndarray:
    """What becomes of places when they are reached from a start by sliders."""
    start = common["starts"][int(chance.integers(len(common["starts"])))]
    step = chance.choice([0.001, 0.001, 0.001, 0.0005, 0.0002])
    left = chance.uniform(size=places.shape) < chance.choice([0.0, 0.1, 0.3, 0.6])
    left[chance.uniform(size=len(places)) < chance.choice([0.0, 0.1, 0.4])] = True
    moves = np.where(left, 0.0, np.round((places - start) / step) * step)
    if chance.uniform() < 0.15:  # joints went along with the one above, and were left there
        kept = chance.uniform(size=len(places)) < 0.5
        for joint, parent in enumerate(parents):
            if parent is not None and kept[joint]:
                moves[joint] = moves[parent]
    places = start + moves
    if chance.uniform() < 0.1:  # some joints put to the middle to the last digit, as a mend tells
        snapped = chance.uniform(size=len(places)) < 0.5
        places[snapped] = middles[snapped]
    if chance.uniform() < common["halfway"]:  # of each mend that was told the largest part only, to the millimetre
        told = np.round(middles - start, 3)
        first = np.abs(told) == np.abs(told).max(axis=1, keepdims=True)
        done = chance.uniform(size=len(places)) < 0.7
        places = np.where(done[:, None], start + told * first, places)
    return places


def _names(right: tuple[str, ...], chance: np.random.Generator) -> list[str]:
    """The names of one student: a style, and now and then a letter left out."""
    style, names = STYLES[int(chance.integers(len(STYLES)))], []
    for name in right:
        if style != "{}":
            name = style.format(name.removeprefix("left_"))
        if chance.uniform() < 0.05:
            letter = int(chance.integers(1, len(name) - 1))
            name = name[:letter] + name[letter + 1 :]
        names.append(name)
    return names


def as_class(asked: Exercise, joints: list[Skeleton]) -> Class:
    """A class of such hand-ins, s000 and so on."""
    results = tuple(measured(asked, f"s{number:03}", one) for number, one in enumerate(joints))
    return Class(asked.id, asked.title, asked.rubric, results, results, asked=asked)


def measured(asked: Exercise, name: str, joints: Skeleton) -> Result:
    """A layout as the class knows it: measured, without a mark."""
    rows = measure_all(Layout(name, asked.id, 1, joints), asked)
    return Result(name, f"{name}.json", "marked", mark=0.0, measurements=rows, skeleton=joints)


def planted(room: Class, original: int, how: str, chance: np.random.Generator) -> Class:
    """The class and one hand-in more, called copy, made from one that is there: as it is, shifted as a whole by 3 to 12
    mm, mirrored, renamed, with one joint changed by 15 mm, or each joint nudged by a step or none on each axis."""
    asked, joints = room.asked, room.counting[original].skeleton
    match how:
        case "shifted":
            joints = joints.at(joints.positions + 0.001 * chance.uniform(3, 12) * _way(chance))
        case "mirrored":
            joints = joints.mirrored(np.zeros(3), asked.body[0])
        case "renamed":
            joints = replace(joints, names=asked.key.skeleton.names)
        case "one changed":
            one = int(chance.integers(len(joints)))
            joints = joints.moved(one, joints.positions[one] + 0.015 * _way(chance))
        case "nudged":
            joints = joints.at(joints.positions + 0.001 * chance.integers(-1, 2, size=joints.positions.shape))
    results = (*room.counting, measured(asked, "copy", joints))
    return replace(room, results=results, counting=results)


def _way(chance: np.random.Generator) -> np.ndarray:
    way = chance.normal(size=3)
    return way / np.linalg.norm(way)


def counted(name: str, count: int, seeds: range) -> dict:
    """How many honest classes hold a false pair, of how many students nothing can be told; and for each way of copying
    how many were found, how many of those of whom something can be told, and how many those are."""
    table = {"false": [], "untold": 0, **{way: [0, 0, 0] for way in WAYS}}
    for seed in seeds:
        room, chance = honest_class(name, count, seed), np.random.default_rng([seed, 1])
        found = copies(room)
        table["false"] += [f"{seed}: {found.pairs[0].words}"] if found.pairs else []
        table["untold"] += len(found.untold)
        for way in WAYS:
            original = int(chance.integers(count))
            whose = room.counting[original].id
            hit = any({one.first, one.second} == {whose, "copy"}
                      for one in copies(planted(room, original, way, chance)).pairs)  # fmt: skip
            told = whose not in found.untold
            table[way] = [a + b for a, b in zip(table[way], (hit, hit and told, told), strict=True)]
    return table


if __name__ == "__main__":
    classes, size = int(sys.argv[1]), int(sys.argv[2])
    for exercise_name in sys.argv[3:]:
        got = counted(exercise_name, size, range(classes))
        print(f"{exercise_name}: {len(got['false'])} of {classes} honest classes of {size} hold a pair; cannot tell for "
              f"{got['untold']} of {classes * size}", *got["false"], sep="\n  ")  # fmt: skip
        for way in WAYS:
            print(
                f"  {way}: {got[way][0]} of {classes} found; {got[way][1]} of {got[way][2]} that can be told",
                flush=True,
            )
