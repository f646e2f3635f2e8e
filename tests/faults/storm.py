"""A storm of hostile hand-ins, marked by the command as it is: nothing may crash, hang, grow, get out or get lost.

`python -m tests.faults.storm [COUNT] [JOBS] [SEED]` marks so many (100,000) in batches, JOBS batches at a time, and prints a
row for each kind, also after Ctrl+C; `python -m tests.faults.storm --only BATCH [SEED] FOLDER` writes one batch's hand-ins.
A batch is `rigkit mark` on a folder of 500, in a process of its own that notes what is opened, how long each hand-in
takes and how much memory; after it results, pages and table are looked through. A sample runs as a test.
"""

import csv
import json
import random
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from pathlib import Path

from rigkit.files.exercise import read_exercise
from rigkit.gathered import shown_name
from rigkit.own_limbs import write_own_limbs
from tests.arms import FOLDER, PROJECT
from tests.faults.storm_changes import TEXTS
from tests.faults.storm_files import KINDS, Made, made
from tests.faults.storm_watch import HIDDEN, wrong_in

BATCH, COUNT, SEED = 500, 100_000, 1
ARM = "left-arm"  # batches are for these exercises in turn:
EXERCISES = (*(ARM, ARM, ARM, ARM, "left-leg", "both-arms", "left-finger") * 3, "own", "left-hand")
MOST_SECONDS, MOST_MEGABYTES = 2.0, 1000.0  # of processor time for one hand-in and its page; of one process
PATIENCE = 600  # seconds for a batch, which takes 10 to 60
AGAIN = 20  # each of so many batches is marked a second time, by two processes, for the same bytes


@dataclass
class Told:
    """What a batch, or a kind of hand-in in it, came to."""

    count: int = 0
    marked: int = 0
    refused: int = 0
    seconds: float = 0.0
    megabytes: float = 0.0
    failures: list[str] = field(default_factory=list)

    def add(self, other: "Told") -> None:
        """Take in another."""
        self.count += other.count
        self.marked += other.marked
        self.refused += other.refused
        self.seconds, self.megabytes = max(self.seconds, other.seconds), max(self.megabytes, other.megabytes)
        self.failures += other.failures


def storm(count: int, jobs: int = 1, seed: int = SEED) -> Iterator[dict[str, Told]]:
    """Mark so many hand-ins; for each batch what each kind came to, and under "batches" what can be said of none of them."""
    with tempfile.TemporaryDirectory() as home, ThreadPoolExecutor(jobs) as pool:
        write_own_limbs(Path(home) / "own", "arm", "left", "salt", ("shoulder", "elbow", "wrist"))
        numbers = range(-(-count // BATCH))
        try:
            yield from pool.map(lambda n: one_batch(Path(home), n, min(BATCH, count - n * BATCH), seed), numbers)
        finally:
            pool.shutdown(cancel_futures=True)


def lay(folder: Path, batch: int, count: int, seed: int, home: Path) -> tuple[list[Made], Path, list[str]]:
    """Write a batch's hand-ins and its roster; them, the exercise's folder, and what more the command is given."""
    chance = random.Random(f"{seed} batch {batch}")
    name = EXERCISES[batch % len(EXERCISES)]
    exercise = home / "own" if name == "own" else PROJECT / "data" / "exercises" / name
    key = read_exercise(exercise).key if name != "own" else replace(read_exercise(FOLDER).key, exercise="own-left-arm")
    files = [made(seed, batch * BATCH + number, key) for number in range(count)]
    for one in files:
        one.put(folder / "in")
    with (folder / "roster.csv").open("w", encoding="utf-8", errors="replace", newline="") as file:
        csv.writer(file).writerows(
            [["id"], *([text] for text in chance.choices(TEXTS, k=12)), *([f"id{n}"] for n in range(50))]
        )
    more = ["--roster", str(folder / "roster.csv")] if chance.random() < 0.6 else []
    more += ["--aliases"] if chance.random() < 0.2 else []
    more += ["--id-pattern", chance.choice(("{id}_{attempt}", "{any}/{id}", "s{id}"))] if chance.random() < 0.2 else []
    return files, exercise, more


def one_batch(home: Path, batch: int, count: int, seed: int) -> dict[str, Told]:
    """Mark one batch; what each kind came to."""
    folder = home / f"batch{batch}"
    folder.mkdir()
    files, exercise, more = lay(folder, batch, count, seed, home)
    before, out, report = _seen(folder / "in"), folder / "out", folder / "report.json"
    words = ["mark", str(folder / "in"), "--exercise", str(exercise), "--out", str(out), *more]
    call = [
        sys.executable,
        "-c",
        "import sys; from tests.faults.storm_watch import watched; watched(*sys.argv[1:4], sys.argv[4:])",
    ]
    try:
        run = subprocess.run([*call, str(report), str(folder / "in"), str(out), *words, "--jobs", "1"], cwd=PROJECT,
                             capture_output=True, text=True, timeout=PATIENCE)  # fmt: skip
        rows = _looked_at(files, run, out, report)
        if _seen(folder / "in") != before:
            rows["batches"].failures.append("the hand-ins were changed")
        if batch % AGAIN == AGAIN - 1:
            words[words.index("--out") + 1] = str(folder / "twice")
            subprocess.run(
                [sys.executable, "-m", "rigkit", *words, "--jobs", "2"],
                cwd=PROJECT,
                capture_output=True,
                timeout=PATIENCE,
            )
            if _seen(out) != _seen(folder / "twice"):
                rows["batches"].failures.append("two processes give other bytes")
    except subprocess.TimeoutExpired:
        rows = {"batches": Told(count=1, failures=[f"it did not end within {PATIENCE} s"])}
    for row in rows.values():
        row.failures = [f"batch {batch}: {one}" for one in row.failures]
    shutil.rmtree(folder)
    return rows


def _seen(folder: Path) -> dict[str, bytes | int]:
    """The files in a folder: their bytes, or the size of large ones."""
    found = {
        str(path.relative_to(folder)): path for path in folder.rglob("*") if path.is_file() and not path.is_symlink()
    }
    return {name: path.read_bytes() if (size := path.stat().st_size) < 1e6 else size for name, path in found.items()}


def _looked_at(files: list[Made], run: subprocess.CompletedProcess, out: Path, report: Path) -> dict[str, Told]:
    rows = {kind: Told() for kind in (*KINDS, "batches")}
    whole = rows["batches"]
    whole.count = 1
    if run.returncode or run.stderr or not report.exists():
        whole.failures.append(f"status {run.returncode}: {run.stderr[-600:]}")
        return rows
    noted = json.loads(report.read_text("utf-8"))
    results = json.loads(
        (out / "results.json").read_text("utf-8"),
        parse_constant=lambda word: whole.failures.append(f"{word} in results"),
    )
    said = [(one["file"], one["status"] == "marked", one["reason"]) for one in results["handins"]]
    said += [(one["file"], False, one["reason"]) for one in results.get("passed_over", ())]
    took = noted["took"]
    for one in files:
        label = shown_name(one.name)
        mine = [(name, fine, why) for name, fine, why in said if name == label or name.startswith(label + "/")]
        costs = [took.get(name, (0, 0)) for name in {label, *(name for name, _, _ in mine)}]
        costs += [took.get("page of " + json.dumps(name), (0, 0)) for name, _, _ in mine]
        row = Told(
            1, any(fine for _, fine, _ in mine), 0, max(cost[0] for cost in costs), max(cost[1] for cost in costs)
        )
        row.refused = 1 - row.marked
        if not mine and one.instead != "folder":
            row.failures.append(f"{one.name!r} is lost")
        row.failures += [f"{name!r}: {why}" for name, _, why in mine if "it could not be marked (" in why]
        row.failures += [f"{one.name!r} took {row.seconds:.1f} s"] if row.seconds > MOST_SECONDS else []
        row.failures += [f"{one.name!r} took {row.megabytes:.0f} MB"] if row.megabytes > MOST_MEGABYTES else []
        rows[one.kind].add(row)
    whole.seconds, whole.megabytes = took["class.html"][0], max(noted["peak"], took["class.html"][1])
    whole.failures += [f"opened elsewhere: {one}" for one in noted["elsewhere"]]
    whole.failures += [f"on the screen: {line[:200]!r}" for line in run.stdout.split("\n") if HIDDEN.search(line)]
    whole.failures += wrong_in(out)
    return rows


def main() -> int:
    """Run the storm and print the table."""
    if sys.argv[1:2] == ["--only"]:
        folder = Path(sys.argv[-1])
        write_own_limbs(folder / "own", "arm", "left", "salt", ("shoulder", "elbow", "wrist"))
        print(*lay(folder, int(sys.argv[2]), BATCH, int(sys.argv[3]) if len(sys.argv) > 4 else SEED, folder)[1:])
        return 0
    count, jobs, seed = (int(one) for one in (*sys.argv[1:4], *(COUNT, 1, SEED)[len(sys.argv) - 1 :]))
    begins, table = time.monotonic(), {kind: Told() for kind in (*KINDS, "batches")}
    try:
        for number, rows in enumerate(storm(count, jobs, seed)):
            print(f"batch {number}, {time.monotonic() - begins:.0f} s", file=sys.stderr)
            for kind, row in rows.items():
                table[kind].add(row)
                print(*(f"  {one}\n" for one in row.failures), sep="", end="", file=sys.stderr, flush=True)
    except KeyboardInterrupt:
        print("Stopped; so far:")
    print(
        f"| kind, seed {seed} | hand-ins | marked | refused | slowest | peak memory | failures |\n|---|---|---|---|---|---|---|"
    )
    for kind, row in table.items():
        print(
            f"| {kind} | {row.count:,} | {row.marked:,} | {row.refused:,} | {row.seconds:.2f} s | {row.megabytes:.0f} MB | {len(row.failures)} |"
        )
    return int(any(row.failures for row in table.values()))


if __name__ == "__main__":
    sys.exit(main())
