"""Lesson 10: one arm made from the other: the middle plane, partners by their names; places (n, 3), metres."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np

from rigkit.bench import Bench
from rigkit.bench_hints import findings_in
from rigkit.exercise_text import IGNORED, Heading, key_of, layout_text
from rigkit.files.exercise import Exercise
from rigkit.frames import Frame
from rigkit.lesson import safely
from rigkit.limbs import Shape, practice_limb
from rigkit.limbs.arm import to_the_middle
from rigkit.make_exercise import ARM, write_exercise
from rigkit.mesh import Mesh
from rigkit.middle import middle_of_mesh
from rigkit.mirror import mirror_side, side_of
from rigkit.openings import open_exercise
from rigkit.picture import fit_views
from rigkit.require import RigError, kind
from rigkit.rubric import Finding
from rigkit.section import Plane
from rigkit.skeleton import Skeleton
from rigkit.stills import Picture
from rigkit.tables import data_folder
from rigkit.taught.posed_plates import Pose, plates
from rigkit.told import LOOK_AGAIN, NOT_YET, RIGHT, Table, Told
from rigkit.tolerance import STORED

EXERCISE, START, SEED, MM = "both-arms", "left-only", 7, 1000.0
ASIDE = np.array([0.13, 0.0, 0.0])
"""Metres: Orlo stands so far to his left of the middle of the scene, on his ferry."""
ACROSS = np.array([1.0, 0.0, 0.0])
LINES = f"Dashed: the middle of the scene, and Orlo's own, {MM * ASIDE[0]:.0f} mm to his left."
WIDE = (520, 330)  # px of a plate that shows both arms


def both_sides(mesh: Mesh) -> Mesh:
    """A left half that ends on the plane x = 0, and its mirror image; both halves meet in the same vertices there."""
    right, many = mesh.mirrored(np.zeros(3), ACROSS), len(mesh.vertices)
    shared = np.abs(mesh.vertices[:, 0]) < STORED
    number = np.where(shared, np.arange(many), np.arange(many) + many)
    faces = [half.triangles[~shared[half.triangles].all(axis=1)] for half in (mesh, right)]
    used, triangles = np.unique(np.concatenate([faces[0], number[faces[1]]]), return_inverse=True)
    return Mesh(np.concatenate([mesh.vertices, right.vertices])[used], triangles.reshape(-1, 3))


def exercise() -> Exercise:
    """Both of Orlo's arms, on the ferry."""
    return open_exercise(EXERCISE)


def plane() -> Plane:
    """The plane between his sides."""
    mirror = exercise().mirror
    if mirror is None:
        raise RigError("an exercise that asks for both sides", "one side alone", where=EXERCISE)
    return Plane(*mirror)


def found() -> Picture:
    """Orlo from the front with the joints of his left arm, as they were named."""
    skeleton = exercise().start(START).skeleton
    said = f"Front view. On the left arm three joints: {', '.join(skeleton.names)}. On the right arm none. {LINES}"
    return _wide([("Front", skeleton, "")], [said])


def pressed() -> Picture:
    """The same after a mirror that goes by the names, across the middle of the scene."""
    skeleton = exercise().start(START).skeleton
    both = mirror_side(skeleton, Plane(np.zeros(3), ACROSS), exercise().naming)
    far = MM * abs(float(both.positions[-1] @ ACROSS - (2 * ASIDE - skeleton.positions[1]) @ ACROSS))
    note = f"made: {' and '.join(both.names[3:])}"
    made = f"The mirror made {' and '.join(both.names[3:])}, {far:.0f} mm beside the right arm, and no wrist."
    said = f"Front view. {made} {LINES}"
    return _wide([("Front", both, note)], [said])


def _wide(shown: list[tuple[str, Skeleton, str]], said: list[str]) -> Picture:
    mesh = exercise().mesh
    room = np.vstack([mesh.vertices, *(one.positions for _, one, _ in shown)])
    views = fit_views(mesh, {"front": WIDE}, "left", room)
    middles = {"the scene's middle": np.zeros(3), "Orlo's middle": ASIDE}
    poses = [(title, "front", Pose(mesh, one.positions, one.parents, {}, dict(enumerate(one.names)), note,
                                   uprights=middles)) for title, one, note in shown]  # fmt: skip
    return plates(poses, said, views=views)


def places(what: Bench | None = None) -> Table:
    """The left arm's joints and their mirror images: from the middle of the scene, and from Orlo's own middle, mm."""
    skeleton = _skeleton(what)
    rows, middle = [], plane()
    for role, place in zip(ARM, skeleton.positions, strict=False):
        image = place - 2.0 * float(middle.heights(place[None])[0]) * middle.normal
        rows.append((role, *(f"{MM * x:+.0f}" for x in (place[0], image[0], (place - middle.origin)[0],
                                                        (image - middle.origin)[0]))))  # fmt: skip
    head = ("x of the", *(f"{side}, from {whose} middle" for whose in ("the scene's", "Orlo's")
                          for side in ("left", "right")))  # fmt: skip
    return Table(head, rows)


@cache
def middles() -> Table:
    """Where the middle plane is, by several ways of asking: millimetres to Orlo's left of the middle of the scene."""
    mesh = exercise().mesh
    half = Mesh(mesh.vertices, mesh.triangles[(mesh.corners[..., 0] > ASIDE[0] + 0.03).all(axis=1)])
    rows = [("the middle of the scene, x = 0", "0 mm")]
    for words, flesh in (("Orlo's surface", mesh), ("the surface of his left arm alone", half)):
        middle = middle_of_mesh(flesh).plane
        rows.append((words, "cannot tell" if middle is None else f"{MM * middle.origin[0] + 0.0:.0f} mm"))
    return Table(("asked", "the middle lies at"), rows)


def _skeleton(what: Bench | None) -> Skeleton:
    return exercise().start(START).skeleton if what is None else _bench(what).skeleton


def _bench(bench: object) -> Bench:
    if not isinstance(bench, Bench):
        raise RigError("the bench of this lesson", kind(bench), next_step="Run the cell that opens it, then this one")
    return bench


def _told(one: Finding, mend: str) -> Told:
    return Told(LOOK_AGAIN, one.message, mend, fault=(one.finding, one.joint))


def check(bench: Bench) -> Told:
    """Whether the other arm's joints lie as the mirror images of this one's, by their right names; never raises."""

    def answer() -> Told:
        skeleton, rule = _bench(bench).skeleton, exercise().naming
        found = findings_in(bench.layout, bench.exercise, {"structure", "centring", "fold", "names", "mirror"})
        lefts = len(bench.start)
        if len(skeleton) == lefts and not bench.changed(ARM):
            return Told(NOT_YET, "This still is as the lesson left it.", "Change it on the bench or in the cell above.")
        for role in ARM:
            name = skeleton.names[bench.limb.roles[role]]
            side = side_of(name, rule)
            if side != "left":
                says = "no side" if side is None else f"the {side} side"
                told = f"The {role} of the left arm is named {name}, and says {says}"
                return Told(LOOK_AGAIN, f"{told}: so the mirror makes no partner of it.",
                            "Name it, then mirror again.")  # fmt: skip
        own = [one for one in found if one.criterion in ("centring", "fold", "names")]
        if own:
            return _told(own[0], f"{own[0].mend} Then mirror again.")
        if len(skeleton) == lefts:
            return Told(LOOK_AGAIN, "The left arm is named; on the right arm there is no joint yet.", "Press Mirror.")
        pairs = [one for one in found if one.criterion == "mirror"]
        if pairs:
            return Told(LOOK_AGAIN, pairs[0].message, "The left arm was changed since: mirror again.")
        if found:
            return _told(found[0], found[0].mend)
        return Told(RIGHT, "Three joints, three partners.", "Go on.")

    return safely(answer)


def write_both(folder: Path | str) -> Path:
    """Write the exercise "both-arms" into a folder: Orlo's left arm, half his chest and their mirror image, ASIDE of
    the middle of the scene; returns it."""
    limb = practice_limb("arm", SEED, shape=Shape(place=Frame(np.eye(3), ASIDE)))
    whole = both_sides(to_the_middle(practice_limb("arm", SEED).mesh))
    limb = replace(limb, mesh=Mesh(np.round(whole.vertices + ASIDE, 5), whole.triangles))
    key = key_of(limb, ARM)
    found_so = replace(key, names=("left_shoulder", "left_elbow", "wrist"))
    pose = "the arms hang about 35 degrees out from the body, the palms face the thighs"
    heading = Heading(EXERCISE, "Orlo's two arms", pose, IGNORED)
    both = mirror_side(key, Plane(ASIDE, ACROSS), open_exercise("left-arm").naming)
    made = write_exercise(folder, limb, heading, {"key": both}, ARM)
    (made / f"start-{START}.json").write_bytes(layout_text(f"start-{START}", EXERCISE, found_so).encode())
    text = (made / "exercise.toml").read_text("utf-8")
    text += (
        "\n# Both sides are asked for: the other one is the mirror image across this plane.\n[mirror]\n"
        f"point = {ASIDE.tolist()}\nnormal = {ACROSS.tolist()}\n"
    )
    (made / "exercise.toml").write_bytes(text.encode())
    return made


if __name__ == "__main__":
    write_both(data_folder() / "exercises" / EXERCISE)
