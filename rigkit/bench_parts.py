"""What a bench shows at rest, without widgets: skeleton (n, 3) and exercise -> slices and bend marks to draw."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property, lru_cache

import numpy as np

from rigkit.files.exercise import AskedJoint, Exercise
from rigkit.files.exercise import Fold as AskedFold
from rigkit.kinematics import RIGHT, STRAIGHT, WRONG, RestBend, rest_bend
from rigkit.matching import match
from rigkit.measures.base import Placed, own, placed
from rigkit.measures.centring import ring_stretch
from rigkit.mends import SIDES, bend_limits
from rigkit.outline import Edges
from rigkit.overlays import BendMark
from rigkit.require import RigError
from rigkit.section import Plane, cut
from rigkit.skeleton import Skeleton
from rigkit.slices import MM, Slice, lay_flat
from rigkit.vectors import off_line, unit

WAYS = ("out", "up", "forward")
AGAINST = {"out": "in", "up": "down", "forward": "back"}
TOUCHING = 1e-4  # metres: joints nearer to each other than a tenth of a millimetre have no bone between them
BEHIND = 0.7  # how far the trunk reaches behind the limb's root, in the way from there to its middle (by trial)
OPPOSITE = AGAINST | {back: way for way, back in AGAINST.items()}


@dataclass(frozen=True, eq=False)
class Limb:
    """An exercise with each role's joint number in a start layout; numbers stay while joints move and change names.

    focus: a role; where it folds, its fold is the one that is shown and told, else the first there is."""

    exercise: Exercise
    roles: dict[str, int]
    focus: str = ""

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
        return _edges(self.exercise)

    @cached_property
    def folding(self) -> AskedJoint | None:
        """The joint in focus, or else the first, that folds and whose neighbours are there; None where none does."""
        there = [joint for joint in self.exercise.joints
                 if joint.fold is not None and {joint.role, *joint.fold.between} <= set(self.roles)]  # fmt: skip
        return next((joint for joint in there if joint.role == self.focus), there[0] if there else None)

    def focused(self, role: str) -> Limb:
        """The same limb with another joint in focus."""
        return replace(self, focus=role)

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


@lru_cache(maxsize=8)
def _edges(exercise: Exercise) -> Edges:
    return Edges.of(exercise.mesh.triangles)


def bend_of(limb: Limb, skeleton: Skeleton) -> RestBend:
    """The rest bend of the limb that folds, by the exercise's own fold direction."""
    root, middle, end = skeleton.positions[list(limb.triple)]
    fold = limb.fold
    return rest_bend(root, middle, end, fold.away, fold.straight)


@lru_cache(maxsize=8)  # asked for by plates, words and gauges of the same moment
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


def in_front(limb: Limb, skeleton: Skeleton, front: float) -> Skeleton:
    """The joint that folds put so many mm in front of its neighbours' line, against its fold direction."""
    middle = limb.roles[limb.fold_role]
    line = skeleton.positions[limb.triple[2]] - skeleton.positions[limb.triple[0]]
    away = limb.fold.away - (limb.fold.away @ line) / (line @ line) * line
    shift = -front / MM - bend_of(limb, skeleton).along
    return skeleton.moved(middle, skeleton.positions[middle] + shift * away / np.linalg.norm(away))


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


def counted(limb: Limb, where: Placed, role: str) -> np.ndarray | None:
    """The part (3,) of a joint's offset from its middle that counts, metres; None where none was measured.

    On a limb modelled too straight or too bent the ring stretches along the fold; so far nothing counts.
    """
    stretch, fold = ring_stretch(limb.exercise, role), limb.exercise.asked(role).fold
    if where.offset is None or not stretch or fold is None:
        return where.offset
    along = float(where.offset @ fold.away)
    return where.offset - min(max(along, min(stretch, 0.0)), max(stretch, 0.0)) * fold.away


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
