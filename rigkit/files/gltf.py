"""Reading glTF 2.0: the bytes of one .glb or .gltf -> a Mesh, a Skeleton (both metres, world frame) and notices.

Strict and small: data must be embedded, no other file or host is ever opened, vertices keep their order.
Source: glTF 2.0, ISO/IEC 12113:2022, sections 3.5 (nodes) and 3.7 (meshes, skins).
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from rigkit import require
from rigkit.files.gltf_mesh import Flesh
from rigkit.files.gltf_nodes import NodeTree, shown_name, turn_within
from rigkit.files.gltf_parts import Document, whole
from rigkit.files.gltf_skin import POSED, bound_pose, read_skins, together
from rigkit.files.layout import MOST_JOINTS, MOST_NOTICES
from rigkit.mesh import Mesh
from rigkit.require import RigError
from rigkit.skeleton import Skeleton
from rigkit.tolerance import STORED

MOST_SHARES = 50_000_000  # vertices times joints; as float64 400 MB
TURNED = 0.01  # share of a frame's size: a turn of half a degree is a pose, not rounding
LISTED = 6  # names in a notice
NONE = -1


@dataclass(frozen=True, eq=False)
class GltfScene:
    """What a glTF file holds: mesh and skeleton in metres, world frame, either of which may be None, and notices.

    pulls: for each vertex the joints that pull it (n, k) and their shares (n, k), or None where nothing says so.
    meshes, skins: names of all that the file has, in its order; those taken are told in the notices. bases: (n, 3, 3)
    the joints' axes, world, as they were bound, with whatever scale and shear they have.
    """

    mesh: Mesh | None
    skeleton: Skeleton | None
    notices: tuple[str, ...]
    pulls: tuple[np.ndarray, np.ndarray] | None = None
    meshes: tuple[str, ...] = ()
    skins: tuple[str, ...] = ()
    bases: np.ndarray | None = None

    @cached_property
    def weights(self) -> np.ndarray | None:
        """Skin weights (vertices, joints), each row summing to one, or None where the file has none."""
        if self.pulls is None or self.skeleton is None:
            return None
        numbers, shares = self.pulls
        if len(numbers) * len(self.skeleton) > MOST_SHARES:
            raise RigError(f"at most {MOST_SHARES:,} weights", f"{len(numbers)} times {len(self.skeleton)}",
                           "the mesh is very fine", "Reduce it, or export the limb alone", "the weights")  # fmt: skip
        weights = np.zeros((len(numbers), len(self.skeleton)))
        np.add.at(weights, (np.arange(len(numbers))[:, None], numbers), shares)
        return require.frozen(weights / weights.sum(axis=1, keepdims=True))


def read_gltf(data: bytes, where: str, skin: int | str | None = None,
              meshes: Sequence[int | str] | None = None) -> GltfScene:  # fmt: skip
    """Read a glTF 2.0 file's bytes; `where` is the file's name, used in errors.

    skin: number or name of the one whose joints count. By default that of the most joints counts, with the skins that
    belong to the same skeleton; without a skin, all nodes that carry nothing. Nodes below a skin's joints that carry
    nothing count as joints too (ends, twists). The joints are in the pose they were bound in.
    meshes: numbers or names of those wanted. By default all that hang on the joints taken, or all where none does;
    they become one mesh, in the order of their nodes.
    Raises RigError, naming the place in the file and what to do, for whatever cannot be used.

    >>> read_gltf(b'{"asset": {"version": "2.0"}, "nodes": [{"translation": [0, 1, 0]}]}', "a.gltf").skeleton.names
    ('node_0',)
    """
    try:
        return _Reader(Document(data), skin, meshes).scene()
    except RigError as error:
        error.next_step = error.next_step or "Export again"
        raise error.at(where) from None


class _Reader:
    """One file while it is read: its tree, its skins, those taken, and where all nodes stood when they were bound."""

    def __init__(self, document: Document, skin: int | str | None, meshes: Sequence[int | str] | None):
        self.document, self.notices = document, document.notices
        self.tree = NodeTree(document)
        self.skins = read_skins(document, len(self.tree.nodes))
        self.skin_names = [shown_name(one, "skin", n, []) for n, one in enumerate(document.items("skins"))]
        self.mesh_names = [shown_name(one, "mesh", n, []) for n, one in enumerate(document.items("meshes"))]
        self.wanted = None if meshes is None else {_chosen(one, self.mesh_names, "the mesh") for one in meshes}
        self.taken = self._taken_skins(None if skin is None else _chosen(skin, self.skin_names, "the skin"))
        self.bound, self.frames = bound_pose(self.skins, self.tree, self.taken)
        self.rest = self.tree.carried(self.bound)

    def scene(self) -> GltfScene:
        """The whole file as one mesh and one skeleton."""
        joints = [*self.bound, *self.tree.below(self.bound)] if self.taken else self._free_joints()
        self.nearest = self.tree.nearest(joints)
        skeleton = self._skeleton(joints) if joints else None
        mesh, pulls = self._flesh()
        if len(self.notices) > MOST_NOTICES:
            self.notices[MOST_NOTICES:] = [f"And {len(self.notices) - MOST_NOTICES} more like these."]
        names = tuple(self.mesh_names), tuple(self.skin_names)
        bases = self.rest[joints][:, :3, :3] if joints else None
        return GltfScene(mesh, skeleton, tuple(self.notices), pulls, *names, bases)

    # Joints ----------------------------------------------------------------------------------------

    def _taken_skins(self, chosen: int | None) -> list[int]:
        """The skin chosen; else that of the most joints, and those of the same skeleton."""
        if not self.skins or chosen is not None:
            return [] if chosen is None else [chosen]
        first = max(range(len(self.skins)), key=lambda n: len(self.skins[n].joints))
        group = together(self.skins, self.tree)
        taken = [first, *(n for n in range(len(self.skins)) if n != first and group[n] == group[first])]
        if len(self.skins) > 1:
            what = [f"{n} {name} ({len(skin.joints)} joints)"
                    for n, (name, skin) in enumerate(zip(self.skin_names, self.skins, strict=True))]  # fmt: skip
            self.notices.append(
                f"The file has {len(what)} skins: {_listed(what)}. The joints of {_listed(taken)} count."
            )
        return taken

    def _free_joints(self) -> list[int]:
        tree, frames = self.tree, self.tree.frames()
        if frames:
            names = _listed([tree.name(node) for node in frames])
            self.notices.append(f"Nodes that only size the scene or gather meshes are no joints: {names}.")
        return [n for n in range(len(tree.nodes)) if tree.shown[n] and not tree.carries[n] and n not in frames]

    def _skeleton(self, joints: list[int]) -> Skeleton:
        tree, world = self.tree, self.rest[joints]
        if len(joints) > MOST_JOINTS:
            raise RigError(f"at most {MOST_JOINTS} joints", f"{len(joints)}", "the whole scene was exported",
                           "Export the limb and its joints alone", "the nodes")  # fmt: skip
        above = [tree.parents[node] for node in joints]
        parents = tuple(None if node is None else self.nearest[node] for node in above)
        rotations = tuple(tree.turn(node, matrix[:3, :3]) for node, matrix in zip(joints, world, strict=True))
        skeleton = Skeleton(tuple(tree.name(node) for node in joints), parents, world[:, :3, 3], rotations)
        self._tell_joints(joints, skeleton)
        return skeleton

    def _tell_joints(self, joints: list[int], skeleton: Skeleton) -> None:
        bound = list(self.bound)
        apart = np.abs(self.rest[bound] - self.tree.world[bound])
        sizes = np.abs(self.rest[bound][:, :3, :3]).max(axis=(1, 2), keepdims=True)
        if bound and (apart[:, :3, 3].max() > POSED or np.any(apart[:, :3, :3] > TURNED * sizes)):
            self.notices.append("The joints were left in a pose; the pose they were bound in counts.")
        if any(self.skins[number].joint_from_skin is None for number in self.taken):
            self.notices.append("A skin has no inverse bind matrices; its joints count where their nodes stand.")
        loose = [skeleton.names[place] for place, node in enumerate(joints) if self.taken and node not in self.bound]
        if loose:
            self.notices.append(f"Nodes below the skin's joints were taken as joints too: {_listed(loose)}.")
        if unnamed := sum("name" not in self.tree.nodes[node] for node in joints):
            self.notices.append(f"Joints without a name are called node_ and their number: {unnamed}.")
        if untold := sum(turn_within(self.rest[node][:3, :3]) is None for node in joints):
            self.notices.append(f"Joints whose frame is mirrored, sheared or flat, so that it has no turn: {untold}.")
        here, above = skeleton.positions, [n if p is None else p for n, p in enumerate(skeleton.parents)]
        short = np.abs(here - here[above]).max(axis=1) <= STORED
        names = [name for name, parent, none in zip(skeleton.names, skeleton.parents, short, strict=True)
                 if none and parent is not None]  # fmt: skip
        if names:
            self.notices.append(f"Joints in the same place as the joint above: {_listed(names)}.")

    # Meshes ----------------------------------------------------------------------------------------

    def _flesh(self) -> tuple[Mesh | None, tuple[np.ndarray, np.ndarray] | None]:
        """The meshes taken as one, and the joints that pull its vertices."""
        nodes, shown = self.tree.nodes, self.tree.shown
        pulls = [[self.nearest[node] for node in skin.joints] for skin in self.skins]  # for each skin, its joints
        hangs = [next((one for one in numbers if one is not None), None) for numbers in pulls]
        meshes, skins, holders = {}, {}, {}  # for each node with a mesh; a holder is a joint that it hangs on
        for n in [n for n, node in enumerate(nodes) if "mesh" in node]:
            meshes[n] = whole(nodes[n], "mesh", f"node {n}", 0, len(self.mesh_names) - 1)
            skins[n] = whole(nodes[n], "skin", f"node {n}", 0, len(self.skins) - 1) if "skin" in nodes[n] else NONE
            holders[n] = self.nearest[n] if skins[n] == NONE else hangs[skins[n]]
        held = {n for n in meshes if holders[n] is not None and shown[n]}
        likely = held if held and self.taken else {n for n in meshes if shown[n]}
        taken = [n for n in meshes if (n in likely if self.wanted is None else meshes[n] in self.wanted)]
        flesh = Flesh(self.document)
        for n in taken:
            numbers = [] if skins[n] == NONE else [one or 0 for one in pulls[skins[n]]]
            matrix = self.rest[n] if skins[n] == NONE else self.frames[skins[n]]
            flesh.add(meshes[n], matrix, np.array(numbers, dtype=np.int16), holders[n] or 0)
        if len(meshes) > 1:
            names, gone = ([self.mesh_names[meshes[n]] for n in some] for some in (taken, sorted({*meshes} - {*taken})))
            self.notices.append(f"The file has {len(meshes)} meshes. Taken as one: {_listed(names) or 'none'}."
                                f"{f' Left out: {_listed(gone)}.' if gone else ''}")  # fmt: skip
        if not flesh.faces:
            return None, None
        mesh, pulled = flesh.whole()
        return mesh, None if held.isdisjoint(taken) else pulled


def _chosen(asked: int | str, names: list[str], what: str) -> int:
    """The number of what was asked for by number or name."""
    if isinstance(asked, str) and asked in names:
        return names.index(asked)
    if isinstance(asked, (str, bool)) or not 0 <= asked < len(names):
        raise RigError("one of " + (_listed(f"{n} {name}" for n, name in enumerate(names)) or "none"),
                       require.shown(asked), next_step="Choose by number or name", where=what)  # fmt: skip
    return asked


def _listed(things: Iterable[object]) -> str:
    """Things in one line, the first few of many."""
    words = [str(one) for one in things]
    return ", ".join(words[:LISTED]) + (f" and {len(words) - LISTED} more" if len(words) > LISTED else "")
