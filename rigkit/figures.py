"""Figures of findings as SVG text for a page: the slice through a joint as the marks see it, to scale, or the limb with
the joint ringed."""

from __future__ import annotations

from functools import lru_cache

from rigkit.backdrops import ground
from rigkit.bench_parts import Limb, slice_of
from rigkit.files.exercise import Exercise
from rigkit.kinematics import RIGHT
from rigkit.matching import match
from rigkit.measures.structure import labels
from rigkit.outline import Edges
from rigkit.overlays import overlay
from rigkit.picture import LIGHT, View, fit_views
from rigkit.require import RigError
from rigkit.rubric import Finding
from rigkit.skeleton import Skeleton
from rigkit.slices import slice_plate

PLACES = ("centring", "fold", "bend")
SIZE = (262, 300)  # px; two beside each other on a printed page


def figure_of(finding: Finding, exercise: Exercise, skeleton: Skeleton) -> str:
    """The slice that shows a finding of a joint's place: its flesh, the middle, the ring that is allowed, the joint
    and, for a bend, the line between its neighbours. Other findings: the limb from the front, the joint ringed. ""
    where no joint was found."""
    try:
        limb = _limb(exercise, skeleton)
        if finding.criterion not in PLACES:
            return _whole(finding, limb, skeleton)
        if finding.joint not in limb.roles:
            return ""
        bends = finding.criterion == "bend"
        cut = slice_of(limb, skeleton, finding.joint, bends)
        verdict = {"bends-wrong-way": "wrong way", "too-straight": "too straight to tell"}.get(finding.finding, RIGHT)
        title = f"Slice through the {finding.joint}"
        return slice_plate(cut, SIZE, title, f"{title}. {finding.message}", verdict if bends else "",
                           "seen along the limb, from the body")  # fmt: skip
    except RigError:  # no plane to cut: neighbours in one place
        return ""


@lru_cache(maxsize=4)  # a page has a figure for each of several joints of one hand-in
def _limb(exercise: Exercise, skeleton: Skeleton) -> Limb:
    return Limb.of(exercise, skeleton)


def _whole(finding: Finding, limb: Limb, skeleton: Skeleton) -> str:
    """All joints as they were handed in, in the limb seen from the front; the finding's own is ringed and named."""
    known = {label: number for number, label in labels(skeleton, match(skeleton, limb.exercise)).items()} | limb.roles
    number, title = known.get(finding.joint), f"Front view, the {finding.joint} ringed"
    if number is None:
        title = "Front view, all joints that were handed in"
    view, below = _ground(limb.exercise)
    over = overlay(view, skeleton, number, finding.joint, f"{title}. {finding.message}")
    head, _, body = over.partition(">")
    return f"{head}>{below}{body}"


@lru_cache(maxsize=4)
def _ground(exercise: Exercise) -> tuple[View, str]:
    view = fit_views(exercise.mesh, {"front": SIZE}, exercise.side)["front"]
    return view, ground(exercise.mesh, Edges.of(exercise.mesh.triangles), view, exercise.side, LIGHT)
