"""Print the proof of the marks as Markdown: `python -m tests.proof [--full] [--jobs N]`; exit status 1 where a figure is
not reached."""

import argparse
import os
import sys
import time
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from itertools import groupby

from tests.proof import parts


def main(argv: list[str]) -> int:
    """Examine all parts on all limbs, shared among processes, and print what came of it."""
    asked = argparse.ArgumentParser(prog="python -m tests.proof", description=__doc__)
    asked.add_argument("--full", action="store_true", help="the full size, minutes; else a sample")
    asked.add_argument("--jobs", type=int, default=os.cpu_count(), help="processes")
    given = asked.parse_args(argv)
    began, work = time.monotonic(), parts.work(given.full)
    with ProcessPoolExecutor(given.jobs) as pool:
        rows = list(zip([part for part, *_ in work], pool.map(parts.done, work), strict=True))
    rows += [("jobs", one) for one in [parts.with_jobs(given.full)]]
    found = {part: [row for _, some in group for row in some]
             for part, group in groupby(sorted(rows, key=lambda one: one[0]), key=lambda one: one[0])}  # fmt: skip
    table = parts.table(found)
    print("\n".join(_lines(table, parts.appendix(found))))
    print(f"\n{'Full size' if given.full else 'A sample'}, {given.jobs} processes, {time.monotonic() - began:.0f} s.")
    return int(any(one.reached is False for one in table))


def _lines(table: list, appendix: list[str]) -> Iterator[str]:
    yield from ("| what | how many | result | verdict |", "|---|---|---|---|")
    for one in table:
        verdict = {True: "reached", False: "**not reached**", None: "measured, not asked for"}[one.reached]
        yield f"| {one.what} | {one.many} | {one.result} | {verdict} |"
    yield from appendix


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
