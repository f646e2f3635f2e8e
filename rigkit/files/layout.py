"""Layout files: the joints of one hand-in as strict JSON, brought to metres, +Y up, facing +Z, with notices."""

import json
import math
import unicodedata
from collections import Counter
from dataclasses import dataclass, field
from pathlib import PurePosixPath

import numpy as np

from rigkit import require
from rigkit.frames import Frame, quaternion_from_rotation, rotation_from_quaternion
from rigkit.require import RigError
from rigkit.schema import fits, likely, place, schema_of
from rigkit.skeleton import Skeleton
from rigkit.tolerance import FARTHEST, NO_LENGTH, UNIT_SLACK

LARGEST = 1_000_000  # bytes; the file of 512 joints has about 100,000
MOST_JOINTS = 512  # a full figure with fingers and face has about 150
LONGEST_NAME = 64  # characters
MOST_NOTICES = 20  # more are counted, not listed
METRES = {"m": 1.0, "cm": 0.01, "mm": 0.001, "in": 0.0254}
UNITS = {"m": "metres", "cm": "centimetres", "mm": "millimetres", "in": "inches"}
UP = ("+y", "+z", "-z")
FACING = ("+z", "-z", "-y", "+y", "+x", "-x")


@dataclass(frozen=True)
class Axes:
    """How a file's numbers are to be read: their unit, which axis is up, which way the character faces; `said` names
    those of the three that the file itself says.

    >>> (Axes("cm", "+z", "-y").turn @ [1, -2, 3]).tolist()
    [1.0, 3.0, 2.0]
    """

    units: str = "m"
    up: str = "+y"
    facing: str = "+z"
    said: tuple[str, ...] = ()

    @property
    def turn(self) -> np.ndarray:
        """The rotation (3, 3) from the file's axes to the world's. Raises RigError where facing is not square to up."""
        if self.up[1] == self.facing[1]:
            raise RigError("facing square to up", f"up {self.up} and facing {self.facing}",
                           next_step="Say both, as in up +z and facing -y", where="facing")  # fmt: skip
        upward, forward = (np.eye(3)["xyz".index(way[1])] * float(f"{way[0]}1") for way in (self.up, self.facing))
        return np.array([np.cross(upward, forward), upward, forward])


@dataclass(frozen=True, eq=False)
class Layout:
    """The joints of one hand-in: its id, its exercise ("" where not said), its attempt, and a Skeleton in metres,
    world frame. `notices` say what was converted or left out; `axes` how the file's numbers were read; `flesh` (k, 3)
    are points of the file's own mesh, metres, world, the outermost among them; `unjudged` gives each criterion that
    cannot be judged from the file its reason; `hints` how often each rung of the bench's was asked for; `bases`
    (n, 3, 3) the joints' axes with their scale and shear as a glTF has them, None where a file can show none."""

    id: str
    exercise: str
    attempt: int
    skeleton: Skeleton
    notices: tuple[str, ...] = ()
    axes: Axes = Axes()  # noqa: RUF009
    flesh: np.ndarray | None = None
    unjudged: dict[str, str] = field(default_factory=dict)
    hints: tuple[int, ...] = ()
    bases: np.ndarray | None = None


def read_layout(data: bytes, where: str) -> Layout:
    """Read a layout file's bytes; `where` is the file's name, used in errors and, without its ending, as a missing id.

    Raises RigError for what cannot be used.

    >>> text = b'{"format": "rigkit-layout", "version": 1, "joints": [{"name": "elbow", "position": [0, 1, 0]}]}'
    >>> read_layout(text, "wren.json").id
    'wren'
    """
    try:
        return _read(data, where)
    except RigError as error:
        raise error if error.where.startswith(where) else error.at(where) from None


def _read(data: bytes, where: str) -> Layout:
    notices: list[str] = []
    table = fits(_parsed(data, notices), "layout", "")
    known = schema_of("layout")
    _notice_unknown(table, [], known, notices)
    units, up, facing = table.get("units", "m"), table.get("up", "+y"), table.get("facing", "+z")
    axes = Axes(units, up, facing, tuple(key for key in ("units", "up", "facing") if key in table))
    if units != "m":
        notices.append(f"The file is in {UNITS[units]}; it was converted to metres.")
    turn = axes.turn
    if turned := bool(np.any(turn != np.eye(3))):
        notices.append(f"The file has {up} up and faces {facing}; it was turned to +y up, facing +z.")
    names, parents, rotations = [], [], []
    for number, joint in enumerate(table["joints"]):
        names.append(plain_text(joint["name"], f"joint {number}'s name", notices))
        _notice_unknown(table, ["joints", number], known["properties"]["joints"]["items"], notices)
        parents.append(None if joint.get("parent") is None else int(joint["parent"]))
        rotations.append(_rotation(table, number, notices) if joint.get("rotation") is not None else None)
    skeleton = Skeleton(tuple(names), tuple(parents), _positions(table, METRES[units]), tuple(rotations))
    if turned:
        skeleton = skeleton.transformed(Frame(turn, np.zeros(3)))
    name = table.get("id")
    name = "" if name is None else name if isinstance(name, str) else str(int(name))
    stem = PurePosixPath(where.replace("\\", "/")).name.rpartition(".")[0] or where
    found = plain_text(name, "id", notices).strip()
    exercise = plain_text(table.get("exercise") or "", "exercise", notices)
    found = found or plain_text(stem, "id", notices)
    if len(notices) > MOST_NOTICES:
        notices[MOST_NOTICES:] = [f"And {len(notices) - MOST_NOTICES} more like these."]
    return Layout(found, exercise, int(table.get("attempt", 1)), skeleton, tuple(notices), axes,
                  hints=tuple(int(one) for one in table.get("hints", ())))  # fmt: skip


def _parsed(data: bytes, notices: list[str]) -> object:
    if len(data) > LARGEST:
        raise RigError(f"a layout of at most {LARGEST // 1000} kB", f"{len(data) // 1000} kB", "another kind of file")
    if not data.strip():
        raise RigError("a layout", "an empty file", "the file was not saved to its end", "Save and hand in again")

    def pairs(found: list[tuple[str, object]]) -> dict:
        table = dict(found)
        if len(table) < len(found):
            twice = require.shown(Counter(key for key, _ in found).most_common(1)[0][0], LONGEST_NAME + 2)
            notices.append(f"The key {twice} stands in the file twice in one place; the last one counts.")
        return table

    def bare(word: str) -> None:
        raise RigError("numbers", word, "the export went wrong", "Export again")

    try:
        return json.loads(data.decode("utf-8-sig"), object_pairs_hook=pairs, parse_constant=bare)
    except UnicodeDecodeError:
        raise RigError("text saved as UTF-8", "other bytes", "another kind of file", "Save it as UTF-8") from None
    except RecursionError:
        raise RigError("a layout", "lists within lists without end", "another kind of file") from None
    except json.JSONDecodeError as error:
        raise RigError("JSON", f"something else at line {error.lineno}, column {error.colno}",
                       "the file was cut off or changed by hand", "Write the layout again") from None  # fmt: skip
    except RigError:
        raise
    except ValueError:  # a whole number of thousands of digits
        raise RigError("numbers of a usual size", "a number of thousands of digits") from None


def _positions(table: dict, metres: float) -> np.ndarray:
    positions = metres * np.array([joint["position"] for joint in table["joints"]], dtype=float)
    for number in np.flatnonzero(np.abs(positions).max(axis=1) > FARTHEST).tolist():
        far = np.abs(positions[number]).max()
        got = f"{far:,.0f} m" if far < 1e12 else "one of more than twelve digits"
        raise RigError(f"coordinates within {FARTHEST:,.0f} m", got, "the units are wrong",
                       "Check the units of the export", place(table, ["joints", number, "position"]))  # fmt: skip
    return positions


def _rotation(table: dict, number: int, notices: list[str]) -> np.ndarray:
    path: tuple[str | int, ...] = ("joints", number, "rotation")
    four = np.array(table["joints"][number]["rotation"], dtype=float)
    size = math.hypot(*four)
    if not NO_LENGTH < size < math.inf:
        raise RigError("a quaternion of length one", f"one of length {size:.3g}", where=place(table, path))
    if abs(size - 1.0) > UNIT_SLACK:
        notices.append(f"{place(table, path)} was not of length one; it was brought to length one.")
        four = quaternion_from_rotation(rotation_from_quaternion(four / size))
    return four


def _notice_unknown(table: dict, path: list[str | int], schema: dict, notices: list[str]) -> None:
    here = table["joints"][path[1]] if path else table
    if unknown := [key for key in here if key not in schema["properties"]]:
        slips = [(plain_text(key, "", []), likely(key, schema["properties"])) for key in unknown[:4]]
        words = ", ".join(key + (f" ({slip} was perhaps meant)" if slip else "") for key, slip in slips)
        words += f" and {len(unknown) - 4} more" if len(unknown) > 4 else ""
        notices.append(f"Not used from {place(table, path) or 'the file'}: {words}.")


def without_hidden(text: str) -> str:
    """Text without control characters and others that cannot be shown."""
    if text.isascii() and text.isprintable():
        return text
    hidden = ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp")
    return "".join(c for c in text if unicodedata.category(c) not in hidden)


def plain_text(text: str, what: str, notices: list[str]) -> str:
    """Text without control characters, at most 64 long; a notice says what was taken off `what`."""
    clean = without_hidden(text)
    if clean != text:
        notices.append(f"Signs that cannot be shown were taken out of {what}.")
    if len(clean) > LONGEST_NAME:
        notices.append(f"Of {what} only the first {LONGEST_NAME} characters are kept.")
    return clean[:LONGEST_NAME]


def write_layout(layout: Layout) -> str:
    """The layout as JSON text, in metres, +Y up, facing +Z; reading it gives the same numbers back."""
    skeleton = layout.skeleton
    parts = zip(skeleton.names, skeleton.parents, skeleton.positions, skeleton.rotations, strict=True)
    joints = [
        {"name": name, "parent": parent, "position": here.tolist(), "rotation": None if turn is None else turn.tolist()}
        for name, parent, here, turn in parts
    ]
    head = {"format": "rigkit-layout", "version": 1, "id": layout.id, "exercise": layout.exercise,
            "attempt": layout.attempt, "units": "m", "up": "+y", "facing": "+z"}  # fmt: skip
    head |= {"hints": list(layout.hints)} if any(layout.hints) else {}
    rows = ",\n".join("  " + json.dumps(joint, ensure_ascii=False) for joint in joints)
    return json.dumps(head, ensure_ascii=False, indent=1)[:-2] + ',\n "joints": [\n' + rows + "\n ]\n}\n"
