"""Bad and odd glTF files, each by name: how to build its bytes, and what is said to it here and by the official validator.

`python -m tests.faults.hostile_gltf [FOLDER]` prints what reading each one takes, and leaves them in a folder if one is
named, to be looked at with other programs.
"""

import base64
import copy
import json
import re
import struct
import subprocess
import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from rigkit.files.gltf_write import pack_glb, write_glb
from rigkit.mesh import Mesh
from rigkit.skeleton import Skeleton

MESH = Mesh([[0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1]], [[0, 2, 1], [0, 1, 3], [0, 3, 2], [1, 2, 3]])
ARM = Skeleton(
    ("shoulder", "elbow", "wrist"), (None, 0, 1), np.array([[0.2, 1.4, 0], [0.4, 1.1, -0.02], [0.5, 0.9, 0]])
)
GOOD = write_glb(MESH, ARM, np.full((4, 3), 1 / 3))
# What stands where in GOOD: node 0 is the flesh, 1 to 3 are the joints; the accessors by what they hold.
POSITION, NORMAL, INDICES, JOINTS, WEIGHTS, BIND = range(6)


def parts(glb: bytes) -> tuple[dict, bytes]:
    """A GLB's document and its binary data."""
    size = struct.unpack_from("<I", glb, 12)[0]
    return json.loads(glb[20 : 20 + size]), glb[28 + size :]


def put(*path_and_value) -> Callable:
    """A change that puts a value at a path of the document."""
    *path, value = path_and_value

    def change(document, binary):
        place = document
        for key in path[:-1]:
            place = place[key]
        place[path[-1]] = value

    return change


def store(accessor: int, byte: int, pattern: str, *values) -> Callable:
    """A change that writes numbers into an accessor's data."""

    def change(document, binary):
        view = document["bufferViews"][document["accessors"][accessor]["bufferView"]]
        struct.pack_into("<" + pattern, binary, view["byteOffset"] + byte, *values)

    return change


def glb(*changes) -> Callable[[], bytes]:
    """GOOD after changes of its document and data."""

    def build() -> bytes:
        document, data = parts(GOOD)
        binary = bytearray(data)
        for change in changes:
            change(document, binary)
        document["buffers"] = document.get("buffers") or [{}]
        return pack_glb(document, bytes(binary))

    return build


def gltf(*changes, dump=json.dumps, encoding="utf-8") -> Callable[[], bytes]:
    """GOOD with its data embedded, as .gltf, after changes."""

    def build() -> bytes:
        document, data = parts(GOOD)
        document["buffers"][0]["uri"] = "data:application/octet-stream;base64," + base64.b64encode(data).decode()
        for change in changes:
            change(document, bytearray())
        return dump(document).encode(encoding)

    return build


def bare(**table) -> Callable[[], bytes]:
    """A .gltf that has these keys beside its asset."""
    return lambda: json.dumps({"asset": {"version": "2.0"}, **table}).encode()


def swap(old: str, new: str) -> Callable[[], bytes]:
    """The text of GOOD as .gltf with one piece of it replaced."""

    def build() -> bytes:
        text = gltf()().decode()
        assert old in text
        return text.replace(old, new, 1).encode()

    return build


def header(**fields) -> Callable[[], bytes]:
    """GOOD with another magic, version, length or first chunk size."""

    def build() -> bytes:
        found = (
            dict(zip(("magic", "version", "length", "chunk"), struct.unpack_from("<4sIII", GOOD), strict=True)) | fields
        )
        return struct.pack("<4sIII", *(found[key] for key in ("magic", "version", "length", "chunk"))) + GOOD[16:]

    return build


def circle(document, binary):
    document["nodes"][1]["children"], document["nodes"][2]["children"], document["nodes"][3]["children"] = [2], [3], [1]


def sparse(document, binary):
    """A good sparse accessor: the first place is replaced by itself."""
    document["accessors"][POSITION]["sparse"] = {
        "count": 1,
        "indices": {"bufferView": len(document["bufferViews"]), "componentType": 5125},
        "values": {"bufferView": len(document["bufferViews"]) + 1},
    }
    document["bufferViews"] += [
        {"buffer": 0, "byteOffset": len(binary), "byteLength": 4},
        {"buffer": 0, "byteOffset": len(binary) + 4, "byteLength": 12},
    ]
    binary += bytes(16)
    document["buffers"][0]["byteLength"] = len(binary)


def billions(document, binary):
    document["accessors"][POSITION]["count"] = 4_000_000_000
    del document["accessors"][POSITION]["bufferView"]


def again(key: str, **changes) -> Callable:
    """A change that repeats the first entry of a list, with other values."""

    def change(document, binary):
        document[key].append(copy.deepcopy(document[key][0]) | changes)

    return change


def second_mesh(document, binary):
    again("meshes", name="ferry")(document, binary)
    document["nodes"].append({"mesh": 1, "name": "ferry"})
    document["scenes"][0]["nodes"].append(4)


def drop(*path) -> Callable:
    def change(document, binary):
        place = document
        for key in path[:-1]:
            place = place[key]
        del place[path[-1]]

    return change


def flat() -> bytes:
    return write_glb(Mesh([[0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0]], [[0, 1, 2], [0, 2, 3]]), ARM, np.ones((4, 3)))


def million() -> bytes:
    """A closed tube of a million triangles, its weights left out; 18 MB."""
    around, along = 1000, 500
    turn, step = np.meshgrid(np.linspace(0, 2 * np.pi, around, endpoint=False), np.arange(along + 1), indexing="xy")
    places = np.stack([0.05 * np.cos(turn), step / along, 0.05 * np.sin(turn)], axis=-1).reshape(-1, 3).astype("<f4")
    first = (np.arange(around) + around * np.arange(along)[:, None]).ravel()
    beside = first - first % around + (first + 1) % around
    corners = np.stack([first, first + around, beside, beside, first + around, beside + around], axis=1).astype("<u4")
    return packed(places, corners.ravel(), {"nodes": [{"mesh": 0}, {"name": "shoulder"}]})


def packed(places: np.ndarray, corners: np.ndarray, table: dict, primitive: dict | None = None) -> bytes:
    """A GLB of one mesh by hand, without normals."""
    document = {
        "asset": {"version": "2.0"},
        "meshes": [{"primitives": [{"attributes": {"POSITION": 0}, "indices": 1} | (primitive or {})]}],
        "accessors": [
            {"bufferView": 0, "componentType": 5126, "count": len(places), "type": "VEC3",
             "min": places.min(axis=0).astype(float).tolist(), "max": places.max(axis=0).astype(float).tolist()},
            {"bufferView": 1, "componentType": 5125, "count": len(corners), "type": "SCALAR"},
        ],
        "bufferViews": [
            {"buffer": 0, "byteOffset": 0, "byteLength": places.nbytes, "target": 34962},
            {"buffer": 0, "byteOffset": places.nbytes, "byteLength": corners.nbytes, "target": 34963},
        ],
        "buffers": [{"byteLength": places.nbytes + corners.nbytes}],
    }  # fmt: skip
    return pack_glb(document | table, places.tobytes() + corners.tobytes())


def shared_triangles() -> bytes:
    """300 parts that all name one list of a million triangles: 300 million out of 12 MB."""
    places, corners = np.zeros((3, 3), "<f4"), np.tile(np.arange(3, dtype="<u4"), 1_000_000)
    part = {"attributes": {"POSITION": 0}, "indices": 1}
    return packed(places, corners, {"meshes": [{"primitives": [part] * 300}], "nodes": [{"mesh": 0}]})


def many(nodes: int, meshes: int, parts_each: int, **part) -> Callable[[], bytes]:
    """Nodes that show the meshes in turn, meshes of many parts."""
    mesh = {"primitives": [{"attributes": {"POSITION": 0}} | part] * parts_each}
    table = {"meshes": [mesh] * meshes, "nodes": [{"mesh": n % meshes} for n in range(nodes)]}
    return lambda: packed(np.eye(3, dtype="<f4"), np.arange(3, dtype="<u4"), table)


def chain(count: int, **table) -> Callable[[], bytes]:
    """Nodes, each below the last."""
    return bare(nodes=[{"children": [n + 1], "translation": [0, 0.01, 0]} for n in range(count - 1)] + [{}], **table)


def skins_without_end(document, binary):
    document["skins"] = document["skins"] * 60_000


def deep_skins() -> bytes:
    """250 skins of 150 joints each at the foot of a chain of 9,999 nodes, none where it was bound."""
    document, binary = parts(GOOD)
    document["nodes"] = [{"children": [n + 1], "translation": [0, 0.01, 0]} for n in range(9_998)] + [{}]
    document["skins"] = [
        {"joints": list(range(9_690 + k % 8, 9_990 + k % 8, 2)), "inverseBindMatrices": 6} for k in range(250)
    ]
    document["accessors"].append({"bufferView": 6, "componentType": 5126, "count": 150, "type": "MAT4"})
    document["bufferViews"].append({"buffer": 0, "byteOffset": len(binary), "byteLength": 150 * 64})
    document["buffers"][0]["byteLength"] = len(binary) + 150 * 64
    del document["scenes"], document["scene"]
    return pack_glb(document, binary + np.tile(np.eye(4, dtype="<f4"), (150, 1, 1)).tobytes())


def cut(length: int) -> Callable[[], bytes]:
    return lambda: GOOD[:length]


def repeated(piece: str, bytes_: int = 19_000_000) -> Callable[[], bytes]:
    """JSON of some length that repeats one small piece in a list."""
    return lambda: ('{"asset": {"version": "2.0"}, "extras": [' + piece * (bytes_ // len(piece)) + "0]}").encode()


def marked(glb: bytes) -> bytes:
    """A byte-order mark in front of a GLB's JSON, which grows by four bytes."""
    size = struct.unpack_from("<I", glb, 12)[0]
    text = b"\xef\xbb\xbf" + glb[20 : 20 + size] + b" "
    chunks = struct.pack("<I4s", len(text), b"JSON") + text + glb[20 + size :]
    return struct.pack("<4sII", b"glTF", 2, 12 + len(chunks)) + chunks


def nested(opening: str, closing: str) -> Callable[[], bytes]:
    return lambda: (
        '{"asset": {"version": "2.0"}, "nodes": ' + opening * 100_000 + "0" + closing * 100_000 + "}"
    ).encode()


@dataclass(frozen=True)
class Case:
    """One file. words: what the refusal says, or a notice if `taken`. official: what the official validator says first:
    the code of an error, "" for none, "not glTF", "falls over" where it breaks off, "no verdict" where it does not end.
    why: where the two verdicts differ, the reason. heavy: built to cost time or memory."""

    build: Callable[[], bytes]
    words: str
    official: str
    taken: bool = False
    why: str = ""
    heavy: bool = False
    ending: str = "glb"

    @property
    def differs(self) -> bool:
        """Whether the two verdicts differ, or there is only one."""
        return self.official in ("falls over", "no verdict") or self.taken == bool(self.official)


NAN, INF = float("nan"), float("inf")
CASES: dict[str, Case] = {
    # The tree of nodes
    "circle": Case(glb(circle), "circle", "SCENE_NON_ROOT_NODE"),
    "own child": Case(glb(put("nodes", 0, "children", [0])), "circle", "SCENE_NON_ROOT_NODE"),
    "two parents": Case(glb(put("nodes", 0, "children", [3])), "node 3: expected one parent", "NODE_PARENT_OVERRIDE"),
    "a child twice": Case(glb(put("nodes", 1, "children", [2, 2])), "one parent", "DUPLICATE_ELEMENTS"),
    "no such child": Case(glb(put("nodes", 1, "children", [77])), "node 1: expected nodes from 0 to 3", "UNRESOLVED_REFERENCE"),
    "no such scene": Case(glb(put("scene", 5)), "scene", "UNRESOLVED_REFERENCE"),
    "no such node in the scene": Case(glb(put("scenes", 0, "nodes", [9])), "scene 0", "UNRESOLVED_REFERENCE"),
    "matrix and translation": Case(glb(put("nodes", 2, "matrix", np.eye(4).ravel().tolist())), "node 2: .*both", "NODE_MATRIX_TRS"),
    "matrix with perspective": Case(glb(put("nodes", 0, "matrix", [1, 0, 0, 1, 0, 1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1])), "perspective", "NODE_MATRIX_NON_TRS"),
    "matrix of NaN words": Case(gltf(put("nodes", 0, "matrix", [NAN] * 16)), "NaN", "INVALID_JSON", ending="gltf"),
    "quaternion of no length": Case(glb(put("nodes", 2, "rotation", [0, 0, 0, 0])), "node 2, rotation: .*length one", "ROTATION_NON_UNIT"),
    "quaternion of length two": Case(glb(put("nodes", 2, "rotation", [0, 0, 0, 2])), "length one", "VALUE_NOT_IN_RANGE"),
    "a scale of nothing": Case(glb(put("nodes", 1, "scale", [0, 0, 0])), "mirrored, sheared or flat", "", taken=True),
    "scales that multiply": Case(bare(nodes=[{"scale": [1e5] * 3, "children": [n + 1]} for n in range(9)] + [{}]), "scales", "", ending="gltf", why="each number is allowed; their product is no place"),
    "a place at 1e308": Case(glb(put("nodes", 2, "translation", [1e308, 0, 0])), "node 2, translation", "", why="any number is allowed there; no joint is that far away"),
    "a zero-length root bone": Case(bare(nodes=[{"name": "root", "children": [1]}, {"name": "pelvis"}]), "same place as the joint above: pelvis", "", taken=True, ending="gltf"),
    "a name with NUL": Case(glb(put("nodes", 2, "name", "el\0bow")), "Signs that cannot be shown", "", taken=True),
    "a name of markup": Case(glb(put("nodes", 2, "name", "<script>alert(1)</script>")), "", "", taken=True),
    "a name of a megabyte": Case(glb(put("nodes", 2, "name", "e" * 1_000_000)), "only the first 64", "", taken=True),
    "a name that is a number": Case(glb(put("nodes", 2, "name", 7)), "node 2, name: expected text", "TYPE_MISMATCH"),
    "no names": Case(glb(*(drop("nodes", n, "name") for n in (1, 2, 3))), "without a name .*: 3", "", taken=True),
    "no nodes": Case(bare(), "", "", taken=True, ending="gltf"),
    # Numbers in the text
    "NaN as a bare word": Case(gltf(put("nodes", 2, "translation", [NAN, 0, 0])), "JSON: expected finite numbers, got NaN", "INVALID_JSON", ending="gltf"),
    "infinity as a bare word": Case(gltf(put("nodes", 2, "scale", [INF, 1, 1])), "got Infinity", "INVALID_JSON", ending="gltf"),
    "1e999": Case(swap('"name": "elbow"', '"scale": [1e999, 1, 1]'), "node 2, scale", "VALUE_NOT_IN_RANGE", ending="gltf"),
    "a key twice": Case(swap('"name": "elbow"', '"name": "elbow", "name": "knee"'), "'name' twice", "", ending="gltf", why="the standard asks for unique keys, the validator does not look"),
    "a number of 5,000 digits": Case(swap('"scene": 0', '"scene": ' + "9" * 5_000), "digits", "falls over", ending="gltf", why="the validator ends without a verdict"),
    "a byte-order mark": Case(gltf(encoding="utf-8-sig"), "byte-order mark", "INVALID_JSON", taken=True, ending="gltf", why="the standard lets a reader pass over it"),
    "a byte-order mark in a GLB": Case(lambda: marked(GOOD), "byte-order mark", "INVALID_JSON", taken=True, why="the standard lets a reader pass over it"),
    "UTF-16": Case(gltf(encoding="utf-16"), "glTF file", "not glTF", ending="gltf"),
    "bytes that are no UTF-8": Case(lambda: gltf()().replace(b"elbow", b"elb\xffw"), "UTF-8", "INVALID_JSON", ending="gltf"),
    "100,000 nested lists": Case(nested("[", "]"), "deep", "falls over", ending="gltf", why="the validator ends without a verdict"),
    "100,000 nested tables": Case(nested('{"a":', "}"), "deep", "falls over", ending="gltf", why="the validator ends without a verdict"),
    # Skins
    "no such joint": Case(glb(put("skins", 0, "joints", [1, 2, 99])), "skin 0: .*joints", "UNRESOLVED_REFERENCE"),
    "a joint twice": Case(glb(put("skins", 0, "joints", [1, 2, 2])), "skin 0: .*joints", "DUPLICATE_ELEMENTS"),
    "no joints": Case(glb(put("skins", 0, "joints", [])), "skin 0: .*joints", "EMPTY_ENTITY"),
    "joints missing": Case(glb(drop("skins", 0, "joints")), "skin 0: .*joints", "UNDEFINED_PROPERTY"),
    "too few bind matrices": Case(glb(put("accessors", BIND, "count", 2)), "skin 0: expected 3 inverse bind matrices, got 2", "INVALID_IBM_ACCESSOR_COUNT"),
    "bind matrices that are no matrices": Case(glb(put("skins", 0, "inverseBindMatrices", POSITION)), "accessor 0: expected MAT4", "ACCESSOR_USAGE_OVERRIDE"),
    "bind matrices of zeros": Case(glb(store(BIND, 64, "16f", *[0.0] * 16)), "skin 0: .*none for joint 1", "ACCESSOR_INVALID_IBM"),
    "NaN in bind matrices": Case(glb(store(BIND, 0, "f", NAN)), "accessor 5: .*row 0", "ACCESSOR_INVALID_FLOAT"),
    "bind matrices missing": Case(glb(drop("skins", 0, "inverseBindMatrices")), "no inverse bind matrices", "", taken=True),
    "no such skin": Case(glb(put("nodes", 0, "skin", 3)), "node 0: .*skin", "UNRESOLVED_REFERENCE"),
    "two skins": Case(glb(again("skins", joints=[1, 2])), "2 skins: .*The joints of 0, 1 count", "", taken=True),
    "two meshes": Case(glb(second_mesh), "2 meshes. Taken as one: flesh. Left out: ferry", "", taken=True),
    "a posed joint": Case(glb(put("nodes", 2, "rotation", [0, 0, 0.6, 0.8])), "left in a pose", "", taken=True),
    "a joint beyond the skin's": Case(glb(store(JOINTS, 0, "H", 9)), "JOINTS_0: expected joints from 0 to 2", "ACCESSOR_JOINTS_INDEX_OOB"),
    "weights below zero": Case(glb(store(WEIGHTS, 0, "4f", -1, 1, 1, 0)), "JOINTS_0: .*weights from", "ACCESSOR_WEIGHTS_NEGATIVE"),
    "weights of nothing": Case(glb(store(WEIGHTS, 0, "4f", 0, 0, 0, 0)), "weights did not sum to one: 1", "ACCESSOR_WEIGHTS_NON_NORMALIZED", taken=True, why="the joints can still be judged; the vertex goes with one of them"),
    "NaN in weights": Case(glb(store(WEIGHTS, 16, "f", NAN)), "accessor 4: .*row 1", "ACCESSOR_INVALID_FLOAT"),
    "joints without weights": Case(glb(drop("meshes", 0, "primitives", 0, "attributes", "WEIGHTS_0")), "WEIGHTS_0", "MESH_PRIMITIVE_JOINTS_WEIGHTS_MISMATCH"),
    "a skin without weights": Case(glb(put("meshes", 0, "primitives", 0, "attributes", {"POSITION": 0})), "sum to one: 4", "NODE_SKIN_WITH_NON_SKINNED_MESH", taken=True, why="the joints can still be judged; the vertices go with one of them"),
    # Data
    "NaN in places": Case(glb(store(POSITION, 4, "f", NAN)), "accessor 0: .*NaN or infinity in row 0", "ACCESSOR_INVALID_FLOAT"),
    "infinity in places": Case(glb(store(POSITION, 12, "f", INF)), "accessor 0: .*NaN or infinity in row 1", "ACCESSOR_INVALID_FLOAT"),
    "places too far": Case(glb(store(POSITION, 0, "f", 1e30)), "units", "ACCESSOR_MAX_MISMATCH"),
    "rows past the view": Case(glb(put("accessors", POSITION, "count", 5)), "accessor 0: expected 5 rows", "ACCESSOR_TOO_LONG"),
    "a view past the buffer": Case(glb(put("bufferViews", 0, "byteLength", 10_000)), "buffer view 0: .*bytes up to", "BUFFER_VIEW_TOO_LONG"),
    "a buffer past the data": Case(glb(put("buffers", 0, "byteLength", 10_000)), "buffer 0: expected 10000 bytes", "BUFFER_BYTE_LENGTH_MISMATCH"),
    "a count of billions": Case(glb(put("accessors", POSITION, "count", 4_000_000_000)), "accessor 0: .*count", "ACCESSOR_TOO_LONG"),
    "a count of billions without data": Case(glb(billions), "accessor 0: .*count", "MESH_PRIMITIVE_UNEQUAL_ACCESSOR_COUNT"),
    "data of zeros": Case(glb(drop("accessors", POSITION, "bufferView")), "accessor 0: .*bufferView", "", why="allowed: every place at the origin, which is no mesh"),
    "sparse places": Case(glb(sparse), "accessor 0: .*sparse", "", why="allowed, and not read here: a limb has no need of it"),
    "sparse in words": Case(glb(put("accessors", POSITION, "sparse", "yes")), "sparse", "TYPE_MISMATCH"),
    "an odd stride": Case(glb(put("bufferViews", 0, "byteStride", 13)), "accessor 0|byteStride", "VALUE_MULTIPLE_OF"),
    "data not aligned": Case(glb(put("accessors", INDICES, "byteOffset", 1), put("accessors", INDICES, "count", 9)), "accessor 2: .*aligned", "ACCESSOR_OFFSET_ALIGNMENT"),
    "places of whole numbers": Case(glb(put("accessors", POSITION, "componentType", 5123)), "accessor 0: .*component type", "MESH_PRIMITIVE_ATTRIBUTES_ACCESSOR_INVALID_FORMAT"),
    "a triangle of no vertex": Case(glb(store(INDICES, 0, "H", 4)), "mesh 0, primitive 0: .*vertices from 0 to 3", "ACCESSOR_INDEX_OOB"),
    "half a triangle": Case(glb(put("accessors", INDICES, "count", 11)), "mesh 0, primitive 0: .*triangles", "", why="a warning there; here a list that was cut off"),
    "lines": Case(glb(put("meshes", 0, "primitives", 0, "mode", 1)), "no list of triangles", "", taken=True),
    "a strip": Case(glb(put("meshes", 0, "primitives", 0, "mode", 5)), "no list of triangles", "", taken=True),
    "no places": Case(glb(drop("meshes", 0, "primitives", 0, "attributes", "POSITION")), "POSITION", "", why="a warning there; here a mesh without places is none"),
    "no such mesh": Case(glb(put("nodes", 0, "mesh", 4)), "node 0: .*mesh", "UNRESOLVED_REFERENCE"),
    "a flat mesh of two triangles": Case(flat, "flat", "", taken=True),
    "compressed": Case(glb(put("extensionsRequired", ["EXT_packed"]), put("extensionsUsed", ["EXT_packed"])), "compression", "", why="allowed for readers that know the extension; this one knows none"),
    # Other files and hosts
    "a file beside it": Case(gltf(put("buffers", 0, "uri", "arm.bin")), "buffer 0: .*not opened", "IO_ERROR", ending="gltf"),
    "a file elsewhere": Case(gltf(put("buffers", 0, "uri", "/etc/passwd")), "buffer 0: .*not opened", "IO_ERROR", ending="gltf"),
    "a file by address": Case(gltf(put("buffers", 0, "uri", "file:///etc/passwd")), "not opened", "IO_ERROR", ending="gltf"),
    "a host": Case(gltf(put("buffers", 0, "uri", "http://localhost:9/arm.bin")), "not opened", "IO_ERROR", ending="gltf"),
    "a picture elsewhere": Case(gltf(put("images", [{"uri": "http://localhost:9/skin.png"}])), "", "IO_ERROR", taken=True, ending="gltf", why="the validator wants to see it; here pictures are never looked at"),
    "data that are no base64": Case(gltf(put("buffers", 0, "uri", "data:application/octet-stream;base64,%%%")), "base64", "INVALID_URI", ending="gltf"),
    "a buffer without data": Case(gltf(drop("buffers", 0, "uri")), "buffer 0: expected data", "", ending="gltf", why="allowed where the program knows the data; here nothing can be known"),
    # The container
    "nothing": Case(lambda: b"", "empty", "not glTF"),
    "four bytes": Case(cut(4), "cut off", "GLB_UNEXPECTED_END_OF_HEADER"),
    "cut in the header": Case(cut(16), "cut off", "GLB_UNEXPECTED_END_OF_CHUNK_HEADER"),
    "cut in the JSON": Case(cut(300), "header: .*cut off", "GLB_UNEXPECTED_END_OF_CHUNK_DATA"),
    "cut in the data": Case(cut(len(GOOD) - 40), "header: .*cut off", "GLB_UNEXPECTED_END_OF_CHUNK_DATA"),
    "a text cut short": Case(lambda: gltf()()[:500], "JSON", "INVALID_JSON", ending="gltf"),
    "a length too great": Case(header(length=len(GOOD) + 4), "header says", "GLB_LENGTH_MISMATCH"),
    "a length too small": Case(header(length=len(GOOD) - 4), "header says", "GLB_CHUNK_TOO_BIG"),
    "a chunk past the end": Case(header(chunk=2**32 - 4), "chunk 0", "GLB_CHUNK_TOO_BIG"),
    "a chunk of three bytes": Case(header(chunk=3), "chunk 0", "GLB_CHUNK_LENGTH_UNALIGNED"),
    "container version 1": Case(header(version=1), "version 1", "GLB_INVALID_VERSION"),
    "container version 3": Case(header(version=3), "version 3", "GLB_INVALID_VERSION"),
    "another magic word": Case(header(magic=b"glTX"), "another kind", "GLB_INVALID_MAGIC"),
    "glTF 1.0": Case(glb(put("asset", {"version": "1.0"})), "version '1.0'", "UNKNOWN_ASSET_MAJOR_VERSION"),
    "glTF 3.0": Case(glb(put("asset", {"version": "3.0"})), "version '3.0'", "UNKNOWN_ASSET_MAJOR_VERSION"),
    "no asset": Case(glb(drop("asset")), "asset", "UNDEFINED_PROPERTY"),
    "an archive": Case(lambda: b"PK\x03\x04" + bytes(200), "another kind", "not glTF"),
    # Built to cost time or memory
    "a million triangles": Case(million, "1,000,000 triangles", "", taken=True, heavy=True),
    "300 million triangles": Case(shared_triangles, "2,000,000 triangles", "", heavy=True, why="allowed; more than can be held"),
    "19 MB of empty lists": Case(repeated("[],"), "1,000,000 values", "", heavy=True, ending="gltf", why="allowed; took 555 MB to hold"),
    "19 MB of small tables": Case(repeated('{"":0},'), "1,000,000 values", "", heavy=True, ending="gltf", why="allowed; took 630 MB to hold"),
    "as many tables as may be": Case(repeated('{"":0},', 3_499_000), "", "", taken=True, heavy=True, ending="gltf"),
    "19 MB of long numbers": Case(repeated("9" * 4_300 + ","), "", "", taken=True, heavy=True, ending="gltf"),
    "10,000 meshes": Case(many(10_000, 10_000, 1), "2,000 parts", "", heavy=True, why="allowed; no limb has so many"),
    "500 million lines": Case(many(10_000, 1, 50_000, mode=1), "2,000 parts", "", heavy=True, why="allowed; no limb has so many"),
    "60,000 skins": Case(glb(skins_without_end), "256 skins", "", heavy=True, why="allowed; no limb has so many"),
    "250 skins deep down": Case(deep_skins, "", "no verdict", taken=True, heavy=True, why="the validator gives no verdict within 100 s"),
    "a chain of 10,000": Case(chain(10_000), "512 joints", "", heavy=True, ending="gltf", why="allowed; no figure has so many joints"),
    "a skin of 10,000": Case(chain(10_000, skins=[{"joints": list(range(10_000))}]), "512 joints", "", heavy=True, ending="gltf", why="allowed; no figure has so many joints"),
    "20 names of 900,000 letters": Case(bare(nodes=[{"name": "a" * 900_000}] * 20), "first 64", "", taken=True, heavy=True, ending="gltf"),
}  # fmt: skip

READ = """
import sys
from pathlib import Path
import json, resource
from rigkit.files.gltf import read_gltf
from rigkit.require import RigError
b"a".decode("utf-8-sig")  # so that Python has opened its own module for it
opened = []
sys.addaudithook(lambda event, args: event.startswith(("open", "socket.", "os.", "subprocess.", "urllib.", "ctypes."))
                 and opened.append(str(args[0]) if args else event))
told = []
for name in sys.argv[1:]:
    opened.clear()
    try:
        scene = read_gltf(Path(name).read_bytes(), "teasel.glb")
        found = [True, " ".join(scene.notices)]
    except RigError as refused:
        found = [False, str(refused)]
    told.append([*found, list(opened)])
use = resource.getrusage(resource.RUSAGE_SELF)
peak = [int(line.split()[1]) / 1024 for line in Path("/proc/self/status").read_text().splitlines() if "VmHWM" in line]
for one in told:
    print(json.dumps([*one, use.ru_utime + use.ru_stime, *peak]))
"""
"""A program that reads files and prints for each: whether it was taken, what was said, what it opened; and of the whole
run, Python's start counted, the processor's seconds and the most memory in MB."""


def measured(path: str) -> list:
    """What reading one file takes, in a Python of its own."""
    return json.loads(
        subprocess.run([sys.executable, "-c", READ, path], capture_output=True, text=True, check=True).stdout
    )


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as folder:
        for name, case in CASES.items():
            path = Path(sys.argv[1] if len(sys.argv) > 1 else folder, f"{re.sub('[ ,]+', '_', name)}.{case.ending}")
            path.write_bytes(case.build())
            taken, _, _, seconds, megabytes = measured(str(path))
            size = path.stat().st_size / 1e6
            print(f"{name:36}{size:6.1f} MB {seconds:6.2f} s {megabytes:5.0f} MB  {'taken' if taken else 'refused'}")
