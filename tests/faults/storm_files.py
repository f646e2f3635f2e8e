"""Hostile hand-ins without end: a number and an exercise's key -> a file of some kind, the same each time.

Half of them are good files of which bytes or values were changed, the other half is built to hurt: texts that are markup,
formulas or paths, numbers without measure, circles, floods, bombs, links. `python -m tests.faults.storm` marks them.
"""

import io
import json
import os
import random
import struct
import warnings
import zipfile
from dataclasses import dataclass
from pathlib import Path

from rigkit.files.gltf_write import pack_glb
from rigkit.files.layout import Layout, write_layout
from tests.faults.hostile_gltf import CASES, GOOD, gltf, parts
from tests.faults.storm_changes import TEXTS, changed_bytes, changed_values, text_of

MEMBERS = ("{}", "../{}", "../../../tmp/{}", "/{}", "C:/{}", "..\\{}", "a/b/c/{}", "./{}", "//{}", "x/../{}", ".hidden/{}", "=1+1/{}",
           "<b>/{}", "a/\x1b[2J{}", "__MACOSX/{}", "\u00e9t\u00e9/{}", "{}/", " /{}", "students/{}", "e" * 300 + "/{}")  # fmt: skip
LINKS = ("/etc/passwd", "/dev/zero", "/nowhere", "/proc/self/environ", ".", "..")


@dataclass(frozen=True)
class Made:
    """A hand-in: its kind, its name below the class's folder, its bytes; or what it is instead of a file."""

    kind: str
    name: str
    data: bytes = b""
    instead: str = ""

    def put(self, folder: Path) -> None:
        """Lay it into the folder."""
        path = folder / self.name
        path.parent.mkdir(parents=True, exist_ok=True)
        match self.instead.partition(" ")[::2]:
            case "link", to:
                path.symlink_to(to)
            case "pipe", _:
                os.mkfifo(path)
            case "folder", _:
                path.mkdir()
            case "vast", size:
                path.touch()
                os.truncate(path, int(size))
            case _:
                path.write_bytes(self.data)


def made(seed: int, number: int, key: Layout) -> Made:
    """The hand-in with this number."""
    chance = random.Random(f"{seed} {number}")
    kind = chance.choices(list(KINDS), [share for share, _, _ in KINDS.values()])[0]
    _, build, endings = KINDS[kind]
    name = _name(chance, number, chance.choice(endings))
    if build is None:
        link, size = chance.choice(LINKS), chance.choice((10**6, 2 * 10**7, 10**10)) + 1
        return Made(kind, name, instead=chance.choice((f"link {link}", "pipe", "folder", f"vast {size}")))
    return Made(kind, name, build(chance, key))


def _name(chance: random.Random, number: int, ending: str) -> str:
    """A file's name that is its own, plain or not, now and then in a folder; none is hidden."""
    if chance.random() < 0.5:
        return f"s{number}{ending}"
    text = chance.choice(TEXTS).replace("/", "\u2215").replace("\x00", "").replace("\ud800", "\udcff").lstrip(".")
    text = text.encode("utf-8", "surrogateescape")[:200].decode("utf-8", "surrogateescape")
    text = "".join(one for one in text if not "\udc00" <= one <= "\udcff" or one == "\udcff")
    return chance.choice(
        (f"{text}{number}{ending}", f"{text or 'x'}/{number}{ending}", f"{number}{text}{ending.upper()}")
    )


def _layout(chance: random.Random, key: Layout) -> dict:
    """A layout as a student may hand it in, its places a little off."""
    table = json.loads(write_layout(key)) | {"id": f"id{chance.randrange(400)}", "attempt": chance.randint(1, 3)}
    off = chance.choice((0, 0.002, 0.02))
    for joint in table["joints"]:
        joint["position"] = [round(value + chance.gauss(0, off), 5) for value in joint["position"]]
    return table


def layout_bytes(chance: random.Random, key: Layout) -> bytes:
    """A layout of which bytes were changed."""
    return changed_bytes(chance, text_of(chance, _layout(chance, key)))


def layout_values(chance: random.Random, key: Layout) -> bytes:
    """A layout with other values."""
    return text_of(chance, changed_values(chance, _layout(chance, key)))


def layout_texts(chance: random.Random, key: Layout) -> bytes:
    """A layout that can be read, its texts hostile."""
    table = _layout(chance, key)
    for key_ in ("id", "exercise"):
        if chance.random() < 0.4:
            table[key_] = chance.choice(TEXTS) if key_ == "id" or chance.random() < 0.2 else ""
    for joint in table["joints"]:
        if chance.random() < 0.5:
            joint["name"] = chance.choice((chance.choice(TEXTS), joint["name"] + chance.choice(TEXTS)))
        if chance.random() < 0.1:
            joint[chance.choice(TEXTS)] = 1
    return text_of(chance, table)


def layout_shapes(chance: random.Random, key: Layout) -> bytes:
    """A layout whose tree or places are odd: floods, chains, circles, all in one place, in one line, far away, turned."""
    table = _layout(chance, key)
    joints = table["joints"]
    match chance.randrange(8):
        case 0:
            more = chance.choice((5, 100, 512 - len(joints), 600))
            joints += [{"name": chance.choice(TEXTS), "parent": chance.randrange(len(joints) + n), "rotation": None,
                        "position": [chance.uniform(-1, 2) for _ in range(3)]} for n in range(more)]  # fmt: skip
        case 1:
            for joint in joints:
                joint["parent"] = chance.choice((None, 0, len(joints) - 1, chance.randrange(len(joints)), len(joints)))
        case 2:
            for joint in joints:
                joint["position"] = joints[0]["position"]
        case 3:
            for number, joint in enumerate(joints):
                joint["position"] = [number * chance.choice((0.1, 1e-9, 1e4)), 1.0, 0.0]
        case 4:
            size = chance.choice((1e-12, 1e-3, 1e3, 9e4, 1e300))
            for joint in joints:
                joint["position"] = [value * size for value in joint["position"]]
        case 5:
            for joint in joints:
                joint["rotation"] = [chance.choice((0, 1, -1, 1e-9, 0.5, 1e200)) for _ in range(4)]
        case 6:
            chance.shuffle(joints)
        case _:
            table |= {"units": chance.choice(("m", "cm", "mm", "in", "feet")), "up": chance.choice(("+y", "+z", "-z", "+x")),
                      "facing": chance.choice(("+z", "-y", "+x", "+y"))}  # fmt: skip
    return text_of(chance, table)


def glb_values(chance: random.Random, key: Layout) -> bytes:
    """A GLB with other values in its document, or other numbers in its data."""
    document, data = parts(GOOD)
    binary = bytearray(data)
    if chance.random() < 0.3:
        for _ in range(chance.randint(1, 5)):
            place = 4 * chance.randrange(len(binary) // 4)
            value = chance.choice((float("nan"), float("inf"), -1.0, 1e38, 1e-40, 0.0, 7.0))
            struct.pack_into("<f", binary, place, value)
        return pack_glb(document, bytes(binary))
    changed = json.dumps(changed_values(chance, document)).encode()
    changed += b" " * (-len(changed) % 4)
    chunks = struct.pack("<I4s", len(changed), b"JSON") + changed + struct.pack("<I4s", len(data), b"BIN\0") + data
    return struct.pack("<4sII", b"glTF", 2, 12 + len(chunks)) + chunks


def gltf_joints(chance: random.Random, key: Layout) -> bytes:
    """A glTF of the key's joints, its texts or values hostile."""
    joints, nodes = key.skeleton, []
    for number, name in enumerate(joints.names):
        above = joints.parents[number]
        step = joints.positions[number] - (0 if above is None else joints.positions[above])
        below = [n for n, parent in enumerate(joints.parents) if parent == number]
        shown = chance.choice(TEXTS) if chance.random() < 0.4 else name
        node = {"name": shown, "translation": [float(one) for one in step]}
        nodes.append(node | {"children": below} if below else node)
    table = {"asset": {"version": "2.0"}, "nodes": nodes, "skins": [{"joints": list(range(len(nodes)))}]}
    if chance.random() < 0.2:
        table["buffers"] = [{"byteLength": 4, "uri": chance.choice(TEXTS)}]
        table["images"] = [{"uri": chance.choice(TEXTS)}]
    return text_of(chance, changed_values(chance, table, 0))


def glb_bytes(chance: random.Random, key: Layout) -> bytes:
    """A GLB or glTF of which bytes were changed."""
    return changed_bytes(chance, GOOD if chance.random() < 0.7 else gltf()())


def gltf_listed(chance: random.Random, key: Layout) -> bytes:
    """One of the bad files of `hostile_gltf`, as it is."""
    heavy = chance.random() < 0.02
    return chance.choice([case for case in CASES.values() if case.heavy == heavy]).build()


def zip_entries(chance: random.Random, key: Layout, depth: int = 0) -> bytes:
    """A zip of a few hand-ins under hostile names, with links, zips within and bombs among them."""
    body, parents = io.BytesIO(), chance.choice((1, 1, 3, 8))
    ways = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED, zipfile.ZIP_DEFLATED)
    with zipfile.ZipFile(body, "w", chance.choice(ways)) as packed:
        for number in range(parents):
            name = chance.choice(MEMBERS).format(chance.choice((f"s{number}", chance.choice(TEXTS))))
            name = name.encode("utf-8", "replace").decode() or "x"
            match chance.randrange(12):
                case 0:
                    data, name = b"\0" * chance.choice((10**5, 10**6, 21 * 10**6)), name + ".json"
                case 1:
                    data, name = zip_entries(chance, key, depth + 1) if depth < 2 else b"PK", name + ".zip"
                case 2:
                    data, name = b"/etc/passwd", name + ".json"
                case 3 | 4:
                    data, name = gltf_joints(chance, key), name + ".gltf"
                case 5:
                    data, name = glb_bytes(chance, key), name + ".glb"
                case 6:
                    data = b"notes"
                case _:
                    data, name = chance.choice((layout_texts, layout_values))(chance, key), name + ".json"
            entry = zipfile.ZipInfo(name)
            entry.compress_type = chance.choice((*ways, zipfile.ZIP_LZMA))
            entry.external_attr = (0o120777 if data == b"/etc/passwd" else 0o644) << 16
            entry.flag_bits |= chance.random() < 0.03
            with warnings.catch_warnings(action="ignore"):  # of a name twice
                packed.writestr(entry, data)
        packed.comment = chance.choice((b"", b"", b"PK\x05\x06" + bytes(18), b"<b>" * 50))
    return body.getvalue()


def zip_bytes(chance: random.Random, key: Layout) -> bytes:
    """A zip of which bytes were changed, most of them in its list of entries."""
    data = zip_entries(chance, key)
    if len(data) > 500_000:
        return changed_bytes(chance, data[-2_000:])
    begins = data.rfind(b"PK\x01\x02") if chance.random() < 0.6 else 0
    return data[:begins] + changed_bytes(chance, data[begins:])


def other_kind(chance: random.Random, key: Layout) -> bytes:
    """Something else than the ending says."""
    build = chance.choice((layout_texts, gltf_joints, glb_bytes, zip_entries))
    return chance.choice((build(chance, key), chance.randbytes(chance.choice((0, 1, 100, 5_000)))))


KINDS = {
    "layout, bytes": (14, layout_bytes, (".json",)),
    "layout, values": (18, layout_values, (".json",)),
    "layout, texts": (14, layout_texts, (".json",)),
    "layout, shapes": (10, layout_shapes, (".json",)),
    "glTF, bytes": (10, glb_bytes, (".glb", ".gltf")),
    "glTF, values": (14, glb_values, (".glb",)),
    "glTF, texts": (8, gltf_joints, (".gltf", ".glb")),
    "glTF, listed": (2, gltf_listed, (".glb", ".gltf")),
    "zip, entries": (4, zip_entries, (".zip",)),
    "zip, bytes": (4, zip_bytes, (".zip",)),
    "no file": (1, None, (".json", ".glb", ".zip")),
    "another kind": (1, other_kind, (".json", ".glb", ".gltf", ".zip", ".txt", "")),
}
"""For each kind of hand-in: its share, how to build it (None: it is no file) and the endings it may have."""
