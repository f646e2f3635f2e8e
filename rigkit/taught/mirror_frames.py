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
    quaternion_from_rotation,
    rotation_about,
    rotation_from_quaternion,
)
from rigkit.heat import heat_weights
from rigkit.make_exercise import ARM
from rigkit.mesh import Mesh
from rigkit.middle import reflected
from rigkit.mirror_axes import NEITHER, SAME_DIRECTION, SAME_NUMBERS, mirrored_rotation
from rigkit.picture import fit_views
from rigkit.require import choice, number
from rigkit.skeleton import Skeleton
from rigkit.skin import bend_skin
from rigkit.stills import Picture
from rigkit.taught.mirror_lesson import MM, exercise, plane
from rigkit.taught.own_axes import HINGE, LETTERS, PALM, made_for
from rigkit.taught.posed_plates import Pose, plates
from rigkit.told import Table
from rigkit.tolerance import STORED
from rigkit.vectors import length, unit

WORDS = {"same numbers": SAME_NUMBERS, "same direction": SAME_DIRECTION}
"""The two conventions as people say them."""
REVERSED = ("all three reversed", "z alone reversed")
"""What each of them does to the reflected axes."""
ROLES = (*ARM, "palm")
ROLL = 30.0
"""Degrees by which one rig's right frames were rolled about their bones by mistake."""
RIGS = {"A": SAME_DIRECTION, "B": NEITHER, "C": SAME_NUMBERS}
TURN, PUSH = 20.0, 20.0  # degrees, mm
NEAR = 1.0  # mm: poses that differ by less are mirror images
SIZE = (374, 300)  # px
AROUND = 0.35  # metres from a joint that have room for its arrows and their letters


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
    """Both arms posed: the skin, whose vertices have partners, and the joints' places (8, 3)."""

    mesh: Mesh
    places: np.ndarray

    @property
    def image(self) -> np.ndarray:
        """The left arm's places (4, 3), mirrored."""
        return reflected(self.places[:4], plane())

    @property
    def apart(self) -> float:
        """Millimetres between the skin and its own mirror image, at the worst place."""
        skin = self.mesh.vertices
        return MM * float(length(reflected(skin, plane()) - skin[_partners()]).max())


@cache
def _partners() -> np.ndarray:
    """For each vertex (n) of the skin its mirror image's; Orlo's skin is the same on both sides, to STORED."""
    skin = exercise().mesh.vertices
    here, there = (np.lexsort(np.round(one / STORED).T) for one in (skin, reflected(skin, plane())))
    partner = np.zeros(len(skin), dtype=int)
    partner[there] = here
    return partner


def posed_arms(
    skeleton: Skeleton, turns: Mapping[str, tuple[float, float, float]], pushed: Mapping[str, np.ndarray] | None = None
) -> Posed:
    """Both arms with some joints ("left elbow") turned about their own x, y and z, degrees, or pushed along those of
    the joint above, mm, or, where there is none, along their own; what hangs below follows."""
    about = {skeleton.index(joint): _turn(angles) for joint, angles in turns.items()}
    frames = posed(skeleton, about)
    for joint, step in (pushed or {}).items():
        own, above = skeleton.index(joint), skeleton.parents[skeleton.index(joint)]
        axes = rotation_from_quaternion(np.asarray(skeleton.rotations[own if above is None else above]))
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
    """Both arms at rest with the axes of the shoulders, by either convention, called by what was reversed."""
    shown, said = {}, []
    for title, kept in zip(REVERSED, WORDS.values(), strict=True):
        skeleton = both(kept)
        shown[title] = skeleton, Posed(exercise().mesh, skeleton.positions)
        ways = [f"at the {skeleton.names[n]} {_pointing(skeleton, n)}" for n in (0, 4)]
        said.append(f"Front view at rest, {title}. The axes point: {'; '.join(ways)}.")
    return _drawn(shown, dict.fromkeys(shown, ""), said, (0, 4))


def _pointing(skeleton: Skeleton, joint: int) -> str:
    """Which way a joint's three axes point, in words for a front view."""
    words = (("to his left", "to his right"), ("up", "down"), ("at you", "away from you"))
    told = []
    for letter, way in zip(LETTERS, rotation_from_quaternion(np.asarray(skeleton.rotations[joint])).T, strict=True):
        main = np.flatnonzero(np.abs(way) > 0.5)
        told.append(f"{letter} {' and '.join(words[n][int(way[n] < 0)] for n in main)}")
    return ", ".join(told)


def turned(joint: str, about: str, degrees: float) -> Picture:
    """Both arms with a joint turned by the same number on either side, by either convention. Dashed: the mirror image
    of the left arm."""
    angles = _axis(about, number(degrees, "degrees", -180, 180))
    choice(joint, "a joint", ARM)
    shown = dict[str, tuple[Skeleton, Posed]]()
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


def plates_of(shown: Mapping[str, tuple[Skeleton, Posed]], notes: Mapping[str, str]) -> Picture:
    """A front plate for each convention; said with how far the skin is from its mirror image at the worst place."""
    far = {words: f"{arms.apart:.0f} mm from a mirror image" for words, (_, arms) in shown.items()}
    said = [f"Front view, mirrored by {words}. {notes[words]}: the skin is {far[words]}." for words in shown]
    return _drawn(shown, {words: f"{notes[words]}; {far[words]}" for words in shown}, said)


def _drawn(shown: Mapping[str, tuple[Skeleton, Posed]], notes: Mapping[str, str], said: list[str],
           axes: tuple[int, ...] = ()) -> Picture:  # fmt: skip
    poses = []
    for words, (skeleton, arms) in shown.items():
        own = {n: rotation_from_quaternion(np.asarray(skeleton.rotations[n])) for n in axes}
        ghost = np.vstack([arms.places[:4], arms.image])
        drawn = Pose(arms.mesh, arms.places, skeleton.parents, own, note=notes[words], ghost=ghost)
        poses.append((words.capitalize(), "front", drawn))
    tips = [pose.places[n] + AROUND * way.T for _, _, pose in poses for n, way in pose.axes.items()]
    room = np.vstack([*(arms.mesh.vertices for _, arms in shown.values()), *tips])
    views = fit_views(exercise().mesh, {"front": SIZE}, "left", room)
    return plates(poses, said, views=views)


def apart_by_axis(convention: str, joint: str, push: bool = False) -> dict[str, tuple[float, float]]:
    """For each axis how far the skin is from its mirror image, mm, where a joint on both sides is turned by TURN about
    it, or pushed by PUSH along it: by the same number, and by the opposite one."""
    skeleton, found = both(convention), dict[str, tuple[float, float]]()
    choice(joint, "a joint", ARM)

    def gap(letter: str, there: float) -> float:
        amounts = {"left": PUSH if push else TURN, "right": there * (PUSH if push else TURN)}
        by = {f"{side} {joint}": _axis(letter, amount) for side, amount in amounts.items()}
        steps = {name: np.array(step) for name, step in by.items()}
        return (posed_arms(skeleton, {}, steps) if push else posed_arms(skeleton, by)).apart

    for letter in LETTERS:
        found[letter] = gap(letter, 1.0), gap(letter, -1.0)
    return found


def behaviour(joint: str = "elbow") -> Table:
    """By either convention: how far the skin is from its mirror image where a joint on both sides is turned about each
    axis, or pushed along it, by the same number and by the opposite one."""
    rows = []
    for words, kept in WORDS.items():
        turns, pushes = (apart_by_axis(kept, joint, push) for push in (False, True))
        for letter in LETTERS:
            rows.append((words, letter, *(f"{gap:.0f} mm" for gap in (*turns[letter], *pushes[letter]))))
    head = ("mirrored by", "axis", "turn: same number", "turn: opposite", "push: same number", "push: opposite")
    return Table(head, rows)


def rigs(joint: str = "elbow") -> Table:
    """Three rigs, each axis of a joint turned by 20 degrees on both sides: how far the skin is from a mirror image."""
    rows = [(rig, letter, *(f"{gap:.0f} mm" for gap in gaps))
            for rig, kept in RIGS.items() for letter, gaps in apart_by_axis(kept, joint).items()]  # fmt: skip
    return Table(("rig", "axis", "turn: same number", "turn: opposite"), rows)
