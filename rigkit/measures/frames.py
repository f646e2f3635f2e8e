"""Frames: how the joints' own axes lie to bones, hinges and neighbours, in degrees; nothing where a file keeps none."""

import numpy as np

from rigkit.axes import WAYS, check_axes
from rigkit.files.exercise import Exercise
from rigkit.frames import rotation_from_quaternion
from rigkit.matching import Match
from rigkit.measures.base import Measurement, measured
from rigkit.skeleton import Skeleton
from rigkit.tolerance import NO_LENGTH, UNIT_SLACK
from rigkit.vectors import length, unit


def measure(skeleton: Skeleton, exercise: Exercise, matched: Match) -> list[Measurement]:
    """Of each joint with a frame, a bone and no doubt which: the own axis that lies along its bone and the one that
    does on the limb, how far that is off the bone; where the joint folds, how far the limb's hinge axis is off its own
    hinge, or, where it is too straight to have one, its turn about the bone against the joint above."""
    if exercise.frame_convention == "not-judged":
        return []
    limb, roles = asked_alone(skeleton, exercise, matched)
    check = check_axes(limb, child=bones_of(limb))
    rows = []
    for one in check.joints:
        role = roles[one.joint]
        if one.bone_off is None or check.bone is None:
            continue
        below = limb.names[bones_of(limb).get(one.joint, limb.children(one.joint)[0])]
        rows += [
            measured(role, "axis", one.own or "", "text"),
            measured(role, "axis-of-limb", check.bone, "text"),
            measured(role, "axis-to", below, "text"),
            measured(role, "axis-off-bone", np.degrees(one.bone_off), "deg"),
        ]
        if exercise.asked(role).fold is None:
            continue
        if one.hinge_off is not None and check.hinge is not None:
            rows.append(measured(role, "hinge-axis", check.hinge, "text"))
            rows.append(measured(role, "hinge-off", np.degrees(one.hinge_off), "deg"))
        elif one.twist is not None:
            half = (one.twist + np.pi / 2) % np.pi - np.pi / 2  # a hinge that points the other way is as good
            rows.append(measured(role, "twist", np.degrees(half), "deg"))
    return rows


def stretched(bases: np.ndarray | None, exercise: Exercise, matched: Match) -> list[Measurement]:
    """By how much each joint's frame is scaled, sheared or mirrored (200 %) against that of the joint above, so that
    only the joint where it begins has it. bases: of all joints (n, 3, 3) as a file has them; None where it has none.

    What the whole limb shares is a unit: of the topmost joint one scale is taken out, the middle one of its three axes.
    """
    if bases is None or exercise.frame_convention == "not-judged":
        return []
    rows = []
    for role, number in matched.joints.items():
        above = exercise.asked(role).parent
        while above is not None and above not in matched.joints:
            above = exercise.asked(above).parent
        here, upper = bases[number], None if above is None else bases[matched.joints[above]]
        if upper is None or _flat(upper):
            change = here / max(float(np.median(np.linalg.svd(here, compute_uv=False))), NO_LENGTH)
        else:
            change = np.linalg.solve(upper, here)
        sizes = np.sqrt(np.sum(change**2, axis=0))
        square = change / np.maximum(sizes, NO_LENGTH)
        off, kind = float(np.abs(np.linalg.svd(change, compute_uv=False) - 1.0).max()), "scaled"
        if np.linalg.det(change) < 0:
            off, kind = 2.0, "mirrored"  # a scale of -1 where it should be 1
        elif sizes.min() > NO_LENGTH and np.abs(square.T @ square - np.eye(3)).max() > UNIT_SLACK:
            kind = "sheared"
        rows += [measured(role, "frame-scale", 100 * off, "%"), measured(role, "frame-scale-kind", kind, "text")]
    return rows


def _flat(base: np.ndarray) -> bool:
    """Whether axes (3, 3) lie so nearly in a plane that nothing can be told against them."""
    sizes = np.linalg.svd(base, compute_uv=False)
    return bool(sizes[2] < NO_LENGTH * max(sizes[0], 1.0))


def asked_alone(skeleton: Skeleton, exercise: Exercise, matched: Match) -> tuple[Skeleton, list[str]]:
    """The joints that were found as a skeleton of their own, named by their roles, without helpers between them."""
    roles = [joint.role for joint in exercise.joints if joint.role in matched.joints]

    def above(role: str) -> int | None:
        parent = exercise.asked(role).parent
        while parent is not None and parent not in roles:
            parent = exercise.asked(parent).parent
        return None if parent is None else roles.index(parent)

    numbers = [matched.joints[role] for role in roles]
    limb = Skeleton(tuple(roles), tuple(above(role) for role in roles), skeleton.positions[numbers],
                    tuple(skeleton.rotations[number] for number in numbers))  # fmt: skip
    return limb, roles


def bones_of(limb: Skeleton) -> dict[int, int]:
    """Where a joint carries several (a wrist, five fingers), the one that any of its own axes points to best."""
    chosen = {}
    for joint, rotation in enumerate(limb.rotations):
        below = [one for one in limb.children(joint)
                 if float(length(limb.positions[one] - limb.positions[joint])) > NO_LENGTH]  # fmt: skip
        if rotation is not None and len(below) > 1:
            world_from_joint = rotation_from_quaternion(rotation)

            def nearest(one: int, joint=joint, axes=world_from_joint) -> float:
                bone = unit(limb.positions[one] - limb.positions[joint]) @ axes
                return max(float(way @ bone) for way in WAYS.values())

            chosen[joint] = max(below, key=nearest)
    return chosen
