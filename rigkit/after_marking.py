"""After marking: a marked class and what was asked for on the command line -> lines to be read, or a sheet written."""

import argparse
from collections.abc import Callable
from pathlib import Path

from rigkit.copies import copies
from rigkit.files.whole import write_whole
from rigkit.marking import Class
from rigkit.require import RigError
from rigkit.second_marker import BANDS, agreements, read_grades, read_hand, sample, sheet_csv


def agree(asked: argparse.Namespace, room: Callable[[], Class]) -> list[str]:
    """Draw a sample and write its sheet (`draw` and `out`), or hold marks `by_hand` beside the tool's, in `grades`.

    room: gives the marked class; it is called once all else is known to be right. Raises RigError.
    """
    if (asked.draw is None) == (asked.by_hand is None) or (asked.draw is None) != (asked.out is None):
        raise RigError("either --draw N and --out CSV, or --by-hand CSV", "something else", where="agree")
    if asked.draw is None:
        grades = read_grades(asked.grades) if asked.grades else BANDS
        hand = read_hand(asked.by_hand)
        return [line for one in agreements(room().counting, hand, grades) for line in one.lines()]
    out = Path(asked.out)
    if out.exists():
        raise RigError("a new file", "one that is there, perhaps with marks in it", next_step="Choose another name",
                       where=out.name)  # fmt: skip
    whole = room()
    drawn = sample(whole.counting, asked.draw, whole.exercise)
    try:
        write_whole(out, sheet_csv(drawn))
    except OSError as error:
        raise RigError("a folder that can be written", (error.strerror or "an error").lower(),
                       next_step="Choose another folder", where=out.name) from None  # fmt: skip
    return [f"To mark by hand, before a look at the tool's marks: {', '.join(drawn)}."]


def alike(_: argparse.Namespace, room: Callable[[], Class]) -> list[str]:
    """Which hand-ins are worth a conversation."""
    return copies(room()).lines()
