"""Own limbs: an exercise that makes a limb for each student from id and salt -> that student's Exercise, or folder.

Nothing of a hand-in goes in but whose it is. The salt stays with the instructor: who knows it can make anyone's key.
"""

import json
import shutil
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np

from rigkit import require
from rigkit.exercise_text import Heading, exercise_text
from rigkit.files.exercise import Exercise, exercise_of, exercise_table, mesh_of, read_exercise
from rigkit.files.gltf_write import write_glb
from rigkit.files.whole import write_whole
from rigkit.frames import Frame
from rigkit.limbs import KINDS, PracticeLimb, Shape, limb_seed, practice_limb
from rigkit.limbs.loft import Draws
from rigkit.make_exercise import ignored_of, layouts_of, words_of, write_exercise
from rigkit.naming import MIDLINE
from rigkit.require import RigError

REMEMBERED = 8  # students' limbs kept at a time: attempts of one student follow each other
LONGEST_SALT = 200
LENGTHS, THICKNESS, SHIFTED = (0.94, 1.06), (0.92, 1.08), (0.06, 0.1, 0.04)
"""How far the first two bones and the flesh depart from what the seed alone gives, and how far the whole limb stands
out, up and forward of its usual place, as shares of its length: figures differ in height and in build."""
SHORT = ("clavicle", "pelvis")  # what comes before the limb's first long bone
EXAMPLE = "an example that is nobody's"
"""In place of an id: the limb that stands for all of them in a picture of the class."""


def own_limb(kind: str, student: str, salt: str, side: str = "left") -> PracticeLimb:
    """A student's own practice limb of a kind: drawn from id and salt, of its own measure and on a figure of its own
    build, so that another student's joints do not fit. Raises RigError for an empty id or salt."""
    seed = limb_seed(student, salt)
    draws, (roles, size) = Draws(limb_seed("shape", str(seed))), _usual(kind, side)
    long = [role for role in roles if role not in SHORT][:2]
    lengths, thickness = {role: draws.between(*LENGTHS) for role in long}, draws.between(*THICKNESS)
    shift = size * np.array([draws.between(-one, one) for one in SHIFTED])
    shift[0] *= not set(MIDLINE) & set(roles)  # what lies in the middle of the body stays there
    place = Frame(np.eye(3), np.round(shift, 3))
    return practice_limb(kind, seed, side, Shape(lengths=lengths, thickness=thickness, place=place))


@lru_cache(maxsize=REMEMBERED)
def _usual(kind: str, side: str) -> tuple[tuple[str, ...], float]:
    """The roles of a kind of limb, and about how long it is, metres."""
    limb = practice_limb(kind, 0, side)
    return limb.roles, float(np.ptp(limb.mesh.vertices, axis=0).max())


@dataclass(frozen=True, eq=False)
class OwnLimbs:
    """An exercise with a limb for each student. `roles` are asked for, () for all there are; `table` is what else
    exercise.toml says."""

    id: str
    title: str
    folder: Path
    kind: str
    side: str
    salt: str
    roles: tuple[str, ...]
    table: Mapping

    def of(self, student: str) -> Exercise:
        """The exercise of one student, without a key. Capitals and outer spaces of the id make no difference.

        Raises RigError for an empty id.
        """
        return _made(self, student.strip().casefold())

    def write(self, folder: Path | str, student: str) -> Path:
        """Write a student's folder: mesh, what is asked, start layouts; never key or salt. Raises RigError."""
        limb = self._limb(student)
        starts = {name: joints for name, joints in layouts_of(limb, self.roles).items() if name != "key"}
        folder = write_exercise(folder, limb, self._heading(limb, f"{self.title}, {student}"), starts, self.roles)
        for name in self.of(student).own_files:
            shutil.copyfile(self.folder / name, folder / name)
        return folder

    def _limb(self, student: str) -> PracticeLimb:
        return own_limb(self.kind, student, self.salt, self.side)

    def _heading(self, limb: PracticeLimb, title: str) -> Heading:
        said = self.table
        return Heading(
            self.id, title[:200], said.get("rest_pose", words_of(self.kind, self.side)[1]),
            tuple(said.get("ignored", ignored_of(limb))), said["naming"], said["rubric"],
            said.get("frame_convention", "not-judged"), helps=said.get("helps", {}),
        )  # fmt: skip


@lru_cache(maxsize=REMEMBERED)
def _made(own: OwnLimbs, student: str) -> Exercise:
    limb = own._limb(student)
    data = write_glb(limb.mesh)  # and back: the student's file keeps places in 32 bits
    table = tomllib.loads(exercise_text(limb, data, own._heading(limb, own.title), own.roles))
    where = f"{own.folder.name}/exercise.toml"
    return exercise_of(table, own.folder, where, lambda: mesh_of(data, where), None)


def read_class_exercise(folder: Path | str) -> Exercise | OwnLimbs:
    """An exercise as a class has it: one limb for all, or one for each student. Raises RigError."""
    folder = Path(folder)
    table, where = exercise_table(folder), f"{folder.name}/exercise.toml"
    if "limb" not in table:
        return read_exercise(folder)
    limb = table["limb"]
    require.choice(limb["kind"], f"{where}, limb.kind", KINDS)
    for key in ("joints", "mesh_sha256", "landmarks", "mirror"):
        if key in table:
            raise RigError("a limb, or a mesh with joints", f"limb and {key}", next_step="Remove one of them",
                           where=where)  # fmt: skip
    if limb["side"] != table["side"]:
        raise RigError(f"the side of the exercise, {table['side']}", limb["side"], where=f"{where}, limb.side")
    if not limb["salt"].strip():
        raise RigError("a word of your own", "an empty one", where=f"{where}, limb.salt")
    roles = tuple(limb.get("roles", ()))
    own = OwnLimbs(table["id"], table["title"], folder, limb["kind"], limb["side"], limb["salt"], roles, table)
    there = practice_limb(own.kind, 0, own.side).roles
    for role in roles:
        require.choice(role, f"{where}, limb.roles", there)
    own.of(EXAMPLE)  # what is wrong with naming rule or rubric is said now
    return own


def write_own_limbs(folder: Path | str, kind: str, side: str, salt: str, roles: Iterable[str] = ()) -> Path:
    """Write the instructor's exercise folder for a kind of limb: exercise.toml alone, to be changed by hand.

    Raises RigError for a kind, role or salt that cannot be used, or a folder that holds an exercise or cannot be
    written.
    """
    folder, roles = Path(folder), list(roles)
    if not salt.strip() or len(salt) > LONGEST_SALT:
        raise RigError(f"a word of your own, of up to {LONGEST_SALT} characters", require.shown(salt), where="the salt")
    require.choice(kind, "the kind of a practice limb", KINDS)
    for role in roles:
        require.choice(role, "a role of the limb", practice_limb(kind, 0, side).roles)
    if (folder / "exercise.toml").exists():
        raise RigError("a folder without an exercise", "one that holds exercise.toml",
                       next_step="Choose another folder", where=folder.name)  # fmt: skip
    words, pose = words_of(kind, side)
    limb = {"kind": kind, "side": side, "seed": "from-id", "salt": salt} | ({"roles": roles} if roles else {})
    rows = ", ".join(f"{key} = {json.dumps(value, ensure_ascii=False)}" for key, value in limb.items())
    text = _TEXT.format(id=f"own-{side}-{kind.replace('_', '-')}", title=f"{words}, everyone's own", side=side,
                        pose=pose, limb=rows)  # fmt: skip
    try:
        write_whole(folder / "exercise.toml", text)
    except OSError as error:
        raise RigError("a folder that can be written", (error.strerror or "an error").lower(),
                       next_step="Choose another folder", where=folder.name) from None  # fmt: skip
    return folder


_TEXT = """\
# Everyone has a limb of their own, made from the student's id and the salt. Keep this file: who knows the salt can
# make anyone's key. Students get theirs by: python -m rigkit hand-out THIS_FOLDER --roster FILE --out DIR
format = "rigkit-exercise"
version = 1
id = "{id}"
title = "{title}"
side = "{side}"
rest_pose = "{pose}"
units = "m"
up = "+y"
facing = "+z"
naming = "plain"
rubric = "standard"
limb = {{{limb}}}
"""
