"""The tree of a glTF file's nodes: parents, an order from the top down, local and world matrices (n, 4, 4).

Source: glTF 2.0, ISO/IEC 12113:2022, section 3.5 (scenes, nodes, transformations).
"""

from collections.abc import Collection

import numpy as np

from rigkit import require
from rigkit.files.gltf_parts import Document, listed, whole
from rigkit.files.layout import plain_text
from rigkit.frames import quaternion_from_rotation, rotation_from_quaternion
from rigkit.require import RigError
from rigkit.tolerance import FARTHEST, NO_LENGTH, STORED, UNIT_SLACK

MOST_NODES = 10_000
WIDEST = 1e9
"""No matrix may hold a greater number: the square of it, times a coordinate, is still far from overflow."""
LONGEST_READ = 1000  # characters of a name that are looked at; a name in use has under 64
CARRIED = ("mesh", "camera")  # a node that carries one of these is no joint
LIGHT = "KHR_lights_punctual"
UNSET = "rigkit_frame_unset"
"""Key of a node's extras: nobody gave this joint a frame, it is written with the world's axes."""


class NodeTree:
    """All nodes of a file. parents: a node or None for each; order: each after its parent; local, world: (n, 4, 4);
    shown: for each whether it belongs to the scene taken; carries: whether it is a mesh, a camera or a light;
    gathers: whether there is a mesh below it."""

    def __init__(self, document: Document):
        self.document, self.notices = document, document.notices
        self.nodes = document.items("nodes")
        for key in ("nodes", "meshes"):
            if (count := len(document.items(key))) > MOST_NODES:
                raise RigError(f"at most {MOST_NODES} {key}", f"{count}", "the whole scene was exported",
                               "Export the limb and its joints alone")  # fmt: skip
        self.parents = self._parents()
        self.order = self._from_the_top()
        self.local = np.array([_local(node, f"node {n}") for n, node in enumerate(self.nodes)]).reshape(-1, 4, 4)
        self.world = self.carried({})
        self.carries = [
            any(key in node for key in CARRIED) or LIGHT in str(node.get("extensions")) for node in self.nodes
        ]
        self.gathers = [False] * len(self.nodes)
        for number in reversed(self.order):
            if (above := self.parents[number]) is not None:
                self.gathers[above] |= self.gathers[number] or "mesh" in self.nodes[number]
        self.shown = self._shown()

    def _parents(self) -> list[int | None]:
        parents: list[int | None] = [None] * len(self.nodes)
        for number, node in enumerate(self.nodes):
            for child in self._numbers(node, "children", f"node {number}"):
                if parents[child] is not None:
                    raise RigError("one parent for each node", f"two, {parents[child]} and {number}",
                                   "the export went wrong", "Export again", f"node {child}")  # fmt: skip
                parents[child] = number
        return parents

    def _numbers(self, table: dict, key: str, where: str) -> list[int]:
        """The numbers of nodes listed under a key."""
        found = listed(table, key, int, where)
        for one in found:
            if isinstance(one, bool) or not 0 <= one < len(self.nodes):
                raise RigError(f'nodes from 0 to {len(self.nodes) - 1} under "{key}"', require.shown(one),
                               "the export went wrong", "Export again", where)  # fmt: skip
        return found

    def _from_the_top(self) -> list[int]:
        order = [number for number, parent in enumerate(self.parents) if parent is None]
        for number in order:
            order.extend(self.nodes[number].get("children", []))
        if len(order) < len(self.nodes):
            lost = min(set(range(len(self.nodes))) - set(order))
            raise RigError("nodes that lead up to a topmost one", "nodes that run in a circle",
                           "the export went wrong", "Export again", f"node {lost}")  # fmt: skip
        return order

    def _shown(self) -> list[bool]:
        """Those at or below a node of the scene; all where no scene names any."""
        scenes, shown = self.document.items("scenes"), [False] * len(self.nodes)
        if scenes:
            taken = whole(self.document.table, "scene", "the file", 0, len(scenes) - 1, 0)
            for root in self._numbers(scenes[taken], "nodes", f"scene {taken}"):
                shown[root] = True
        if not any(shown):
            return [True] * len(self.nodes)
        for number in self.order:
            above = self.parents[number]
            shown[number] = shown[number] or (above is not None and shown[above])
        if not all(shown):
            self.notices.append(f"Nodes that are not in the scene were left out: {shown.count(False)}.")
        return shown

    def carried(self, known: dict[int, np.ndarray]) -> np.ndarray:
        """World matrices (n, 4, 4) when some nodes stand where they are known to and the others hang below them."""
        world = self.local.copy()
        for number in self.order:
            above = self.parents[number]
            if number in known:
                world[number] = known[number]
            elif above is not None:
                world[number] = world[above] @ self.local[number]
            if not np.abs(world[number]).max() <= WIDEST:
                raise RigError("a place within reach", "numbers without end", "scales multiply down the tree",
                               "Apply the scales and export again", f"node {number}")  # fmt: skip
        return world

    def above(self, number: int) -> list[int]:
        """The nodes above one, nearest first."""
        found, parent = [], self.parents[number]
        while parent is not None:
            found.append(parent)
            parent = self.parents[parent]
        return found

    def nearest(self, joints: list[int]) -> list[int | None]:
        """For each node the number of the joint that it is, or that is nearest above it; None where there is none."""
        near: list[int | None] = [None] * len(self.nodes)
        place = {node: joint for joint, node in enumerate(joints)}
        for number in self.order:
            above = self.parents[number]
            near[number] = place.get(number, None if above is None else near[above])
        return near

    def turn(self, number: int, matrix: np.ndarray) -> np.ndarray | None:
        """The turn within a node's matrix (3, 3) as a quaternion; None where there is none, or none was ever set."""
        extras = self.nodes[number].get("extras")
        turn = turn_within(matrix)
        unset = isinstance(extras, dict) and extras.get(UNSET) is True
        return None if turn is None or (unset and abs(turn[3]) > 1.0 - STORED) else turn

    def name(self, number: int) -> str:
        """A node's name, fit to be shown; node_ and its number where it has none."""
        return shown_name(self.nodes[number], "node", number, self.notices)

    def below(self, joints: Collection[int]) -> list[int]:
        """Nodes below some joints that carry nothing, no mesh further down either, unless they lead to a joint."""
        holds, under = [False] * len(self.nodes), [False] * len(self.nodes)
        for number in reversed(self.order):
            if (above := self.parents[number]) is not None:
                holds[above] |= holds[number] or number in joints
        for number in self.order:
            if (above := self.parents[number]) is not None:
                under[number] = under[above] or above in joints
        return [n for n in range(len(self.nodes)) if under[n] and n not in joints
                and not self.carries[n] and (holds[n] or not self.gathers[n])]  # fmt: skip

    def frames(self) -> list[int]:
        """Nodes of the scene that stand at the origin and only size it, or gather meshes: no joints."""
        joints, found = [False] * len(self.nodes), set()
        for number in reversed(self.order):
            if (above := self.parents[number]) is not None:
                joints[above] |= joints[number] or not (self.carries[number] or self.gathers[number])
        for number in self.order:
            above, matrix = self.parents[number], self.local[number]
            sized = np.abs(np.sqrt(np.sum(matrix[:3, :3] ** 2, axis=0)) - 1.0).max() > UNIT_SLACK
            sizes = sized and joints[number] and (above is None or above in found)
            if np.abs(matrix[:3, 3]).max() <= STORED and (sizes or (self.gathers[number] and not joints[number])):
                found.add(number)
        return sorted(n for n in found if self.shown[n] and not self.carries[n])


def shown_name(entry: dict, kind: str, number: int, notices: list[str]) -> str:
    """The name of an entry of the file, fit to be shown; its kind and number where it has none."""
    name = require.text(entry.get("name", f"{kind}_{number}"), f"{kind} {number}, name", 10**7)
    return plain_text(name[:LONGEST_READ], f"{kind} {number}'s name", notices)


def _local(node: dict, where: str) -> np.ndarray:
    """A node's matrix (4, 4) relative to its parent, from its matrix or its translation, rotation and scale."""

    def numbers(key: str, missing: list[float]) -> np.ndarray:
        value = node.get(key, missing)
        if not isinstance(value, list) or len(value) != len(missing):
            raise RigError(f"{len(missing)} numbers", require.shown(value), "", "Export again", f"{where}, {key}")
        return np.array([require.number(one, f"{where}, {key}", -FARTHEST, FARTHEST) for one in value])

    matrix = np.eye(4)
    if "matrix" in node:
        if {"translation", "rotation", "scale"} & set(node):
            raise RigError("a matrix, or translation, rotation and scale", "both", "", "Export again", where)
        matrix = numbers("matrix", matrix.ravel().tolist()).reshape(4, 4).T
        if np.abs(matrix[3] - [0, 0, 0, 1]).max() > UNIT_SLACK:
            raise RigError("a matrix that keeps flesh whole", "one with perspective", "", "Export again", where)
        return matrix
    if "rotation" in node:
        turn = numbers("rotation", [0.0, 0.0, 0.0, 1.0])
        if abs(np.sqrt(turn @ turn) - 1.0) > UNIT_SLACK:
            raise RigError("a quaternion of length one", require.shown(node["rotation"]), "", "Export again",
                           f"{where}, rotation")  # fmt: skip
        matrix[:3, :3] = rotation_from_quaternion(turn)
    if "scale" in node:
        matrix[:3, :3] = matrix[:3, :3] * numbers("scale", [1.0, 1.0, 1.0])
    if "translation" in node:
        matrix[:3, 3] = numbers("translation", [0.0, 0.0, 0.0])
    return matrix


def turn_within(matrix: np.ndarray) -> np.ndarray | None:
    """The turn within a matrix (3, 3) as a quaternion, None where it is mirrored, sheared or flat."""
    sizes = np.sqrt(np.sum(matrix**2, axis=0))
    if sizes.min() < NO_LENGTH:
        return None
    turn = matrix / sizes
    if np.abs(turn.T @ turn - np.eye(3)).max() > UNIT_SLACK or np.linalg.det(turn) < 0:
        return None
    left, _, right = np.linalg.svd(turn)
    return quaternion_from_rotation(left @ right)  # the nearest turn: what is left of rounding, or of a little shear
