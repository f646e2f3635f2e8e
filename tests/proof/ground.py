"""Where things lie in a practice limb, by arithmetic of the proof's own: places (3,), metres, world.

It reads the exercise's files itself and cuts the mesh by trimesh, so that no fault of the measures is a fault of both.
"""

import json
import tempfile
import tomllib
from collections.abc import Iterable
from functools import lru_cache
from pathlib import Path

import numpy as np
import trimesh
from shapely.geometry import LineString, Point

from rigkit.files.exercise import Exercise, read_exercise
from rigkit.files.layout import Layout
from rigkit.limbs import practice_limb
from rigkit.make_exercise import make_exercise
from rigkit.skeleton import Skeleton

PROJECT = Path(__file__).resolve().parents[2]
STANDARD = tomllib.loads((PROJECT / "data" / "rubrics" / "standard.toml").read_text("utf-8"))
OTHER = {"left": "right", "right": "left"}
RING, STATION = STANDARD["centring"]["allowed"], STANDARD["fold"]["allowed"]  # in local radii


def unit(way) -> np.ndarray:
    """An arrow of length one."""
    return np.asarray(way, float) / np.linalg.norm(way)


def numbers(count: int | Iterable[int]) -> Iterable[int]:
    """The numbers of so many draws, or those that are given."""
    return range(count) if isinstance(count, int) else count


def any_way(chance) -> np.ndarray:
    """A direction (3,), all alike likely."""
    return unit(chance.normal(size=3))


class Slice:
    """The limb's own loop in one plane: its centre (3,), and radius that of a circle of as much area, metres."""

    def __init__(self, mesh, axis: np.ndarray, plane: np.ndarray):
        flat, self.world_from_flat = mesh.section(plane_origin=axis, plane_normal=plane).to_2D()
        self.flat_from_world = np.linalg.inv(self.world_from_flat)
        here = Point(self._flat(axis))
        holding = [loop for loop in flat.polygons_closed if loop.contains(here)]
        self.loop = min(holding or flat.polygons_closed, key=lambda loop: (loop.distance(here), loop.area))
        self.radius = float(np.sqrt(self.loop.area / np.pi))
        centroid = self.loop.centroid
        self.centre = (self.world_from_flat @ [centroid.x, centroid.y, 0.0, 1.0])[:3]

    def _flat(self, point) -> np.ndarray:
        return (self.flat_from_world @ [*point, 1.0])[:2]

    def skin(self, way: np.ndarray) -> tuple[float, float]:
        """How far from the centre along a direction (3,) in the plane the skin is met first and last, metres."""
        ray = LineString([self._flat(self.centre), self._flat(self.centre + 20 * self.radius * way)])
        met = ray.intersection(self.loop.exterior)
        points = getattr(met, "geoms", [met])
        far = [Point(ray.coords[0]).distance(point) for point in points]
        return min(far), max(far)


class Ground:
    """One practice limb as an exercise: what its files say, and slices of its mesh."""

    def __init__(self, kind: str, seed: int, side: str, folder: Path):
        make_exercise(folder, practice_limb(kind, seed, side))
        self.kind, self.seed, self.side, self.folder = kind, seed, side, folder
        self.exercise: Exercise = read_exercise(folder)
        table = tomllib.loads((folder / "exercise.toml").read_text("utf-8"))
        key = json.loads((folder / "key.json").read_text("utf-8"))["joints"]
        self.rows = {row["role"]: row for row in table["joints"]}
        self.roles = tuple(self.rows)
        self.names = tuple(joint["name"] for joint in key)
        self.parents = tuple(joint["parent"] for joint in key)
        self.places = np.array([joint["position"] for joint in key])
        self.number = {role: i for i, role in enumerate(self.roles)}
        self.landmarks = {name: np.array(place) for name, place in table["landmarks"].items()}
        self.mesh = trimesh.load(folder / "mesh.glb", force="mesh", process=False)
        self.folds = {role: row["fold"] for role, row in self.rows.items() if "fold" in row}
        self._slices: dict[tuple[str, float], Slice] = {}

    def below(self, joint: int) -> list[int]:
        """The joints right below one."""
        return [i for i, parent in enumerate(self.parents) if parent == joint]

    def branch(self, joint: int) -> set[int]:
        """A joint and all below it."""
        found = {joint}
        for i, parent in enumerate(self.parents):  # parents come before their children
            found |= {i} if parent in found else set()
        return found

    def flesh(self) -> list[str]:
        """The roles that a section judges."""
        return [role for role in self.roles if self.rows[role]["place"] == "flesh"]

    def ends(self) -> set[str]:
        """The roles with nothing below them."""
        return {role for role in self.roles if not self.below(self.number[role])}

    def slice(self, role: str, station: float) -> Slice:
        """The slice at a station of the role's stretch, 0 at its upper end, 1 at its lower."""
        if (role, station) not in self._slices:
            (start, end), plane = np.array(self.rows[role]["stretch"]), np.array(self.rows[role]["plane"])
            self._slices[role, station] = Slice(self.mesh, start + station * (end - start), plane)
        return self._slices[role, station]

    def spot(self, role: str, place: np.ndarray) -> tuple[float, float, Slice]:
        """Station of a place on the role's stretch, metres beyond it along it, and the slice that judges it."""
        (start, end), plane = np.array(self.rows[role]["stretch"]), np.array(self.rows[role]["plane"])
        station = float((place - start) @ plane / ((end - start) @ plane))
        clamped = min(max(station, 0.0), 1.0)
        return station, (station - clamped) * float(np.linalg.norm(end - start)), self.slice(role, clamped)

    def along(self, role: str) -> np.ndarray:
        """The direction down the role's stretch."""
        start, end = np.array(self.rows[role]["stretch"])
        return unit(end - start)

    def middle(self, role: str) -> np.ndarray:
        """The role's own place: the middle of the flesh half-way down its stretch, or of its region."""
        if self.rows[role]["place"] == "flesh":
            return self.slice(role, 0.5).centre
        return np.mean([self.landmarks[name] for name in self.rows[role]["landmarks"]], axis=0)

    def radius(self, role: str) -> float:
        """The local radius there, metres."""
        return self.slice(role, 0.5).radius if self.rows[role]["place"] == "flesh" else self.rows[role]["radius"]

    def bend(self, role: str, places: np.ndarray) -> tuple[float, float, float, np.ndarray, np.ndarray]:
        """How far the role lies off its neighbours' line along its fold and sideways of it, the line's length, all in
        metres, and the two directions."""
        fold = self.folds[role]
        root, end = (
            self.middle(one)  # an end that need not be there spoils no bend
            if one in self.ends() and self.rows[one]["need"] == "optional"
            else places[self.number[one]]
            for one in fold["between"]
        )
        line = unit(end - root)
        away = np.array(fold["away"])
        away = unit(away - away @ line * line)
        side = np.cross(line, away)
        off = places[self.number[role]] - root
        return float(off @ away), float(off @ side), float(np.linalg.norm(end - root)), away, side

    def limits(self, role: str, line: float) -> tuple[float, float, float, float]:
        """What bends are allowed on a line of that length: along too straight, least, most, and most sideways, metres:
        the exercise's shares, and never stricter than the joint's own ring."""
        fold, ring = self.folds[role], RING * self.radius(role)
        own = self.bend(role, np.array([self.middle(one) for one in self.roles]))[0]
        least, most = fold["least"] * line, fold["most"] * line
        if least <= own <= most:
            least, most = min(least, own - ring), max(most, own + ring)
        return fold["straight"] * line, least, most, max(STANDARD["bend"]["sideways_allowed"] * line, ring)

    def layout(self, places=None, names=None, parents=None) -> Layout:
        """A hand-in: the key with other places, names or parents."""
        skeleton = Skeleton(tuple(self.names if names is None else names),
                            tuple(self.parents if parents is None else parents),
                            self.places if places is None else np.asarray(places))  # fmt: skip
        return Layout("wren", self.exercise.id, 1, skeleton)


@lru_cache(maxsize=6)
def ground(kind: str, seed: int, side: str = "") -> Ground:
    """The limb of a kind and a seed; every second one is a right one unless the side is said."""
    with tempfile.TemporaryDirectory() as folder:
        return Ground(kind, seed, side or ("right" if seed % 2 else "left"), Path(folder) / "limb")
