"""A limb carried into another program and back: a layout as skinned GLB or JSON, and what differs afterwards."""

from __future__ import annotations

from pathlib import Path

from rigkit.changes import changes
from rigkit.files import whole
from rigkit.files.exercise import Exercise
from rigkit.files.gltf_write import skinned_glb
from rigkit.files.handin import read_handin
from rigkit.files.layout import Layout, write_layout
from rigkit.require import RigError
from rigkit.standing import recognised

LEAST = 1e-5
"""Metres: a hundredth of a millimetre; programs that keep centimetres, or a parent's places, leave some micrometres."""


def carry_out(layout: Layout, exercise: Exercise, path: str | Path) -> Path:
    """Write a layout with the exercise's mesh and skin weights as a GLB that other programs open, or, where the file's
    name ends in .json, the layout alone. Returns its path.

    Raises RigError for another ending, and where it cannot be written.
    """
    path = Path(path)
    ending = path.suffix.lower()
    if ending not in (".glb", ".json"):
        raise RigError(
            "a file name that ends in .glb or .json", path.name, next_step=f"Write {path.stem or 'limb'}.glb"
        )
    try:
        glb = ending == ".glb"
        whole.write_whole(path, skinned_glb(exercise.mesh, layout.skeleton) if glb else write_layout(layout))
    except OSError as error:
        raise RigError("a folder that can be written", (error.strerror or "an error").lower(),
                       next_step="Choose another folder", where=path.name) from None  # fmt: skip
    return path


def came_back(path: str | Path, exercise: Exercise) -> tuple[Layout, tuple[str, ...]]:
    """The layout in a file of the same limb, its units and axes recognised, and what was noticed in it, as sentences.

    Raises RigError for a file that is not there or cannot be read.
    """
    path = Path(path)
    back, told = recognised(read_handin(path, path.name), exercise)
    return back, (*back.notices, *told)


def brought_back(layout: Layout, path: str | Path, exercise: Exercise) -> tuple[str, ...]:
    """What differs between a layout and a file of the same limb (see `came_back`), and what was noticed in the file,
    as sentences. One sentence of praise where nothing differs."""
    back, noticed = came_back(path, exercise)
    lines = [f"{one.told}." for one in changes(layout.skeleton, back.skeleton, LEAST)]
    return (*(lines or ["Nothing differs: every joint came back as it went out."]), *noticed)
