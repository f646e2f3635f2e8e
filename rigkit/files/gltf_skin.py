"""Skins of a glTF file: which belong together, the pose their joints were bound in, which joints pull a vertex.

A skin stores, for each joint, the matrix that carries the mesh into the joint's frame as it was bound; where the mesh
itself stood then is not in the file, so it is looked for among the frames the file has.
Source: glTF 2.0, ISO/IEC 12113:2022, section 3.7.3 (skins).
"""

from dataclasses import dataclass

import numpy as np

from rigkit import require
from rigkit.files.gltf_nodes import WIDEST, NodeTree
from rigkit.files.gltf_parts import FLOAT, Document, listed, whole
from rigkit.files.layout import MOST_JOINTS
from rigkit.require import RigError
from rigkit.tolerance import NO_LENGTH, STORED, UNIT_SLACK

MOST_SKINS = 256  # a figure with clothes and hair has about ten
FRAMES = 32  # nodes of meshes, and nodes above the joints, that are looked at
POSED = 1e-3
"""Metres, and shares of a frame's size: further than this from where it was bound is a pose, not rounding."""
SAME_SIZE = 0.01
"""Share: frames whose sizes differ by more were meant to be of different units."""


@dataclass(frozen=True, eq=False)
class Skin:
    """joints: numbers of nodes. joint_from_skin: (n, 4, 4) as bound, or None where the file has none."""

    joints: list[int]
    joint_from_skin: np.ndarray | None


def read_skins(document: Document, nodes: int) -> list[Skin]:
    """All skins of the file, checked."""
    entries = document.items("skins")
    if len(entries) > MOST_SKINS:
        raise RigError(f"at most {MOST_SKINS} skins", f"{len(entries)}", "the whole scene was exported",
                       "Export the limb and its joints alone")  # fmt: skip
    return [_skin(document, entry, f"skin {number}", nodes) for number, entry in enumerate(entries)]


def _skin(document: Document, entry: dict, where: str, nodes: int) -> Skin:
    joints = listed(entry, "joints", int, where)
    if not joints or len(set(joints)) < len(joints) or min(joints) < 0 or max(joints) >= nodes:
        raise RigError("different nodes as joints", require.shown(joints), "the export went wrong",
                       "Export again", where)  # fmt: skip
    if len(joints) > MOST_JOINTS:
        raise RigError(f"at most {MOST_JOINTS} joints", f"{len(joints)}", "the whole scene was exported",
                       "Export the limb and its joints alone", where)  # fmt: skip
    joints = [int(joint) for joint in joints]
    if "inverseBindMatrices" not in entry:
        return Skin(joints, None)
    number = whole(entry, "inverseBindMatrices", where, 0, len(document.items("accessors")) - 1)
    stored = document.accessor(number, "MAT4", (FLOAT,), MOST_JOINTS)[: len(joints)].astype(float)
    if len(stored) < len(joints):
        raise RigError(f"{len(joints)} inverse bind matrices", f"{len(stored)}", "the export went wrong",
                       "Export again", where)  # fmt: skip
    matrices = stored.reshape(-1, 4, 4).transpose(0, 2, 1)
    if np.abs(matrices).max() > WIDEST:
        raise RigError("inverse bind matrices within reach", f"{np.abs(matrices).max():.3g}", "the export went wrong",
                       "Export again", where)  # fmt: skip
    bad = (np.abs(np.linalg.det(matrices[:, :3, :3])) < NO_LENGTH**3) | (
        np.abs(matrices[:, 3] - [0, 0, 0, 1]).max(axis=1) > UNIT_SLACK
    )
    if np.any(bad):
        raise RigError("inverse bind matrices that can be undone", f"none for joint {int(np.argmax(bad))}",
                       "a scale of zero", "Apply the scales and export again", where)  # fmt: skip
    return Skin(joints, matrices)


def together(skins: list[Skin], tree: NodeTree) -> list[int]:
    """For each skin the first one of its skeleton: skins that share joints, or whose joints hang below one another."""
    group = list(range(len(skins)))
    owner = {joint: number for number, skin in enumerate(skins) for joint in skin.joints}

    def merge(one: int, other: int) -> None:
        low, high = sorted((group[one], group[other]))
        if low < high:
            group[:] = [low if g == high else g for g in group]

    for number, skin in enumerate(skins):
        for joint in skin.joints:
            merge(number, owner[joint])
    above: dict[int, int] = {}  # for each node the skin of the nearest joint at or above it
    for node in tree.order:
        parent = tree.parents[node]
        near = None if parent is None else above.get(parent)
        if node in owner and near is not None:
            merge(owner[node], near)
        if (mine := owner.get(node, near)) is not None:
            above[node] = mine
    return group


def bound_pose(skins: list[Skin], tree: NodeTree, taken: list[int]) -> tuple[dict[int, np.ndarray], list[np.ndarray]]:
    """Where each joint of the skins taken stood when it was bound, and for every skin world_from_skin (4, 4).

    Of a joint in several skins the first taken counts.
    """
    bound: dict[int, np.ndarray] = {}
    frames = [np.eye(4)] * len(skins)
    for number in taken + [n for n in range(len(skins)) if n not in taken]:
        skin, places = skins[number], tree.world[skins[number].joints]
        if skin.joint_from_skin is not None:
            frames[number] = _frame(skin, skin.joint_from_skin, tree, number, bound)
            undone = frames[number] @ _undone(skin.joint_from_skin)
            if np.any(np.abs(undone - places) > STORED * np.maximum(1.0, np.abs(places))):
                places = undone  # else the nodes say the same, with more digits
        if number in taken:
            bound |= {joint: place for joint, place in zip(skin.joints, places, strict=True) if joint not in bound}
    return bound, frames


def _undone(matrices: np.ndarray) -> np.ndarray:
    undone = np.tile(np.eye(4), (len(matrices), 1, 1))
    undone[:, :3, :3] = np.linalg.inv(matrices[:, :3, :3])
    undone[:, :3, 3] = -np.einsum("nij,nj->ni", undone[:, :3, :3], matrices[:, :3, 3])
    return undone


def _frame(skin: Skin, joint_from_skin: np.ndarray, tree: NodeTree, number: int, bound: dict) -> np.ndarray:
    """Where the mesh stood when it was bound, (4, 4).

    A joint whose bound place is known from another skin tells it. Else the topmost joint does, if it still stands as it
    was bound. The answer is rounded to a frame that the file has: the world, the node of a mesh, a node above the
    joints. Where it is none of them, the topmost joint was posed too: those of the right size count, of them those in
    which it was bound where it stands now, and of them the one turned least.
    """
    depth = {node: place for place, node in enumerate(tree.order)}
    shared = [place for place, joint in enumerate(skin.joints) if joint in bound]
    asked = shared[0] if shared else min(range(len(skin.joints)), key=lambda place: depth[skin.joints[place]])
    joint = skin.joints[asked]
    stood = bound.get(joint, tree.world[joint])
    guess = stood @ joint_from_skin[asked]
    holders = [n for n, node in enumerate(tree.nodes) if node.get("skin") == number]
    known = np.array([np.eye(4), *tree.world[[*holders[:FRAMES], *tree.above(joint)[:FRAMES]]]])
    size = np.maximum(np.cbrt(np.abs(np.linalg.det(known[:, :3, :3]))), NO_LENGTH)
    apart = np.abs(known - guess)
    apart[:, :3, :3] /= size[:, None, None]
    if (nearest := apart.max(axis=(1, 2))).min() <= POSED:
        return known[np.argmin(nearest)]
    guess_size = np.cbrt(np.linalg.det(guess[:3, :3]))
    likely = np.abs(guess_size / size - 1.0) <= SAME_SIZE
    if shared or not np.any(likely):
        return guess
    turned = np.abs(known[:, :3, :3] / size[:, None, None] - guess[:3, :3] / guess_size).max(axis=(1, 2))
    moved = np.abs((known @ _undone(joint_from_skin[asked][None])[0])[:, :3, 3] - stood[:3, 3]).max(axis=1)
    return known[np.lexsort((moved, turned, moved > POSED, ~likely))[0]]
