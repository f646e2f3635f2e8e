"""What lesson 1 tells: stations and bands agree with the sources' own numbers, answers are judged by them."""

import numpy as np
import pytest

from rigkit.lesson import open_bench
from rigkit.measures.base import own
from rigkit.openings import open_exercise
from rigkit.slices import MM
from rigkit.taught import study, study_paper

ARM = ("shoulder", "elbow", "wrist")


@pytest.fixture
def bench(tmp_path, monkeypatch):
    monkeypatch.setenv("RIGKIT_WORK", str(tmp_path))
    return open_bench(study.BIRD, "thirds", "01", ("front", "side"), ("place",))


def test_an_elbow_lies_where_the_two_lengths_of_a_source_put_it():
    rows = {row[:2]: row[2] for row in study.stations(*ARM).rows}
    # de Leva 1996a, Table 4, men: 281.7 and 268.9 mm; Drillis & Contini 1966: 0.186 and 0.146 of stature
    assert rows["de Leva 1996a", "men"] == f"{100 * 281.7 / (281.7 + 268.9):.0f} %"
    assert rows["Drillis & Contini 1966", "adults"] == f"{100 * 0.186 / (0.186 + 0.146):.0f} %"


def test_a_band_reaches_from_the_least_source_to_the_most():
    assert study.expected(1.756, *ARM)["elbow"] == pytest.approx((1756 * 275.1 / 1735, 1756 * 311.2 / 1628.5))


def test_from_joint_to_joint_a_knob_length_loses_both_its_ends():
    # de Leva 1996a, Table 4, women: 275.1 + 264.3 mm of 1735 mm; Drillis & Contini 1966; Gordon's women: 311.2 mm of 1628.5
    found = study_paper.joint_to_joint(1.0)
    assert found["elbow"] == pytest.approx((1000 * 275.1 / 1735, 186.0))
    assert found["wrist"] == pytest.approx((1000 * (275.1 + 264.3) / 1735, 332.0))
    knobs = 1000 * 311.2 / 1628.5 * (0.957 - 0.104)  # de Leva 1996b
    assert found["elbow"][0] < knobs < found["elbow"][1] < study.expected(1.0, *ARM)["elbow"][1]


@pytest.mark.parametrize("elbow, state", [(261, "right"), (298, "right"), (299, "look again"), (306, "look again")])
def test_an_elbow_felt_from_the_top_of_the_shoulder_is_not_taken_for_one_below_the_joint(elbow, state):
    paper = study_paper.Paper()
    paper.say(elbow=elbow, wrist=520)
    assert paper.check_arm().state == state


def test_each_source_is_cited_with_how_it_is_known():
    assert all(line.endswith(("quoted by another publication.", "source.")) for line in study.cited(ARM))
    assert len(study.cited(ARM)) == 3


def test_the_finger_is_judged_by_its_bones():
    paper = study_paper.Paper()
    for middle, last, state in (
        (100 * 39.8 / 81.8, 100 * 62.2 / 81.8, "right"),
        (50, 75, "right"),
        (53, 76, "look again"),
        (33, 67, "look again"),
        (100 * 39.8 / 78, 100 * 62.2 / 78, "look again"),
    ):
        paper.say(middle=middle, last=last)  # Buryanov & Kotiuk 2010: 39.8, 22.4 and 19.6 mm
        assert paper.check_finger().state == state


def test_a_joint_counts_as_near_within_one_local_radius_and_no_further(bench):
    there = own(bench.exercise)["knee"]
    way = MM * bench.limb.body @ (there.middle - bench.start.positions[bench.limb.roles["knee"]])
    for radii, state in ((0.95, "right"), (1.05, "look again")):
        out, up, forward = way + (radii * MM * there.radius, 0, 0)
        bench.move("knee", out=out, up=up, forward=forward)
        assert study_paper.check_near(bench, ("knee",)).state == state


def test_the_thirds_lie_far_off_and_the_mend_says_which_way_and_not_how_far(bench):
    bench.move("knee", up=1)
    told = study_paper.check_near(bench, ("knee", "ankle"))
    assert told.state == "look again" and "Move the knee up and forward." in told.next_step
    assert "The ankle lies far from its place." in told.found  # both at once
    assert not any(sign.isdigit() for sign in told.found + told.next_step)


def test_a_joint_that_was_right_and_is_moved_away_is_told(bench):
    for role in ("knee", "ankle"):
        there = own(bench.exercise)[role]
        out, up, forward = MM * bench.limb.body @ (there.middle - bench.start.positions[bench.limb.roles[role]])
        bench.move(role, out=out, up=up, forward=forward)
    assert study_paper.check_near(bench, ("knee", "ankle")).state == "right"
    bench.move("ball", up=120)
    told = study_paper.check_near(bench, ("knee", "ankle"))
    assert told.state == "look again" and told.found == "The ball was right, and is not any more."


def test_where_the_feathers_end_no_joint_is_near():
    places = [own(open_exercise(study.BIRD))[role].middle for role in ("knee", "ankle")]
    assert all(np.linalg.norm(place - study.FEATHERS_END) > 0.1 for place in places)
    told = study_paper.Paper()
    told.say(**study.LEG)
    assert told.check_leg().state == "right" and list(study.LEG.values()).count(study.NONE) == 1


@pytest.mark.parametrize("plates", [study.by_eye, study.lettered, lambda: study.bands("left-arm", 1.7, *ARM)])
def test_pictures_are_named_and_show_what_they_say(plates):
    for drawing, sentence in plates().plates:
        assert sentence.startswith(("Side view.", "Front view.")) and 'role="img"' in drawing and "NaN" not in drawing
