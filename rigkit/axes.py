"""Local frames of joints: rotations (n, 3, 3), world from joint, with one axis along the bone and one along the hinge.

A bone runs from a joint to its main child; the hinge is square to the bones on both sides of a bend. A positive turn
about it folds the first bend of a chain further, every bend with `keep_sign=False`, and any joint with a direction in
`away` the way that says. Bends below the first keep, unless told so, the direction of the hinge above: where a chain
bends the other way (below a clavicle, at the ankle, at the ball of the foot), a positive turn then opens the joint.
Where a bend is too straight to tell, its hinge is carried on from a neighbour.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from rigkit import require
from rigkit.frames import IDENTITY, Frame, quaternion_from_rotation, rotation_between, rotation_from_quaternion
from rigkit.require import RigError
from rigkit.skeleton import Skeleton
from rigkit.tolerance import NO_LENGTH, STRAIGHT_SHARE
from rigkit.twist import twist_between
from rigkit.vectors import along_and_across, angle_between, any_square_to, length, unit

WAYS = {sign + letter: np.eye(3)[i] * (-1 if sign else 1) for sign in ("", "-") for i, letter in enumerate("xyz")}
"""The six directions of a frame's own axes by name: "x", "-x" and so on."""
BEND, CARRIED, GIVEN, CHOSEN, TIP = "bend", "carried", "given", "chosen", "its parent's"


@dataclass(frozen=True, eq=False)
class LocalAxes:
    """Local frames: rotations (n, 3, 3), world from joint, and for each joint what told its hinge.

    told: "bend" (its own three joints), "carried" (from a neighbour), "given" (the fold direction handed in),
    "chosen" (nothing tells: some direction square to the bone), "its parent's" (a tip: the whole frame).
    """

    rotations: np.ndarray
    told: tuple[str, ...]

    @property
    def quaternions(self) -> tuple[np.ndarray, ...]:
        """The same as a `Skeleton` keeps them: (4,) each."""
        return tuple(quaternion_from_rotation(rotation) for rotation in self.rotations)


def main_children(skeleton: Skeleton, child: Mapping[int, int] | None = None) -> tuple[int | None, ...]:
    """For each joint the child its bone runs to: the one chosen in `child`, else the first that lies apart from it."""
    found: list[int | None] = [None] * len(skeleton)
    for joint, parent in enumerate(skeleton.parents):
        if parent is not None and found[parent] is None:
            apart = float(length(skeleton.positions[joint] - skeleton.positions[parent])) >= NO_LENGTH
            found[parent] = joint if apart else None
    for joint, wanted in (child or {}).items():
        if wanted not in skeleton.children(joint):
            raise RigError("one of its children", require.shown(wanted), where=f"the bone of {skeleton.names[joint]}")
        found[joint] = wanted
    return tuple(found)


def _bend(upper: np.ndarray, lower: np.ndarray) -> np.ndarray | None:
    """The hinge (3,) between two bones; None where they lie too nearly on one line to tell, straight or folded up."""
    normal, line = np.cross(upper, lower), upper + lower
    size = float(length(normal))
    least = STRAIGHT_SHARE * max(float(line @ line), float(length(upper) * length(lower)))
    return normal / size if size > least else None


def _carry(hinge: np.ndarray, start: np.ndarray, end: np.ndarray) -> np.ndarray:
    """A hinge carried from one bone's direction to the next by the smallest turn; kept as it is past a full fold."""
    if start @ end > -0.99:
        hinge = rotation_between(start, end) @ hinge
    across = along_and_across(hinge, end)[1]
    return across / length(across) if length(across) > NO_LENGTH else any_square_to(end)


def local_axes(
    skeleton: Skeleton,
    bone: str = "x",
    hinge: str = "z",
    child: Mapping[int, int] | None = None,
    roots: Iterable[int] = (),
    away: Mapping[int, np.ndarray] | None = None,
    keep_sign: bool = True,
) -> LocalAxes:
    """Frames for all joints of a skeleton, right-handed.

    bone, hinge: which local axis lies along the bone and which along the hinge, "x" to "z", "-x" to "-z".
    child: main child by joint, where the first is not meant. roots: joints where a limb begins (shoulder, hip): they
    turn every way, so their hinge is that of the first bend below, not of their own. away: fold direction (3,) by
    joint; it decides the sign of a bend, and stands for it where the joint is too straight to tell.
    keep_sign: along a chain that bends one way and then the other (an S), hinges keep their direction, so that no
    frame is turned over by 180 degrees against the one above it; False: each bend's positive turn folds it further.

    The way a hinge is carried, by the smallest turn from bone to bone, is known as parallel transport (Bishop, "There
    is more than one way to frame a curve", Amer. Math. Monthly 82, 1975; from memory). At branches that leave by more
    than a right angle nothing is carried: a leg does not take its hinge from the spine.

    >>> leg = Skeleton(["hip", "knee", "ankle"], [None, 0, 1], [[0, 0.9, 0], [0, 0.5, 0.03], [0, 0.1, 0]])
    >>> np.round(local_axes(leg).rotations[1][:, 2], 6).tolist()
    [1.0, 0.0, 0.0]
    """
    bone, hinge = require.choice(bone, "the bone's axis", WAYS), require.choice(hinge, "the hinge's axis", WAYS)
    if bone[-1] == hinge[-1]:
        raise RigError("two different axes for bone and hinge", f"{bone} and {hinge}", where="local frames")
    places, main = skeleton.positions, main_children(skeleton, child)
    order = [j for top, parent in enumerate(skeleton.parents) if parent is None for j in skeleton.branch(top)]
    tips = {j for j, below in enumerate(main) if below is None}
    starts = {skeleton.joint_number(j) for j in roots} - tips
    away = {skeleton.joint_number(j): way for j, way in (away or {}).items()}
    ways = np.tile(WAYS[bone], (len(skeleton), 1))
    hinges, known, told = np.zeros_like(ways), set(), [TIP] * len(skeleton)

    def from_above(j: int) -> np.ndarray | None:
        above = skeleton.parents[j]
        if above is None or above not in known or j in starts:
            return None
        leaves = main[above] != j and ways[above] @ ways[j] < 0
        return None if leaves else _carry(hinges[above], ways[above], ways[j])

    for j in order:  # from the top down: own bends, and what they pass on to the joints below
        above, below, name = skeleton.parents[j], main[j], skeleton.names[j]
        if below is not None:
            ways[j] = unit(places[below] - places[j], name)
        elif above is not None:
            ways[j] = ways[above]
        carried = from_above(j)
        hinge_here, sign = None, carried if keep_sign else None
        if below is not None:
            told[j] = CARRIED
            if above is not None and j not in starts:
                hinge_here = _bend(places[j] - places[above], places[below] - places[j])
            if j in away:
                sign = np.cross(require.direction(away[j], f"the fold direction of {name}"), ways[j])
                if float(length(sign)) < NO_LENGTH:
                    raise RigError("a fold direction across the bone", "one along it", where=name)
            if hinge_here is not None:
                told[j] = BEND
                hinge_here = -hinge_here if sign is not None and hinge_here @ sign < 0 else hinge_here
            elif j in away and sign is not None:
                hinge_here, told[j] = unit(sign), GIVEN
        hinge_here = carried if hinge_here is None else hinge_here
        if hinge_here is not None:
            hinges[j] = hinge_here
            known.add(j)
    for j in reversed(order):  # from the tips up: joints above the first bend
        below = main[j]
        if j not in known and below is not None and below in known - starts:
            hinges[j] = _carry(hinges[below], ways[below], ways[j])
            known.add(j)
    for j in order:  # what is left is straight from its top to its tips
        if j not in known:
            carried = from_above(j)
            if carried is None:
                carried, told[j] = (WAYS[hinge] if j in tips else any_square_to(ways[j])), CHOSEN
            hinges[j] = carried
            known.add(j)
    world = np.stack([ways, hinges, np.cross(ways, hinges)], axis=2)
    own = np.array([WAYS[bone], WAYS[hinge], np.cross(WAYS[bone], WAYS[hinge])])
    return LocalAxes(require.frozen(world @ own), tuple(told))


@dataclass(frozen=True)
class AxisCheck:
    """What a file shows of one joint's frame; angles in radians, None where nothing can be told.

    bone_off: between the chain's bone axis and the joint's bone. own: the axis of its own that lies nearest to the
    bone. twist: the turn about the bone axis against the joint above, the bend taken out. hinge_off: between the
    chain's hinge axis, taken as a line, and the hinge of the joint's own bend.
    """

    joint: int
    own: str | None
    bone_off: float | None
    twist: float | None
    hinge_off: float | None


@dataclass(frozen=True)
class AxesCheck:
    """Frames of a chain: which own axis lies along the bones and which along the hinges, by most joints, None where
    no frame tells; and each joint that has a frame."""

    bone: str | None
    hinge: str | None
    joints: tuple[AxisCheck, ...]


def check_axes(
    skeleton: Skeleton, joints: Iterable[int] | None = None, child: Mapping[int, int] | None = None
) -> AxesCheck:
    """Measure the frames that came with a layout. joints: those of one side or limb, all unless said: where sides are
    mirrored by *same numbers*, the bone axis of one of them points up its bones. child as in `local_axes`.

    >>> arm = Skeleton(["a", "b"], [None, 0], [[0, 0, 0], [0, 1, 0]], [[0, 0, 0, 1], [0, 0, 0, 1]])
    >>> check_axes(arm).bone, check_axes(arm).joints[0].bone_off
    ('y', 0.0)
    """
    chosen = tuple(skeleton.joint_number(j) for j in (range(len(skeleton)) if joints is None else joints))
    main = main_children(skeleton, child)
    frames = {j: rotation_from_quaternion(r) for j, r in enumerate(skeleton.rotations) if r is not None}
    bones, bends = {}, {}
    for j in chosen:
        below, above = main[j], skeleton.parents[j]
        if j in frames and below is not None:
            bones[j] = unit(skeleton.positions[below] - skeleton.positions[j], skeleton.names[j]) @ frames[j]
            upper = np.zeros(3) if above is None else skeleton.positions[j] - skeleton.positions[above]
            bend = _bend(upper, skeleton.positions[below] - skeleton.positions[j])
            if bend is not None:
                bends[j] = bend @ frames[j]
    own = {j: max(WAYS, key=lambda way: float(WAYS[way] @ bones[j])) for j in bones}
    votes = list(own.values())
    bone = max(WAYS, key=lambda way: (votes.count(way), sum(WAYS[way] @ b for b in bones.values()))) if votes else None
    letters = [letter for letter in "xyz" if bone is not None and letter != bone[-1]]
    hinge = max(letters, key=lambda x: sum(abs(WAYS[x] @ b) for b in bends.values())) if bends and letters else None
    checks = []
    for j in (j for j in chosen if j in frames):
        above, twist, bone_off, hinge_off = skeleton.parents[j], None, None, None
        if bone is not None and j in bones:
            bone_off = angle_between(bones[j], WAYS[bone])
        if bone is not None and above is not None and above in frames:
            twist = twist_between(frames[above], frames[j], WAYS[bone])
        if hinge is not None and j in bends:
            line = angle_between(bends[j], WAYS[hinge])
            hinge_off = min(line, np.pi - line)
        checks.append(AxisCheck(j, own.get(j), bone_off, twist, hinge_off))
    return AxesCheck(bone, hinge, tuple(checks))


def posed(skeleton: Skeleton, turns: Mapping[int, np.ndarray]) -> list[Frame]:
    """Forward kinematics: for each joint the frame from where it was at rest to where it is, world from rest.

    turns: a rotation (3, 3) by joint, in the joint's own axes (the world's where it has no rotation); each carries all
    joints below. A joint's place now is `frames[j] @ skeleton.positions[j]`.
    """
    turns = {skeleton.joint_number(j): turn for j, turn in turns.items()}
    frames = [IDENTITY] * len(skeleton)
    for j in (j for top, parent in enumerate(skeleton.parents) if parent is None for j in skeleton.branch(top)):
        above, own = skeleton.parents[j], skeleton.rotations[j]
        frames[j] = IDENTITY if above is None else frames[above]
        if j in turns:
            axes = np.eye(3) if own is None else rotation_from_quaternion(own)
            turn, place = axes @ turns[j] @ axes.T, skeleton.positions[j]
            frames[j] = frames[j] @ Frame(turn, place - turn @ place)
    return frames
