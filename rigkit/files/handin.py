"""Hand-ins: one file (layout JSON, .glb or .gltf) of limited size gives a Layout; links and odd files are not read.

`UNJUDGED` lists for each kind of file which criteria cannot be judged from it, when, and why. A mark is made from the
others: what a file cannot hold is neither right nor wrong. What a file can hold is judged also where it is left out: a
layout has to name its joints, and a parent of null says "the topmost". A glTF without a skin or a mesh loses nothing.
Whether both sides are there for `mirror` is measured; it does not depend on the kind of file.
"""

import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path, PurePosixPath

import numpy as np

from rigkit.files.layout import LARGEST, LONGEST_NAME, MOST_JOINTS, Layout, plain_text, read_layout
from rigkit.mesh import Mesh
from rigkit.require import RigError
from rigkit.skeleton import Skeleton

ENDINGS = (".json", ".glb", ".gltf")
LARGEST_GLTF = 20_000_000  # bytes
MOST_POINTS = 64  # of a hand-in's own mesh, beside the outermost ones: enough to tell which mesh it is


def _unturned(skeleton: Skeleton) -> bool:
    return all(rotation is None for rotation in skeleton.rotations)


def _unnamed(skeleton: Skeleton) -> bool:
    return all(not name or re.fullmatch(r"node_\d+", name) for name in skeleton.names)


_FRAMES = ("frames", _unturned, "No joint in the file has a rotation, so the joints' axes cannot be judged.")
_NAMES = ("names", _unnamed, "No joint in the file has a name, as glTF allows, so names cannot be judged.")
UNJUDGED: dict[str, tuple[tuple[str, Callable[[Skeleton], bool], str], ...]] = {
    ".json": (_FRAMES,), ".glb": (_FRAMES, _NAMES), ".gltf": (_FRAMES, _NAMES),
}  # fmt: skip
"""For each kind of file, by its ending: a criterion, when it cannot be judged, and the reason in words."""


def read_handin(path: Path, label: str) -> Layout:
    """Read one hand-in; `label` is the file's name for errors and, without its ending, the id where none is given.

    Raises RigError for whatever cannot be used, also where the file cannot be read.
    """
    ending = Path(label).suffix.lower()
    largest = LARGEST if ending == ".json" else LARGEST_GLTF
    try:
        if not path.is_file():
            raise RigError("a file", "something else" if path.exists() else "no file of that name", where=label)
        size = path.stat().st_size
        if size > largest:
            raise RigError(f"at most {largest // 1_000_000} MB", f"{size / 1e6:.1f} MB",
                           "more than the joints of one limb was saved", where=label)  # fmt: skip
        with path.open("rb") as file:
            data = file.read(largest + 1)
    except OSError as error:
        raise RigError("a file that can be read", (error.strerror or "an error").lower(), where=label) from None
    layout = read_layout(data, label) if ending == ".json" else _from_gltf(data, label)
    return replace(layout, unjudged={key: why for key, when, why in UNJUDGED[ending] if when(layout.skeleton)})


def _from_gltf(data: bytes, label: str) -> Layout:
    from rigkit.files.gltf import read_gltf

    scene = read_gltf(data, label)
    if scene.skeleton is None or not len(scene.skeleton):
        raise RigError("a file with joints in it", "none", "only the mesh was exported", "Export the joints too", label)
    skeleton = scene.skeleton
    if len(skeleton) > MOST_JOINTS:
        raise RigError(f"at most {MOST_JOINTS} joints", f"{len(skeleton)}", where=label)
    notices = list(scene.notices)
    names = [plain_text(name, f"joint {i}'s name", notices) for i, name in enumerate(skeleton.names)]
    skeleton = Skeleton(tuple(names), skeleton.parents, skeleton.positions, skeleton.rotations)
    return Layout(id_from(label), "", 1, skeleton, tuple(notices), flesh=_some_points(scene.mesh),
                  bases=scene.bases)  # fmt: skip


def _some_points(mesh: Mesh | None) -> np.ndarray | None:
    """A few vertices (k, 3) of a mesh, evenly spread over its list, and those that lie furthest out."""
    if mesh is None:
        return None
    points = mesh.vertices
    outermost = np.concatenate([points.argmin(axis=0), points.argmax(axis=0)])
    return np.concatenate([points[outermost], points[:: -(-len(points) // MOST_POINTS)]])


def id_from(label: str) -> str:
    """The id that a file's name gives: the name without folder and ending, without signs that cannot be shown."""
    name = PurePosixPath(label).name
    return plain_text(name.rpartition(".")[0] or name, "", [])[:LONGEST_NAME] or "unnamed"
