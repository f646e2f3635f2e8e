"""Lesson 4 says what is true: how many arms flip, by slips and by wandering goals, and how far an elbow may lie off."""

import numpy as np
import pytest

from rigkit import flip
from rigkit.measures.base import own
from rigkit.openings import open_exercise
from rigkit.picture import LIGHT
from rigkit.taught import bend_risk
from rigkit.tolerance import STRAIGHT_SHARE
from tests.lessons.books import read


def said(cell: str) -> str:
    book = read("04_make_it_bend_the_right_way.ipynb")
    return " ".join(next(one.source for one in book.cells if one.id == cell).split())


def test_the_curve_of_places_measures_wandering_goals(monkeypatch):
    bend = [0.010 / flip.LIMB]
    wandering = 100 * flip.flip_risk(bend, flip.SOLVERS["FABRIK"], bend_risk.RUNS)[0]
    assert f"{wandering:.1f} times in a hundred" in said("risk-read")
    _, goals = flip.jittered_limbs(0.02, bend_risk.RUNS, 1)
    assert f"{flip.ASIDE:g} radian, about {1000 * goals[:, 0].std():.0f} mm" in said("risk-intro")
    assert f"standard deviation of {1000 * flip.LIMB * flip.SLIP:g} mm" in said("risk-intro")
    monkeypatch.setattr(flip, "ASIDE", 0.0)
    assert flip.flip_risk(bend, flip.SOLVERS["FABRIK"], bend_risk.RUNS)[0] == 0.0
    assert "wrong in none of the 400" in said("risk-read")


def test_one_number_for_how_far_orlos_elbow_may_lie_behind_the_line():
    exercise = open_exercise("left-arm")
    elbow, fold = own(exercise)["elbow"], exercise.asked("elbow").fold
    least, most = (1000 * share * elbow.line for share in (fold.least, fold.most))
    asked, ring = f"{least:.0f} to {most:.0f} mm on Orlo", 1000 * exercise.rubric["centring.allowed"] * elbow.radius
    assert asked in said("table-more") and asked in said("limits")
    near, far = (1000 * elbow.bend + way * ring for way in (-1, 1))
    assert near < least and far < most  # so the ring decides at both ends
    assert f"So {near:.0f} to {far:.0f} mm is what counts" in said("limits") and f"content with {near:.0f} mm" in said(
        "table-more"
    )
    assert f"lies {1000 * elbow.bend:.0f} mm behind the line" in said(
        "table-more"
    ) and f"lie {ring:.0f} mm nearer" in said("table-more")


def test_the_edge_of_too_straight_is_one_number_in_text_and_panel():
    edge = f"{1000 * STRAIGHT_SHARE * own(open_exercise('left-arm'))['elbow'].line:.1f} mm on Orlo"
    assert edge in said("straight") and edge in said("learned") and 100 * STRAIGHT_SHARE == 0.4
    assert "0.4 per cent of the line" in said("straight") and "0.4 per cent of the line" in said("learned")


def test_no_solver_has_the_colours_of_right_and_wrong():
    ((svg, _),) = bend_risk.risk_curve().plates
    signs = (LIGHT.right, LIGHT.wrong, LIGHT.unsure)
    assert not [one for sign in signs for one in (sign.ink, sign.colour) if one.lower() in svg.lower()]
    assert LIGHT.ink.lower() in svg.lower()


@pytest.mark.parametrize(
    "bend, state", [(5, "look again"), (8.5, "look again"), (9, "right"), (15, "right"), (16, "look again")]
)
def test_what_is_enough_is_told_of_the_solver_that_keeps_the_side(bend, state):
    told = bend_risk.check_enough(bend)
    assert told.state == state and "with a solver that keeps the side" in told.found
    assert f"slips by {bend_risk.CARELESS:g} mm" in said("risk-read") and f"slip={bend_risk.CARELESS:g})" in said(
        "risk-table"
    )


def test_the_table_names_both_things_that_differ_from_arm_to_arm():
    under = bend_risk.risk_table(10).under[0]
    assert "slip of the hand of 2 mm" in under and "goal 0.1 rad aside" in under and np.isclose(flip.ASIDE, 0.1)
