"""Exercise folders: a mesh and what is asked of each joint, from exercise.toml, frozen; shapes (3,), metres, world."""

import hashlib
from collections.abc import Mapping
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
from rigkit.tables import keys, read_table

LARGEST_MESH = 20_000_000  # bytes, as for a hand-in
CONVENTIONS = ("same-numbers", "same-direction", "either", "not-judged")
NEEDED = ("id", "title", "side", "units", "up", "facing", "naming", "rubric", "mesh_sha256", "joints")
ALSO = ("rest_pose", "frame_convention", "ignored", "helps", "landmarks")


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
    layout, None in the students' copy; `own_files` names its own naming rule and rubric.
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
    path = folder / "exercise.toml"
    where = f"{folder.name}/exercise.toml"
    if not path.is_file():
        raise RigError("an exercise folder, with exercise.toml in it", "none", "another folder was named",
                       "Name the folder of an exercise", where=folder.name or ".")  # fmt: skip
    try:
        return _exercise(folder, read_table(path, "rigkit-exercise", NEEDED, ALSO))
    except RigError as error:
        if error.where.startswith(("exercise.toml", where)):
            error = RigError(error.expected, error.got, error.probably, error.next_step,
                             error.where.replace("exercise.toml", where, 1))  # fmt: skip
        raise error from None


def _exercise(folder: Path, table: dict) -> Exercise:
    file = "exercise.toml"
    for key, only in (("units", "m"), ("up", "+y"), ("facing", "+z")):
        require.choice(table[key], f"{file}, {key}", (only,))
    landmarks = {
        name: require.vector(place, f"{file}, landmarks.{name}")
        for name, place in keys(table.get("landmarks", {}), (), tuple(table.get("landmarks", {})), file).items()
    }
    if not isinstance(table["joints"], list) or not table["joints"]:
        raise RigError("[[joints]] tables", require.shown(table["joints"]), where=f"{file}, joints")
    joints = tuple(_asked(row, f"{file}, joints[{i}]", landmarks) for i, row in enumerate(table["joints"]))
    roles = [joint.role for joint in joints]
    for i, role in enumerate(roles):
        if role in roles[:i]:
            raise RigError("each role once", f"{role} twice", where=f"{file}, joints[{i}], role")
    for i, joint in enumerate(joints):
        place = f"{file}, joints[{i}]"
        if joint.parent is not None:
            require.choice(joint.parent, f"{place}, parent", roles[:i])
        for neighbour in joint.fold.between if joint.fold else ():
            require.choice(neighbour, f"{place}, fold.between", [role for role in roles if role != joint.role])
    ignored = table.get("ignored", [])
    if not isinstance(ignored, list) or not all(isinstance(one, str) for one in ignored):
        raise RigError("a list of name patterns", require.shown(ignored), where=f"{file}, ignored")
    helps = keys(table.get("helps", {}), (), ("snap", "gauges", "hints"), f"{file}, helps")
    for name, on in helps.items():
        if not isinstance(on, bool):
            raise RigError("true or false", require.shown(on), where=f"{file}, helps.{name}")
    key_file = folder / "key.json"
    return Exercise(
        id=require.text(table["id"], f"{file}, id", 64),
        title=require.text(table["title"], f"{file}, title"),
        folder=folder,
        side=require.choice(table["side"], f"{file}, side", ("left", "right", "middle")),
        mesh=_mesh(folder, table["mesh_sha256"]),
        joints=joints,
        naming=read_rule(_beside(folder, table["naming"], f"{file}, naming")),
        rubric=read_rubric(_beside(folder, table["rubric"], f"{file}, rubric")),
        landmarks=MappingProxyType(landmarks),
        ignored=tuple(ignored),
        helps=MappingProxyType({"snap": True, "gauges": True, "hints": True} | helps),
        rest_pose=require.text(table.get("rest_pose", ""), f"{file}, rest_pose", 1000),
        key=read_layout(key_file.read_bytes(), key_file.name) if key_file.is_file() else None,
        frame_convention=require.choice(
            table.get("frame_convention", "not-judged"), f"{file}, frame_convention", CONVENTIONS
        ),
        own_files=tuple(name for name in (table["naming"], table["rubric"]) if name.endswith(".toml")),
    )


def _asked(row: object, where: str, landmarks: Mapping[str, np.ndarray]) -> AskedJoint:
    row = keys(row, ("role", "need", "place"),
               ("parent", "plane", "stretch", "landmarks", "radius", "fold", "names"), where)  # fmt: skip
    role = require.text(row["role"], f"{where}, role", 64)
    place = require.choice(row["place"], f"{where}, place", ("flesh", "region"))
    need = require.choice(row["need"], f"{where}, need", ("required", "optional", "ignored"))
    names = tuple(require.text(one, f"{where}, names", 64) for one in row.get("names", ()))
    plane = stretch = centre = radius = None
    marks: tuple[str, ...] = ()
    if place == "flesh":
        keys(row, ("plane", "stretch"), tuple(row), where)
        plane = require.direction(row["plane"], f"{where}, plane")
        stretch = require.points(row["stretch"], f"{where}, stretch")
        if stretch.shape != (2, 3) or abs(float((stretch[1] - stretch[0]) @ plane)) < 1e-6:
            raise RigError("two points, one on each side of the plane's normal", require.shown(row["stretch"]),
                           where=f"{where}, stretch")  # fmt: skip
    else:
        keys(row, ("landmarks", "radius"), tuple(row), where)
        marks = tuple(require.choice(one, f"{where}, landmarks", landmarks) for one in row["landmarks"])
        if not marks:
            raise RigError("at least one landmark", "none", where=f"{where}, landmarks")
        centre = require.frozen(np.mean([landmarks[one] for one in marks], axis=0))
        radius = require.number(row["radius"], f"{where}, radius", 1e-6, 1e3)
    fold = _fold(row["fold"], f"{where}, fold") if "fold" in row else None
    parent = None if row.get("parent") is None else require.text(row["parent"], f"{where}, parent", 64)
    return AskedJoint(role, parent, need, place, plane, stretch, centre, radius, marks, fold, names)


def _fold(row: object, where: str) -> Fold:
    row = keys(row, ("away", "between", "straight", "least", "most"), (), where)
    if not isinstance(row["between"], list) or len(row["between"]) != 2:
        raise RigError("two roles", require.shown(row["between"]), where=f"{where}.between")
    shares = [require.number(row[key], f"{where}.{key}", 0, 1) for key in ("straight", "least", "most")]
    if not shares[0] < shares[1] < shares[2]:
        raise RigError("straight < least < most", ", ".join(f"{one:g}" for one in shares), where=where)
    between = (require.text(row["between"][0], where), require.text(row["between"][1], where))
    return Fold(require.direction(row["away"], f"{where}.away"), between, *shares)


def _mesh(folder: Path, sha256: object) -> Mesh:
    path = folder / "mesh.glb"
    where = f"{folder.name}/mesh.glb"
    if not path.is_file():
        raise RigError("the exercise's mesh", "no such file", next_step="Put mesh.glb into the folder", where=where)
    if path.stat().st_size > LARGEST_MESH:
        raise RigError("at most 20 MB", f"{path.stat().st_size / 1e6:.1f} MB", where=where)
    data = path.read_bytes()
    if hashlib.sha256(data).hexdigest() != sha256:
        raise RigError("the mesh whose checksum is in exercise.toml, mesh_sha256", "another mesh",
                       "the mesh was changed later on", "Copy the exercise again", where)  # fmt: skip
    mesh = read_gltf(data, where).mesh
    if mesh is None:
        raise RigError("a file with a mesh in it", "none", where=where)
    return mesh


def _beside(folder: Path, name: object, where: str) -> str | Path:
    """A file in the exercise's folder where there is one of that name, else the name of a bundled one."""
    name = require.text(name, where, 64)
    if Path(name).name != name or "\\" in name or name.startswith("."):
        raise RigError("a plain name, or a file in this folder", require.shown(name), where=where)
    return folder / name if name.endswith(".toml") else name
