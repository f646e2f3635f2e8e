"""Edits of a skeleton's joints, and a history of frozen skeletons: each edit takes a skeleton and returns another.

Moving one joint, moving it with all below it and renaming it are methods of `Skeleton`. Joint numbers: a new joint is
always the last one, and all others keep theirs; where a joint is taken out, the numbers above its own go down by one.
Rotations are kept (they are the world's, so no edit turns them); a new joint has that of the joint it hangs on.
"""

from dataclasses import dataclass, replace

import numpy as np

from rigkit import require
from rigkit.require import RigError
from rigkit.skeleton import Skeleton
from rigkit.vectors import length, unit

LEAST_LEFT = 0.01
"""Share of a bone that a slide or a new joint leaves at either end: joints in one place have no bone between them."""


def _added(skeleton: Skeleton, name: str, parent: int, place: np.ndarray) -> Skeleton:
    """One joint more, the last one, which hangs on `parent` and has its rotation."""
    return Skeleton(
        (*skeleton.names, name), (*skeleton.parents, parent), np.vstack([skeleton.positions, place]),
        (*skeleton.rotations, skeleton.rotations[parent]),
    )  # fmt: skip


@dataclass(frozen=True, eq=False)
class Slid:
    """What a slide came to: the skeleton, how far the joint went (metres, positive towards its child) and, where it
    was stopped, by which joint (its number; None where it went all the way)."""

    skeleton: Skeleton
    went: float
    stopped_by: int | None


def slid(
    skeleton: Skeleton, joint: int, by: float, *, share: bool = False, child: int | None = None, branch: bool = False
) -> Slid:
    """A joint slid along its bone: towards its child where `by` is positive, towards its parent where it is negative.

    by: metres, or with `share` a share of that bone's length. child: which child at a branching joint (the first
    unless said). branch: all joints below travel with it. It never passes the joint at the bone's other end, as that
    stands now, but stops a hundredth of the bone before it. A tip, or a topmost joint, slides on freely beyond its
    one bone, along that bone's line. Raises RigError for a joint without a bone.

    >>> arm = Skeleton(["a", "b", "c"], [None, 0, 1], [[0, 0, 0], [1, 0, 0], [1, 2, 0]])
    >>> moved = slid(arm, 1, 0.25, share=True)
    >>> moved.skeleton.positions[1].tolist(), moved.went, moved.stopped_by
    ([1.0, 0.5, 0.0], 0.5, None)
    """
    joint, by = skeleton.joint_number(joint), require.number(by, "how far to slide", -1e5, 1e5)
    here, parent, children = skeleton.positions[joint], skeleton.parents[joint], skeleton.children(joint)
    if child is not None and child not in children:
        raise RigError("one of the joint's children", require.shown(child), where=f"sliding {skeleton.names[joint]}")
    down = child if child is not None else children[0] if children else None
    ahead, behind = (down, parent) if by >= 0 else (parent, down)
    goal = ahead if ahead is not None else behind
    if goal is None:
        raise RigError("a joint with a parent or a child", "one that stands alone", where="sliding a joint")
    arrow = skeleton.positions[goal] - here
    bone = float(length(arrow))
    way = unit(arrow, "the bone to slide along") * (1 if goal == ahead else -1)
    far, stopped_by = abs(by) * (bone if share else 1.0), None
    if goal == ahead and far > bone * (1 - LEAST_LEFT):
        far, stopped_by = bone * (1 - LEAST_LEFT), goal
    to = here + far * way
    moved = skeleton.moved_branch(joint, to) if branch else skeleton.moved(joint, to)
    return Slid(moved, far if by >= 0 else -far, stopped_by)


def inserted(skeleton: Skeleton, child: int, name: str, share: float = 0.5) -> Skeleton:
    """A new joint on the bone that ends at `child`, at a share of it from the parent; the child then hangs on it.

    The new joint is the last one, also among its parent's children.
    Raises RigError for a topmost joint, or a share nearer to an end than a hundredth.

    >>> arm = Skeleton(["elbow", "wrist"], [None, 0], [[0, 1, 0], [0, 0, 0]])
    >>> finer = inserted(arm, 1, "roll", 0.25)
    >>> finer.parents, finer.positions[2].tolist()
    ((None, 2, 0), [0.0, 0.75, 0.0])
    """
    child = skeleton.joint_number(child)
    share = require.number(share, "where on the bone", LEAST_LEFT, 1 - LEAST_LEFT)
    parent = skeleton.parents[child]
    if parent is None:
        raise RigError("a joint with a parent", "a topmost joint", where=f"a new joint above {skeleton.names[child]}")
    start, end = skeleton.positions[parent], skeleton.positions[child]
    return reparented(_added(skeleton, name, parent, start + share * (end - start)), child, len(skeleton))


def removed(skeleton: Skeleton, joint: int) -> Skeleton:
    """Without one joint; its children hang on its parent, or are topmost where it had none. Nothing else moves.

    Joints with higher numbers move up by one place.
    """
    joint = skeleton.joint_number(joint)
    above = skeleton.parents[joint]
    kept = [i for i in range(len(skeleton)) if i != joint]
    parents = [above if skeleton.parents[i] == joint else skeleton.parents[i] for i in kept]
    return Skeleton(
        tuple(skeleton.names[i] for i in kept), tuple(None if p is None else p - (p > joint) for p in parents),
        skeleton.positions[kept], tuple(skeleton.rotations[i] for i in kept),
    )  # fmt: skip


def reparented(skeleton: Skeleton, joint: int, parent: int | None) -> Skeleton:
    """A joint hung on another one, or on none; all places stay.

    Raises RigError where the new parent is the joint itself or hangs below it: that would be a circle.
    """
    joint = skeleton.joint_number(joint)
    if parent is not None and (parent := skeleton.joint_number(parent)) in skeleton.branch(joint):
        here, there = skeleton.names[joint], skeleton.names[parent]
        raise RigError(
            f"a parent that does not hang on {here} itself",
            here if parent == joint else f"{there}, which hangs below {here}",
            next_step=f"Hang {there} on another joint first" if parent != joint else "", where=f"the parent of {here}",
        )  # fmt: skip
    return replace(skeleton, parents=(*skeleton.parents[:joint], parent, *skeleton.parents[joint + 1 :]))


def extended(
    skeleton: Skeleton, tip: int, name: str, far: float | None = None, along: np.ndarray | None = None
) -> Skeleton:
    """A new joint beyond a tip: along its bone and as far again, unless `far` (metres) or a direction `along` (3,) say
    otherwise. The new joint is the last one.

    Raises RigError where the joint has children (that is a branch) or where no bone tells what was left out.

    >>> finger = Skeleton(["base", "middle"], [None, 0], [[0, 0, 0], [0.04, 0, 0]])
    >>> extended(finger, 1, "end").positions[2].tolist()
    [0.08, 0.0, 0.0]
    """
    tip = skeleton.joint_number(tip)
    where = f"a joint beyond {skeleton.names[tip]}"
    if skeleton.children(tip):
        raise RigError("a tip", "a joint with children", next_step="Branch off it instead", where=where)
    parent = skeleton.parents[tip]
    if parent is None and (far is None or along is None):
        raise RigError("a length and a direction", "a joint without a bone to go by", where=where)
    bone = np.zeros(3) if parent is None else skeleton.positions[tip] - skeleton.positions[parent]
    way = unit(bone, where) if along is None else require.direction(along, where)
    reach = float(length(bone)) if far is None else require.number(far, where, 0.0, 1e5)
    return _added(skeleton, name, tip, skeleton.positions[tip] + reach * way)


def branched(skeleton: Skeleton, parent: int, name: str, to: np.ndarray) -> Skeleton:
    """A new child of a joint, at a place (3,), metres; it is the last joint, also among its parent's children."""
    return _added(skeleton, name, skeleton.joint_number(parent), require.vector(to, f"the place of {name}"))


@dataclass(frozen=True)
class History:
    """A skeleton as it is now, those before it and those taken back; frozen: each step returns another history.

    A new edit drops what was taken back. At most `depth` steps are kept; the oldest go first. Raises RigError for what
    is no skeleton, and for a depth below one.

    >>> one = Skeleton(["a"], [None], [[0, 0, 0]])
    >>> steps = History(one).do(one.moved(0, [1, 0, 0])).do(one.moved(0, [2, 0, 0])).take_back()
    >>> steps.now.positions[0].tolist(), steps.redo().now.positions[0].tolist()
    ([1.0, 0.0, 0.0], [2.0, 0.0, 0.0])
    """

    now: Skeleton
    past: tuple[Skeleton, ...] = ()
    taken_back: tuple[Skeleton, ...] = ()
    depth: int = 200

    def __post_init__(self) -> None:
        require.whole(self.depth, "how many steps a history keeps", 1, 10**6)
        if not isinstance(self.now, Skeleton):
            raise RigError("a skeleton", require.kind(self.now), where="a step of the history")

    def do(self, skeleton: Skeleton) -> "History":
        """A new edit; the very skeleton of now is none."""
        if skeleton is self.now:
            return self
        return replace(self, now=skeleton, past=(*self.past, self.now)[-self.depth :], taken_back=())

    def take_back(self) -> "History":
        """One step back; the same history where there is none."""
        if not self.past:
            return self
        return replace(self, now=self.past[-1], past=self.past[:-1], taken_back=(self.now, *self.taken_back))

    def redo(self) -> "History":
        """The last step that was taken back, again; the same history where there is none."""
        if not self.taken_back:
            return self
        first, *rest = self.taken_back
        return replace(self, now=first, past=(*self.past, self.now), taken_back=tuple(rest))
