"""Meshes of a glTF file: parts of triangles -> vertices (n, 3), triangles (m, 3), and the joints that pull a vertex.

Vertices keep their order: part after part as the file lists them; parts that share a list of vertices share it here.
Source: glTF 2.0, ISO/IEC 12113:2022, sections 3.7.2 (meshes) and 3.7.3.3 (joints and weights of a vertex).
"""

import numpy as np

from rigkit import require
from rigkit.files.gltf_parts import FLOAT, MOST_VALUES, Document, listed, whole
from rigkit.mesh import Mesh
from rigkit.require import RigError
from rigkit.tolerance import STORED

MOST_VERTICES, MOST_TRIANGLES, MOST_PARTS = 2_000_000, 2_000_000, 2_000
MOST_SETS = 4  # sets of four joints for each vertex; one is usual
INDEX_TYPES, TRIANGLES = (5121, 5123, 5125), 4
HEAVY = 200_000  # triangles; a figure in a film has about 100,000
JOINT_TYPES, SHARE_TYPES = (5121, 5123), (FLOAT, 5121, 5123)
ONE = {1: 255.0, 2: 65535.0, 4: 1.0}
"""For each size in bytes of a stored weight, what stands for the whole."""
SUMMED = 0.02
"""Share: eight weights stored in bytes miss their sum by 8 / 510 at most; further from it they were not rounded."""


class Flesh:
    """The meshes taken so far, in lists of arrays, one for each part: vertices, triangles, and pulls, which are joint
    numbers (n, k) and shares (n, k) that sum to one."""

    def __init__(self, document: Document):
        self.document = document
        self.vertices: list[np.ndarray] = []
        self.triangles: list[np.ndarray] = []
        self.pulls: list[tuple[np.ndarray, np.ndarray]] = []
        self.count = self.faces = self.parts = self.uneven = 0

    def add(self, mesh: int, matrix: np.ndarray, joints: np.ndarray, holder: int) -> None:
        """Take a mesh where a matrix (4, 4) puts it. joints: for its skin's joints their numbers in the skeleton, empty
        without a skin; holder: the joint that pulls the vertices that no weight names."""
        shared: dict[str, tuple[int, int]] = {}
        for number, part in enumerate(listed(self.document.items("meshes")[mesh], "primitives", dict, f"mesh {mesh}")):
            where = f"mesh {mesh}, primitive {number}"
            self.parts += 1
            self._few_enough(self.parts, MOST_PARTS, "parts of meshes", where)
            if whole(part, "mode", where, 0, 6, TRIANGLES) != TRIANGLES:
                self.document.notices.append(f"{where} is no list of triangles; it was left out.")
                continue
            attributes = part.get("attributes")
            if not isinstance(attributes, dict):
                raise RigError("attributes with POSITION", require.shown(attributes), "", "Export again", where)
            used = {
                key: value for key, value in attributes.items() if key.startswith(("POSITION", "JOINTS", "WEIGHTS"))
            }
            key = str(sorted(used.items(), key=str))
            if key not in shared:
                points = self._read(used, "POSITION", "VEC3", (FLOAT,), where).astype(float)
                shared[key] = (self.count, len(points))
                self.pulls.append(self._pull(used, len(points), joints, holder, where))
                if not np.array_equal(matrix, np.eye(4)):
                    points = points @ matrix[:3, :3].T + matrix[:3, 3]
                self.vertices.append(points)
                self.count += len(points)
                self._few_enough(self.count, MOST_VERTICES, "vertices", where)
            start, size = shared[key]
            triangles = self._triangles(part, size, where)
            if np.linalg.det(matrix[:3, :3]) < 0:
                triangles = triangles[:, ::-1]
            self.triangles.append(triangles + start)
            self.faces += len(triangles)
            self._few_enough(self.faces, MOST_TRIANGLES, "triangles", where)

    def _few_enough(self, count: int, most: int, things: str, where: str) -> None:
        if count > most:
            raise RigError(f"at most {most:,} {things}", "more", "the whole scene was exported",
                           "Export the limb and its joints alone", where)  # fmt: skip

    def _read(self, table: dict, key: str, shape: str, types: tuple[int, ...], where: str) -> np.ndarray:
        number = whole(table, key, where, 0, len(self.document.items("accessors")) - 1)
        return self.document.accessor(number, shape, types, MOST_VALUES)

    def _triangles(self, part: dict, size: int, where: str) -> np.ndarray:
        flat = np.arange(size)
        if "indices" in part:
            flat = self._read(part, "indices", "SCALAR", INDEX_TYPES, where)[:, 0]
        if len(flat) % 3 or flat.max() >= size:
            raise RigError(f"triangles of vertices from 0 to {size - 1}", f"{len(flat)} numbers up to {flat.max()}",
                           "the export went wrong", "Export again", where)  # fmt: skip
        return flat.astype(np.int64).reshape(-1, 3)

    def _pull(
        self, used: dict, size: int, joints: np.ndarray, holder: int, where: str
    ) -> tuple[np.ndarray, np.ndarray]:
        """Which joints pull each vertex, (n, k), and how much of it, (n, k)."""
        numbers, shares = [np.full((size, 1), holder, dtype=np.int16)], [np.zeros((size, 1), dtype=np.float32)]
        for place in range(MOST_SETS):
            one, other = f"JOINTS_{place}", f"WEIGHTS_{place}"
            if not len(joints) or not {one, other} & set(used):
                break
            named = self._read(used, one, "VEC4", JOINT_TYPES, where)
            stored = self._read(used, other, "VEC4", SHARE_TYPES, where)
            if not len(named) == len(stored) == size:
                raise RigError(f"joints and weights for {size} vertices", f"{len(named)} and {len(stored)}",
                               "the export went wrong", "Export again", where)  # fmt: skip
            share = stored.astype(np.float32) / np.float32(ONE[stored.itemsize])
            if named.max() >= len(joints) or share.min() < 0 or share.max() > 1 + SUMMED:
                raise RigError(f"joints from 0 to {len(joints) - 1} and weights from 0 to 1",
                               f"joints up to {named.max()}, weights from {share.min():.3g} to {share.max():.3g}",
                               "the export went wrong", "Export again", f"{where}, {one}")  # fmt: skip
            numbers.append(joints[named])
            shares.append(share)
        number, share = np.concatenate(numbers, axis=1), np.concatenate(shares, axis=1)
        total = share.sum(axis=1, keepdims=True)
        if len(joints):
            self.uneven += int(np.sum(np.abs(total - 1.0) > SUMMED))
        share[:, :1] = total == 0.0
        return number, share / np.where(total > 0.0, total, np.float32(1.0))

    def whole(self) -> tuple[Mesh, tuple[np.ndarray, np.ndarray]]:
        """All that was taken as one mesh and its pulls; tells what is odd about it."""
        mesh = Mesh(np.concatenate(self.vertices), np.concatenate(self.triangles))
        widest = max(numbers.shape[1] for numbers, _ in self.pulls)
        numbers, shares = (np.concatenate([np.pad(one, ((0, 0), (0, widest - one.shape[1]))) for one in ones])
                           for ones in zip(*self.pulls, strict=True))  # fmt: skip
        sizes = np.ptp(mesh.bounds, axis=0)
        if sizes.min() <= STORED * sizes.max():
            self.document.notices.append("The mesh is flat; it encloses no flesh.")
        if self.faces > HEAVY:
            self.document.notices.append(f"The mesh has {self.faces:,} triangles; pictures and cuts of it take long.")
        if self.uneven:
            self.document.notices.append(f"Vertices whose weights did not sum to one: {self.uneven:,}.")
        return mesh, (numbers, shares)
