"""Laws of measuring and marking: rigid motion changes nothing, order changes nothing, towards right is never worse."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from rigkit.files.layout import Layout
from rigkit.marking import mark
from rigkit.measures import measure_all
from rigkit.skeleton import Skeleton
from tests.arms import arm, carried, layout
from tests.shapes import random_frame

ROUND_OFF = 1e-5  # mm, shares, degrees: values are rounded to 1e-6, and float64 on coordinates of a metre is far finer

seeds = st.integers(0, 2**32 - 1)
small = st.floats(-0.02, 0.02)
shifts = st.lists(st.tuples(small, small, small), min_size=3, max_size=3)


@settings(max_examples=25, deadline=None)
@given(seeds, shifts)
def test_rigid_motion_of_all_changes_no_measurement(seed, shift):
    key = arm().key.skeleton
    skeleton = key.at(key.positions + np.array(shift))
    frame = random_frame(seed, reach=3.0)
    before = measure_all(layout(skeleton), arm())
    after = measure_all(layout(skeleton.transformed(frame)), carried(arm(), frame))
    assert [(m.joint, m.measure, m.unit) for m in before] == [(m.joint, m.measure, m.unit) for m in after]
    for one, two in zip(before, after, strict=True):
        if isinstance(one.value, str):
            assert one.value == two.value
        else:
            assert one.value == pytest.approx(two.value, abs=ROUND_OFF), one


@settings(max_examples=25, deadline=None)
@given(st.permutations(range(5)), shifts)
def test_the_order_of_joints_does_not_matter(order, shift):
    key = arm().key.skeleton
    places = np.vstack([key.positions + np.array(shift), [[0.1, 1.3, 0.0], [0.55, 0.85, 0.0]]])
    names, parents = (*key.names, "left_scapula", "left_thumb"), (3, 0, 1, None, 2)
    plain = Layout("wren", "left-arm", 1, Skeleton(names, parents, places))
    new = {old: number for number, old in enumerate(order)}
    mixed = Skeleton(
        tuple(names[old] for old in order),
        tuple(None if parents[old] is None else new[parents[old]] for old in order),
        places[list(order)],
    )
    one, two = mark(plain, arm()), mark(replace(plain, skeleton=mixed), arm())
    assert (one.mark, one.criteria, one.caps) == (two.mark, two.criteria, two.caps)
    assert set(one.findings) == set(two.findings)
    assert set(one.measurements) == set(two.measurements)


@settings(max_examples=60, deadline=None)
@given(shifts, st.lists(st.floats(-0.3, 0.06), min_size=2, max_size=8))
def test_towards_the_right_bend_is_never_worse(shift, steps):
    """The elbow wanders along its fold direction, from far outside the flesh, from wrong to right; until it is bent
    enough no step costs marks. Only where its own middle is bent the right way: else the neighbours are to move."""
    key = arm().key.skeleton
    facts = {m.measure: m.value for m in measure_all(layout(key.at(key.positions + np.array(shift))), arm())
             if m.joint == "elbow"}  # fmt: skip
    assume(facts["bend"] - facts["offset-along-fold"] > facts["bend-straight"] * facts["bend-line"])
    start = key.at(key.positions + np.array(shift))
    away = arm().asked("elbow").fold.away
    marks = []
    for step in sorted(steps):
        skeleton = start.moved(1, start.positions[1] + step * away)
        result = mark(layout(skeleton), arm())
        facts = {m.measure: m.value for m in result.measurements if m.joint == "elbow"}
        if facts["bend-share"] > facts["bend-least"]:
            break
        marks.append(result.mark)
    assert marks == sorted(marks)


far = st.floats(-0.3, 0.3)
near = st.floats(-0.0025, 0.0025)  # a neighbour off by this in all three directions is within its ring, 4.9 mm


@settings(max_examples=150, deadline=None)
@given(st.tuples(far, far, far), st.tuples(near, near, near), st.tuples(near, near, near),
       st.lists(st.floats(0.0, 1.0), min_size=2, max_size=12))  # fmt: skip
def test_straight_to_its_place_is_never_worse(start, one, two, steps):
    """The elbow comes from anywhere, mostly from outside the flesh, on a straight line to its place."""
    key = arm().key.skeleton
    skeleton = key.at(key.positions + np.array([one, (0, 0, 0), two]))
    marks = [mark(layout(skeleton.moved(1, skeleton.positions[1] + step * np.array(start))), arm()).mark
             for step in sorted(steps, reverse=True)]  # fmt: skip
    assert marks == sorted(marks)


@pytest.mark.parametrize("way", [(0, 0, 1), (0, 0, -1), (1, 0, 1), (-0.3, 0.2, -1), (0.8, 0.6, -1)])
def test_no_half_millimetre_on_the_way_costs(way):
    """As above, step by step, so that no edge (of flesh, ring, bend) is stepped over."""
    skeleton = arm().key.skeleton
    steps = np.arange(120, -1, -1)[:, None] * 0.0005 * np.array(way, float)
    marks = [mark(layout(skeleton.moved(1, skeleton.positions[1] + step)), arm()).mark for step in steps]
    assert marks == sorted(marks) and marks[-1] == 100.0


@settings(max_examples=25, deadline=None)
@given(shifts)
def test_marks_stay_between_0_and_100_and_the_same_again(shift):
    key = arm().key.skeleton
    skeleton = key.at(key.positions + 5 * np.array(shift))
    one, two = mark(layout(skeleton), arm()), mark(layout(skeleton), arm())
    assert 0.0 <= one.mark <= 100.0
    assert one.to_dict() == two.to_dict()
