"""What a bench holds: the joints with their history, the chosen one, how the limb is pulled; frozen, no widgets."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from rigkit import edits
from rigkit.bench_folds import Pull
from rigkit.bench_parts import Limb
from rigkit.edits import History
from rigkit.skeleton import Skeleton
from rigkit.slices import MM

GESTURE = 0.8
"""Seconds within which the next move of a joint belongs to the same step back: one pull at a slider (learner)."""


@dataclass(frozen=True, eq=False)
class State:
    """history: the joints, and those before. chosen: a role. ghost: joints to compare with, and what they are called.
    below: whether all joints below travel with the chosen one. fine: whether sliders go in small steps.
    last, when: what was done last, and at which second, so that one pull is one step. wrote: by joint number, the
    joints before and after its last written line."""

    history: History
    chosen: str
    pull: Pull = Pull()
    ghost: Skeleton | None = None
    ghost_name: str = ""
    below: bool = False
    fine: bool = False
    last: str = ""
    when: float = 0.0
    wrote: Mapping[int, tuple[Skeleton, Skeleton]] = field(default_factory=dict)

    @property
    def skeleton(self) -> Skeleton:
        """The joints as they are now."""
        return self.history.now

    def put(self, skeleton: Skeleton, did: str, when: float) -> State:
        """New joints. did: what was done and to which joint; the same again within a gesture is the same step."""
        same = did != "" and did == self.last and when - self.when < GESTURE and bool(self.history.past)
        history = replace(self.history, now=skeleton, taken_back=()) if same else self.history.do(skeleton)
        return replace(self, history=history, last=did, when=when)

    def written(self, start: Skeleton, number: int, so: Skeleton, below: bool) -> State:
        """A joint put by a written line where it lies in other joints, the same whatever was tried before.

        What the joint's last line did goes back first, wherever it still lies as that line left it. below: so do all
        joints below, to where they lay at the start, and then go along. The same line again is no step back.
        """
        now, last, to = self.skeleton, self.wrote.get(number), so.positions[number]
        places = now.positions.copy()
        if last is not None and len(last[1]) == len(now):
            still = np.all(places == last[1].positions, axis=1)
            places[still] = last[0].positions[still]
        back = from_start = now.at(places)
        touched = list(start.branch(number)) if below else [number]
        if below:
            from_start = _with(back, start, touched)
        after = from_start.moved_branch(number, to) if below else from_start.moved(number, to)
        steps = [now if np.array_equal(one.positions, now.positions) else one for one in (from_start, after)]
        again = last is not None and np.array_equal(after.positions, last[1].positions) and steps[1] is now
        history = self.history if again else self.history.do(steps[0]).do(steps[1])
        wrote = {joint: (_with(one, after, touched), other) for joint, (one, other) in self.wrote.items()}
        return replace(self, history=history, last="", wrote={**wrote, number: (back, after)})

    def take_back(self) -> State:
        """One step back."""
        return replace(self, history=self.history.take_back(), last="")

    def redo(self) -> State:
        """The step taken back, again."""
        return replace(self, history=self.history.redo(), last="")


def _with(joints: Skeleton, others: Skeleton, numbers: list[int]) -> Skeleton:
    """The joints, some of them where others have them."""
    places = joints.positions.copy()
    places[numbers] = others.positions[numbers]
    return joints.at(places)


def moved(limb: Limb, state: State, start: Skeleton, role: str, step: tuple[float, float, float]) -> Skeleton:
    """A role's joint put so many mm (out, up, forward) from where it lay at the start, alone or with all below it."""
    number = limb.roles[role]
    to = start.positions[number] + np.array(step) / MM @ limb.body
    return state.skeleton.moved_branch(number, to) if state.below else state.skeleton.moved(number, to)


def slid(limb: Limb, state: State, role: str, by: float) -> edits.Slid:
    """A role's joint slid along its bone by mm, towards the next joint of the limb where positive."""
    number = limb.roles[role]
    children = state.skeleton.children(number)
    asked = [limb.roles[joint.role] for joint in limb.exercise.joints if joint.parent == role]
    child = next((one for one in asked if one in children), None)
    return edits.slid(state.skeleton, number, by / MM, child=child, branch=state.below)


def steps_of(limb: Limb, state: State, start: Skeleton, role: str) -> np.ndarray:
    """How far a role's joint lies from where it was at the start, mm (out, up, forward)."""
    number = limb.roles[role]
    return limb.body @ (state.skeleton.positions[number] - start.positions[number]) * MM
