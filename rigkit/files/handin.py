"""Hand-ins: one file (layout JSON, .glb or .gltf) of limited size gives a Layout; links and odd files are not read."""

from pathlib import Path, PurePosixPath

from rigkit.files.layout import LARGEST, LONGEST_NAME, MOST_JOINTS, Layout, plain_text, read_layout
from rigkit.require import RigError
from rigkit.skeleton import Skeleton

ENDINGS = (".json", ".glb", ".gltf")
LARGEST_GLTF = 20_000_000  # bytes


def read_handin(path: Path, label: str) -> Layout:
    """Read one hand-in; `label` is the file's name for errors and, without its ending, the id where none is given.

    Raises RigError for whatever cannot be used, also where the file cannot be read.
    """
    ending = Path(label).suffix.lower()
    largest = LARGEST if ending == ".json" else LARGEST_GLTF
    try:
        if not path.is_file():
            raise RigError("a file", "something else", where=label)
        size = path.stat().st_size
        if size > largest:
            raise RigError(f"at most {largest // 1_000_000} MB", f"{size / 1e6:.1f} MB",
                           "more than the joints of one limb was saved", where=label)  # fmt: skip
        with path.open("rb") as file:
            data = file.read(largest + 1)
    except OSError as error:
        raise RigError("a file that can be read", (error.strerror or "an error").lower(), where=label) from None
    return read_layout(data, label) if ending == ".json" else _from_gltf(data, label)


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
    return Layout(id_from(label), "", 1, skeleton, tuple(notices))


def id_from(label: str) -> str:
    """The id that a file's name gives: the name without folder and ending, without signs that cannot be shown."""
    name = PurePosixPath(label).name
    return plain_text(name.rpartition(".")[0] or name, "", [])[:LONGEST_NAME] or "unnamed"
