"""Validate and convert input once; all wording of input errors. Arrays come out float64 and read-only.

>>> points([[0, 0, 1]], "the shoulder").shape
(1, 3)
"""

import math
from collections.abc import Iterable

import numpy as np

from rigkit.tolerance import FARTHEST, NO_LENGTH


class RigError(ValueError):
    """Input that cannot be used, in words for the person who handed it in.

    The text reads "WHERE: expected EXPECTED, got GOT. Probably PROBABLY. NEXT_STEP."; all but the first two
    may be left out. The parts stay readable as attributes of the same names.
    """

    def __init__(self, expected: str, got: str, probably: str = "", next_step: str = "", where: str = ""):
        self.expected, self.got, self.probably = expected, got, probably
        self.next_step, self.where = next_step, where
        super().__init__(expected, got, probably, next_step, where)

    def __str__(self) -> str:
        text = f"expected {self.expected}, got {self.got}."
        text = f"{self.where}: {text}" if self.where else text[0].upper() + text[1:]
        for more in (self.probably and f"Probably {self.probably}", self.next_step):
            if more:
                text += f" {more.rstrip('.')}."
        return text

    def _render_traceback_(self) -> list[str]:
        """What a notebook shows instead of a traceback."""
        return [str(self)]

    def at(self, where: str) -> "RigError":
        """The same error with its place (a file, a joint) said in front."""
        place = f"{where}, {self.where}" if self.where else where
        return RigError(self.expected, self.got, self.probably, self.next_step, place)


def kind(value: object) -> str:
    """What sort of thing a value from a file or a notebook is, in plain words.

    >>> kind([1, 2]), kind(None)
    ('a list', 'nothing')
    """
    words = {type(None): "nothing", bool: "true or false", int: "a number", float: "a number", str: "text",
             list: "a list", tuple: "a list", dict: "a table of keys"}  # fmt: skip
    return words.get(type(value), f"something else ({type(value).__name__})")


def shown(value: object, longest: int = 40) -> str:
    """A short, printable form of any value, for error messages: no control characters, cut when long."""
    if value is None or isinstance(value, (bool, dict)):
        return {None: "nothing", True: "true", False: "false"}[value] if not isinstance(value, dict) else kind(value)
    text = repr(value) if not isinstance(value, np.ndarray) else f"an array of shape {value.shape}"
    return text if len(text) <= longest else text[: longest - 3] + "..."


def frozen(array: np.ndarray) -> np.ndarray:
    """A read-only copy of an array."""
    copy = np.array(array)
    copy.setflags(write=False)
    return copy


def points(value: object, what: str) -> np.ndarray:
    """Convert to points of shape (n, 3), metres, read-only; refuse other shapes, NaN and what lies beyond 100 km.

    Raises RigError with `what` as its place.
    """
    try:
        array = np.array(value, dtype=float)
    except (TypeError, ValueError, OverflowError):
        raise RigError("rows of three numbers (x, y, z)", shown(value), where=what) from None
    if array.size == 0:
        array = array.reshape(0, 3)
    if array.ndim != 2 or array.shape[1] != 3:
        raise RigError("rows of three numbers (x, y, z)", f"an array of shape {array.shape}", where=what)
    if not np.all(np.isfinite(array)):
        raise RigError("finite numbers", "NaN or infinity", "the export went wrong", "Export again", what)
    if array.size and np.abs(array).max() > FARTHEST:
        raise RigError(
            f"coordinates within {FARTHEST:g} m", f"{np.abs(array).max():.3g} m",
            "the units are wrong", "Check the units of the export", what,
        )  # fmt: skip
    array.setflags(write=False)
    return array


def vector(value: object, what: str) -> np.ndarray:
    """Convert to one vector of shape (3,), checked like `points`.

    >>> vector((0, 1, 0), "up").tolist()
    [0.0, 1.0, 0.0]
    """
    try:
        row = np.array(value, dtype=float)
    except (TypeError, ValueError, OverflowError):
        raise RigError("three numbers (x, y, z)", shown(value), where=what) from None
    if row.shape != (3,):
        raise RigError("three numbers (x, y, z)", shown(value), where=what)
    if not all(-FARTHEST <= x <= FARTHEST for x in row.tolist()):
        points(row[None, :], what)  # which says what is wrong
    row.setflags(write=False)
    return row


def direction(value: object, what: str) -> np.ndarray:
    """Convert to a unit vector (3,); refuse one without length."""
    arrow = vector(value, what)
    length = math.hypot(*arrow.tolist())
    if length < NO_LENGTH:
        raise RigError("a direction", "a vector of no length", where=what)
    unit = arrow / length
    unit.setflags(write=False)
    return unit


def number(value: object, what: str, least: float = -np.inf, most: float = np.inf) -> float:
    """Convert to a finite float between least and most, both allowed; True and False are no numbers."""
    if isinstance(value, bool) or not isinstance(value, (int, float, np.integer, np.floating)):
        raise RigError("a number", shown(value), where=what)
    try:
        result = float(value)
    except OverflowError:
        result = np.inf
    if not np.isfinite(result) or not least <= result <= most:
        span = f" from {least:g} to {most:g}" if np.isfinite(least) or np.isfinite(most) else ""
        raise RigError(f"a number{span}" if span else "a finite number", shown(value), where=what)
    return result


def whole(value: object, what: str, least: int, most: int) -> int:
    """Convert to a whole number between least and most, both allowed; 2.0, True and False are none.

    >>> whole(np.int64(3), "how many", 1, 64)
    3
    """
    if isinstance(value, bool) or not isinstance(value, (int, np.integer)) or not least <= value <= most:
        raise RigError(f"a whole number from {least} to {most}", shown(value), where=what)
    return int(value)


def text(value: object, what: str, longest: int = 200) -> str:
    """Check that a value is text of at most `longest` characters."""
    if not isinstance(value, str):
        raise RigError("text", shown(value), where=what)
    if len(value) > longest:
        raise RigError(f"at most {longest} characters", f"{len(value)} characters", where=what)
    return value


def choice(value: object, what: str, options: Iterable[str]) -> str:
    """Check that a value is one of the options; the error lists them.

    >>> choice("m", "units", ("m", "cm"))
    'm'
    """
    options = tuple(options)
    if not isinstance(value, str) or value not in options:
        raise RigError("one of " + ", ".join(options), shown(value), where=what)
    return value
