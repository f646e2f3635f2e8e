"""Mistakes in a cell: told in words where the project words them, and remembered until the cell has run through."""

from __future__ import annotations

from collections.abc import Collection
from traceback import walk_tb

from IPython.core.getipython import get_ipython
from IPython.display import display

from rigkit.require import RigError
from rigkit.told import LOOK_AGAIN, NOT_YET, Told

_STOPPED: set[str] = set()  # ids of cells; "" where none is known
WAITS = Told(NOT_YET, "The cell above stopped with a mistake, so there is nothing new to look at.",
             "Mend that cell and run it, then this one.")  # fmt: skip


def watch() -> None:
    """Remember from here on which cells stop with an error; nothing outside a notebook."""
    if (shell := get_ipython()) is not None:
        shell.events.register("post_run_cell", _ran)
        shell.set_custom_exc((RigError, NameError), _told_in_words)


def stopped(cells: Collection[str]) -> bool:
    """Whether one of these cells, by id, stopped when it was last run (or the last cell, where no ids are known)."""
    return bool({"", *cells} & _STOPPED)


def _ran(result) -> None:
    """Remember whether a cell stopped with an error."""
    (_STOPPED.discard if result.success else _STOPPED.add)(result.info.cell_id or "")


def _told_in_words(shell, kind: type, error: BaseException, trace, tb_offset: int | None = None) -> None:
    """A note for a mistake in a cell that the project words, or for a name there that Python does not know."""
    steps = [(frame.f_globals is shell.user_ns, line) for frame, line in walk_tb(trace)]
    where = "".join([f"Line {line}: " for own, line in steps if own][-1:])
    word = "" if isinstance(error, RigError) else getattr(error, "name", None)
    if word is None or (word and not steps[-1][0]):
        return shell.showtraceback((kind, error, trace), tb_offset)
    again = "Mend it there and run this cell again."
    if word:
        again = f'Words stand in quotes: "{word}". What has a name is made by a cell above: run that first. {again}'
    display(Told(LOOK_AGAIN, f"{where}{f'Python does not know {word}.' if word else error}", again))
    vars(error)["_render_traceback_"] = lambda *_given: ["This cell stopped here."]  # it stays an error for all tools
    return shell.showtraceback((kind, error, trace))
