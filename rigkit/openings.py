"""Exercises as they reach people: bundled, in a folder of one's own, another limb of the kind, the students' copy; and
a draft from a character of one's own."""

import re
import shutil
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

import numpy as np

from rigkit import require
from rigkit.draft import Draft
from rigkit.files.exercise import Exercise, read_exercise
from rigkit.files.gltf import read_gltf
from rigkit.files.layout import FACING, METRES, UP, Axes, Layout
from rigkit.frames import Frame
from rigkit.limbs import KINDS, Shape, limb_seed, practice_limb
from rigkit.make_exercise import make_exercise
from rigkit.meant import meant_by
from rigkit.mesh import Mesh
from rigkit.naming import bundled_rules, read_rule
from rigkit.own_limbs import OwnLimbs, read_class_exercise
from rigkit.report import page_name
from rigkit.require import RigError, choice, shown
from rigkit.skeleton import Skeleton
from rigkit.tables import data_folder
from rigkit.tolerance import STORED
from rigkit.work import WORK, Store, own_folder

TALL = (0.02, 10.0)  # metres: a figure shorter or taller than this is in other units (common practice)
MIDDLE = 0.05  # share of the figure's width: joints nearer to the middle plane on the average are on no side


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


def exercise_folder(name: str) -> Path:
    """The folder that a word on the command line means: a path, or where nothing is there the id of a bundled exercise.
    Raises RigError, which lists the ids, for a word that is neither."""
    path = Path(name)
    if path.exists() or path.name != name:
        return path
    folder = data_folder() / "exercises"
    there = sorted(one.parent.name for one in folder.glob("*/exercise.toml"))
    if name not in there:
        raise RigError(f"an exercise folder, with exercise.toml in it, or one of {', '.join(there)}", shown(name),
                       where="the exercise")  # fmt: skip
    return folder / name


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
    if read_gltf((folder / "mesh.glb").read_bytes(), "mesh.glb").skeleton is not None:
        raise RigError("a mesh alone", "one with joints, which tell the answer", "the character's own file was copied",
                       "Make the exercise with: python -m rigkit exercise FILE --out DIR", "mesh.glb")  # fmt: skip
    if (out / "key.json").exists():
        raise RigError("a folder without a key", "one that holds key.json", "it is an instructor's copy",
                       "Choose another folder", out.name)  # fmt: skip
    names = ["exercise.toml", "mesh.glb", *sorted(path.name for path in folder.glob("start-*.json"))]
    names += [name for name in exercise.own_files if (folder / name).is_file()]
    with _writing(out):
        out.mkdir(parents=True, exist_ok=True)
        for name in names:
            shutil.copyfile(folder / name, out / name)
    return out


def hand_out_all(folder: Path | str, roster: Sequence[str], out: Path | str) -> tuple[Path, ...]:
    """Write a folder for each student of a roster, with the student's own limb and without key or salt.

    folder: an exercise that makes everyone's own. out: gets a folder for each id, named by it; earlier ones of the
    same exercise are replaced, others stay. Returns the folders. Raises RigError as `hand_out` does.
    """
    own, out = read_class_exercise(folder), Path(out)
    if not roster:
        raise RigError("at least one id", "none", where="the roster")
    if not isinstance(own, OwnLimbs):
        raise RigError("an exercise that makes a limb for each student", "one that is the same for all",
                       next_step="Leave out --roster: one copy does for everyone", where=Path(folder).name)  # fmt: skip
    written = {}
    for student in roster:
        place = out / page_name(student).removesuffix(".html")
        if (place / "key.json").exists():
            raise RigError("a folder without a key", "one that holds key.json", "it is an instructor's copy",
                           "Choose another folder", f"{out.name}/{place.name}")  # fmt: skip
        with _writing(place):
            written[place] = own.write(place, student)
    return tuple(written)


@contextmanager
def _writing(out: Path) -> Iterator[None]:
    """Tell in words that a folder cannot be written."""
    try:
        yield
    except OSError as error:
        raise RigError("a folder that can be written", (error.strerror or "an error").lower(),
                       next_step="Choose another folder", where=out.name) from None  # fmt: skip


def read_draft(
    path: Path | str,
    skin: int | str | None = None,
    meshes: Sequence[int | str] | None = None,
    side: str = "",
    units: str = "",
    up: str = "+y",
    facing: str = "+z",
) -> Draft:
    """A draft from a character in a .glb or .gltf file.

    skin, meshes: which of several (see `read_gltf`). side: which is asked for, by default what the joints' names say,
    and the left where they say both. units: "m" (glTF's own), "cm", "mm" or "in"; up, facing: the character's axes.
    Raises RigError for a file that cannot be used, without a mesh or without joints.
    """
    path = Path(path)
    if path.suffix.lower() not in (".glb", ".gltf") or not path.is_file():
        got = "another kind of file" if path.is_file() else "no such file"
        raise RigError("a .glb or .gltf file with mesh and joints", got, next_step="Export the character as .glb",
                       where=path.name)  # fmt: skip
    scene = read_gltf(path.read_bytes(), path.name, skin, meshes)
    if scene.mesh is None or scene.skeleton is None:
        raise RigError("a mesh and joints in it", f"no {'mesh' if scene.mesh is None else 'joints'}",
                       next_step="Export the character with its skin", where=path.name)  # fmt: skip
    notices = list(scene.notices)
    metres = METRES[require.choice(units or "m", "units", METRES)]
    turn = Axes("m", require.choice(up, "up", UP), require.choice(facing, "facing", FACING)).turn
    mesh = Mesh(scene.mesh.vertices * metres @ turn.T, scene.mesh.triangles)
    figure = scene.skeleton.at(scene.skeleton.positions * metres).transformed(Frame(turn, np.zeros(3)))
    doubts = []
    tall, wide = float(np.ptp(mesh.vertices, axis=0).max()), float(np.ptp(mesh.vertices[:, 0]))
    if not TALL[0] <= tall <= TALL[1] and not units:
        doubts.append(f"units: the figure measures {tall:.3g} m. Which unit is meant? Read it again with the unit.")
    sides = [one.side for one in map(meant_by, figure.names) if one.side]
    if side:
        require.choice(side, "side", ("left", "right", "middle"))
    elif sides:
        side = "left" if "left" in sides else "right"
        if len(set(sides)) > 1:
            notices.append("The names say both sides; the left is asked for, and the right is ignored.")
    else:
        across = float(figure.positions[:, 0].mean())
        side = "left" if across > MIDDLE * wide else "right" if across < -MIDDLE * wide else "middle"
        doubts.append(f"side: no name says one; by its place it is {side}. Is it left, right or middle?")
    doubts += _axes_in_doubt(figure)
    name = re.sub(r"[^a-z0-9]+", "-", path.stem.lower()).strip("-")[:48] or "figure"
    draft = Draft(
        mesh, figure, name, path.stem.replace("_", " ")[:100], side, notices=tuple(notices), doubts=tuple(doubts)
    )
    rules = {rule.id: sum(rule.name_for(one.role, draft.side_of(one.role)) == one.name for one in draft.asked)
             for rule in bundled_rules()}  # fmt: skip
    best = max(rules, key=lambda rule: (rules[rule], rule == draft.naming))
    draft = draft.with_said(naming=best)
    if rules[best] or not draft.asked:
        return draft
    first = draft.asked[0]
    asks = read_rule(best).name_for(first.role, draft.side_of(first.role))
    ask = (
        f"naming: no name follows a bundled rule. Students are asked for {asks} where this figure says "
        f"{first.name or 'nothing'}. Which rule shall they keep to: {', '.join(rules)}, a file of your own?"
    )
    return replace(draft, doubts=(*draft.doubts, ask))


def _axes_in_doubt(figure: Skeleton) -> list[str]:
    """What the joints' names say against the axes: left joints that lie on the right, legs that do not go down."""
    meant = [meant_by(name) for name in figure.names]
    places = {(one.side, one.role): place for one, place in zip(meant, figure.positions, strict=True)}
    sides = {side: [place[0] for (said, _), place in places.items() if said == side] for side in ("left", "right")}
    ask = "Does it face another way? Read it again, with up and facing as they are."
    doubts = []
    if all(sides.values()):
        if np.mean(sides["left"]) < np.mean(sides["right"]):
            doubts.append(f"facing: the joints called left lie on the character's right. {ask}")
    elif any((np.mean(xs) < 0) == (side == "left") and abs(np.mean(xs)) > STORED for side, xs in sides.items() if xs):
        doubts.append(f"facing: the joints' names say the other side than their places. {ask}")
    for side in ("left", "right", ""):
        chain = [places[(side, role)] for role in ("hip", "knee", "ankle") if (side, role) in places]
        if len(chain) > 1 and (int(np.argmax(np.abs(chain[-1] - chain[0]))) != 1 or chain[-1][1] > chain[0][1]):
            return [*doubts, f"up: the {side} leg does not go down from its hip. {ask}"]
    return doubts
