"""Skeletons: named joints, a parent each, places (n, 3) and, where known, rotations; frozen, edits return copies."""

from dataclasses import dataclass, replace

import numpy as np

from rigkit import require
from rigkit.frames import Frame, mirror_matrix, quaternion_from_rotation, rotation_from_quaternion
from rigkit.require import RigError


@dataclass(frozen=True, eq=False)
class Skeleton:
    """The joints of one figure or limb, in any order.

    names: text for each joint (two joints may share one: that is a fault to be marked, not to be refused).
    parents: number of the joint above, or None, for each joint. positions: (n, 3), metres, world frame.
    rotations: for each joint a quaternion (4,) x, y, z, w, world frame, or None where nothing is known.
    Raises RigError when lengths differ, a parent is none of the joints, or parents run in a circle.

    >>> arm = Skeleton(["shoulder", "elbow"], [None, 0], [[0, 1.4, 0], [0.2, 1.2, 0]])
    >>> arm.moved(1, [0.2, 1.1, 0]).positions[1].tolist()
    [0.2, 1.1, 0.0]
    """

    names: tuple[str, ...]
    parents: tuple[int | None, ...]
    positions: np.ndarray
    rotations: tuple[np.ndarray | None, ...] = ()

    def __post_init__(self) -> None:
        set_ = object.__setattr__
        set_(self, "names", tuple(require.text(name, "a joint's name") for name in self.names))
        set_(self, "parents", tuple(self.parents))
        set_(self, "positions", require.points(self.positions, "the joints' places"))
        count = len(self.names)
        rotations = tuple(self.rotations) or (None,) * count
        if not count == len(self.parents) == len(self.positions) == len(rotations):
            raise RigError(
                "as many names as parents, places and rotations",
                f"{count}, {len(self.parents)}, {len(self.positions)} and {len(rotations)}", where="the skeleton",
            )  # fmt: skip
        for rotation in rotations:
            if rotation is not None:
                rotation_from_quaternion(rotation)
        set_(self, "rotations", tuple(None if r is None else require.frozen(r) for r in rotations))
        for joint, parent in enumerate(self.parents):
            if parent is None:
                continue
            if isinstance(parent, bool) or not isinstance(parent, int) or not 0 <= parent < count:
                raise RigError(
                    f"a parent from 0 to {count - 1}, or none", require.shown(parent), where=self._label(joint)
                )
        self._refuse_circles()

    def _label(self, joint: int) -> str:
        return f"joint {joint} ({require.shown(self.names[joint])})"

    def _refuse_circles(self) -> None:
        safe: set[int] = set()
        for start in range(len(self.names)):
            path: list[int] = []
            joint: int | None = start
            while joint is not None and joint not in safe:
                path.append(joint)
                safe.add(joint)
                joint = self.parents[joint]
            if joint is not None and joint in path:
                raise RigError(
                    "parents that lead up to a topmost joint", "parents that run in a circle",
                    next_step="Give each joint one parent nearer to the body", where=self._label(joint),
                )  # fmt: skip

    def __len__(self) -> int:
        return len(self.names)

    def index(self, name: str) -> int:
        """Number of the first joint of that name; raises RigError with the names there are."""
        if name not in self.names:
            raise RigError("one of " + ", ".join(self.names[:12]), require.shown(name), where="a joint's name")
        return self.names.index(name)

    def joint_number(self, joint: int) -> int:
        """The number of a joint, checked; raises RigError where no joint has it (none counts from the end)."""
        return require.whole(joint, "a joint's number", 0, len(self.names) - 1)

    def children(self, joint: int) -> tuple[int, ...]:
        """Numbers of the joints right below a joint."""
        joint = self.joint_number(joint)
        return tuple(i for i, parent in enumerate(self.parents) if parent == joint)

    def branch(self, joint: int) -> tuple[int, ...]:
        """The joint and all below it, each after its parent."""
        found = [self.joint_number(joint)]
        for one in found:
            found.extend(self.children(one))
        return tuple(found)

    def depth(self, joint: int) -> int:
        """How many joints lie above a joint: 0 for a topmost one."""
        steps, parent = 0, self.parents[self.joint_number(joint)]
        while parent is not None:
            steps, parent = steps + 1, self.parents[parent]
        return steps

    def at(self, positions: np.ndarray) -> "Skeleton":
        """The same joints at other places (n, 3), metres."""
        return replace(self, positions=positions)

    def moved(self, joint: int, to: np.ndarray) -> "Skeleton":
        """One joint put to a place (3,); its children stay where they are."""
        joint, positions = self.joint_number(joint), self.positions.copy()
        positions[joint] = require.vector(to, self._label(joint))
        return self.at(positions)

    def moved_branch(self, joint: int, to: np.ndarray) -> "Skeleton":
        """One joint put to a place (3,), and all below it shifted by as much."""
        positions = self.positions.copy()
        positions[list(self.branch(joint))] += require.vector(to, self._label(joint)) - self.positions[joint]
        return self.at(positions)

    def renamed(self, joint: int, name: str) -> "Skeleton":
        """One joint under another name."""
        joint = self.joint_number(joint)
        return replace(self, names=self.names[:joint] + (name,) + self.names[joint + 1 :])

    def transformed(self, new_from_old: Frame) -> "Skeleton":
        """The whole skeleton carried by a rigid frame, rotations with it."""
        turned = tuple(
            None if r is None else quaternion_from_rotation(new_from_old.rotation @ rotation_from_quaternion(r))
            for r in self.rotations
        )
        return replace(self, positions=new_from_old @ self.positions, rotations=turned)

    def mirrored(self, point: np.ndarray, normal: np.ndarray) -> "Skeleton":
        """Places reflected in a plane; names stay (`naming` swaps sides).

        Rotations follow the *same numbers* convention: reflect the three axes, then reverse all three, so that
        the frame is right-handed again and the same rotation values pose both sides as mirror images.
        """
        mirror = mirror_matrix(normal)
        turned = tuple(
            None if r is None else quaternion_from_rotation(-mirror @ rotation_from_quaternion(r))
            for r in self.rotations
        )
        return replace(self, positions=(self.positions - point) @ mirror + point, rotations=turned)
