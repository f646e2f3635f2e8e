"""Kept: Results as bytes and back, and the file that keeps them while a class is marked, so that a kill loses nothing.

A line of the file is a hand-in that was marked: a key of all that its result hangs on, a checksum, the result. A line
that was not written to its end does not count.
"""

import base64
import hashlib
import json
import zlib
from collections.abc import Iterator, Sequence
from dataclasses import asdict, fields
from functools import cache
from pathlib import Path
from sys import intern

import numpy as np

from rigkit.files.handin import LARGEST_GLTF
from rigkit.marking import Result
from rigkit.measures import Measurement
from rigkit.rubric import Finding, Score
from rigkit.skeleton import Skeleton
from rigkit.tables import data_folder

NAME = ".rigkit-marked"
LARGEST_KEPT = 2_000_000_000  # bytes; more is another file
SHORT = ("joint", "finding", "criterion", "unit")  # texts of a finding that come again and again: held once


class Rows(Sequence[Measurement]):
    """A hand-in's measurements, packed: a tenth of the memory; they are unpacked each time they are looked through."""

    def __init__(self, rows: Sequence[Sequence]):
        self._count, self._bytes = len(rows), zlib.compress(json.dumps(rows).encode(), 1)

    def __len__(self) -> int:
        return self._count

    def __iter__(self) -> Iterator[Measurement]:
        return (Measurement(*row) for row in json.loads(zlib.decompress(self._bytes)))

    def __getitem__(self, place):
        """One measurement, or some."""
        return tuple(self)[place]

    def __eq__(self, other: object) -> bool:
        return isinstance(other, (Rows, tuple)) and tuple(self) == tuple(other)

    __hash__ = None  # type: ignore[assignment]


def as_bytes(result: Result) -> bytes:
    """A result as bytes, for another process or for a file."""
    table = {one.name: getattr(result, one.name) for one in fields(Result)}
    table["criteria"] = None if result.criteria is None else {key: asdict(one) for key, one in result.criteria.items()}
    table["measurements"] = [(one.joint, one.measure, one.value, one.unit) for one in result.measurements]
    table["findings"] = [asdict(one) for one in result.findings]
    table["spots"] = dict(result.spots)
    if (joints := result.skeleton) is not None:
        turns = [None if one is None else one.tolist() for one in joints.rotations]
        table["skeleton"] = [joints.names, joints.parents, joints.positions.tolist(), turns]
    return zlib.compress(json.dumps(table).encode(), 1)


def from_bytes(data: bytes, packed: bool = False) -> Result:
    """The result again, equal in every number. packed: its measurements as `Rows`."""
    table = json.loads(zlib.decompress(data))
    if table["criteria"] is not None:
        table["criteria"] = {intern(key): Score(**one) for key, one in table["criteria"].items()}
    rows = table["measurements"]
    table["measurements"] = Rows(rows) if packed else tuple(Measurement(*row) for row in rows)
    table["findings"] = tuple(_finding(one) for one in table["findings"])
    for name in ("caps", "notices", "words"):
        table[name] = tuple(table[name])
    table["spots"] = {intern(role): tuple(place) for role, place in table["spots"].items()}
    if table["skeleton"] is not None:
        names, parents, places, turns = table["skeleton"]
        turns = tuple(None if one is None else np.array(one) for one in turns)
        table["skeleton"] = Skeleton(tuple(map(intern, names)), tuple(parents), np.array(places), turns)
    return Result(**table)


def _finding(row: dict) -> Finding:
    row |= {name: intern(row[name]) for name in SHORT}
    moves = tuple((role, tuple(move)) for role, move in row["moves"])
    return Finding(**(row | {"moves": moves, "change": tuple(row["change"])}))


class Kept:
    """The results that were kept under an output folder, by key, and the file that takes more. `world` is all that a
    result hangs on beside the hand-in's own bytes and name. Raises OSError where the file cannot be written."""

    def __init__(self, out: Path, world: str):
        self._world, self.path = world, out / NAME
        out.mkdir(parents=True, exist_ok=True)
        self._there = dict(_lines(self.path))
        self._file = self.path.open("ab", buffering=0)
        if self._file.tell():
            self._file.write(b"\n")  # the last line may have been cut off

    def key(self, label: str, path: Path) -> str:
        """The key of a hand-in; "" for one that cannot be read, or is larger than a hand-in may be."""
        try:
            if not path.is_file():
                return ""
            with path.open("rb") as file:
                data = file.read(LARGEST_GLTF + 1)
        except OSError:
            return ""
        words = f"{self._world}\n{label}\n{len(data)}\n".encode("utf-8", "replace")
        return hashlib.sha256(words + data).hexdigest() if len(data) <= LARGEST_GLTF else ""

    def result(self, key: str) -> Result | None:
        """The result kept under a key, its measurements packed; None where there is none, or none that can be read."""
        try:
            return from_bytes(self._there[key], packed=True) if key in self._there else None
        except (ArithmeticError, AttributeError, LookupError, TypeError, ValueError, zlib.error):
            return None

    def keep(self, key: str, data: bytes) -> None:
        """Write a result's bytes behind the others."""
        if key:
            line = memoryview(b"%s %08x %s\n" % (key.encode(), zlib.crc32(data), base64.b64encode(data)))
            while line:
                line = line[self._file.write(line) or 0 :]

    def close(self) -> None:
        """Let go of the file, which stays."""
        self._file.close()


def _lines(path: Path) -> Iterator[tuple[str, bytes]]:
    """The whole lines of a file: (key, bytes)."""
    if path.is_file() and path.stat().st_size <= LARGEST_KEPT:
        with path.open("rb") as file:
            for line in file:
                key, _, rest = line.rstrip(b"\n").partition(b" ")
                checksum, _, text = rest.partition(b" ")
                try:
                    data = base64.b64decode(text, validate=True)
                    if len(key) == 64 and int(checksum, 16) == zlib.crc32(data):
                        yield key.decode(), data
                except ValueError:
                    continue


def world_of(folder: Path, files: Sequence[str], *more: object) -> str:
    """A checksum of all that a result hangs on: the exercise's files, rigkit itself, and what more is given."""
    digest = hashlib.sha256(_own_code())
    for name in sorted({"exercise.toml", *files}):
        digest.update(f"{name}\n".encode() + (folder / name).read_bytes())
    digest.update(repr(more).encode("utf-8", "replace"))
    return digest.hexdigest()


@cache
def _own_code() -> bytes:
    """A checksum of rigkit's code and of the tables it marks by, so that nothing that an older one found is used."""
    digest, data = hashlib.sha256(np.__version__.encode()), data_folder()
    own = [*Path(__file__).parent.rglob("*.py"), *data.glob("*.toml"), *data.glob("naming/*"), *data.glob("rubrics/*"),
           *data.glob("reference/*"), *data.glob("schemas/*")]  # fmt: skip
    for path in sorted(one for one in own if one.is_file()):
        digest.update(path.name.encode() + path.read_bytes())
    return digest.digest()
