"""Whatever finite places come in, up to 100 km: a finite answer or a refusal in words; beyond that, always a refusal.

The normal run takes a sample; `HYPOTHESIS_PROFILE=slow python -m pytest tests/laws/test_any_input.py` takes 10,000
examples for each function.
"""

import dataclasses
import warnings
from collections.abc import Mapping

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigkit.anatomy import check_range, joint_centres, proportions
from rigkit.axes import check_axes, local_axes
from rigkit.bulk import turned
from rigkit.centre import flesh_at, middles, usual_radius
from rigkit.changes import changes
from rigkit.edits import branched, extended, inserted, slid
from rigkit.files.gltf_write import skinned_glb
from rigkit.files.layout import Layout
from rigkit.frames import Frame, rotation_about, rotation_between
from rigkit.heat import heat_weights
from rigkit.kinematics import chain_bends, chain_hinges, flex, rest_bend, side_turns, toward_bend_target
from rigkit.loops import bend_loops
from rigkit.marking import mark
from rigkit.mended import mended
from rigkit.mesh import Mesh
from rigkit.middle import middle_of_mesh, middle_of_places
from rigkit.mirror import match_sides, mirror_side
from rigkit.naming import read_rule
from rigkit.require import RigError
from rigkit.section import Plane, cut
from rigkit.sight import line_of_sight, middle_of_sight, winding
from rigkit.skeleton import Skeleton
from rigkit.skin import bend_skin, proximity_weights
from rigkit.solvers import closed_form, cyclic_descent, damped_least_squares, fabrik, moved_by_attaching
from rigkit.twist import check_twist_joints, twist_joints
from rigkit.two_bone import solve_two_bone, solve_two_bones
from tests.arms import arm
from tests.shapes import ellipse, prism

FARTHEST = 1e5  # metres: what rigkit.tolerance allows
LIMB = prism(ellipse(0.05, 0.04, 16), -0.5, 0.5, rings=9)
TORN = Mesh(LIMB.vertices, LIMB.triangles[40:])
ODD = np.arange(len(LIMB.triangles))[:, None] % 3 == 0
MIXED = Mesh(LIMB.vertices, np.where(ODD, LIMB.triangles[:, ::-1], LIMB.triangles))
TRIANGLES = [[0, 1, 2], [0, 2, 3], [0, 3, 1], [1, 3, 2]]

number = st.one_of(
    st.floats(-FARTHEST, FARTHEST),
    st.floats(-1, 1),
    st.sampled_from([0.0, 1e-300, 1e-12, 1e-9, 1e-6, 0.05, 0.5, 1.0, -1.0, FARTHEST, -FARTHEST]),
)


@st.composite
def some_places(draw, count: int) -> np.ndarray:
    """Places (count, 3): anywhere, or doubled, on one line, or a hair apart, as bad input has them."""
    places = np.array(draw(st.lists(st.tuples(number, number, number), min_size=count, max_size=count)))
    manner = draw(st.sampled_from(["free", "near", "doubled", "line", "hair"]))
    if manner == "near":
        places = places / np.maximum(np.abs(places).max(), 1.0)
    elif manner == "doubled":
        places[draw(st.integers(0, count - 1))] = places[0]
    elif manner == "line":
        places = places[0] + np.linspace(0, 1, count)[:, None] * np.clip(places[-1], -1, 1)
    elif manner == "hair":
        places = places[0] + 1e-12 * np.clip(places, -1, 1)
    return np.clip(places, -FARTHEST, FARTHEST)


def chain(places: np.ndarray) -> Skeleton:
    return Skeleton(tuple(f"left_joint_{i}" for i in range(len(places))), (None, *range(len(places) - 1)), places)


def with_axes(places: np.ndarray) -> Skeleton:
    return dataclasses.replace(chain(places), rotations=(np.array([0.0, 0, 0, 1]),) * len(places))


def solid(places: np.ndarray) -> Mesh:
    return Mesh(places[:4], TRIANGLES)


def joint_bones(p: np.ndarray) -> np.ndarray:
    return np.array([[p[0], p[1]], [p[1], p[2]]])


TURNED = [Frame(np.eye(3), np.zeros(3)), Frame(rotation_about([0, 0, 1], 1.5), np.zeros(3))]
RULE = read_rule("plain")
FUNCTIONS = {
    "solve_two_bone": lambda p: solve_two_bone(p[0], np.abs(p[1, :2]), p[2], p[3]),
    "solve_two_bones": lambda p: solve_two_bones(p[:2], (0.3, 0.25), p[2:4], p[4:6]),
    "toward_bend_target": lambda p: toward_bend_target(p[0], p[1], p[2]),
    "side_turns": lambda p: side_turns(p[0], p[1:4], p[4]),
    "chain_bends": lambda p: chain_bends(p[:5], p[5]),
    "chain_hinges": lambda p: chain_hinges(p[:5], p[5]),
    "closed_form": lambda p: closed_form(p[:3], p[3]),
    "damped_least_squares with limits": lambda p: damped_least_squares(
        p[:4], p[4], chain_hinges(p[:4], p[5]), (0, 3), most=8
    ),
    "cyclic_descent with hinges": lambda p: cyclic_descent(p[:4], p[4], chain_hinges(p[:4], p[5]), most=8),
    "fabrik aimed": lambda p: fabrik(p[:4], p[4], most=8, aimed=True),
    "moved_by_attaching": lambda p: moved_by_attaching(closed_form, p[:3]),
    "middle_of_places": lambda p: middle_of_places(p[:2], p[2:4], p[4:]),
    "slid": lambda p: slid(chain(p), 2, float(np.clip(p[0, 0], -1, 1))),
    "inserted, extended, branched": lambda p: branched(extended(inserted(chain(p), 2, "a"), 6, "b"), 0, "c", p[1]),
    "local_axes": lambda p: local_axes(chain(p)),
    "check_axes": lambda p: check_axes(with_axes(p)),
    "twist_joints": lambda p: twist_joints(p[0], p[1], 3, 1.0),
    "check_twist_joints": lambda p: check_twist_joints(chain(p), 0, 3, [1, 2]),
    "middle_of_mesh": lambda p: middle_of_mesh(Mesh(np.concatenate([p, -p]), [[0, 1, 2], [3, 4, 5], [6, 7, 8]])),
    "mirror_side": lambda p: mirror_side(chain(p), Plane(p[0], p[1]), RULE),
    "match_sides": lambda p: match_sides(chain(p), Plane(p[0], p[1]), RULE),
    "heat_weights": lambda p: heat_weights(LIMB, joint_bones(p)),
    "heat_weights of any mesh": lambda p: heat_weights(solid(p), joint_bones(p[3:])),
    "turned": lambda p: turned(LIMB, p[:3], p[3], [1.0]),
    "proportions": lambda p: proportions(dict(zip(("shoulder", "elbow", "wrist"), p[:3], strict=True))),
    "joint_centres": lambda p: joint_centres("elbow", {"lateral_epicondyle": p[0], "medial_epicondyle": p[1]}),
    "check_range": lambda p: check_range("elbow", float(p.sum())),
    "rotation_between": lambda p: rotation_between(p[0], p[1]),
    "rest_bend": lambda p: rest_bend(p[0], p[1], p[2], away=p[3]),
    "flex": lambda p: flex(p[0], p[1], p[2], 0.7, away=p[3]),
    "fabrik": lambda p: fabrik(p[:3], p[3], most=8),
    "cyclic_descent": lambda p: cyclic_descent(p[:3], p[3], most=8),
    "damped_least_squares": lambda p: damped_least_squares(p[:3], p[3], np.zeros((2, 3)), most=8),
    "section of any mesh": lambda p: [
        (loop.area, loop.centroid, loop.radius, loop.distance(p[5])) for loop in cut(solid(p), Plane(p[4], p[5])).loops
    ],
    "section of a limb": lambda p: cut(LIMB, Plane(p[0], p[1])).holding(p[2]).loop,
    "flesh_at": lambda p: flesh_at(LIMB, p[0], p[1]),
    "flesh_at a torn limb": lambda p: flesh_at(TORN, p[0], p[1], 0.05),
    "flesh_at of any mesh": lambda p: flesh_at(solid(p), p[4], p[5]),
    "middles": lambda p: middles(LIMB, p[:3], most=4),
    "usual_radius": lambda p: usual_radius(LIMB, p[0], p[1]),
    "bend_loops": lambda p: bend_loops(LIMB, p[0], p[1], p[2]),
    "line_of_sight": lambda p: line_of_sight(solid(p), p[4], p[5]),
    "middle_of_sight": lambda p: middle_of_sight(LIMB, p[0], p[1]),
    "volume and closedness": lambda p: (solid(p).volume, solid(p).is_closed, solid(p).bounds),
    "skeleton": lambda p: chain(p).moved_branch(1, p[0]).mirrored(p[1], p[2] - p[3]),
    "proximity_weights": lambda p: proximity_weights(LIMB, joint_bones(p)),
    "changes": lambda p: changes(with_axes(p[:3]), with_axes(p[3:])),
    "winding": lambda p: winding(solid(p), p[4:]),
    "middle_of_sight of a torn limb": lambda p: middle_of_sight(TORN, p[0], p[1]),
    "flesh_at a limb of mixed faces": lambda p: flesh_at(MIXED, p[0], p[1]),
    "a mended mesh": lambda p: (solid(p).mended.volume, solid(p).mended.is_closed),
    "mark": lambda p: mark(Layout("wren", "", 1, chain(p[:3])), arm(), after=True),
    "mended": lambda p: mended(
        Layout("wren", "", 1, chain(p)), arm(), mark(Layout("", "", 1, chain(p)), arm()).findings
    ),
    "skinned_glb": lambda p: len(skinned_glb(LIMB, chain(p[:4]))),
    "bend_skin": lambda p: bend_skin(solid(p), np.full((4, 2), 0.5), TURNED),
}


def all_finite(answer: object) -> bool:
    """Whether every number in an answer, however it is packed, is finite."""
    if isinstance(answer, Mapping):
        return all(map(all_finite, answer.values()))
    if isinstance(answer, (list, tuple)):
        return all(map(all_finite, answer))
    if dataclasses.is_dataclass(answer):
        return all(all_finite(getattr(answer, field.name)) for field in dataclasses.fields(answer))
    if isinstance(answer, np.ndarray):
        return answer.dtype == object or answer.dtype.kind in "US" or bool(np.all(np.isfinite(answer)))
    return not isinstance(answer, (float, np.floating)) or bool(np.isfinite(answer))


SEEN = {  # what the long run found once
    "flex": [[0, 0, 0], [0, 237.5, 0], [0, 1e-9, 0], [0, 0, 0], [0, 0, 0], [0, 0, 0]],
    "heat_weights of any mesh": [[1, 1e-304, 1], [2, 0, 1e-20], [0, 0, 0], [0, 1, 0], [0, 0, 0], [1, 0, 1]],
}


@pytest.mark.parametrize("name", SEEN)
def test_what_was_found_once_stays_mended(name):
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        assert all_finite(FUNCTIONS[name](np.array(SEEN[name], dtype=float)))


@pytest.mark.parametrize("name", FUNCTIONS)
@given(places=some_places(6))
def test_finite_places_give_finite_answers_or_a_refusal(name, places):
    with warnings.catch_warnings():
        warnings.simplefilter("error")  # a division by nothing is no answer, even where its NaN is thrown away
        try:
            answer = FUNCTIONS[name](places)
        except RigError:
            return
    assert all_finite(answer)


@pytest.mark.parametrize("name", FUNCTIONS)
@given(
    places=some_places(6), bad=st.sampled_from([np.nan, np.inf, -np.inf, 1.01e5, -1e30, 1e300]), axis=st.integers(0, 2)
)
def test_what_lies_beyond_is_refused(name, places, bad, axis):
    places = places.copy()
    places[:, axis] = bad
    with pytest.raises(RigError):
        FUNCTIONS[name](places)
