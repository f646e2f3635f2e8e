"""Mirror: the other side's joints against the mirror images of the asked ones: place, name, frames, pair by pair."""

import numpy as np

from rigkit.axes import check_axes
from rigkit.files.exercise import Exercise
from rigkit.frames import mirror_matrix, rotation_from_quaternion
from rigkit.matching import Match
from rigkit.measures.base import Measurement, measured, three
from rigkit.mirror_axes import CONVENTIONS, pair_axes
from rigkit.skeleton import Skeleton

OTHER = {"left": "right", "right": "left"}
NEAR = 0.5  # of the limb: further from where it belongs a joint is no partner


def measure(skeleton: Skeleton, exercise: Exercise, matched: Match) -> list[Measurement]:
    """Of each joint that was found and has a side, where the exercise asks for both: whether a joint lies near its
    mirror image; by how far and which way it misses it; its name and the one asked; how its frame follows.
    The student's own joint is mirrored, so that what is wrong with it is not charged again."""
    if exercise.mirror is None:
        return []
    roles = [role for role in matched.joints if exercise.side_of(role) in OTHER]
    _, normal = exercise.mirror
    places = skeleton.positions[[matched.joints[role] for role in roles]]
    reflect, images = mirror_matrix(normal), images_of(places, exercise.mirror)
    pairs = partners(skeleton, exercise, matched)
    letter = (check_axes(skeleton, [matched.joints[role] for role in pairs]).bone or "x")[-1]
    frames = {}
    for role, there in pairs.items():
        one, other = skeleton.rotations[matched.joints[role]], skeleton.rotations[there]
        if exercise.frame_convention != "not-judged" and one is not None and other is not None:
            frames[role] = pair_axes(rotation_from_quaternion(one), rotation_from_quaternion(other), normal, letter)
    kept = exercise.frame_convention
    if kept == "either":  # what most pairs follow has to be kept throughout
        kept = max(CONVENTIONS, key=[pair.convention for pair in frames.values()].count)
    rows = []
    for role, image in zip(roles, images, strict=True):
        rows.append(measured(role, "pair", "yes" if role in pairs else "no", "text"))
        rule, side, name = exercise.naming, str(exercise.side_of(role)), skeleton.names[matched.joints[role]]
        good = not rule.check(name, role, side, exercise.asked(role).names)  # with other words that are as good, too
        asked = rule.swap_side(name) if good else rule.name_for(role, OTHER[side])
        rows.append(measured(role, "pair-name-asked", asked, "text"))
        if role not in pairs:
            continue
        arrow = skeleton.positions[pairs[role]] - image
        rows += [
            measured(role, "pair-name", skeleton.names[pairs[role]], "text"),
            measured(role, "pair-off", 1000 * float(np.linalg.norm(arrow)), "mm"),
            *three(role, "pair-off", reflect @ arrow, exercise),
        ]
        if role in frames:
            rows.append(measured(role, "pair-frames", frames[role].convention, "text"))
            rows.append(measured(role, "pair-frames-off", np.degrees(frames[role].off), "deg"))
            rows.append(measured(role, "pair-frames-asked", kept, "text"))
    return rows


def images_of(places: np.ndarray, mirror: tuple[np.ndarray, np.ndarray]) -> np.ndarray:
    """The mirror images (k, 3) of places (k, 3) across a plane, by its point and normal."""
    point, normal = mirror
    return (places - point) @ mirror_matrix(normal).T + point


def partners(skeleton: Skeleton, exercise: Exercise, matched: Match) -> dict[str, int]:
    """For each role with a side the joint that lies near its mirror image, each joint once, at the least distance."""
    if exercise.mirror is None:
        return {}
    from scipy.optimize import linear_sum_assignment

    roles = [role for role in matched.joints if exercise.side_of(role) in OTHER]
    places, others = skeleton.positions[[matched.joints[role] for role in roles]], list(matched.others)
    images = images_of(places, exercise.mirror)
    gaps = np.linalg.norm(images[:, None] - skeleton.positions[others][None], axis=2)
    middles = np.array([joint.middle for joint in exercise.joints])
    most = NEAR * max(float(np.linalg.norm(np.ptp(middles, axis=0))), 1e-3)
    return {
        roles[row]: others[column]
        for row, column in zip(*linear_sum_assignment(np.where(gaps <= most, gaps, 1e3 + most)), strict=True)
        if gaps[row, column] <= most
    }
