"""What a bench shows, without widgets: skeleton (n, 3) and exercise -> folded limbs, slices and marks to draw."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from rigkit.files.exercise import AskedJoint, Exercise
from rigkit.files.exercise import Fold as AskedFold
from rigkit.frames import Frame
from rigkit.kinematics import RIGHT, STRAIGHT, WRONG, RestBend, bone_rotation, flex, rest_bend
from rigkit.matching import match
from rigkit.measures.base import Placed, own, placed
from rigkit.mends import SIDES, bend_limits
from rigkit.outline import Edges
from rigkit.plates import BendMark, Fold
from rigkit.require import RigError
from rigkit.section import Plane, cut
from rigkit.skeleton import Skeleton
from rigkit.skin import bend_skin, bone_frame, proximity_weights
from rigkit.slices import MM, Slice, lay_flat
from rigkit.vectors import off_line, unit

WAYS = ("out", "up", "forward")
AGAINST = {"out": "in", "up": "down", "forward": "back"}
TOUCHING = 1e-4  # metres: joints nearer to each other than a tenth of a millimetre have no bone between them
BEHIND = 0.7  # how far the trunk reaches behind the limb's root, in the way from there to its middle (by trial)
OPPOSITE = AGAINST | {back: way for way, back in AGAINST.items()}


@dataclass(frozen=True, eq=False)
class Limb:
    """An exercise with each role's joint number in a start layout; numbers stay while joints move and change names."""

    exercise: Exercise
    roles: dict[str, int]

    @classmethod
    def of(cls, exercise: Exercise, skeleton: Skeleton) -> Limb:
        """Match a start layout's joints to the exercise's roles."""
        found = match(skeleton, exercise).joints
        if not found:
            raise RigError(
                "a start layout with at least one of the joints asked for", "none of them", where=exercise.id
            )
        return cls(exercise, {joint.role: found[joint.role] for joint in exercise.joints if joint.role in found})

    @cached_property
    def body(self) -> np.ndarray:
        """Unit vectors (3, 3) of out, up and forward as rows, world frame."""
        return self.exercise.body * np.array([[self.outward], [1.0], [1.0]])

    @property
    def outward(self) -> float:
        """+1 where out is the character's left (+X), -1 where it is its right."""
        return -1.0 if self.exercise.side == "right" else 1.0

    @cached_property
    def edges(self) -> Edges:
        """The edges of the exercise's mesh, for contours."""
        return Edges.of(self.exercise.mesh.triangles)

    @cached_property
    def folding(self) -> AskedJoint | None:
        """The first joint that folds and whose neighbours are there, or None."""
        for joint in self.exercise.joints:
            if joint.fold is not None and {joint.role, *joint.fold.between} <= set(self.roles):
                return joint
        return None

    @property
    def fold(self) -> AskedFold:
        """How the joint that folds must lie. Raises RigError where none folds."""
        if self.folding is None or self.folding.fold is None:
            raise RigError("a limb with a joint that folds", "none", where=self.exercise.id)
        return self.folding.fold

    @property
    def fold_role(self) -> str:
        """The role of the joint that folds, or "" where none does."""
        return self.folding.role if self.folding is not None else ""

    @cached_property
    def triple(self) -> tuple[int, int, int]:
        """Joint numbers of root, middle and end of the limb that folds. Raises RigError where none does."""
        root, end = self.fold.between
        return self.roles[root], self.roles[self.fold_role], self.roles[end]

    @cached_property
    def still(self) -> np.ndarray:
        """Bones (k, 2, 3) that hold the trunk's skin in place: from the trunk's middle, where there is one, to the
        middle of the trunk's flesh on its far side from the limb that folds, and to behind that limb's root."""
        middle = self.exercise.landmarks.get("trunk_middle")
        if middle is None:
            return np.zeros((0, 2, 3))
        root, joint = (self.exercise.asked(role).middle for role in (self.fold.between[0], self.fold_role))
        from_middle, upper = self.exercise.mesh.vertices - middle, joint - root
        near = np.linalg.norm(from_middle, axis=1) < np.linalg.norm(upper)  # not the far end of the limb itself
        far = from_middle[near & (from_middle @ (middle - root) > 0)]
        behind = root - BEHIND * np.linalg.norm(middle - root) * unit(upper)
        return np.array([[middle, middle + (far.mean(axis=0) if len(far) else 0.0)], [middle, behind]])


def bend_of(limb: Limb, skeleton: Skeleton) -> RestBend:
    """The rest bend of the limb that folds, by the exercise's own fold direction."""
    root, middle, end = skeleton.positions[list(limb.triple)]
    fold = limb.fold
    return rest_bend(root, middle, end, fold.away, fold.straight)


def bend_or_none(limb: Limb, skeleton: Skeleton) -> RestBend | None:
    """The rest bend, or None where there is none to tell: no joint that folds, or two of the three in one place."""
    if limb.folding is None:
        return None
    places = skeleton.positions[list(limb.triple)]
    gaps = np.linalg.norm(places - np.roll(places, 1, axis=0), axis=1)
    if gaps.min() < TOUCHING:
        return None
    try:
        return bend_of(limb, skeleton)
    except RigError:  # the line runs along the fold direction
        return None


def folds_of(limb: Limb, skeleton: Skeleton, amount: float) -> tuple[Fold, ...]:
    """The limb with its end pulled towards its root by `amount`, 0 to 1: none at rest, two where too straight to tell.

    The skin hangs on the student's own joints, so a joint out of place folds the flesh where it was put.
    """
    bend = bend_or_none(limb, skeleton)
    if amount <= 0.0 or bend is None:
        return ()
    numbers = list(limb.triple)
    root, middle, end = skeleton.positions[numbers]
    fold, mesh = limb.fold, limb.exercise.mesh
    below = unit(end - middle, "the lower bone")
    tip = end + below * max(float(((mesh.vertices - end) @ below).max()), 0.01)
    moving = np.array([[root, middle], [middle, end], [end, tip]])
    weights = proximity_weights(mesh, np.concatenate([moving, limb.still]))
    folds = []
    for pose in flex(root, middle, end, amount, fold.straight, fold.away).poses:
        upper = bone_rotation(root, middle, root, pose.middle)
        lower = bone_rotation(middle, end, pose.middle, pose.end)
        frames = [
            bone_frame(root, root, upper),
            bone_frame(middle, pose.middle, lower),
            bone_frame(end, pose.end, lower),
        ]
        frames += [Frame(np.eye(3), np.zeros(3))] * len(limb.still)
        places = skeleton.positions.copy()
        hanging = set(skeleton.branch(numbers[1])) - {numbers[1]}
        for number in hanging:
            places[number] = frames[1] @ places[number]
        places[numbers[1]], places[numbers[2]] = pose.middle, pose.end
        folds.append(Fold(bend_skin(mesh, weights, frames).vertices, places, bend.verdict))
    return tuple(folds)


def bend_fault(limb: Limb, bend: RestBend) -> str:
    """What is wrong with the amount of a bend to the right side: "too little", "too much", "askew" or ""."""
    least, most, askew = limits_of(limb, bend)
    if not least <= bend.along <= most:
        return "too little" if bend.along < least else "too much"
    return "askew" if abs(bend.sideways) > askew else ""


def limits_of(limb: Limb, bend: RestBend) -> tuple[float, float, float]:
    """The least and most bend along the fold and the most sideways that the marks allow, metres."""
    here, fold = own(limb.exercise)[limb.fold_role], limb.fold
    return bend_limits(bend.line, fold.least, fold.most, here.bend, here.sideways, here.radius, limb.exercise.rubric)


def bend_mark(limb: Limb, skeleton: Skeleton) -> BendMark | None:
    """The rest bend as the plates draw it, or None where it cannot be told."""
    bend = bend_or_none(limb, skeleton)
    if bend is None:
        return None
    root, middle, end = limb.triple
    places = skeleton.positions
    foot = places[middle] - off_line(places[middle], places[root], places[end])
    word = SIDES[nearest_way(limb, limb.fold.away if bend.along >= 0 else -limb.fold.away)].split(" of")[0]
    text = (
        f"{abs(MM * bend.along):.0f} mm {word}"
        if bend.verdict != STRAIGHT
        else f"{abs(MM * bend.along):.0f} mm off the line"
    )
    fault = bend_fault(limb, bend) if bend.verdict == RIGHT else ""
    return BendMark(root, middle, end, foot, WRONG if fault else bend.verdict, f"{text}, {fault}" if fault else text)


def line_name(limb: Limb) -> str:
    """What the line between the neighbours of the joint that folds is called: "shoulder–wrist line"."""
    return "{}–{} line".format(*limb.fold.between)


def nearest_way(limb: Limb, direction: np.ndarray) -> str:
    """The body direction in words (out, in, up, down, forward, back) that is nearest to a direction (3,)."""
    shares = limb.body @ direction
    axis = int(np.argmax(np.abs(shares)))
    return WAYS[axis] if shares[axis] > 0 else AGAINST[WAYS[axis]]


def placed_joint(limb: Limb, skeleton: Skeleton, role: str) -> Placed:
    """Where a role's joint lies, by the same function as the marks."""
    return placed(limb.exercise, limb.exercise.asked(role), skeleton.positions[limb.roles[role]])


def slice_of(limb: Limb, skeleton: Skeleton, role: str, with_line: bool) -> Slice:
    """The slice plate's content at one joint, cut where the marks cut; with_line: and the neighbours' line."""
    asked, point = limb.exercise.asked(role), skeleton.positions[limb.roles[role]]
    where = placed_joint(limb, skeleton, role)
    if asked.plane is None:
        below = [joint.middle for joint in limb.exercise.joints if joint.parent == role]
        normal = unit(below[0] - asked.middle) if below else -limb.body[1]
        section = cut(limb.exercise.mesh, Plane(asked.middle, normal))
        held, centre = section.holding(asked.middle), asked.middle
    else:
        inside = point - where.beyond
        section = cut(limb.exercise.mesh, Plane(inside, asked.plane))
        centre = inside if where.offset is None else inside - where.offset
        held = section.holding(centre)  # the limb's own flesh, also where the joint lies in another's
    ring = limb.exercise.rubric["centring.allowed"] * (where.radius or 0.0)
    line, name = None, ""
    if with_line and asked.fold is not None and all(end in limb.roles for end in asked.fold.between):
        root, end = asked.fold.between
        line = (skeleton.positions[limb.roles[root]], skeleton.positions[limb.roles[end]])
        name = f"{root}–{end} line"
    return lay_flat(section, held, point, centre, ring, line, limb.outward, asked.plane is not None, name)


def room_for(limb: Limb, skeleton: Skeleton) -> np.ndarray:
    """Points (k, 3) that plates must have room for: the limb as it may fold, either way."""
    if limb.folding is None:
        return np.zeros((0, 3))
    root, middle, end = limb.triple
    points = []
    for share in (0.03, -0.03):
        places = skeleton.positions.copy()
        for joint in limb.exercise.joints:
            if joint.role in limb.roles:
                places[limb.roles[joint.role]] = joint.middle
        length = float(np.linalg.norm(places[end] - places[root]))
        places[middle] += share * length * limb.fold.away - off_line(places[middle], places[root], places[end])
        for amount in (0.4, 0.7, 1.0):
            points += [fold.vertices for fold in folds_of(limb, skeleton.at(places), amount)]
    return np.concatenate(points)
