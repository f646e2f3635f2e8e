"""Layout files: the joints of one hand-in as strict JSON, brought to metres, +Y up, facing +Z, with notices."""

import json
import math
import unicodedata
from dataclasses import dataclass
from pathlib import PurePosixPath

import numpy as np

from rigkit import require
from rigkit.frames import Frame, quaternion_from_rotation, rotation_from_quaternion
from rigkit.require import RigError
from rigkit.skeleton import Skeleton
from rigkit.tolerance import FARTHEST, NO_LENGTH, UNIT_SLACK

LARGEST = 1_000_000  # bytes; the file of 512 joints has about 100,000
MOST_JOINTS = 512  # a full figure with fingers and face has about 150
LONGEST_NAME = 64  # characters
MOST_NOTICES = 20  # more are counted, not listed
METRES = {"m": 1.0, "cm": 0.01, "mm": 0.001, "in": 0.0254}
UNITS = {"m": "metres", "cm": "centimetres", "mm": "millimetres", "in": "inches"}
UP = ("+y", "+z")
FACING = ("+z", "-z", "-y", "+x")
FILE_KEYS = ("format", "version", "id", "exercise", "attempt", "units", "up", "facing", "joints")
JOINT_KEYS = ("name", "parent", "position", "rotation")


@dataclass(frozen=True, eq=False)
class Layout:
    """The joints of one hand-in: its id, its exercise ("" where not said), its attempt, and a Skeleton in metres,
    world frame. `notices` say what was converted or left out."""

    id: str
    exercise: str
    attempt: int
    skeleton: Skeleton
    notices: tuple[str, ...] = ()


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
    table = _parsed(data, notices)
    if not isinstance(table, dict) or table.get("format") != "rigkit-layout":
        got = f"format {require.shown(table.get('format'))}" if isinstance(table, dict) else require.kind(table)
        raise RigError('a layout, which says "format": "rigkit-layout"', got, "another kind of file",
                       "Hand in the file that the workbook wrote")  # fmt: skip
    if table.get("version") != 1 or isinstance(table["version"], bool):
        raise RigError("version 1", f"version {require.shown(table.get('version'))}",
                       next_step="Write the layout again with this workbook")  # fmt: skip
    _notice_unknown(table, FILE_KEYS, "the file", notices)
    world_from_file, metres = _axes(table, notices)
    names, parents, positions, rotations = _joints(table.get("joints"), metres, notices)
    skeleton = Skeleton(tuple(names), tuple(parents), positions, tuple(rotations))
    if not np.array_equal(world_from_file, np.eye(3)):
        skeleton = skeleton.transformed(Frame(world_from_file, np.zeros(3)))
    attempt = table.get("attempt", 1)
    if isinstance(attempt, bool) or not isinstance(attempt, int) or not 0 <= attempt <= 10**9:
        raise RigError("a whole number from 0 up", require.shown(attempt), where="attempt")
    name = table.get("id")
    if isinstance(name, int) and not isinstance(name, bool):
        name = str(name)
    stem = PurePosixPath(where.replace("\\", "/")).name.rpartition(".")[0] or where
    found = plain_text(require.text(name, "id", 1000) if name is not None else "", "id", notices).strip()
    exercise = plain_text(require.text(table.get("exercise") or "", "exercise", 1000), "exercise", notices)
    found = found or plain_text(stem, "id", notices)
    if len(notices) > MOST_NOTICES:
        notices[MOST_NOTICES:] = [f"And {len(notices) - MOST_NOTICES} more like these."]
    return Layout(found, exercise, attempt, skeleton, tuple(notices))


def _parsed(data: bytes, notices: list[str]) -> object:
    if len(data) > LARGEST:
        raise RigError(f"a layout of at most {LARGEST // 1000} kB", f"{len(data) // 1000} kB", "another kind of file")
    if not data.strip():
        raise RigError("a layout", "an empty file", "the file was not saved to its end", "Save and hand in again")

    def pairs(found: list[tuple[str, object]]) -> dict:
        table = dict(found)
        if len(table) < len(found):
            count: dict[str, int] = {}
            for key, _ in found:
                count[key] = count.get(key, 0) + 1
            twice = next(key for key, times in count.items() if times > 1)
            notices.append(f"The key {_short(twice)} stands in the file twice in one place; the last one counts.")
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


def _axes(table: dict, notices: list[str]) -> tuple[np.ndarray, float]:
    """The rotation (3, 3) from the file's axes to the world's, and how many metres its unit has."""
    units = require.choice(table.get("units", "m"), "units", METRES)
    up = require.choice(table.get("up", "+y"), "up", UP)
    facing = require.choice(table.get("facing", "+z"), "facing", FACING)
    if up[1] == facing[1]:
        raise RigError("facing square to up", f"up {up} and facing {facing}", where="facing")
    axes = {"x": [1.0, 0.0, 0.0], "y": [0.0, 1.0, 0.0], "z": [0.0, 0.0, 1.0]}
    upward, forward = (np.array(axes[word[1]]) * (1 if word[0] == "+" else -1) for word in (up, facing))
    if units != "m":
        notices.append(f"The file is in {UNITS[units]}; it was converted to metres.")
    if (up, facing) != ("+y", "+z"):
        notices.append(f"The file has {up} up and faces {facing}; it was turned to +y up, facing +z.")
    return np.array([np.cross(upward, forward), upward, forward]), METRES[units]


def _joints(value: object, metres: float, notices: list[str]) -> tuple[list, list, np.ndarray, list]:
    if not isinstance(value, list) or not value:
        raise RigError("a list of at least one joint", require.shown(value), where="joints")
    if len(value) > MOST_JOINTS:
        raise RigError(f"at most {MOST_JOINTS} joints", f"{len(value)}", "an export of the whole scene",
                       "Hand in the joints of the limb only", where="joints")  # fmt: skip
    names, parents, positions, rotations = [], [], [], []
    for number, joint in enumerate(value):
        if not isinstance(joint, dict):
            raise RigError("a joint with name, parent and position", require.shown(joint), where=f"joint {number}")
        raw = joint.get("name")
        name = plain_text(require.text(raw, f"joint {number}, name", LARGEST), f"joint {number}'s name", notices)
        where = f"joint {number} ({_short(name)})"
        _notice_unknown(joint, JOINT_KEYS, where, notices)
        parent = joint.get("parent")
        if isinstance(parent, str):
            raise RigError("the parent's number in the list, or null", require.shown(parent),
                           "the parent's name was written", "Write its number, counted from 0", where)  # fmt: skip
        place = _numbers(joint.get("position"), 3, f"{where}, position")
        names.append(name)
        parents.append(parent)
        positions.append([metres * one for one in place])
        if (far := max(map(abs, positions[-1]))) > FARTHEST:
            got = f"{far:,.0f} m" if far < 1e12 else "one of more than twelve digits"
            raise RigError(f"coordinates within {FARTHEST:,.0f} m", got, "the units are wrong",
                           "Check the units of the export", f"{where}, position")  # fmt: skip
        rotations.append(_rotation(joint.get("rotation"), f"{where}, rotation", notices))
    return names, parents, np.array(positions), rotations


def _rotation(value: object, where: str, notices: list[str]) -> np.ndarray | None:
    if value is None:
        return None
    four = np.array(_numbers(value, 4, where))
    size = math.hypot(*four)
    if not NO_LENGTH < size < math.inf:
        raise RigError("a quaternion of length one", f"one of length {size:.3g}", where=where)
    if abs(size - 1.0) > UNIT_SLACK:
        notices.append(f"{where} was not of length one; it was brought to length one.")
        four = quaternion_from_rotation(rotation_from_quaternion(four / size))
    return four


def _numbers(value: object, count: int, where: str) -> list[float]:
    if not isinstance(value, list) or len(value) != count:
        raise RigError(f"{count} numbers in a list", require.shown(value), where=where)
    return [require.number(one, where) for one in value]


def _short(text: str) -> str:
    return require.shown(text, LONGEST_NAME + 2)


def _notice_unknown(table: dict, known: tuple[str, ...], what: str, notices: list[str]) -> None:
    unknown = [key for key in table if key not in known]
    if unknown:
        more = f" and {len(unknown) - 4} more" if len(unknown) > 4 else ""
        words = ", ".join(plain_text(key, "", []) for key in unknown[:4]) + more
        notices.append(f"Not used from {what}: {words}.")


def plain_text(text: str, what: str, notices: list[str]) -> str:
    """Text without control characters, at most 64 long; a notice says what was taken off `what`."""
    clean = "".join(c for c in text if unicodedata.category(c) not in ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"))
    if clean != text:
        notices.append(f"Signs that cannot be shown were taken out of {what}.")
    if len(clean) > LONGEST_NAME:
        notices.append(f"Of {what} only the first {LONGEST_NAME} characters are kept.")
    return clean[:LONGEST_NAME]


def write_layout(layout: Layout) -> str:
    """The layout as JSON text, in metres, +Y up, facing +Z; reading it gives the same numbers back."""
    skeleton = layout.skeleton
    joints = [
        {
            "name": name,
            "parent": parent,
            "position": [float(x) for x in place],
            "rotation": None if rotation is None else [float(x) for x in rotation],
        }
        for name, parent, place, rotation in zip(
            skeleton.names, skeleton.parents, skeleton.positions, skeleton.rotations, strict=True
        )
    ]
    head = {"format": "rigkit-layout", "version": 1, "id": layout.id, "exercise": layout.exercise,
            "attempt": layout.attempt, "units": "m", "up": "+y", "facing": "+z"}  # fmt: skip
    rows = ",\n".join("  " + json.dumps(joint, ensure_ascii=False) for joint in joints)
    return json.dumps(head, ensure_ascii=False, indent=1)[:-2] + ',\n "joints": [\n' + rows + "\n ]\n}\n"
