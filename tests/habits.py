"""A class of sixty at work on Orlo's left arm: file name -> bytes, drawn from the habits that instructors know.

Nobody decides here which finding a student gets. Each has an eye (how far off a joint lands), a way of working (one view
or two, straight or bent, in a hurry or not) and a way with names and files, all drawn from one seed; the marks come out
as they come out. How common a habit is, is a guess from teaching, not a measurement. Run `python -m tests.habits` to
write data/demo-class-60 anew; a test compares it with what is stored.
"""

import json
from dataclasses import dataclass

import numpy as np

from rigkit.files.exercise import read_exercise
from rigkit.files.layout import METRES, Axes
from rigkit.skeleton import Skeleton
from tests.arms import as_file
from tests.make_demo_class import EXERCISE, PROJECT

FOLDER, SEED = PROJECT / "data" / "demo-class-60", 60
STUDENTS = (
    "alder", "angelica", "arrowhead", "avens", "bogbean", "brambling", "brant", "burnet", "butterbur", "campion",
    "chough", "clover", "comfrey", "coot", "corncrake", "cranberry", "curlew", "dotterel", "dropwort", "eider", "figwort",
    "flax", "fulmar", "gadwall", "gannet", "garganey", "gentian", "godwit", "goldeneye", "grebe", "harebell", "hobby",
    "knapweed", "knot", "lapwing", "linnet", "mallow", "meadowsweet", "melilot", "merlin", "nettle", "osprey", "oxlip",
    "petrel", "pintail", "pipit", "pochard", "ragwort", "redshank", "sanderling", "scoter", "shelduck", "siskin",
    "skimmer", "speedwell", "tansy", "tern", "thrift", "valerian",
)  # fmt: skip
PARTS = ("shoulder", "elbow", "wrist")
AGAIN = "curlew"  # hands in twice; with fifty-nine students that makes sixty hand-ins
EVERY_TENTH = 10


@dataclass(frozen=True)
class Habits:
    """How one student works. eye: metres, how far off a joint lands in the plane looked at. blind: metres, the same in
    the depth that one view alone does not show. bend: how far the elbow is put off the line, of what the arm has
    (1: as it should be, 0: straight, below 0: the wrong way). slide: metres along the arm, too high or too low."""

    eye: float
    blind: float
    bend: float
    slide: float
    names: str
    hurry: bool
    axes: Axes


def habits_of(chance: np.random.Generator) -> Habits:
    """The habits of one student, drawn."""
    careful = chance.random() < 0.45  # looks from two sides, and at the slice
    eye = float(chance.gamma(3.0, 0.0012 if careful else 0.0028))
    two_views = careful or chance.random() < 0.4
    bend = (
        float(chance.normal(1.0, 0.12))
        if careful
        else float(chance.choice([1.0, 0.25, 0.0, -0.7], p=[0.4, 0.2, 0.2, 0.2]))
    )
    names = str(chance.choice(
        ["plain", "short", "no side", "capitals", "misspelt", "other side"], p=[0.68, 0.1, 0.08, 0.06, 0.05, 0.03]
    ))  # fmt: skip
    axes = Axes(
        *[("m", "+y", "+z"), ("cm", "+y", "+z"), ("m", "+z", "-y")][int(chance.choice(3, p=[0.86, 0.09, 0.05]))]
    )
    return Habits(
        eye, eye if two_views else float(chance.gamma(2.0, 0.008)), bend,
        float(chance.normal(0.0, 0.004 if careful else 0.012)), names, chance.random() < 0.06, axes,
    )  # fmt: skip


def joints_of(habits: Habits, key: Skeleton, chance: np.random.Generator) -> Skeleton:
    """Three joints as somebody with these habits lays them."""
    shoulder, elbow, wrist = key.positions
    along = (wrist - shoulder) / np.linalg.norm(wrist - shoulder)
    foot = shoulder + along * ((elbow - shoulder) @ along)
    elbow = foot + habits.bend * (elbow - foot)
    places = []
    for place in (shoulder, elbow, wrist):
        seen = chance.normal(0.0, habits.eye, 3)
        seen[2] = chance.normal(0.0, habits.blind)  # the front view shows no depth
        places.append(place + seen - along * (seen @ along) + along * habits.slide * chance.normal())
    parents: tuple[int | None, ...] = (None, 0, 1)
    if habits.hurry and chance.random() < 0.5:
        parents = (None, 0, 0)
    joints = Skeleton(names_of(habits, chance), parents, np.array(places))
    keep = 2 if habits.hurry and parents == (None, 0, 1) else 3
    return Skeleton(joints.names[:keep], joints.parents[:keep], joints.positions[:keep])


def names_of(habits: Habits, chance: np.random.Generator) -> tuple[str, ...]:
    """Names as somebody with these habits writes them."""
    one = int(chance.integers(3))
    ways = {
        "plain": [f"left_{part}" for part in PARTS], "short": [f"l_{part}" for part in PARTS], "no side": list(PARTS),
        "capitals": [f"Left_{part.capitalize()}" for part in PARTS],
        "misspelt": [f"left_{part if i != one else part[:2] + part[3] + part[2] + part[4:]}" for i, part in enumerate(PARTS)],
        "other side": [f"{'right' if i == one else 'left'}_{part}" for i, part in enumerate(PARTS)],
    }  # fmt: skip
    return tuple(ways[habits.names])


def layout_bytes(student: str, joints: Skeleton, axes: Axes, attempt: int) -> bytes:
    """A layout file as the workbook writes it, but for its spaces; in other units and axes where they are the habit."""
    inside, digits = as_file(joints, axes), 5 if METRES[axes.units] == 1.0 else 3
    rows = [
        {"name": name, "parent": parent, "position": [round(float(x), digits) + 0.0 for x in place], "rotation": None}
        for name, parent, place in zip(inside.names, inside.parents, inside.positions, strict=True)
    ]
    head = {"format": "rigkit-layout", "version": 1, "id": student, "exercise": "left-arm", "attempt": attempt}
    said = {"units": axes.units, "up": axes.up, "facing": axes.facing} if axes != Axes() else {}
    return (json.dumps(head | said | {"joints": rows}) + "\n").encode()


def gltf_bytes(joints: Skeleton) -> bytes:
    """The joints as the nodes of a glTF 2.0 file, which keeps each place relative to its parent, without a mesh."""
    nodes = []
    for i, name in enumerate(joints.names):
        above = joints.parents[i]
        step = joints.positions[i] - (joints.positions[above] if above is not None else 0.0)
        node: dict = {"name": name, "translation": [round(float(x), 5) + 0.0 for x in step]}
        if below := [j for j, parent in enumerate(joints.parents) if parent == i]:
            node["children"] = below
        nodes.append(node)
    table = {"asset": {"version": "2.0"}, "scene": 0, "scenes": [{"nodes": [0]}], "nodes": nodes,
             "skins": [{"joints": list(range(len(nodes)))}]}  # fmt: skip
    return (json.dumps(table) + "\n").encode()


def the_class(count: int = len(STUDENTS), seed: int = SEED) -> dict[str, bytes]:
    """The files of a class: of the sixty, or of as many students as are asked for, without names then."""
    key = read_exercise(EXERCISE).key
    assert key is not None
    files = {}
    for number in range(count):
        chance = np.random.default_rng((seed, number))
        student = STUDENTS[number] if count == len(STUDENTS) else f"student-{number:05}"
        habits = habits_of(chance)
        joints = joints_of(habits, key.skeleton, chance)
        if student == AGAIN:
            files[f"{student}-again.json"] = layout_bytes(student, joints_of(habits, key.skeleton, chance), Axes(), 2)
        if number % EVERY_TENTH == EVERY_TENTH - 1 or (student == STUDENTS[-1]):
            files[f"{student}.gltf"] = gltf_bytes(joints)
        else:
            files[f"{student}.json"] = layout_bytes(student, joints, habits.axes, 1)
    if count == len(STUDENTS):
        spoilt = sorted(files)[25]
        files[spoilt] = files[spoilt][: len(files[spoilt]) // 2]  # one upload broke off half-way
    return files


if __name__ == "__main__":
    FOLDER.mkdir(parents=True, exist_ok=True)
    for path in FOLDER.iterdir():
        path.unlink()
    for name, content in the_class().items():
        (FOLDER / name).write_bytes(content)
