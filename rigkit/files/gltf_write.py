"""Writing glTF 2.0: a mesh, and if wanted its joints and weights -> the bytes of one .glb file.

The same input gives the same bytes: keys in a fixed order, float32 places, normals rounded to GRID.
Source: glTF 2.0, ISO/IEC 12113:2022, sections 3 (JSON) and 4 (GLB container).
"""

import json
import struct
from typing import Any

import numpy as np

from rigkit.files.gltf_nodes import UNSET
from rigkit.frames import quaternion_from_rotation, rotation_from_quaternion
from rigkit.heat import heat_weights
from rigkit.mesh import Mesh
from rigkit.require import RigError
from rigkit.skeleton import Skeleton
from rigkit.tolerance import NO_LENGTH

MAGIC, VERSION, JSON_CHUNK, BIN_CHUNK = 0x46546C67, 2, 0x4E4F534A, 0x004E4942
FLOAT, UINT32, UINT16 = 5126, 5125, 5123
VERTEX_DATA, INDEX_DATA = 34962, 34963
GRID = 1e-5
"""Normals are rounded to this, coarser than any difference in the last digit between machines."""
INFLUENCES = 4
"""Joints that may pull one vertex: one set of JOINTS_0 and WEIGHTS_0, which every reader must support."""


class _Binary:
    """The binary chunk as it grows, with its buffer views and accessors."""

    def __init__(self) -> None:
        self.data, self.views, self.accessors = bytearray(), [], []  # type: ignore[var-annotated]

    def add(self, array: np.ndarray, component: int, shape: str, target: int | None, spans: bool = False) -> int:
        """Append an array, aligned to 4 bytes; the number of its accessor."""
        raw = np.ascontiguousarray(array).tobytes()
        view: dict[str, Any] = {"buffer": 0, "byteOffset": len(self.data), "byteLength": len(raw)}
        if target is not None:
            view["target"] = target
        accessor: dict[str, Any] = {
            "bufferView": len(self.views), "componentType": component, "count": len(array), "type": shape,
        }  # fmt: skip
        if spans:
            accessor["min"] = array.min(axis=0).astype(float).tolist()
            accessor["max"] = array.max(axis=0).astype(float).tolist()
        self.data += raw + b"\0" * (-len(raw) % 4)
        self.views.append(view)
        self.accessors.append(accessor)
        return len(self.accessors) - 1


def vertex_normals(mesh: Mesh) -> np.ndarray:
    """Smooth unit normals (n, 3): at each welded vertex the triangles' normals, weighted by their angle there, so
    that they do not depend on how a face was cut into triangles (Thurmer & Wuthrich 1998, J. Graphics Tools).

    A vertex that no triangle with an area uses gets +Y, as glTF asks for unit length.
    """
    area = np.sqrt(np.sum(mesh.normals**2, axis=1, keepdims=True))
    facing = mesh.normals / np.where(area > 0, area, 1)
    total = np.zeros((len(mesh.vertices), 3))
    for corner in range(3):
        one, two = (mesh.corners[:, (corner + turn) % 3] - mesh.corners[:, corner] for turn in (1, 2))
        angle = np.arctan2(area[:, 0], np.sum(one * two, axis=1))
        np.add.at(total, mesh.welded[mesh.triangles[:, corner]], angle[:, None] * facing)
    total = total[mesh.welded]
    length = np.sqrt(np.sum(total**2, axis=1, keepdims=True))
    known = length > NO_LENGTH
    return np.round(np.where(known, total / np.where(known, length, 1), [0, 1, 0]) / GRID) * GRID


def _strongest(weights: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The INFLUENCES strongest joints of each vertex: uint16 numbers (n, 4) and float32 shares (n, 4)."""
    missing = max(0, INFLUENCES - weights.shape[1])
    wide = np.concatenate([weights, np.zeros((len(weights), missing))], axis=1)
    order = np.argsort(-wide, axis=1, kind="stable")[:, :INFLUENCES]
    share = np.take_along_axis(wide, order, axis=1)
    share = (share / share.sum(axis=1, keepdims=True)).astype(np.float32)
    return np.where(share > 0, order, 0).astype(np.uint16), share


def _matrices(skeleton: Skeleton) -> np.ndarray:
    """World matrices (n, 4, 4) of the joints; where no rotation is known, the world's axes."""
    matrices = np.tile(np.eye(4), (len(skeleton), 1, 1))
    matrices[:, :3, 3] = skeleton.positions
    for matrix, rotation in zip(matrices, skeleton.rotations, strict=True):
        if rotation is not None:
            matrix[:3, :3] = rotation_from_quaternion(rotation)
    return matrices


def _joint_nodes(skeleton: Skeleton, world: np.ndarray, first: int) -> list[dict[str, Any]]:
    """Nodes of the joints, each with its place and turn relative to its parent."""
    nodes = []
    for joint, (name, parent) in enumerate(zip(skeleton.names, skeleton.parents, strict=True)):
        local = world[joint] if parent is None else np.linalg.inv(world[parent]) @ world[joint]
        node: dict[str, Any] = {"name": name, "translation": np.round(local[:3, 3], 9).tolist()}
        if skeleton.rotations[joint] is not None or (parent is not None and skeleton.rotations[parent] is not None):
            node["rotation"] = np.round(quaternion_from_rotation(local[:3, :3]), 9).tolist()
        if skeleton.rotations[joint] is None:
            node["extras"] = {UNSET: True}
        children = [first + child for child in skeleton.children(joint)]
        if children:
            node["children"] = children
        nodes.append(node)
    return nodes


def write_glb(mesh: Mesh, skeleton: Skeleton | None = None, weights: np.ndarray | None = None) -> bytes:
    """A mesh, and if given its joints, as one binary glTF file.

    mesh: metres, +Y up. skeleton: joints in the same frame; they become nodes, and with weights a skin.
    weights: (vertices, joints), not negative, every row with a share above 0; the four strongest are kept.
    Returns the file's bytes. Raises RigError for an empty mesh or weights that do not fit.

    >>> from rigkit.mesh import Mesh
    >>> write_glb(Mesh([[0, 0, 0], [1, 0, 0], [0, 1, 0]], [[0, 1, 2]]))[:4]
    b'glTF'
    """
    if not len(mesh.triangles):
        raise RigError("a mesh with triangles", "none", where="the mesh to write")
    binary = _Binary()
    attributes = {
        "POSITION": binary.add(mesh.vertices.astype(np.float32), FLOAT, "VEC3", VERTEX_DATA, spans=True),
        "NORMAL": binary.add(vertex_normals(mesh).astype(np.float32), FLOAT, "VEC3", VERTEX_DATA),
    }
    flat = mesh.triangles.reshape(-1)
    small = len(mesh.vertices) < 65535
    indices = binary.add(
        flat.astype(np.uint16 if small else np.uint32), UINT16 if small else UINT32, "SCALAR", INDEX_DATA
    )
    mesh_node: dict[str, Any] = {"name": "flesh", "mesh": 0}
    nodes, roots, skins = [mesh_node], [0], []
    if skeleton is not None and len(skeleton):
        world = _matrices(skeleton)
        nodes += _joint_nodes(skeleton, world, first=1)
        roots += [1 + joint for joint, parent in enumerate(skeleton.parents) if parent is None]
        if weights is not None:
            weights = _checked_weights(weights, mesh, skeleton)
            joints, shares = _strongest(weights)
            attributes["JOINTS_0"] = binary.add(joints, UINT16, "VEC4", VERTEX_DATA)
            attributes["WEIGHTS_0"] = binary.add(shares, FLOAT, "VEC4", VERTEX_DATA)
            inverse = np.linalg.inv(world).transpose(0, 2, 1).astype(np.float32)  # column by column
            inverse[:, :, 3] = [0, 0, 0, 1]
            bind = binary.add(inverse.reshape(-1, 16), FLOAT, "MAT4", None)
            if roots[2:]:  # a skin's joints must have one node above them all
                nodes.append({"name": "joints", "children": roots[1:]})
                roots = [0, len(nodes) - 1]
            skins = [{"joints": list(range(1, 1 + len(skeleton))), "inverseBindMatrices": bind}]
            mesh_node["skin"] = 0
    document: dict[str, Any] = {
        "asset": {"version": "2.0", "generator": "rigkit"},
        "scene": 0,
        "scenes": [{"nodes": roots}],
        "nodes": nodes,
        "meshes": [{"name": "flesh", "primitives": [{"attributes": attributes, "indices": indices}]}],
        "accessors": binary.accessors,
        "bufferViews": binary.views,
        "buffers": [{"byteLength": len(binary.data)}],
    }
    if skins:
        document["skins"] = skins
    return pack_glb(document, bytes(binary.data))


def _checked_weights(weights: np.ndarray, mesh: Mesh, skeleton: Skeleton) -> np.ndarray:
    weights = np.asarray(weights, dtype=float)
    shape = (len(mesh.vertices), len(skeleton))
    if weights.shape != shape:
        raise RigError(f"weights of shape {shape}", f"shape {weights.shape}", where="the weights to write")
    if not np.all(np.isfinite(weights)) or np.any(weights < 0) or np.any(weights.sum(axis=1) <= 0):
        raise RigError("weights from 0 up, some above 0 for every vertex", "others", where="the weights to write")
    return weights


def skinned_glb(mesh: Mesh, skeleton: Skeleton) -> bytes:
    """A mesh and its joints as `write_glb` writes them, with skin weights by heat (see rigkit.heat).

    A joint pulls the flesh along the bones down to the joints below it; one with none below it, along a bone half as
    long as the one that leads to it, straight on. Raises RigError for an empty mesh or no joints.
    """
    bones, owners = [], []
    for joint, (here, parent) in enumerate(zip(skeleton.positions, skeleton.parents, strict=True)):
        ends = [skeleton.positions[child] for child in skeleton.children(joint)]
        if not ends:
            ends = [here if parent is None else 1.5 * here - 0.5 * skeleton.positions[parent]]
        bones += [[here, end] for end in ends]
        owners += [joint] * len(ends)
    weights = np.zeros((len(mesh.vertices), len(skeleton)))
    for joint, share in zip(owners, heat_weights(mesh, np.array(bones)).weights.T, strict=True):
        weights[:, joint] += share
    return write_glb(mesh, skeleton, weights)


def pack_glb(document: dict[str, Any], binary: bytes) -> bytes:
    """A glTF document and its binary data as one GLB container: header, JSON chunk, binary chunk."""
    text = json.dumps(document, separators=(",", ":"), allow_nan=False).encode("ascii")
    text += b" " * (-len(text) % 4)
    binary += b"\0" * (-len(binary) % 4)
    chunks = struct.pack("<II", len(text), JSON_CHUNK) + text
    if binary:
        chunks += struct.pack("<II", len(binary), BIN_CHUNK) + binary
    return struct.pack("<III", MAGIC, VERSION, 12 + len(chunks)) + chunks
