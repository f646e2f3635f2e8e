"""A slow run for the readers, guided by what code each input reaches: `python -m tests.faults.fuzz READER [SECONDS] [FOLDER]`.

READER is layout, gltf or zip; in so many seconds (300) a reader may give what it reads or a RigError, nothing else. It needs the
package atheris, which the tests do not: `pip install atheris`. A failing input is left in FOLDER, with the inputs that reach most.
"""

import sys
import tempfile
from pathlib import Path

from rigkit.require import RigError

READERS = ("layout", "gltf", "zip")
SLOWEST, LARGEST_MEGABYTES, LONGEST = 2, 1000, 20_000  # seconds and memory of one input; bytes of one


def reader(name: str, folder: Path):
    """A function that reads bytes and lets RigError pass."""
    from rigkit.files.gltf import read_gltf
    from rigkit.files.handin import read_handin
    from rigkit.files.layout import read_layout
    from rigkit.files.packed import Packed, entries

    def unpacked(data: bytes) -> None:
        path = folder / "a.zip"
        path.write_bytes(data)
        for label, entry in entries(path, "a.zip"):
            if isinstance(entry, Packed) and label.endswith((".json", ".glb", ".gltf")):
                try:
                    read_handin(entry, label)  # type: ignore[arg-type]
                except RigError:
                    continue

    read = {
        "layout": lambda data: read_layout(data, "a.json"),
        "gltf": lambda data: read_gltf(data, "a.glb"),
        "zip": unpacked,
    }[name]

    def once(data: bytes) -> None:
        try:
            read(data)
        except RigError as refused:
            assert str(refused).isprintable(), "a refusal that cannot be shown"

    return once


def seeds(name: str, folder: Path) -> None:
    """Good and bad files to begin from."""
    import random

    from rigkit.files.exercise import read_exercise
    from tests.arms import FOLDER
    from tests.faults import storm_files as made
    from tests.faults.hostile_gltf import CASES

    key, chance = read_exercise(FOLDER).key, random.Random(1)
    kinds = {"layout": (made.layout_values, made.layout_texts, made.layout_shapes), "gltf": (made.gltf_joints, made.glb_values),
             "zip": (made.zip_entries,)}[name]  # fmt: skip
    files = [chance.choice(kinds)(chance, key) for _ in range(300)]
    files += [case.build() for case in CASES.values() if not case.heavy] if name == "gltf" else []
    for number, data in enumerate(files):
        if len(data) <= LONGEST:
            (folder / f"{number:03}").write_bytes(data)


def main() -> None:
    """Run one reader under atheris."""
    if sys.argv[1:2] not in [[one] for one in READERS]:
        sys.exit(__doc__)
    try:
        import atheris
    except ImportError:
        sys.exit("This run needs the package atheris: pip install atheris (Linux and macOS).")
    name, seconds = sys.argv[1], sys.argv[2] if sys.argv[2:] else "300"
    with tempfile.TemporaryDirectory() as scratch:
        found = Path(sys.argv[3] if sys.argv[3:] else scratch)
        corpus = found / f"{name}-corpus"
        corpus.mkdir(parents=True, exist_ok=True)
        with atheris.instrument_imports(
            include=["rigkit.files", "rigkit.schema", "rigkit.skeleton", "zipfile", "json"]
        ):
            once = reader(name, Path(scratch))
        seeds(name, corpus)
        atheris.Setup([sys.argv[0], str(corpus), f"-max_total_time={seconds}", f"-max_len={LONGEST}", f"-timeout={SLOWEST}",
                       f"-rss_limit_mb={LARGEST_MEGABYTES}", f"-artifact_prefix={found}/{name}-", "-print_final_stats=1"], once)  # fmt: skip
        atheris.Fuzz()


if __name__ == "__main__":
    main()
