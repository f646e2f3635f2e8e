"""Reading glTF 2.0: the bytes of one .glb or .gltf -> a Mesh, a Skeleton (both metres, world frame) and notices.

Strict and small: data must be embedded, no other file or host is ever opened, vertices keep their order.
Source: glTF 2.0, ISO/IEC 12113:2022, sections 3.5 (nodes) and 3.7 (meshes, skins).
"""

from dataclasses import dataclass

import numpy as np

from rigkit import require
from rigkit.files.gltf_parts import Document, listed, whole
from rigkit.files.layout import MOST_JOINTS, MOST_NOTICES, plain_text
from rigkit.frames import quaternion_from_rotation, rotation_from_quaternion
from rigkit.mesh import Mesh
from rigkit.require import RigError
from rigkit.skeleton import Skeleton
from rigkit.tolerance import FARTHEST, NO_LENGTH, STORED, UNIT_SLACK

MOST_VERTICES = 2_000_000
MOST_NODES = 10_000
FLOAT, INDEX_TYPES, TRIANGLES = 5126, (5121, 5123, 5125), 4
POSED = 1e-3
"""Metres: a skeleton further than this from where it was bound was left in a pose, not rounded."""


@dataclass(frozen=True, eq=False)
class GltfScene:
    """What a glTF file holds: mesh and skeleton in metres, world frame, either of which may be None, and notices."""

    mesh: Mesh | None
    skeleton: Skeleton | None
    notices: tuple[str, ...]


def read_gltf(data: bytes, where: str) -> GltfScene:
    """Read a glTF 2.0 file's bytes; `where` is the file's name, used in errors.

    All meshes of the scene become one, in the order of their nodes. The joints are those of the first skin, in the
    pose they were bound in; without a skin, all nodes that carry no mesh.
    Raises RigError, naming the place in the file, for whatever cannot be used.

    >>> read_gltf(b'{"asset": {"version": "2.0"}, "nodes": [{"translation": [0, 1, 0]}]}', "a.gltf").skeleton.names
    ('node_0',)
    """
    try:
        return _Reader(Document(data)).scene()
    except RigError as error:
        raise error.at(where) from None


class _Reader:
    """One file while it is read: its nodes with parents and world matrices, and the notices so far."""

    def __init__(self, document: Document):
        self.document, self.notices = document, []  # type: ignore[var-annotated]
        self.nodes = document.items("nodes")
        if len(self.nodes) > MOST_NODES:
            raise RigError(f"at most {MOST_NODES} nodes", f"{len(self.nodes)}", "the whole scene was exported",
                           "Export the limb and its joints alone")  # fmt: skip
        self.parents = self._parents()
        self.order = self._from_the_top()
        self.world = self._world()

    def scene(self) -> GltfScene:
        """The whole file as one mesh and one skeleton."""
        skins = self.document.items("skins")
        if len(skins) > 1:
            self.notices.append(f"The file has {len(skins)} skins; the first one counts.")
        joints, world_from_skin = self._skin_joints() if skins else (self._free_joints(), np.eye(4))
        mesh = self._mesh(world_from_skin)
        if len(self.notices) > MOST_NOTICES:
            self.notices[MOST_NOTICES:] = [f"And {len(self.notices) - MOST_NOTICES} more like these."]
        return GltfScene(mesh, joints, tuple(self.notices))

    # Nodes -----------------------------------------------------------------------------------------

    def _parents(self) -> list[int | None]:
        parents: list[int | None] = [None] * len(self.nodes)
        for number, node in enumerate(self.nodes):
            for child in listed(node, "children", int, f"node {number}"):
                if isinstance(child, bool) or not 0 <= child < len(self.nodes):
                    raise RigError(f"children from 0 to {len(self.nodes) - 1}", require.shown(child),
                                   "the export went wrong", "Export again", f"node {number}")  # fmt: skip
                if parents[child] is not None:
                    raise RigError("one parent for each node", f"two, {parents[child]} and {number}",
                                   "the export went wrong", "Export again", f"node {child}")  # fmt: skip
                parents[child] = number
        return parents

    def _from_the_top(self) -> list[int]:
        """All nodes, each after its parent."""
        order = [number for number, parent in enumerate(self.parents) if parent is None]
        for number in order:
            order.extend(self.nodes[number].get("children", []))
        if len(order) < len(self.nodes):
            lost = min(set(range(len(self.nodes))) - set(order))
            raise RigError("nodes that lead up to a topmost one", "nodes that run in a circle",
                           "the export went wrong", "Export again", f"node {lost}")  # fmt: skip
        return order

    def _world(self) -> np.ndarray:
        world = np.tile(np.eye(4), (len(self.nodes), 1, 1))
        for number in self.order:
            local, parent = _local(self.nodes[number], f"node {number}"), self.parents[number]
            with np.errstate(over="ignore", invalid="ignore"):
                world[number] = local if parent is None else world[parent] @ local
            if not np.all(np.isfinite(world[number])):
                raise RigError("a place within reach", "numbers without end", "scales multiply down the tree",
                               "Apply the scales and export again", f"node {number}")  # fmt: skip
        return world

    def _name(self, number: int) -> str:
        name = require.text(self.nodes[number].get("name", f"node_{number}"), f"node {number}, name", 10**6)
        return plain_text(name, f"node {number}'s name", self.notices)

    # Joints ----------------------------------------------------------------------------------------

    def _free_joints(self) -> Skeleton | None:
        joints = [n for n, node in enumerate(self.nodes) if "mesh" not in node and "camera" not in node]
        return self._skeleton(joints, self.world[joints]) if joints else None

    def _skin_joints(self) -> tuple[Skeleton, np.ndarray]:
        """The first skin's joints in their bound pose, and the matrix (4, 4) that carries its mesh there."""
        skin = self.document.items("skins")[0]
        joints = listed(skin, "joints", int, "skin 0")
        if not joints or len(set(joints)) < len(joints) or min(joints) < 0 or max(joints) >= len(self.nodes):
            raise RigError("different nodes as joints", require.shown(joints), "the export went wrong",
                           "Export again", "skin 0")  # fmt: skip
        joints = [int(joint) for joint in joints]
        world = self.world[joints]
        if "inverseBindMatrices" not in skin:
            return self._skeleton(joints, world), np.eye(4)
        number = whole(skin, "inverseBindMatrices", "skin 0", 0, len(self.document.items("accessors")) - 1)
        stored = self.document.accessor(number, "MAT4", (FLOAT,), MOST_JOINTS).astype(float)
        if len(stored) < len(joints):
            raise RigError(f"{len(joints)} inverse bind matrices", f"{len(stored)}", "the export went wrong",
                           "Export again", "skin 0")  # fmt: skip
        joint_from_skin = stored[: len(joints)].reshape(-1, 4, 4).transpose(0, 2, 1)
        flat = np.abs(np.linalg.det(joint_from_skin[:, :3, :3])) < NO_LENGTH**3
        if np.any(flat) or np.abs(joint_from_skin[:, 3] - [0, 0, 0, 1]).max() > UNIT_SLACK:
            bad = int(np.flatnonzero(flat)[0]) if np.any(flat) else 0
            raise RigError("inverse bind matrices that can be undone", f"none for joint {bad}",
                           "a scale of zero", "Apply the scales and export again", "skin 0")  # fmt: skip
        top = min(range(len(joints)), key=lambda one: self.order.index(joints[one]))
        world_from_skin = world[top] @ joint_from_skin[top]
        if np.abs(world_from_skin - np.eye(4)).max() <= STORED:
            world_from_skin = np.eye(4)
        bound = world_from_skin @ np.linalg.inv(joint_from_skin)
        if np.abs(bound[:, :3, 3] - world[:, :3, 3]).max() > POSED:
            self.notices.append("The joints were left in a pose; the pose they were bound in counts.")
        return self._skeleton(joints, bound), world_from_skin

    def _skeleton(self, joints: list[int], world: np.ndarray) -> Skeleton:
        if len(joints) > MOST_JOINTS:
            raise RigError(f"at most {MOST_JOINTS} joints", f"{len(joints)}", "the whole scene was exported",
                           "Export the limb and its joints alone")  # fmt: skip
        place = {node: joint for joint, node in enumerate(joints)}
        parents = []
        for node in joints:
            above = self.parents[node]
            while above is not None and above not in place:
                above = self.parents[above]
            parents.append(None if above is None else place[above])
        rotations = tuple(_rotation(matrix[:3, :3]) for matrix in world)
        names = tuple(self._name(node) for node in joints)
        return Skeleton(names, tuple(parents), world[:, :3, 3], rotations)

    # Meshes ----------------------------------------------------------------------------------------

    def _mesh(self, world_from_skin: np.ndarray) -> Mesh | None:
        vertices, triangles, count, meshes = [np.zeros((0, 3))], [np.zeros((0, 3), dtype=np.int64)], 0, 0
        for number in range(len(self.nodes)):
            node = self.nodes[number]
            if "mesh" not in node:
                continue
            meshes += 1
            index = whole(node, "mesh", f"node {number}", 0, len(self.document.items("meshes")) - 1)
            matrix = world_from_skin if "skin" in node else self.world[number]
            primitives = listed(self.document.items("meshes")[index], "primitives", dict, f"mesh {index}")
            for part, primitive in enumerate(primitives):
                where = f"mesh {index}, primitive {part}"
                if whole(primitive, "mode", where, 0, 6, TRIANGLES) != TRIANGLES:
                    self.notices.append(f"{where} is no list of triangles; it was left out.")
                    continue
                points, corners = self._primitive(primitive, where, MOST_VERTICES - count)
                if not np.array_equal(matrix, np.eye(4)):
                    points = points @ matrix[:3, :3].T + matrix[:3, 3]
                    corners = corners if np.linalg.det(matrix[:3, :3]) > 0 else corners[:, ::-1]
                vertices.append(points)
                triangles.append(corners + count)
                count += len(points)
        if meshes > 1:
            self.notices.append(f"The file has {meshes} meshes; they were taken as one.")
        return Mesh(np.concatenate(vertices), np.concatenate(triangles)) if count else None

    def _primitive(self, primitive: dict, where: str, most: int) -> tuple[np.ndarray, np.ndarray]:
        attributes, last = primitive.get("attributes"), len(self.document.items("accessors")) - 1
        if not isinstance(attributes, dict):
            raise RigError("attributes with POSITION", require.shown(attributes), "", "Export again", where)
        number = whole(attributes, "POSITION", where, 0, last)
        points = self.document.accessor(number, "VEC3", (FLOAT,), max(most, 0)).astype(float)
        if "indices" in primitive:
            number = whole(primitive, "indices", where, 0, last)
            flat = self.document.accessor(number, "SCALAR", INDEX_TYPES, 3 * MOST_VERTICES)[:, 0].astype(np.int64)
        else:
            flat = np.arange(len(points))
        if len(flat) % 3 or flat.max() >= len(points):
            raise RigError(f"triangles of vertices from 0 to {len(points) - 1}",
                           f"{len(flat)} numbers up to {flat.max()}", "the export went wrong", "Export again",
                           where)  # fmt: skip
        return points, flat.reshape(-1, 3)


def _local(node: dict, where: str) -> np.ndarray:
    """A node's matrix (4, 4) relative to its parent, from its matrix or its translation, rotation and scale."""

    def numbers(key: str, missing: list[float]) -> np.ndarray:
        value = node.get(key, missing)
        if not isinstance(value, list) or len(value) != len(missing):
            raise RigError(f"{len(missing)} numbers", require.shown(value), "", "Export again", f"{where}, {key}")
        return np.array([require.number(one, f"{where}, {key}", -FARTHEST, FARTHEST) for one in value])

    if "matrix" in node:
        if {"translation", "rotation", "scale"} & set(node):
            raise RigError("a matrix, or translation, rotation and scale", "both", "", "Export again", where)
        matrix = numbers("matrix", np.eye(4).ravel().tolist()).reshape(4, 4).T
        if np.abs(matrix[3] - [0, 0, 0, 1]).max() > UNIT_SLACK:
            raise RigError("a matrix that keeps flesh whole", "one with perspective", "", "Export again", where)
        return matrix
    matrix = np.eye(4)
    turn = numbers("rotation", [0.0, 0.0, 0.0, 1.0])
    if abs(np.sqrt(turn @ turn) - 1.0) > UNIT_SLACK:
        raise RigError("a quaternion of length one", require.shown(node["rotation"]), "", "Export again", where)
    matrix[:3, :3] = rotation_from_quaternion(turn) * numbers("scale", [1.0, 1.0, 1.0])
    matrix[:3, 3] = numbers("translation", [0.0, 0.0, 0.0])
    return matrix


def _rotation(matrix: np.ndarray) -> np.ndarray | None:
    """The turn within a matrix (3, 3) as a quaternion, None where it is mirrored, sheared or flat."""
    sizes = np.sqrt(np.sum(matrix**2, axis=0))
    if sizes.min() < NO_LENGTH:
        return None
    turn = matrix / sizes
    if np.abs(turn.T @ turn - np.eye(3)).max() > UNIT_SLACK or np.linalg.det(turn) < 0:
        return None
    return quaternion_from_rotation(turn)
