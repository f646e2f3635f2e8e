"""Exercises as they reach people: bundled, in a folder of one's own, another limb of the kind, the students' copy."""

import re
import shutil
from collections.abc import Callable
from pathlib import Path

from rigkit.files.exercise import Exercise, read_exercise
from rigkit.files.layout import Layout
from rigkit.limbs import KINDS, Shape, limb_seed, practice_limb
from rigkit.make_exercise import make_exercise
from rigkit.require import RigError, choice, shown
from rigkit.tables import data_folder
from rigkit.work import WORK, Store, own_folder


def open_exercise(name: str) -> Exercise:
    """An exercise of the project's data folder by its id, such as "left-arm" (RigError lists the ids there are), or one
    in a folder of one's own."""
    if isinstance(name, str) and Path(name, "exercise.toml").is_file():
        return read_exercise(name)
    folder = data_folder() / "exercises"
    there = sorted(path.parent.name for path in folder.glob("*/exercise.toml"))
    if isinstance(name, str) and ("/" in name or "\\" in name):
        raise RigError("a folder with exercise.toml in it", f"{shown(name)}, which has none", "the path is another one",
                       "Paths begin at the folder of this notebook", "the exercise")  # fmt: skip
    return read_exercise(folder / choice(name, "the exercise", there))


def another_limb(exercise: Exercise, start: str, lesson: str) -> Callable[[int], tuple[Exercise, Layout, Store]] | None:
    """What makes practice limb number 1, 2 ... of an exercise's kind, joints and start, without a key, in the folder
    of the student's work; None where the exercise is of no kind that can be made."""
    kind = _kind_of(exercise)
    if kind is None:
        return None

    def another(number: int) -> tuple[Exercise, Layout, Store]:
        name, roles = f"{exercise.id}-{number}", tuple(joint.role for joint in exercise.joints)
        fuller, longer = (0.62 * number) % 1, (0.38 * number) % 1  # so that each looks unlike the last
        shape = Shape(lengths={roles[1]: 0.88 + 0.24 * longer}, thickness=0.88 + 0.24 * fuller)
        limb = practice_limb(kind, limb_seed(str(number), exercise.id), exercise.side, shape)
        asked = () if set(roles) == set(limb.roles) else roles  # all there is: then what is optional stays so
        words = f"{exercise.side.capitalize()} {kind.replace('_', ' ')} number {number}"
        made = read_exercise(make_exercise(own_folder(WORK) / "limbs" / name, limb, asked, name, words, with_key=False))
        return made, made.start(start), Store.beside(name, lesson)

    return another


def _kind_of(exercise: Exercise) -> str | None:
    """The kind of practice limb that an exercise's id tells: "left-arm", "left-arm-3f2a9c" or "left-arm-3f2a9c-1"."""
    for kind in sorted(KINDS, key=len, reverse=True):
        words = re.escape(f"{exercise.side}-{kind.replace('_', '-')}")
        if re.fullmatch(rf"{words}(-[0-9a-f]{{6}})?(-[0-9]+)?", exercise.id):
            return kind
    return None


def hand_out(folder: Path | str, out: Path | str) -> Path:
    """Write the students' copy of an exercise: what it names and its start layouts, never the key or anything else.

    folder: the instructor's copy. out: where to write; made if missing, and empty or an earlier copy without a key.
    Returns it. Raises RigError for an unusable exercise, or a folder that cannot be written or holds a key.
    """
    folder, out = Path(folder), Path(out)
    exercise = read_exercise(folder)
    if (out / "key.json").exists():
        raise RigError("a folder without a key", "one that holds key.json", "it is an instructor's copy",
                       "Choose another folder", out.name)  # fmt: skip
    names = ["exercise.toml", "mesh.glb", *sorted(path.name for path in folder.glob("start-*.json"))]
    names += [name for name in exercise.own_files if (folder / name).is_file()]
    try:
        out.mkdir(parents=True, exist_ok=True)
        for name in names:
            shutil.copyfile(folder / name, out / name)
    except OSError as error:
        raise RigError("a folder that can be written", (error.strerror or "an error").lower(),
                       next_step="Choose another folder", where=out.name) from None  # fmt: skip
    return out
