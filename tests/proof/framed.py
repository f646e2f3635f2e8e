"""Frames and both sides for the proof, by its own arithmetic: one rotation (3, 3) for each joint, world from joint, x down
its bone and z along its hinge; and the mirrored other side."""

import json
import tempfile
from dataclasses import replace
from pathlib import Path

import numpy as np
from scipy.spatial.transform import Rotation

from rigkit.files.exercise import Exercise
from rigkit.files.handin import read_handin
from rigkit.files.layout import Layout
from rigkit.skeleton import Skeleton
from tests.proof.ground import Ground, unit

FLIP = np.diag([-1.0, 1.0, 1.0])  # the practice limbs' middle plane is x = 0
SIGNS = {"same-numbers": [-1.0, -1.0, -1.0], "same-direction": [1.0, 1.0, -1.0]}
"""Which axes of a reflected frame are reversed (glTF and H-Anim leave that open; common practice knows these two)."""


def judged(g: Ground, both: bool = False, convention: str = "same-numbers") -> Exercise:
    """The exercise with its frames judged, and with both sides asked for."""
    mirror = (np.zeros(3), np.array([1.0, 0.0, 0.0])) if both else None
    return replace(g.exercise, frame_convention=convention, mirror=mirror)


def square(way: np.ndarray, bone: np.ndarray) -> np.ndarray:
    """A direction as near to another as it can be, square to a bone."""
    return unit(way - way @ bone * bone)


def axes(g: Ground, places: np.ndarray | None = None) -> np.ndarray:
    """Right frames (n, 3, 3) for the key, or for its joints at other places: x to the first joint below, z along the
    key's hinge, one way down the chain."""
    frames, places = np.zeros((len(g.roles), 3, 3)), g.places if places is None else places
    for joint, role in enumerate(g.roles):
        above, below = g.parents[joint], g.below(joint)
        if not below:
            frames[joint] = frames[above]
            continue
        bone = unit(places[below[0]] - places[joint])
        folding = next((one for one in (role, g.roles[below[0]]) if one in g.folds), None)
        hinge = None if above is None else frames[above][:, 2]
        if folding:
            root, end = (g.places[g.number[one]] for one in g.folds[folding]["between"])
            middle = g.places[g.number[folding]]
            normal = unit(np.cross(middle - root, end - middle))
            hinge = normal if hinge is None or normal @ hinge >= 0 else -normal
        elif hinge is None:
            hinge = np.array([1.0, 0.0, 0.0]) if abs(bone[0]) < 0.7 else np.array([0.0, 0.0, 1.0])
        z = square(hinge, bone)
        frames[joint] = np.stack([bone, np.cross(z, bone), z], axis=1)
    return frames


def like_above(g: Ground, frames: np.ndarray, joint: int) -> np.ndarray:
    """The frames with one that is the joint above's, turned by the least turn that lays its x along the own bone."""
    above, bone = frames[g.parents[joint]], frames[joint][:, 0]
    axis, new = np.cross(above[:, 0], bone), frames.copy()
    size = np.linalg.norm(axis)
    turn = axis / max(size, 1e-12) * np.arctan2(size, above[:, 0] @ bone)
    new[joint] = Rotation.from_rotvec(turn).as_matrix() @ above
    return new


def turned(frames: np.ndarray, joint: int, axis: str, degrees: float) -> np.ndarray:
    """The frames with one turned about an axis of its own."""
    new = frames.copy()
    new[joint] = frames[joint] @ Rotation.from_euler(axis, degrees, degrees=True).as_matrix()
    return new


def layout(g: Ground, frames: np.ndarray, places: np.ndarray | None = None) -> Layout:
    """The key, or its joints at other places, with frames."""
    plain = g.layout(places)
    return replace(plain, skeleton=replace(plain.skeleton, rotations=_quaternions(frames)))


def filed(g: Ground, frames: np.ndarray, changed: int, change: np.ndarray, unit_scale: float = 0.01) -> Layout:
    """The key with frames as a glTF file gives it back, a change (3, 3) in the frame of one joint carried on to all below
    it, the whole limb below a node that brings it to other units."""
    bases = np.array([frame * unit_scale for frame in frames])
    own = bases[changed].copy()
    for joint in g.branch(changed):
        bases[joint] = own @ change @ np.linalg.inv(frames[changed]) @ frames[joint]
    worlds = np.tile(np.eye(4), (len(g.roles), 1, 1))
    worlds[:, :3, :3], worlds[:, :3, 3] = bases, g.places
    nodes = [
        {"name": "units", "scale": [unit_scale] * 3, "children": [i + 1 for i, p in enumerate(g.parents) if p is None]}
    ]
    for joint, parent in enumerate(g.parents):
        above = np.diag([unit_scale, unit_scale, unit_scale, 1.0]) if parent is None else worlds[parent]
        node = {"name": g.names[joint], "matrix": np.linalg.solve(above, worlds[joint]).T.ravel().tolist()}
        nodes.append(node | ({"children": [i + 1 for i in g.below(joint)]} if g.below(joint) else {}))
    table = {"asset": {"version": "2.0"}, "scene": 0, "scenes": [{"nodes": [0]}], "nodes": nodes}
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "wren.gltf"
        path.write_text(json.dumps(table))
        return read_handin(path, path.name)


def _quaternions(frames: np.ndarray) -> tuple[np.ndarray, ...]:
    return tuple(Rotation.from_matrix(frame).as_quat() for frame in frames)


class Pair:
    """Both sides of the key: the joints that were asked for, then the mirror image of each that has a side."""

    def __init__(self, g: Ground, convention: str = "same-numbers"):
        self.g, self.sided = g, [i for i, name in enumerate(g.names) if name.startswith(g.side)]
        other, count = "right" if g.side == "left" else "left", len(g.roles)
        self.image = {joint: count + i for i, joint in enumerate(self.sided)}
        self.names = [*g.names, *(g.names[i].replace(g.side, other) for i in self.sided)]
        self.parents = [*g.parents, *(self.image.get(g.parents[i], g.parents[i]) for i in self.sided)]
        self.places = np.vstack([g.places, g.places[self.sided] @ FLIP])
        own = axes(g)
        self.frames = np.concatenate([own, FLIP @ own[self.sided] * SIGNS[convention]])

    def layout(self, without: int | None = None) -> Layout:
        """The hand-in, less one joint if that is said; what hung on it hangs on the one above."""
        kept = [i for i in range(len(self.names)) if i != without]
        above = [self.parents[without] if without is not None and self.parents[i] == without else self.parents[i]
                 for i in kept]  # fmt: skip
        new = {old: i for i, old in enumerate(kept)}
        skeleton = Skeleton(tuple(self.names[i] for i in kept), tuple(None if p is None else new[p] for p in above),
                            self.places[kept], _quaternions(self.frames[kept]))  # fmt: skip
        return Layout("wren", self.g.exercise.id, 1, skeleton)
