"""Exercise folders: a mesh and what is asked of each joint, from exercise.toml, frozen; shapes (3,), metres, world."""

import hashlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType

import numpy as np

from rigkit import require
from rigkit.files.gltf import read_gltf
from rigkit.files.layout import Layout, read_layout
from rigkit.files.rubrics import Rubric, read_rubric
from rigkit.mesh import Mesh
from rigkit.naming import MIDLINE, NamingRule, read_rule
from rigkit.require import RigError
from rigkit.schema import fits, place
from rigkit.tables import read_table

LARGEST_MESH = 20_000_000  # bytes, as for a hand-in
CONVENTIONS = ("same-numbers", "same-direction", "either", "not-judged")


@dataclass(frozen=True, eq=False)
class Fold:
    """How a middle joint folds: it must lie off the line `between` its neighbours along the unit vector `away`
    (world). `straight`, `least` and `most` are shares of that line's length."""

    away: np.ndarray
    between: tuple[str, str]
    straight: float
    least: float
    most: float


@dataclass(frozen=True, eq=False)
class AskedJoint:
    """What is asked of one joint. place "flesh": `plane` is the measuring plane's unit normal, `stretch` (2, 3) the
    piece of limb that may be cut. place "region": `centre` (3,) and `radius` in metres."""

    role: str
    parent: str | None
    need: str
    place: str
    plane: np.ndarray | None = None
    stretch: np.ndarray | None = None
    centre: np.ndarray | None = None
    radius: float | None = None
    landmarks: tuple[str, ...] = ()
    fold: Fold | None = None
    names: tuple[str, ...] = ()

    @property
    def middle(self) -> np.ndarray:
        """About where the joint is expected, (3,): the middle of its stretch or of its region."""
        return self.stretch.mean(axis=0) if self.stretch is not None else np.asarray(self.centre)


@dataclass(frozen=True, eq=False)
class Exercise:
    """One exercise. `body` (3, 3) holds the character's left, up and forward as rows; `key` is the instructor's
    layout, None in the students' copy; `mirror` a point and the normal of the plane between the sides, where both are
    asked for; `own_files` names its own naming rule and rubric.
    `helps` and `landmarks` are read-only mappings."""

    id: str
    title: str
    folder: Path
    side: str
    mesh: Mesh
    joints: tuple[AskedJoint, ...]
    naming: NamingRule
    rubric: Rubric
    landmarks: Mapping[str, np.ndarray]
    ignored: tuple[str, ...]
    helps: Mapping[str, bool]
    rest_pose: str
    key: Layout | None
    frame_convention: str = "not-judged"
    mirror: tuple[np.ndarray, np.ndarray] | None = None
    own_files: tuple[str, ...] = ()
    body: np.ndarray = field(default_factory=lambda: require.frozen(np.eye(3)))

    def asked(self, role: str) -> AskedJoint:
        """What is asked of the joint of that role; raises RigError with the roles there are."""
        for joint in self.joints:
            if joint.role == role:
                return joint
        raise RigError("one of " + ", ".join(j.role for j in self.joints), require.shown(role), where="a role")

    def side_of(self, role: str) -> str | None:
        """The side that a role's name has to say, or None for a joint in the middle."""
        return None if self.side == "middle" or role in MIDLINE else self.side

    def start(self, name: str) -> Layout:
        """The layout that a lesson opens with, from `start-NAME.json` in the exercise's folder."""
        path = self.folder / f"start-{name}.json"
        if not path.is_file():
            there = ", ".join(sorted(p.stem.removeprefix("start-") for p in self.folder.glob("start-*.json")))
            raise RigError(f"one of {there or 'no start at all'}", require.shown(name), where=f"{self.id}, start")
        return read_layout(path.read_bytes(), path.name)


def read_exercise(folder: str | Path) -> Exercise:
    """Read an exercise folder. Raises RigError naming the file and the key of whatever is wrong.

    Example: `read_exercise("data/exercises/left-arm").asked("elbow").parent` is "shoulder".
    """
    folder = Path(folder)
    table, where, key_file = exercise_table(folder), f"{folder.name}/exercise.toml", folder / "key.json"
    if "limb" in table:
        raise RigError("an exercise with a mesh", "one that makes a limb for each student",
                       next_step="Write the students' folders with: python -m rigkit hand-out EXERCISE --roster FILE "
                       "--out DIR, and take one of them", where=where)  # fmt: skip
    key = read_layout(key_file.read_bytes(), key_file.name) if key_file.is_file() else None
    return exercise_of(table, folder, where, lambda: _mesh(folder, table["mesh_sha256"]), key)


def exercise_table(folder: Path) -> dict:
    """The table of exercise.toml, which fits its schema and leaves no question open. Raises RigError."""
    path, where = folder / "exercise.toml", f"{folder.name}/exercise.toml"
    if not path.is_file():
        raise RigError("an exercise folder, with exercise.toml in it", "none", "another folder was named",
                       "Name the folder of an exercise", where=folder.name or ".")  # fmt: skip
    table = fits(read_table(path, where), "exercise", where)
    if left := [one.rstrip(".?") for one in table.get("open", ())]:
        raise RigError("a complete exercise", f"a draft with {len(left)} open question{'s' if len(left) > 1 else ''}: "
                       + " · ".join(left), next_step="Answer in lessons/C_make_an_exercise.ipynb, or in exercise.toml, "
                       "and take each answered question out of `open`",
                       where=f"{where}, {place(table, ['open'])}")  # fmt: skip
    return table


def exercise_of(table: dict, folder: Path, where: str, mesh: Callable[[], Mesh], key: Layout | None) -> Exercise:
    """The exercise that a table says, which lies in `folder`; `mesh` gives its mesh. Raises RigError for what is wrong,
    `where` said in front."""

    def at(*path: str | int) -> str:
        return f"{where}, {place(table, path)}"

    landmarks = {
        name: require.vector(point, at("landmarks", name)) for name, point in table.get("landmarks", {}).items()
    }
    roles = [row["role"] for row in table["joints"]]
    for i, role in enumerate(roles):
        if role in roles[:i]:
            raise RigError("each role once", f"{role} twice", where=at("joints", i, "role"))
    for i, row in enumerate(table["joints"]):
        if "parent" in row:
            require.choice(row["parent"], at("joints", i, "parent"), roles[:i])
        for neighbour in row["fold"]["between"] if "fold" in row else ():
            others = [role for role in roles if role != row["role"]]
            require.choice(neighbour, at("joints", i, "fold", "between"), others)
    joints = tuple(_asked(row, at("joints", i), landmarks, table["side"]) for i, row in enumerate(table["joints"]))
    named = (table["naming"], table["rubric"])
    naming, rubric = (folder / name if name.endswith(".toml") else name for name in named)
    return Exercise(
        table["id"], table["title"], folder, table["side"], mesh(), joints, read_rule(naming), read_rubric(rubric),
        MappingProxyType(landmarks), tuple(table.get("ignored", ())),
        MappingProxyType({"snap": True, "gauges": True, "hints": True} | table.get("helps", {})),
        table.get("rest_pose", ""), key, table.get("frame_convention", "not-judged"),
        _mirror(table.get("mirror"), f"{where}, mirror"), tuple(name for name in named if name.endswith(".toml")),
    )  # fmt: skip


def _mirror(row: dict | None, where: str) -> tuple[np.ndarray, np.ndarray] | None:
    if row is None:
        return None
    return require.vector(row["point"], where), require.direction(row["normal"], f"{where}.normal")


def _way(word: object, side: str, where: str) -> np.ndarray:
    """A direction (3,) from three numbers or from a word."""
    if not isinstance(word, str):
        return require.direction(word, where)
    if side == "middle" and word in ("out", "in"):
        raise RigError("left or right as [1, 0, 0] or [-1, 0, 0]", word, "the exercise is of no one side", where=where)
    out = -1.0 if side == "right" else 1.0
    ways = {"out": (out, 0, 0), "in": (-out, 0, 0), "up": (0, 1, 0), "down": (0, -1, 0), "forward": (0, 0, 1)}
    return require.direction(ways.get(word, (0, 0, -1)), where)


def _asked(row: dict, where: str, landmarks: Mapping[str, np.ndarray], side: str) -> AskedJoint:
    plane = stretch = centre = radius = None
    marks: tuple[str, ...] = ()
    if row["place"] == "flesh":
        plane = require.direction(row["plane"], f"{where}, plane")
        stretch = require.points(row["stretch"], f"{where}, stretch")
        if abs(float((stretch[1] - stretch[0]) @ plane)) < 1e-6:
            raise RigError("two points, one on each side of the plane's normal", require.shown(row["stretch"]),
                           where=f"{where}, stretch")  # fmt: skip
    else:
        marks = tuple(require.choice(one, f"{where}, landmarks", landmarks) for one in row["landmarks"])
        centre, radius = require.frozen(np.mean([landmarks[one] for one in marks], axis=0)), float(row["radius"])
    fold = None
    if found := row.get("fold"):
        shares = [float(found[key]) for key in ("straight", "least", "most")]
        if not shares[0] < shares[1] < shares[2]:
            raise RigError("straight < least < most", ", ".join(f"{one:g}" for one in shares), where=f"{where}, fold")
        away, (above, below) = _way(found["away"], side, f"{where}, fold.away"), found["between"]
        fold = Fold(away, (above, below), *shares)
    return AskedJoint(row["role"], row.get("parent"), row["need"], row["place"], plane, stretch, centre, radius, marks,
                      fold, tuple(row.get("names", ())))  # fmt: skip


def _mesh(folder: Path, sha256: object) -> Mesh:
    path = folder / "mesh.glb"
    where = f"{folder.name}/mesh.glb"
    if not path.is_file():
        raise RigError("the exercise's mesh", "no such file", next_step="Put mesh.glb into the folder", where=where)
    if path.stat().st_size > LARGEST_MESH:
        raise RigError("at most 20 MB", f"{path.stat().st_size / 1e6:.1f} MB", "the mesh is very fine",
                       "Reduce it, or take fewer meshes", where)  # fmt: skip
    data = path.read_bytes()
    if hashlib.sha256(data).hexdigest() != sha256:
        raise RigError("the mesh whose checksum is in exercise.toml, mesh_sha256", "another mesh",
                       "the mesh was changed later on", "Copy the exercise again", where)  # fmt: skip
    return mesh_of(data, where)


def mesh_of(data: bytes, where: str) -> Mesh:
    """The mesh that the bytes of a glTF file hold. Raises RigError where there is none."""
    mesh = read_gltf(data, where).mesh
    if mesh is None:
        raise RigError("a file with a mesh in it", "none", where=where)
    return mesh
