"""The parts of a glTF file: its JSON as a dict, its binary data, and accessors as arrays (count, numbers).

Nothing but the bytes handed in is ever read: a buffer lies in the GLB itself or in a data: address, never elsewhere.
Source: glTF 2.0, ISO/IEC 12113:2022, sections 3.6 (binary data) and 4 (GLB container).
"""

import base64
import binascii
import codecs
import json
import struct
from typing import Any

import numpy as np

from rigkit import require
from rigkit.require import RigError

LARGEST = 20_000_000  # bytes; a figure of 100,000 triangles has about 6,000,000
MOST_VALUES = 6_000_000  # rows of one accessor; an index list of 2,000,000 triangles
MOST_SIGNS = 1_000_000  # brackets and commas in the JSON; 10,000 nodes have about 200,000
DEEPEST = 32  # lists within lists; glTF itself needs 8
LOOKS = ("KHR_materials_", "KHR_texture_", "KHR_lights_")  # extensions that change no place
JSON_CHUNK, BIN_CHUNK, FLOAT = 0x4E4F534A, 0x004E4942, 5126
COMPONENTS = {5120: "<i1", 5121: "<u1", 5122: "<i2", 5123: "<u2", 5125: "<u4", 5126: "<f4"}
WIDTHS = {"SCALAR": 1, "VEC2": 2, "VEC3": 3, "VEC4": 4, "MAT4": 16}
EMBED = "Export as .glb, or as .gltf with all data embedded"


class Document:
    """One glTF file taken apart. All its methods raise RigError naming the place in the file."""

    def __init__(self, data: bytes):
        self.notices: list[str] = []
        self._lists: dict[str, list[Any]] = {}
        self.table, self._chunk = _opened(data)
        if codecs.BOM_UTF8 in (data[:3], data[20:23]):  # of a text, of a GLB's JSON
            self.notices.append("The file begins with a byte-order mark, which was passed over.")
        if not isinstance(self.table, dict) or not isinstance(self.table.get("asset"), dict):
            raise RigError('glTF, which says "asset"', "another file", "another kind of file", EMBED)
        version = self.table["asset"].get("version")
        if not isinstance(version, str) or not version.startswith("2."):
            raise RigError("glTF version 2.0", f"version {require.shown(version)}", "", "Export as glTF 2.0")
        needed = [one for one in self.items("extensionsRequired", str) if not one.startswith(LOOKS)]
        if needed:
            raise RigError("a file that needs no extension", ", ".join(require.shown(one) for one in needed[:4]),
                           "the mesh was compressed", "Export again without compression")  # fmt: skip
        self._buffers: dict[int, bytes] = {}

    def items(self, key: str, kind: type = dict) -> list[Any]:
        """The list under a key of the file, empty where there is none; every entry of the kind asked for."""
        if key not in self._lists:
            self._lists[key] = listed(self.table, key, kind, "the file")
        return self._lists[key]

    def buffer(self, number: int) -> bytes:
        """The bytes of one buffer, decoded once."""
        if number not in self._buffers:
            self._buffers[number] = self._read_buffer(number)
        return self._buffers[number]

    def _read_buffer(self, number: int) -> bytes:
        where = f"buffer {number}"
        entry = self.items("buffers")[number]
        uri, length = entry.get("uri"), whole(entry, "byteLength", where, 1, LARGEST)
        if uri is None:
            if number or self._chunk is None:
                raise RigError("data in the file", "a buffer without any", "", EMBED, where)
            raw = self._chunk
        else:
            head, comma, body = require.text(uri, where, 2 * LARGEST).partition(",")
            if not head.startswith("data:") or not head.endswith(";base64") or not comma:
                raise RigError("embedded data", f"an address, {require.shown(uri)}",
                               "the data lie in a second file, which is not opened", EMBED, where)  # fmt: skip
            try:
                raw = base64.b64decode(body, validate=True)
            except (binascii.Error, ValueError):
                raise RigError("base64 data", "other signs", "the file was cut off", "Export again", where) from None
        if len(raw) < length:
            raise RigError(f"{length} bytes", f"{len(raw)}", "the file was cut off", "Export again", where)
        return raw[:length]

    def accessor(self, number: int, shape: str, components: tuple[int, ...], most: int) -> np.ndarray:
        """The numbers of one accessor, (count, width) in the file's own number type; floats are finite.

        shape: "SCALAR", "VEC3" ... components: the component types allowed. most: rows allowed.
        """
        where = f"accessor {number}"
        entry = self.items("accessors")[number]
        if entry.get("type") != shape or entry.get("componentType") not in components:
            got = f"{require.shown(entry.get('type'))} of {require.shown(entry.get('componentType'))}"
            raise RigError(f"{shape} of component type {' or '.join(map(str, components))}", got, where=where)
        if "sparse" in entry:
            raise RigError("plain data", "sparse data", "", "Export without sparse accessors", where)
        count = whole(entry, "count", where, 1, min(most, MOST_VALUES))
        view_number = whole(entry, "bufferView", where, 0, len(self.items("bufferViews")) - 1)
        view, view_where = self.items("bufferViews")[view_number], f"buffer view {view_number}"
        kind = np.dtype(COMPONENTS[entry["componentType"]])
        size = kind.itemsize * WIDTHS[shape]
        start = whole(entry, "byteOffset", where, 0, LARGEST, 0)
        step = whole(view, "byteStride", view_where, 4, 252, 0) or size
        data = self.buffer(whole(view, "buffer", view_where, 0, len(self.items("buffers")) - 1))
        offset = whole(view, "byteOffset", view_where, 0, LARGEST, 0)
        length = whole(view, "byteLength", view_where, 1, LARGEST)
        if offset + length > len(data):
            raise RigError(f"bytes up to {len(data)}", f"up to {offset + length}", "the file was cut off",
                           "Export again", view_where)  # fmt: skip
        if step < size or start + step * (count - 1) + size > length:
            raise RigError(f"{count} rows within {length} bytes", f"rows of {size} bytes, each {step} after the last",
                           "the export went wrong", "Export again", where)  # fmt: skip
        if (offset + start) % kind.itemsize or step % kind.itemsize:
            raise RigError(f"data aligned to {kind.itemsize} bytes", f"byte {offset + start}, steps of {step}", "",
                           "Export again", where)  # fmt: skip
        shape_here, strides = (count, WIDTHS[shape]), (step, kind.itemsize)
        rows = np.ndarray(shape_here, kind, data, offset + start, strides).copy()
        if kind.kind == "f" and not np.all(np.isfinite(rows)):
            bad = int(np.flatnonzero(~np.all(np.isfinite(rows), axis=1))[0])
            raise RigError("finite numbers", f"NaN or infinity in row {bad}", "the export went wrong",
                           "Export again", where)  # fmt: skip
        return rows


def listed(table: dict, key: str, kind: type, where: str) -> list[Any]:
    """The list under a key of a table, empty where there is none."""
    value = table.get(key, [])
    if not isinstance(value, list) or not all(isinstance(one, kind) for one in value):
        raise RigError(f'a list under "{key}"', require.kind(value), "the export went wrong",
                       "Export again", where)  # fmt: skip
    return value


def whole(table: dict, key: str, where: str, least: int, most: int, missing: int | None = None) -> int:
    """The whole number under a key, from least to most; `missing` where there is none, if that is given."""
    value = table.get(key, missing)
    if key not in table and missing is not None:
        return missing
    if isinstance(value, bool) or not isinstance(value, int) or not least <= value <= most:
        span = f"a whole number from {least} to {most}" if most >= least else "nothing that refers to what is missing"
        raise RigError(f'{span} under "{key}"', "none" if value is None else require.shown(value),
                       "the export went wrong", "Export again", where)  # fmt: skip
    return value


def _opened(data: bytes) -> tuple[Any, bytes | None]:
    """The JSON and, for a GLB, the binary chunk."""
    if len(data) > LARGEST:
        raise RigError(f"at most {LARGEST // 10**6} MB", f"{len(data) / 1e6:.0f} MB", "the whole scene was exported",
                       "Export the limb and its joints alone")  # fmt: skip
    if not data.strip():
        raise RigError("a glTF file", "an empty file", "the export was cut short", "Export again")
    if data[:4] != b"glTF":
        if data.lstrip(b"\xef\xbb\xbf \t\r\n")[:1] != b"{":
            raise RigError("a glTF file, .glb or .gltf", "other bytes", "another kind of file", EMBED)
        return _json(data), None
    cut_off = ("the file was cut off", "Export again")
    if len(data) < 20:
        raise RigError("a GLB header and a chunk", f"{len(data)} bytes", *cut_off)
    version, length = struct.unpack_from("<II", data, 4)
    if version != 2:
        raise RigError("GLB version 2", f"version {version}", "", "Export as glTF 2.0", "the header")
    if length != len(data):
        raise RigError(f"{length} bytes, as the header says", f"{len(data)}", *cut_off, "the header")
    chunks: list[tuple[int, bytes]] = []
    place = 12
    while place < length:
        if place + 8 > length:
            raise RigError("a chunk's header", f"{length - place} bytes", *cut_off, f"chunk {len(chunks)}")
        size, kind = struct.unpack_from("<II", data, place)
        if size % 4 or place + 8 + size > length:
            raise RigError("a chunk of whole words within the file", f"{size} bytes of the {length - place - 8} left",
                           *cut_off, f"chunk {len(chunks)}")  # fmt: skip
        chunks.append((kind, data[place + 8 : place + 8 + size]))
        place += 8 + size
    if chunks[0][0] != JSON_CHUNK:
        raise RigError("a JSON chunk first", "another chunk", "the export went wrong", "Export again", "chunk 0")
    binary = chunks[1][1] if len(chunks) > 1 and chunks[1][0] == BIN_CHUNK else None
    return _json(chunks[0][1]), binary


def _json(data: bytes) -> Any:
    def bare(word: str) -> None:
        raise RigError("finite numbers", word, "the export went wrong", "Export again", "the file's JSON")

    def once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        table = dict(pairs)
        if len(table) < len(pairs):
            seen: set[str] = set()
            twice = next(key for key, _ in pairs if key in seen or seen.add(key))  # type: ignore[func-returns-value]
            raise RigError("each key once in its place", f"{require.shown(twice)} twice", *wrong)
        return table

    if sum(data.count(sign) for sign in (b"[", b"{", b",")) > MOST_SIGNS:
        raise RigError(f"JSON of at most {MOST_SIGNS:,} values", "more", "the whole scene was exported",
                       "Export the limb and its joints alone", "the file's JSON")  # fmt: skip
    wrong = ("the file was cut off or changed by hand", "Export again", "the file's JSON")
    too_deep = RigError(f"lists within lists at most {DEEPEST} deep", "deeper ones", *wrong)
    try:
        table = json.loads(data.decode("utf-8-sig"), parse_constant=bare, object_pairs_hook=once)
    except UnicodeDecodeError:
        raise RigError("text in UTF-8", "other bytes", *wrong) from None
    except RecursionError:
        raise too_deep from None
    except json.JSONDecodeError as error:
        raise RigError("JSON", f"something else at line {error.lineno}, column {error.colno}", *wrong) from None
    except RigError:
        raise
    except ValueError:  # a whole number of thousands of digits
        raise RigError("numbers of a usual size", "a number of thousands of digits", *wrong) from None
    level: list[Any] = [table]
    for _ in range(DEEPEST):
        level = [inner for one in level if isinstance(one, (dict, list))
                 for inner in (one.values() if isinstance(one, dict) else one)]  # fmt: skip
    if level:
        raise too_deep
    return table
