"""A class at scale: arms with hands marked with pages by the command line, 10 to 1,000 of them, or as many as are asked.

Run `python -m tests.bench.class_scale [MOST] [JOBS]`. Times are of the clock and of all processors together, since other
work on the machine slows the first alone; memory is the largest of any one process at its peak.
"""

import os
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from rigkit.files.exercise import Exercise, read_exercise
from rigkit.files.layout import Layout, write_layout
from rigkit.limbs import practice_limb
from rigkit.make_exercise import make_exercise
from rigkit.marking import mark
from rigkit.skeleton import Skeleton
from tests.arms import FOLDER

KILO = 1024 if sys.platform.startswith("linux") else 1024**2  # ru_maxrss is in kB there, in bytes on macOS
SIZES = (10, 100, 1000, 10_000)
RATE = 60  # hand-ins of which the marking alone is timed


def hand_in(exercise: Exercise, number: int, radii: np.ndarray) -> Skeleton:
    """The joints of one student: an eye of their own, each joint as far off as that and its limb's thickness say; one
    student in five leaves out the side, one in eight puts the elbow before the arm."""
    assert exercise.key is not None
    key, chance = exercise.key.skeleton, np.random.default_rng((7, number))
    eye = chance.gamma(2.0, 0.035)  # of a radius; marks allow 0.2
    places = key.positions + chance.normal(0.0, eye, key.positions.shape) * radii[:, None]
    if chance.random() < 0.125:
        places[1] -= [0.0, 0.0, 1.8 * (key.positions[1, 2] - key.positions[[0, 2], 2].mean())]
    names = key.names if chance.random() > 0.2 else tuple(name.removeprefix("left_") for name in key.names)
    return Skeleton(names, key.parents, np.round(places, 5))


def write_class_of(folder: Path, exercise: Exercise, count: int) -> None:
    """So many hand-ins in a folder."""
    assert exercise.key is not None
    told = {one.joint: one.value for one in mark(exercise.key, exercise).measurements if one.measure == "radius"}
    radii = np.array([float(told.get(joint.role, 8.0)) / 1000 for joint in exercise.joints])
    folder.mkdir()
    for number in range(count):
        name = f"student-{number:05}"
        layout = Layout(name, exercise.id, 1, hand_in(exercise, number, radii))
        (folder / f"{name}.json").write_text(write_layout(layout), "utf-8")


def run(folder: Path, exercise: Path, out: Path, jobs: int) -> tuple[float, float, float]:
    """Seconds of the clock, of all processors together, and MB of the largest process, of one `mark`."""
    begun = time.perf_counter()
    process = os.posix_spawn(sys.executable, [
        sys.executable, "-m", "rigkit", "mark", str(folder), "--exercise", str(exercise), "--out", str(out), "--jobs",
        str(jobs)], {**os.environ, "OMP_NUM_THREADS": "1"}, file_actions=[
            (os.POSIX_SPAWN_OPEN, 1, os.devnull, os.O_WRONLY, 0)])  # fmt: skip
    _, status, used = os.wait4(process, 0)
    if status:
        raise SystemExit(f"mark ended with {status}")
    return time.perf_counter() - begun, used.ru_utime + used.ru_stime, used.ru_maxrss / KILO


def rates(exercise: Exercise, what: str) -> Iterator[str]:
    """How many hand-ins of an exercise a second of one processor marks, without and with the marks after each mend.

    Each hand-in is new: what is remembered from before is of the exercise, of names and of others' hand-ins."""
    assert exercise.key is not None
    told = {one.joint: one.value for one in mark(exercise.key, exercise).measurements if one.measure == "radius"}
    radii = np.array([float(told.get(joint.role, 8.0)) / 1000 for joint in exercise.joints])
    layouts = [Layout("x", exercise.id, 1, hand_in(exercise, number, radii)) for number in range(3 * RATE)]
    for number, one in enumerate(layouts[2 * RATE :]):  # whatever is imported or worked out but once
        mark(one, exercise, after=number % 10 == 0)
    for after in (False, True):
        some = layouts[RATE * after : RATE * (after + 1)]  # none twice: places that were measured are remembered
        begun = time.process_time()
        found = sum(len(mark(one, exercise, after=after).findings) for one in some)
        each = (time.process_time() - begun) / RATE
        words = "with the mark after each mend" if after else "marking alone"
        yield f"| {what}, {words} | {1 / each:.0f} a second of a core | {found / RATE:.1f} findings each |"


def main(most: int = 1000, jobs: int = 2) -> None:
    """Print both tables."""
    with tempfile.TemporaryDirectory() as place:
        here = Path(place)
        exercise = read_exercise(make_exercise(here / "exercise", practice_limb("arm", 5)))
        print(f"load {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores\n\n| what | rate | |\n|---|---|---|")
        hand = f"arm with hand, {len(exercise.joints)} joints"
        for one, what in ((read_exercise(FOLDER), "arm, 3 joints"), (exercise, hand)):
            for row in rates(one, what):
                print(row, flush=True)
        print("\n| hand-ins | clock, s | processors, s | each more, ms of a processor | largest process, MB "
              "| each more, kB |\n|---|---|---|---|---|---|", flush=True)  # fmt: skip
        before = (0, 0.0, 0.0)
        for count in [size for size in SIZES if size <= most]:
            write_class_of(here / str(count), exercise, count)
            clock, used, memory = run(here / str(count), here / "exercise", here / f"out{count}", jobs)
            each, more = (count - before[0]) / 1000, before[0] > 0
            print(f"| {count} | {clock:.1f} | {used:.1f} | {(used - before[1]) / each if more else 0:.1f} | {memory:.0f} "
                  f"| {(memory - before[2]) / each if more else 0:.0f} |", flush=True)  # fmt: skip
            before = (count, used, memory)
        print(f"\nload {os.getloadavg()[0]:.1f}")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
