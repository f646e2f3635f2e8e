"""A limb carried into another program and back: a layout as a skinned GLB, and what differs when it comes back."""

from __future__ import annotations

from pathlib import Path

from rigkit.changes import changes
from rigkit.files import whole
from rigkit.files.exercise import Exercise
from rigkit.files.gltf_write import skinned_glb
from rigkit.files.handin import read_handin
from rigkit.files.layout import Layout
from rigkit.require import RigError
from rigkit.standing import recognised

LEAST = 1e-5
"""Metres: a hundredth of a millimetre; programs that keep centimetres, or a parent's places, leave some micrometres."""


def carry_out(layout: Layout, exercise: Exercise, path: str | Path) -> Path:
    """Write a layout with the exercise's mesh and skin weights as a GLB that other programs open. Returns its path.

    Raises RigError where it cannot be written, or another file of that name is no such GLB.
    """
    path = Path(path)
    if path.suffix.lower() != ".glb":
        raise RigError("a file name that ends in .glb", path.name, next_step=f"Write {path.stem or 'limb'}.glb")
    try:
        whole.write_whole(path, skinned_glb(exercise.mesh, layout.skeleton))
    except OSError as error:
        raise RigError("a folder that can be written", (error.strerror or "an error").lower(),
                       next_step="Choose another folder", where=path.name) from None  # fmt: skip
    return path


def brought_back(layout: Layout, path: str | Path, exercise: Exercise) -> tuple[str, ...]:
    """What differs between a layout and a file of the same limb, and what was noticed in the file, as sentences.

    Units and axes of the file are recognised first. One sentence of praise where nothing differs.
    """
    path = Path(path)
    back, told = recognised(read_handin(path, path.name), exercise)
    found = changes(layout.skeleton, back.skeleton, LEAST)
    lines = [f"{one.told}." for one in found] or ["Nothing differs: every joint came back as it went out."]
    return (*lines, *back.notices, *told)
