"""Lesson 10: two arms with axes of their own, mirrored by one of two conventions, and posed; turns in degrees, mm."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

import numpy as np

from rigkit.axes import posed
from rigkit.frames import (
    IDENTITY,
    Frame,
    mirror_matrix,
    quaternion_from_rotation,
    rotation_about,
    rotation_from_quaternion,
)
from rigkit.heat import heat_weights
from rigkit.make_exercise import ARM
from rigkit.mesh import Mesh
from rigkit.middle import reflected
from rigkit.mirror_axes import NEITHER, SAME_DIRECTION, SAME_NUMBERS, AxisBehaviour, mirror_behaviour, mirrored_rotation
from rigkit.picture import fit_views
from rigkit.require import choice, number
from rigkit.skeleton import Skeleton
from rigkit.skin import bend_skin
from rigkit.stills import Picture
from rigkit.taught.mirror_lesson import MM, exercise, plane
from rigkit.taught.own_axes import HINGE, LETTERS, PALM, made_for
from rigkit.taught.posed_plates import Pose, plates
from rigkit.told import Table
from rigkit.vectors import length, unit

WORDS = {"same numbers": SAME_NUMBERS, "same direction": SAME_DIRECTION}
"""The two conventions as people say them."""
ROLES = (*ARM, "palm")
ROLL = 30.0
"""Degrees by which one rig's right frames were rolled about their bones by mistake."""
RIGS = {"A": SAME_DIRECTION, "B": NEITHER, "C": SAME_NUMBERS}
TURN, PUSH = 20.0, 20.0  # degrees, mm
NEAR = 1.0  # mm: poses that differ by less are mirror images
SIZE = (374, 300)  # px


def both(convention: str) -> Skeleton:
    """Orlo's two arms, shoulder to palm, left joints first; on the left x lies along the bone and z along the hinge,
    the right frames follow by a convention, or, by "neither", are rolled."""
    asked = exercise()
    places = [asked.asked(role).middle for role in ARM]
    places.append(places[2] + PALM * unit(places[2] - places[1]))
    left = Skeleton(ROLES, (None, 0, 1, 2), np.array(places))
    made = made_for(left, asked).rotations
    kept = SAME_DIRECTION if convention == NEITHER else convention
    rolled = rotation_about(np.eye(3)[0], np.radians(ROLL if convention == NEITHER else 0.0))
    right = [mirrored_rotation(one, plane().normal, kept, HINGE) @ rolled for one in made]
    return Skeleton(
        tuple(f"{side} {role}" for side in ("left", "right") for role in ROLES), (None, 0, 1, 2, None, 4, 5, 6),
        np.vstack([left.positions, reflected(left.positions, plane())]),
        tuple(quaternion_from_rotation(one) for one in (*made, *right)),
    )  # fmt: skip


@cache
def _weights() -> np.ndarray:
    """Heat weights (n, 8): upper arm, forearm and hand of either side, and two bones that hold the trunk."""
    joints, middle = both(SAME_NUMBERS).positions, plane().origin
    bones = []
    for first in (0, 4):
        shoulder, elbow, wrist, palm = joints[first : first + 4]
        bones += [[shoulder, elbow], [elbow, wrist], [wrist, wrist + 2.1 * (palm - wrist)]]
    bones += [[middle + [0, 1.17, 0], middle + [0, 1.44, 0]], [middle + [-0.1, 1.3, 0], middle + [0.1, 1.3, 0]]]
    return heat_weights(exercise().mesh, np.array(bones)).weights


@dataclass(frozen=True, eq=False)
class Posed:
    """Both arms posed: the skin and the joints' places (8, 3)."""

    mesh: Mesh
    places: np.ndarray

    @property
    def image(self) -> np.ndarray:
        """The left arm's places (4, 3), mirrored."""
        return reflected(self.places[:4], plane())

    @property
    def apart(self) -> np.ndarray:
        """Millimetres (4,) between each joint of the right arm and the mirror image of its partner."""
        return MM * length(self.image - self.places[4:])


def posed_arms(
    skeleton: Skeleton, turns: Mapping[str, tuple[float, float, float]], pushed: Mapping[str, np.ndarray] | None = None
) -> Posed:
    """Both arms with some joints ("left elbow") turned about their own x, y and z, degrees, or pushed along those of
    the joint above, mm; what hangs below follows."""
    about = {skeleton.index(joint): _turn(angles) for joint, angles in turns.items()}
    frames = posed(skeleton, about)
    for joint, step in (pushed or {}).items():
        above = skeleton.parents[skeleton.index(joint)]
        axes = rotation_from_quaternion(np.asarray(skeleton.rotations[0 if above is None else above]))
        for below in skeleton.branch(skeleton.index(joint)):
            frames[below] = Frame(frames[below].rotation, frames[below].origin + axes @ step / MM)
    places = np.array([frame @ place for frame, place in zip(frames, skeleton.positions, strict=True)])
    carried = [*frames[:3], *frames[4:7], IDENTITY, IDENTITY]
    return Posed(bend_skin(exercise().mesh, _weights(), carried), places)


def _turn(angles: tuple[float, float, float]) -> np.ndarray:
    """A turn (3, 3) about x, then y, then z of a joint's own axes, each carried along by those before."""
    x, y, z = (rotation_about(axis, np.radians(angle)) for axis, angle in zip(np.eye(3), angles, strict=True))
    return x @ y @ z


def _axis(letter: str, value: float) -> tuple[float, float, float]:
    """A value on one of three axes."""
    place = LETTERS.index(choice(letter, "an axis", LETTERS))
    x, y, z = (value if n == place else 0.0 for n in range(3))
    return x, y, z


def at_rest() -> Picture:
    """Both arms at rest with the axes of the elbows, by either convention."""
    shown = {words: (both(kept), Posed(exercise().mesh, both(kept).positions)) for words, kept in WORDS.items()}
    return plates_of(shown, {words: "" for words in WORDS}, (1, 5))


def turned(joint: str, about: str, degrees: float) -> Picture:
    """Both arms with a joint turned by the same number on either side, by either convention. Dashed: the mirror image
    of the left arm."""
    angles = _axis(about, number(degrees, "degrees", -180, 180))
    choice(joint, "a joint", ARM)
    shown = {}
    for words, kept in WORDS.items():
        skeleton = both(kept)
        shown[words] = skeleton, posed_arms(skeleton, {f"{side} {joint}": angles for side in ("left", "right")})
    return plates_of(shown, {words: f"both {joint}s {degrees:g}° about {about}" for words in WORDS})


def pushed(mm: float) -> Picture:
    """Both wrists pushed so many mm along the x axis of the forearm, the same number on either side."""
    step = np.array([number(mm, "how far, mm", -80, 80), 0.0, 0.0])
    shown = {}
    for words, kept in WORDS.items():
        skeleton = both(kept)
        shown[words] = skeleton, posed_arms(skeleton, {}, {f"{side} wrist": step for side in ("left", "right")})
    return plates_of(shown, {words: f"both wrists {mm:g} mm along x" for words in WORDS})


def plates_of(
    shown: Mapping[str, tuple[Skeleton, Posed]], notes: Mapping[str, str], axes: tuple[int, ...] = ()
) -> Picture:
    """A front plate for each convention; said with how far the right palm is from the mirror image of the left one."""
    poses, said = [], []
    for words, (skeleton, arms) in shown.items():
        own = {n: rotation_from_quaternion(np.asarray(skeleton.rotations[n])) for n in axes}
        ghost = np.vstack([arms.places[:4], arms.image])
        note = f"{notes[words]}; {arms.apart[3]:.0f} mm from a mirror image" if notes[words] else ""
        poses.append(
            (words.capitalize(), "front", Pose(arms.mesh, arms.places, skeleton.parents, own, {}, note, ghost))
        )
        far = f"{notes[words]}: the right palm is {arms.apart[3]:.0f} mm from the mirror image of the left one."
        said.append(f"Front view, mirrored by {words}. {far if notes[words] else 'At rest, with the axes of elbows.'}")
    room = np.vstack([arms.mesh.vertices for _, arms in shown.values()])
    views = fit_views(exercise().mesh, {"front": SIZE}, "left", room)
    return plates(poses, said, views=views)


def turned_by_axis(convention: str, joint: str) -> list[AxisBehaviour]:
    """What a turn of 20 degrees about each axis of a joint does on both sides, see `mirror_behaviour`."""
    skeleton = both(convention)
    pair = (skeleton.index(f"left {choice(joint, 'a joint', ARM)}"), skeleton.index(f"right {joint}"))
    return list(mirror_behaviour(skeleton, exercise().mesh, plane(), [pair], np.radians(TURN)))


def _push_sign(convention: str, joint: str, letter: str) -> str:
    """Whether the same push along an axis on both sides gives mirror images, or the opposite one, or neither."""
    skeleton, place = both(convention), LETTERS.index(letter)
    left, right = (rotation_from_quaternion(np.asarray(skeleton.rotations[skeleton.index(f"{side} {joint}")]))[:, place]
                   for side in ("left", "right"))  # fmt: skip
    gaps = {word: PUSH * float(length(mirror_matrix(plane().normal) @ left - sign * right))
            for word, sign in (("same", 1), ("opposite", -1))}  # fmt: skip
    return next((word for word, gap in gaps.items() if gap < NEAR), NEITHER)


def behaviour(joint: str = "elbow") -> Table:
    """What a turn of 20 degrees about each axis does on both sides, measured on the skin, by either convention; and a
    push along each."""
    rows = []
    for words, kept in WORDS.items():
        for one in turned_by_axis(kept, joint):
            rows.append((words, one.axis, f"{MM * one.same:.0f} mm", f"{MM * one.opposite:.0f} mm", one.sign,
                         _push_sign(kept, joint, one.axis)))  # fmt: skip
    head = ("mirrored by", "axis", "same number: apart", "opposite number: apart", "so turn", "so push")
    return Table(head, rows)


def rigs(joint: str = "elbow") -> Table:
    """Three rigs, each axis of a joint turned by 20 degrees on both sides: how far the skin is from a mirror image."""
    rows = [(rig, one.axis, f"{MM * one.same:.0f} mm", f"{MM * one.opposite:.0f} mm")
            for rig, kept in RIGS.items() for one in turned_by_axis(kept, joint)]  # fmt: skip
    return Table(("rig", "axis", "same number: apart", "opposite number: apart"), rows)
