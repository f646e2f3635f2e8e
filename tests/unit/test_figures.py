"""Figures of findings: a slice for each finding of a place, true to what was measured, safe inside a page."""

import re
import xml.etree.ElementTree as ET
from dataclasses import replace

import numpy as np
import pytest

from rigkit.classroom import mark_class
from rigkit.figures import _ground, figure_of
from rigkit.files.exercise import read_exercise
from rigkit.files.layout import Layout, write_layout
from rigkit.limbs import practice_limb
from rigkit.make_exercise import make_exercise
from rigkit.marking import mark
from rigkit.report import student_page
from tests.arms import FOLDER, arm, named, shifted


def figures(layout, exercise):
    result = mark(layout, exercise)
    return {one.finding: figure_of(one, exercise, result.skeleton) for one in result.findings}


@pytest.mark.parametrize(("role", "shift", "finding"), [
    ("elbow", (0, 0, 33), "bends-wrong-way"), ("wrist", (14, 0, 0), "off-centre"), ("wrist", (30, -42, 0), "elsewhere"),
    ("shoulder", (0, 30, 0), "off-centre"), ("elbow", (0, 0, 70), "outside-flesh"),
])  # fmt: skip
def test_each_finding_of_a_place_has_its_slice_and_says_what_it_shows(role, shift, finding):
    drawn = figures(shifted(role, shift), arm())
    picture = ET.fromstring(drawn[finding])
    assert f"Slice through the {role}. The {role} lies" in picture.attrib["aria-label"]
    assert picture.attrib["role"] == "img"


def test_the_joint_is_drawn_where_it_was_measured():
    """14 mm beside the middle: so far apart, at the plate's own scale, are the joint and the plus."""
    text = figures(shifted("wrist", (14, 0, 0)), arm())["off-centre"]
    ring, joint, *_ = re.findall(r'<circle cx="([\d.]+)" cy="([\d.]+)" r="([\d.]+)"', text)
    radius = next(m.value for m in mark(arm().key, arm()).measurements if (m.joint, m.measure) == ("wrist", "radius"))
    scale = float(ring[2]) / (0.2 * radius)
    apart = np.hypot(float(ring[0]) - float(joint[0]), float(ring[1]) - float(joint[1])) / scale
    offset = next(m.value for m in mark(shifted("wrist", (14, 0, 0)), arm()).measurements
                  if (m.joint, m.measure) == ("wrist", "offset"))  # fmt: skip
    assert apart == pytest.approx(offset, abs=0.3)


def test_other_findings_show_the_limb_with_their_joint_ringed():
    layout = named("left_shoulder", "elbow", "LEFT_wrist")
    drawn = figures(layout, arm())
    for finding, joint in (("side-missing", "elbow"), ("name-case", "wrist")):
        picture = ET.fromstring(drawn[finding])
        assert picture.attrib["aria-label"].startswith(f"Front view, the {joint} ringed")
        rings = [c for c in picture.iter("{http://www.w3.org/2000/svg}circle") if c.attrib["r"] == "8.5"]
        view, _ = _ground(arm())
        place = view.project(layout.skeleton.positions[arm_roles().index(joint)])[0]
        assert float(rings[0].attrib["cx"]) == pytest.approx(place[0], abs=0.06)
    assert "&lt;script" in figure_of(
        replace(mark(layout, arm()).findings[0], message="<script>"), arm(), layout.skeleton
    )


def arm_roles():
    return [joint.role for joint in arm().joints]


def test_a_joint_in_the_next_finger_is_shown_against_its_own(tmp_path):
    exercise = read_exercise(make_exercise(tmp_path / "hand", practice_limb("arm", 8)))
    key = exercise.key.skeleton
    index, middle = (list(key.names).index(f"left_{one}_2") for one in ("index", "middle"))
    between = key.positions[middle] - key.positions[index]
    layout = Layout("wren", exercise.id, 1, key.moved(index, key.positions[index] + 0.98 * between))
    (told,) = [one for one in mark(layout, exercise).findings if (one.joint, one.criterion) == ("index 2", "centring")]
    assert "in the flesh of another part" in told.message
    text = figure_of(told, exercise, layout.skeleton)
    assert "joint" in text and text.count("<polygon") >= 2


def test_a_page_shows_a_slice_and_the_limb_for_each_joint_and_escapes_what_was_handed_in(tmp_path):
    layout = shifted("elbow", (0, 0, 60))
    evil = layout.skeleton.renamed(1, "<script>alert(1)</script>")
    (tmp_path / "wren.json").write_text(write_layout(Layout("<b>wren", "left-arm", 1, evil)), encoding="utf-8")
    room = mark_class([tmp_path], FOLDER)
    page = student_page(room.results[0], room)
    assert page.count("<svg xmlns") == 2 and "<script" not in page and "<b>wren" not in page
    assert page.count("with this alone mended the mark would be") == len(room.results[0].findings)
