"""Mends of frames and of the mirrored side: findings -> a layout with its frames turned and its partners put right."""

from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from rigkit.axes import WAYS, check_axes
from rigkit.edits import branched
from rigkit.files.exercise import Exercise
from rigkit.files.layout import Layout
from rigkit.frames import (
    mirror_matrix,
    quaternion_from_rotation,
    rotation_about,
    rotation_between,
    rotation_from_quaternion,
)
from rigkit.matching import Match, match
from rigkit.measures.frames import asked_alone, bones_of
from rigkit.measures.mirror import images_of, partners
from rigkit.mirror_axes import mirrored_rotation
from rigkit.rubric import Finding
from rigkit.skeleton import Skeleton
from rigkit.vectors import unit

KINDS = ("turn", "unscale", "pair-add", "pair-move", "pair-name", "pair-frame")
"""What a finding's `change` begins with where its mend is done here."""


def mended_frames(layout: Layout, exercise: Exercise, findings: Iterable[Finding]) -> Layout:
    """The layout after what these findings say of frames and of the other side, one after the other."""
    for finding in findings:
        if finding.change[:1] and finding.change[0] in KINDS:
            matched = match(layout.skeleton, exercise)
            if finding.joint not in matched.joints:
                continue
            if finding.change[0] == "unscale":
                layout = _unscaled(layout, exercise, matched, finding.joint)
            else:
                act = _turned if finding.change[0] == "turn" else _paired
                layout = replace(layout, skeleton=act(layout.skeleton, exercise, matched, finding))
    return layout


def _with(skeleton: Skeleton, joint: int, rotation: np.ndarray) -> Skeleton:
    """The same joints, one of them with another frame (3, 3)."""
    kept = list(skeleton.rotations)
    kept[joint] = quaternion_from_rotation(rotation)
    return replace(skeleton, rotations=tuple(kept))


def _turned(skeleton: Skeleton, exercise: Exercise, matched: Match, finding: Finding) -> Skeleton:
    """A joint turned until its axis points along its bone, the shortest way, or about its bone until its hinge lies
    right."""
    limb, roles = asked_alone(skeleton, exercise, matched)
    joint, check = roles.index(finding.joint), check_axes(limb, child=bones_of(limb))
    own = limb.rotations[joint]
    below = bones_of(limb).get(joint, next(iter(limb.children(joint)), None))
    if own is None or below is None or check.bone is None:
        return skeleton
    frame, bone = rotation_from_quaternion(own), unit(limb.positions[below] - limb.positions[joint], "the bone")
    now = frame @ WAYS[check.bone]
    if finding.finding in ("axis-other", "axis-off-bone"):
        return _with(skeleton, matched.joints[finding.joint], rotation_between(now, bone) @ frame)
    angle = float(np.radians(finding.measured))
    either = [rotation_about(now, way * angle) @ frame for way in (1.0, -1.0)]

    def off(turned: np.ndarray) -> float:
        checks = check_axes(_with(limb, joint, turned), child=bones_of(limb)).joints
        one = next(one for one in checks if one.joint == joint)
        left = one.hinge_off if finding.finding == "hinge-off" else one.twist
        return np.inf if left is None else abs(float(np.sin(left)))  # a hinge the other way round is as good

    return _with(skeleton, matched.joints[finding.joint], min(either, key=off))


def _unscaled(layout: Layout, exercise: Exercise, matched: Match, role: str) -> Layout:
    """A joint's frame as the nearest one that only turns against the asked joint above (polar decomposition); what
    hangs on it goes along."""
    joint, above = matched.joints[role], exercise.asked(role).parent
    while above is not None and above not in matched.joints:
        above = exercise.asked(above).parent
    if layout.bases is None or abs(np.linalg.det(layout.bases[joint])) == 0.0:
        return layout
    bases, size = layout.bases.copy(), float(np.median(np.linalg.svd(layout.bases[joint], compute_uv=False)))
    upper = size * np.eye(3) if above is None else bases[matched.joints[above]]
    left, _, right = np.linalg.svd(np.linalg.solve(upper, bases[joint]))
    turn = left @ np.diag([1.0, 1.0, np.sign(np.linalg.det(left @ right))]) @ right
    change = upper @ turn @ np.linalg.inv(bases[joint])
    for one in layout.skeleton.branch(joint):
        bases[one] = change @ bases[one]
    return replace(layout, bases=bases)


def _paired(skeleton: Skeleton, exercise: Exercise, matched: Match, finding: Finding) -> Skeleton:
    """The partner of a joint put right in one respect, or made."""
    what, *words = finding.change
    if exercise.mirror is None:
        return skeleton
    pairs, here = partners(skeleton, exercise, matched), matched.joints[finding.joint]
    if what == "pair-add":
        above = skeleton.parents[here]
        hangs = next(
            (pairs[role] for role, number in matched.joints.items() if number == above and role in pairs), above
        )
        (image,) = images_of(skeleton.positions[[here]], exercise.mirror)
        made = branched(skeleton, here if hangs is None else hangs, words[0], image)
        return replace(made, parents=(*made.parents[:-1], hangs), rotations=(*made.rotations[:-1], None))
    if finding.joint not in pairs:
        return skeleton
    there, normal = pairs[finding.joint], exercise.mirror[1]
    if what == "pair-name":
        return skeleton.renamed(there, words[0])
    if what == "pair-move":
        outward = np.array([-1.0 if exercise.side == "right" else 1.0, 1.0, 1.0])
        step = exercise.body.T @ (outward * np.array([float(word) for word in words]) / 1000)
        return skeleton.moved(there, skeleton.positions[there] + mirror_matrix(normal) @ step)
    own = skeleton.rotations[here]
    if own is None:
        return skeleton
    letter = (check_axes(skeleton, [matched.joints[role] for role in pairs]).bone or "x")[-1]
    hinge = next(one for one in "zyx" if one != letter)
    return _with(skeleton, there, mirrored_rotation(rotation_from_quaternion(own), normal, words[0], hinge))
