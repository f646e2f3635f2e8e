"""Figures of findings: the slice through a joint as the marks see it, to scale, as SVG text for a page."""

from __future__ import annotations

from rigkit.bench_parts import Limb, slice_of
from rigkit.files.exercise import Exercise
from rigkit.kinematics import RIGHT
from rigkit.require import RigError
from rigkit.rubric import Finding
from rigkit.skeleton import Skeleton
from rigkit.slices import slice_plate

PLACES = ("centring", "fold", "bend")
SIZE = (262, 300)  # px; two beside each other on a printed page


def figure_of(finding: Finding, exercise: Exercise, skeleton: Skeleton) -> str:
    """The slice that shows a finding of a joint's place: its flesh, the middle, the ring that is allowed, the joint
    and, for a bend, the line between its neighbours. "" for findings that a slice does not show."""
    if finding.criterion not in PLACES:
        return ""
    try:
        limb = Limb.of(exercise, skeleton)
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
