"""Lesson 9: the checks of mended axes, and axes for the student's own joints; rotations (n, 3, 3), world from joint."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from rigkit.bench import Bench
from rigkit.bench_hints import findings_in
from rigkit.kinematics import chain_hinges
from rigkit.lesson import safely
from rigkit.require import RigError, kind, shown
from rigkit.rubric_frames import frames as judged
from rigkit.skeleton import Skeleton
from rigkit.stills import Picture
from rigkit.taught.own_axes import HINGE, LETTERS, Arm, facts_of, lowered, made_for, to_the_palm
from rigkit.told import LOOK_AGAIN, NOT_YET, RIGHT, Told
from rigkit.tolerance import ROUND_OFF
from rigkit.vectors import unit


def check(arm: Arm) -> Told:
    """Whether the axes of all joints are right by the marks, and if not, the first that is not; never raises."""

    def answer() -> Told:
        faults = {joint: told for joint in arm.names if (told := _fault(arm, joint)) is not None}
        if faults:
            first, *others = faults
            also = f" Not right yet either: {' and '.join(others)}." if others else ""
            return replace(faults[first], next_step=faults[first].next_step + also)
        facts, allowed = facts_of(arm.skeleton, arm.exercise), arm.exercise.rubric
        bone, hinge = max(facts[one]["axis-off-bone"] for one in arm.names), facts["elbow"]["hinge-off"]
        said = f"x runs along each bone ({bone:.0f}° off at most, {allowed['frames.bone_allowed']:g}° are right), and "
        said += f"{HINGE} along the elbow's hinge ({hinge:.0f}° off, {allowed['frames.hinge_allowed']:g}° are right)."
        return Told(RIGHT, said, "Go on.")

    return safely(answer)


def _fault(arm: Arm, joint: str) -> Told | None:
    """What is wrong with a joint's axes, first of x and its bone, then of the hinge."""
    here, allowed = arm.found.index(joint), arm.exercise.rubric["frames.hinge_allowed"]
    state, fold = LOOK_AGAIN if arm.turns else NOT_YET, arm.exercise.asked(joint).fold
    found = next((one for one in arm.charges() if one.joint == joint and one.finding != "hinge-off"), None)
    if found is not None:
        bone = unit(arm.found.positions[here + 1] - arm.found.positions[here])
        return Told(state, found.message, _way(arm, joint, "x", bone) or found.mend, fault=(found.finding, joint))
    if fold is None:
        return None
    hinge = chain_hinges(arm.found.positions[here - 1 : here + 2], fold.away)[1]
    off = np.degrees(np.arccos(np.clip(arm.axes(joint)[:, LETTERS.index(HINGE)] @ hinge, -1.0, 1.0)))
    if off <= allowed:
        return None
    if off >= 180.0 - allowed:
        said = f"{HINGE} lies along the {joint}'s hinge, but points the wrong way: positive turns fold it back."
        return Told(state, said, "Write 180° more about x, or 180° less.", fault=("hinge-off", joint))
    said = f"The {HINGE} axis of the {joint} lies {off:.0f}° off its hinge; up to {allowed:g}° is right."
    step = _way(arm, joint, HINGE, hinge) or f"Keep x, and turn the other two about it until {HINGE} is on the hinge."
    return Told(state, said, step, fault=("hinge-off", joint))


def _way(arm: Arm, joint: str, letter: str, to: np.ndarray) -> str:
    """Which way on, where a joint's axes were turned and one of them still misses a direction (3,); else nothing."""
    about, degrees = arm.turns.get(joint, ("x", 0.0))
    if degrees % 360.0 == 0.0:
        return ""
    to = Arm(arm.exercise, arm.found).axes(joint).T @ to
    axis, own = np.eye(3)[LETTERS.index(about)], np.eye(3)[LETTERS.index(letter)]
    near, aside = float(own @ to), float(np.cross(axis, own) @ to)
    if about == letter or np.hypot(near, aside) <= near + ROUND_OFF:
        lay = letter == HINGE or near >= np.cos(np.radians(arm.exercise.rubric["frames.bone_allowed"]))
        other = "x, which lay along the bone" if lay else "the arrow that stands square to both x and the bone"
        return f"About {about} it gets no better, whichever way: the fault lies about another axis. Take {other}."
    best, now = np.degrees(np.arctan2(aside, near)), 180.0 - (180.0 - degrees) % 360.0
    way = "the other way" if best * now < 0 else "further" if abs(now) < abs(best) else "less far"
    return f"Turn its axes {way} about {about}."


class Own:
    """Axes for the student's own joints on a bench; they stay as they were made until they are made again."""

    def __init__(self, bench: Bench):
        if not isinstance(bench, Bench):
            raise RigError("the bench of this lesson", kind(bench), next_step="Run the cell that opens it first")
        self.bench, self.kept, self.places = bench, None, np.zeros((0, 3))

    def make(self, bone: str, hinge: str) -> Told:
        """Make axes for the joints as they lie now: which letter along the bone, which along the hinge.

        Raises RigError for letters that will not do; then there are no axes.
        """
        along, about, self.kept = lowered(bone), lowered(hinge), None
        if along == about:
            raise RigError("two different letters, for bone and hinge", f"{shown(bone)} twice")
        self.kept = made_for(replace(self._joints, rotations=()), self.bench.exercise, along, about).quaternions
        self.places = self._joints.positions
        return Told("made", f"Each joint has axes: {along} along the bone, {about} along the hinge.")

    def picture(self) -> Picture | Told:
        """The joints where they lie now, with the axes that were made."""
        if self.kept is None:
            return Told(NOT_YET, "There are no axes to draw.", "Choose two letters first.")
        chain = replace(to_the_palm(self._joints.positions), rotations=(*self.kept, self.kept[-1]))
        return Arm(self.bench.exercise, chain).picture()

    @property
    def _joints(self) -> Skeleton:
        """The bench's joints by role, in the order of the chain."""
        limb = self.bench.limb
        numbers, names = list(limb.roles.values()), tuple(limb.roles)
        return Skeleton(names, (None, *range(len(names) - 1)), self.bench.skeleton.positions[numbers])


def check_own(own: Own) -> Told:
    """Whether the student's own joints lie in the middle and have axes that fit them; never raises."""

    def answer() -> Told:
        if own.kept is None:
            return Told(NOT_YET, "Your joints have no axes yet.", "Lay all three first, then choose two letters above.")
        joints, exercise = replace(own._joints, rotations=own.kept), own.bench.exercise
        for joint, facts in facts_of(joints, replace(exercise, frame_convention="either")).items():
            charges = judged(joint, facts, exercise.rubric)[1]
            if charges:
                far = np.linalg.norm(joints.positions - own.places, axis=1)
                moved = " and the ".join(name for name, one in zip(joints.names, far, strict=True) if one > ROUND_OFF)
                again = f"That is because the {moved} was moved since. Put it right, then make the axes again."
                return Told(LOOK_AGAIN, charges[0].message, again)
        off = dict.fromkeys(one.joint for one in findings_in(own.bench.layout, exercise, {"centring"}))
        if off:
            said = f"The axes fit the joints, but not yet in the middle: {' and '.join(sorted(off))}."
            return Told(LOOK_AGAIN, said, "Places first: lay them on the bench, then make the axes again.")
        return Told(RIGHT, "The joints lie in the middle, and the axes fit them.", "Go on.")

    return safely(answer)
