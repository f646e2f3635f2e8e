"""Lesson 9: an arm whose joints have axes of their own, askew and mended; rotations (n, 3, 3), world from joint."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import cache

import numpy as np

from rigkit.axes import local_axes, posed
from rigkit.files.exercise import AskedJoint, Exercise
from rigkit.frames import IDENTITY, quaternion_from_rotation, rotation_about, rotation_from_quaternion
from rigkit.heat import heat_weights
from rigkit.matching import Match
from rigkit.measures import frames
from rigkit.openings import open_exercise
from rigkit.picture import View, fit_views
from rigkit.require import choice, number
from rigkit.rubric_frames import frames as judged
from rigkit.rubric_place import Charge
from rigkit.skeleton import Skeleton
from rigkit.skin import bend_skin
from rigkit.stills import Picture
from rigkit.taught.posed_plates import Pose, plates
from rigkit.told import Table, Told
from rigkit.vectors import unit

LETTERS = ("x", "y", "z")
HINGE = "z"
"""The axis along the hinge on Orlo's arm, as the shoulder has it (this course's choice: studios differ)."""
VIEWS = {view: (262, 404) for view in ("front", "side", "turned")}  # px
TURNED, BELOW = np.radians(35.0), np.radians(8.0)
"""Whence the turned view looks: from there no two arrows of a joint lie nearer than 40 degrees to each other."""
ROOM = 0.16  # metres from a joint that have room for its arrows and their letters
PALM = 0.085
"""Metres from the wrist to the middle of the palm, where the arm of this lesson ends: the hand goes on straight."""
ASKEW = {"shoulder": ("z", -90.0), "elbow": ("x", 40.0), "wrist": ("y", 25.0)}
"""What was done to well made axes: another axis along the bone, a roll about the bone, an axis beside the bone."""


class Arm:
    """Joints with axes of their own in Orlo's arm. `set_axes` turns a joint's axes from how they were found.

    exercise: with a frame convention. skeleton: its joints by role, in a chain; the last one is a tip without axes.
    """

    def __init__(self, exercise: Exercise, skeleton: Skeleton):
        self.exercise, self.found, self.turns = exercise, skeleton, dict[str, tuple[str, float]]()

    @property
    def names(self) -> tuple[str, ...]:
        """The joints that have axes."""
        return self.found.names[:-1]

    def set_axes(self, joint: str, about: str, degrees: float) -> Told:
        """Turn a joint's axes by so many degrees about one of them, from how they were found; the flesh stays.

        Raises RigError where there is no such joint or axis; then nothing is kept of that joint.
        """
        name = choice(lowered(joint), "a joint with axes", self.names)
        self.turns.pop(name, None)
        way = choice(lowered(about), f"an axis of the {name}", LETTERS)
        self.turns[name] = (way, number(degrees, f"degrees at the {name}", -360, 360))
        return Told("set", f"The axes of the {name} are turned by {degrees:g}° about {way}.")

    def axes(self, joint: str) -> np.ndarray:
        """A joint's axes now: (3, 3), world from joint."""
        about, degrees = self.turns.get(joint, ("x", 0.0))
        was = self.found.rotations[self.found.index(joint)]
        return rotation_from_quaternion(np.asarray(was)) @ _about(about, degrees)

    @property
    def skeleton(self) -> Skeleton:
        """The joints with their axes as they are now."""
        turned = tuple(quaternion_from_rotation(self.axes(name)) for name in self.names)
        return replace(self.found, rotations=(*turned, self.found.rotations[-1]))

    def charges(self) -> list[Charge]:
        """What the marks find in the axes, joint by joint."""
        return [one for joint, facts in facts_of(self.skeleton, self.exercise).items()
                for one in judged(joint, facts, self.exercise.rubric)[1]]  # fmt: skip

    def read(self) -> Table:
        """For each joint: the axis nearest to its bone, how far off that is, and how far the hinge's axis is off."""
        rows = []
        for joint, facts in facts_of(self.skeleton, self.exercise).items():
            same = facts["axis"] == facts["axis-of-limb"]
            off = f"{facts['axis-off-bone']:.0f}°" if same else f"not {facts['axis-of-limb']}, as elsewhere"
            hinge = f"{facts['hinge-axis']}: {facts['hinge-off']:.0f}°" if "hinge-off" in facts else "-"
            rows.append((joint, str(facts["axis"]), off, hinge))
        return Table(("joint", "axis along the bone", "off the bone by", "axis along the hinge, off by"), rows)

    def picture(self, turned: Mapping[str, tuple[str, float]] | None = None) -> Picture:
        """The arm from three sides with its axes: at rest, or posed, where `turned` says for a joint about
        which of its axes it turns and by how many degrees; then the joints at rest are dashed."""
        skeleton, mesh, turned = self.skeleton, self.exercise.mesh, turned or {}
        shown = [skeleton.index(joint) for joint in turned or self.names]
        carried = posed(skeleton, {skeleton.index(joint): _about(*turn) for joint, turn in turned.items()})
        places = np.array([frame @ place for frame, place in zip(carried, skeleton.positions, strict=True)])
        axes = {n: carried[n].rotation @ self.axes(self.names[n]) for n in shown}
        names = {n: self.names[n] for n in shown}
        note = ", ".join(f"{joint} turned by {degrees:g}° about {way}" for joint, (way, degrees) in turned.items())
        said = f"At rest, with the axes of {', '.join(names.values())}."
        if turned:
            mesh = bend_skin(mesh, _weights(skeleton), [*carried[:-1], IDENTITY])
            out, up, forward = 1000 * self.exercise.body @ (places[-1] - skeleton.positions[-1])
            said = f"The {note}: the palm went {out:.0f} mm out, {up:.0f} mm up and {forward:.0f} mm forward."
        pose = Pose(mesh, places, skeleton.parents, axes, names, note, skeleton.positions if turned else None)
        tips = [skeleton.positions[n] + ROOM * self.axes(name).T for n, name in enumerate(self.names)]
        room = np.concatenate([mesh.vertices, self.exercise.mesh.vertices, *tips])
        views = _views(self.exercise, room)
        shown_in = [(way.capitalize(), way, pose) for way in views]
        return plates(shown_in, [f"{way} view. {said}" for way, _, _ in shown_in], views=views)


def _views(exercise: Exercise, room: np.ndarray) -> dict[str, View]:
    """The usual views, the turned one from a little below."""
    views = fit_views(exercise.mesh, VIEWS, exercise.side, room)
    right = np.array([np.cos(TURNED), 0.0, -np.sin(TURNED)])
    up = np.array([np.sin(TURNED) * np.sin(BELOW), np.cos(BELOW), np.cos(TURNED) * np.sin(BELOW)])
    spans = [(room @ way).min() + (room @ way).max() for way in (right, up)]
    centre = tuple((spans[0] / 2 * right + spans[1] / 2 * up).tolist())
    return views | {"turned": replace(views["turned"], right=tuple(right), up=tuple(up), centre=centre)}


def orlo() -> Arm:
    """Orlo's arm from shoulder to palm with the axes as somebody left them: one fault at each joint."""
    exercise = open_exercise("left-arm")
    joints = to_the_palm(np.array([exercise.asked(role).middle for role in ("shoulder", "elbow", "wrist")]))
    asked = (*exercise.joints, AskedJoint("palm", "wrist", "optional", "region", joints.positions[3], radius=0.02))
    made = made_for(joints, exercise).rotations
    left = [made[n] @ _about(*ASKEW[name]) for n, name in enumerate(joints.names[:-1])]
    turned = tuple(quaternion_from_rotation(one) for one in (*left, made[-1]))
    return Arm(replace(exercise, joints=asked, frame_convention="either"), replace(joints, rotations=turned))


def to_the_palm(places: np.ndarray) -> Skeleton:
    """Shoulder, elbow and wrist (3, 3) as a chain that goes on to the palm."""
    palm = places[2] + PALM * unit(places[2] - places[1])
    return Skeleton(("shoulder", "elbow", "wrist", "palm"), (None, 0, 1, 2), np.vstack([places, palm]))


def made_for(joints: Skeleton, exercise: Exercise, bone: str = "x", hinge: str = "z"):
    """Well made axes for a chain (`LocalAxes`): the hinge is the elbow's, positive turns fold the arm forward."""
    fold = exercise.asked("elbow").fold
    away = {} if fold is None else {joints.index("elbow"): fold.away}
    return local_axes(joints, bone, hinge, roots=[0], away=away)


def facts_of(skeleton: Skeleton, exercise: Exercise) -> dict[str, dict]:
    """What the marks measure of each joint's axes: joint -> measure -> value."""
    matched, found = Match({name: n for n, name in enumerate(skeleton.names)}, (), frozenset()), dict[str, dict]()
    for one in frames.measure(skeleton, exercise, matched):
        found.setdefault(one.joint, {})[one.measure] = one.value
    return found


def lowered(word: str) -> str:
    """A word as it is compared: small letters, nothing around it. What is no word stays.

    >>> lowered(" X "), lowered(3)
    ('x', 3)
    """
    return word.strip().lower() if isinstance(word, str) else word


def _about(letter: str, degrees: float) -> np.ndarray:
    """A turn (3, 3) about one of a joint's own axes."""
    axis = np.eye(3)[LETTERS.index(choice(letter, "an axis", LETTERS))]
    return rotation_about(axis, np.radians(number(degrees, "degrees", -360, 360)))


@cache
def _skin(chain: tuple[tuple[float, ...], ...]) -> np.ndarray:
    """Heat weights (n, 4) of Orlo's arm on upper arm, forearm and hand, and on a bone that holds the trunk."""
    exercise, places = open_exercise("left-arm"), np.array(chain)
    tip = places[2] + 2.1 * (places[3] - places[2])
    middle = exercise.landmarks["trunk_middle"]
    trunk = [middle - [0.0, 0.09, 0.0], middle + [-0.02, 0.08, 0.0]]
    bones = [[places[0], places[1]], [places[1], places[2]], [places[2], tip], trunk]
    return heat_weights(exercise.mesh, np.array(bones)).weights


def _weights(skeleton: Skeleton) -> np.ndarray:
    return _skin(tuple(tuple(place) for place in skeleton.positions.tolist()))
