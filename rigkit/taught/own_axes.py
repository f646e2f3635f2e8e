"""Lesson 9: an arm whose joints have axes of their own, askew and mended; rotations (n, 3, 3), world from joint."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import cache

import numpy as np

from rigkit.axes import local_axes, posed
from rigkit.bench import Bench
from rigkit.files.exercise import AskedJoint, Exercise
from rigkit.frames import IDENTITY, quaternion_from_rotation, rotation_about, rotation_from_quaternion
from rigkit.heat import heat_weights
from rigkit.kinematics import chain_hinges
from rigkit.lesson import safely
from rigkit.matching import Match
from rigkit.measures import frames
from rigkit.openings import open_exercise
from rigkit.picture import fit_views
from rigkit.require import RigError, choice, kind, number
from rigkit.rubric_frames import frames as judged
from rigkit.rubric_place import Charge
from rigkit.skeleton import Skeleton
from rigkit.skin import bend_skin
from rigkit.stills import Picture
from rigkit.taught.posed_plates import Pose, plates
from rigkit.told import LOOK_AGAIN, NOT_YET, RIGHT, Table, Told
from rigkit.tolerance import ROUND_OFF
from rigkit.vectors import unit

LETTERS = ("x", "y", "z")
HINGE = "z"
"""The axis along the hinge on Orlo's arm, as the shoulder has it (this course's choice: studios differ)."""
VIEWS = {view: (262, 404) for view in ("front", "side", "turned")}  # px; in the turned one no axis hides another
ROOM = 0.14  # metres from a joint that have room for its arrows and their letters
PALM = 0.085
"""Metres from the wrist to the middle of the palm, where the arm of this lesson ends: the hand goes on straight."""
ASKEW = {"shoulder": ("z", -90.0), "elbow": ("x", 40.0), "wrist": ("y", 25.0)}
"""What was done to well made axes: another axis along the bone, a roll about the bone, an axis beside the bone."""


class Arm:
    """Joints with axes of their own in Orlo's arm. `turn` turns a joint's axes from how they were found.

    exercise: with a frame convention. skeleton: its joints by role, in a chain; the last one is a tip without axes.
    """

    def __init__(self, exercise: Exercise, skeleton: Skeleton):
        self.exercise, self.found, self.turns = exercise, skeleton, dict[str, tuple[str, float]]()

    @property
    def names(self) -> tuple[str, ...]:
        """The joints that have axes."""
        return self.found.names[:-1]

    def turn(self, joint: str, about: str, degrees: float) -> Told:
        """Turn a joint's axes by so many degrees about one of them, from how they were found; the flesh stays."""

        def answer() -> Told:
            way, far = choice(about, "an axis", LETTERS), number(degrees, "degrees", -360, 360)
            self.turns[choice(joint, "a joint with axes", self.names)] = (way, far)
            return Told("turned", f"The axes of the {joint} are turned by {far:g}° about {way}.")

        return safely(answer)

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
            off = f"{facts['axis-off-bone']:.0f}° off" if same else f"not {facts['axis-of-limb']}, as elsewhere"
            hinge = f"{facts['hinge-axis']}: {facts['hinge-off']:.0f}° off" if "hinge-off" in facts else ""
            rows.append((joint, str(facts["axis"]), off, hinge))
        return Table(("joint", "axis along the bone", "which is", "axis along the hinge"), rows)

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
        views = fit_views(self.exercise.mesh, VIEWS, self.exercise.side, room)
        shown_in = [(way.capitalize(), way, pose) for way in views]
        return plates(shown_in, [f"{way} view. {said}" for way, _, _ in shown_in], views=views)


def orlo() -> Arm:
    """Orlo's arm from shoulder to palm with the axes as somebody left them: one fault at each joint."""
    exercise = open_exercise("left-arm")
    shoulder, elbow, wrist = (exercise.asked(role).middle for role in ("shoulder", "elbow", "wrist"))
    palm = wrist + PALM * (wrist - elbow) / np.linalg.norm(wrist - elbow)
    joints = Skeleton(("shoulder", "elbow", "wrist", "palm"), (None, 0, 1, 2), np.array([shoulder, elbow, wrist, palm]))
    asked = (*exercise.joints, AskedJoint("palm", "wrist", "optional", "region", centre=palm, radius=0.02))
    made = made_for(joints, exercise).rotations
    left = [made[n] @ _about(*ASKEW[name]) for n, name in enumerate(joints.names[:-1])]
    turned = tuple(quaternion_from_rotation(one) for one in (*left, made[-1]))
    return Arm(replace(exercise, joints=asked, frame_convention="either"), replace(joints, rotations=turned))


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


def check(arm: Arm) -> Told:
    """Whether the axes of all joints are right by the marks, and if not, the first that is not; never raises."""

    def answer() -> Told:
        charges, facts = arm.charges(), facts_of(arm.skeleton, arm.exercise)
        for joint in arm.names:
            found = next((one for one in charges if one.joint == joint), None)
            hinge = facts[joint].get("hinge-axis", HINGE)
            if found is not None:
                others = [name for name in arm.names if name != joint and any(one.joint == name for one in charges)]
                mend = f"Turn the {joint} the other way." if _farther(arm, joint) else found.mend
                mend += f" Not right yet either: {' and '.join(others)}." if others else ""
                state, fault = LOOK_AGAIN if arm.turns else NOT_YET, (found.finding, found.joint)
                return Told(state, found.message, mend, fault=fault)
            if hinge != HINGE:
                said = f"Now the {hinge} axis of the {joint} lies along its hinge; on this arm it is to be {HINGE}."
                return Told(LOOK_AGAIN, said, f"Turn the {joint} the other way about its bone.")
            if (fold := arm.exercise.asked(joint).fold) is not None and _opens(arm, joint, fold.away):
                said = f"{HINGE} lies along the {joint}'s hinge, but points the wrong way: positive turns fold it back."
                return Told(LOOK_AGAIN, said, f"Turn the {joint} about its bone by 180° more, or less.")
        return Told(RIGHT, f"x runs along each bone, and {HINGE} along the elbow's hinge, its way too.", "Go on.")

    return safely(answer)


def _farther(arm: Arm, joint: str) -> bool:
    """Whether a joint was turned so that its x axis lies farther off its bone than it was found."""
    bone = unit(np.diff(arm.found.positions, axis=0)[arm.found.index(joint)])
    return bool(arm.axes(joint)[:, 0] @ bone < Arm(arm.exercise, arm.found).axes(joint)[:, 0] @ bone - ROUND_OFF)


def _opens(arm: Arm, joint: str, away: np.ndarray) -> bool:
    """Whether a positive turn about a joint's hinge axis folds it the wrong way."""
    here = arm.found.index(joint)
    hinge = chain_hinges(arm.found.positions[here - 1 : here + 2], away)[1]
    return bool(arm.axes(joint)[:, LETTERS.index(HINGE)] @ hinge < 0)


class Own:
    """Axes for the student's own joints on a bench; they stay as they were made until they are made again."""

    def __init__(self, bench: Bench):
        if not isinstance(bench, Bench):
            raise RigError("the bench of this lesson", kind(bench), next_step="Run the cell that opens it first")
        self.bench, self.kept, self.places = bench, None, np.zeros((0, 3))

    def make(self, bone: str, hinge: str) -> Told:
        """Make axes for the joints as they lie now: which letter along the bone, which along the hinge."""

        def answer() -> Told:
            self.kept = None
            joints = replace(self._joints, rotations=())
            self.places = joints.positions
            self.kept = made_for(joints, self.bench.exercise, bone, hinge).quaternions
            return Told("made", f"Each joint has axes now: {bone} along the bone, {hinge} along the hinge.")

        return safely(answer)

    @property
    def _joints(self) -> Skeleton:
        """The bench's joints by role, in the order of the chain."""
        limb = self.bench.limb
        numbers, names = list(limb.roles.values()), tuple(limb.roles)
        return Skeleton(names, (None, *range(len(names) - 1)), self.bench.skeleton.positions[numbers])


def check_own(own: Own) -> Told:
    """Whether the student's own joints have axes that fit them as they lie now; never raises."""

    def answer() -> Told:
        if own.kept is None:
            return Told(NOT_YET, "Your joints have no axes yet.", "Choose two letters in the cell above.")
        joints = replace(own._joints, rotations=own.kept)
        for joint, facts in facts_of(joints, replace(own.bench.exercise, frame_convention="either")).items():
            charges = judged(joint, facts, own.bench.exercise.rubric)[1]
            if charges:
                far = np.linalg.norm(joints.positions - own.places, axis=1)
                moved = " and the ".join(name for name, one in zip(joints.names, far, strict=True) if one > ROUND_OFF)
                again = f"That is because the {moved} was moved since. Run the cell that makes the axes again."
                return Told(LOOK_AGAIN, charges[0].message, again,
                            fault=(charges[0].finding, charges[0].joint))  # fmt: skip
        return Told(RIGHT, "The axes fit your joints as they lie now.", "Go on.")

    return safely(answer)


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
