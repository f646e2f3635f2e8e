"""Units and axes of a hand-in: recognised, told, asked about; never guessed, and never where it fits as written."""

import json
from dataclasses import replace

import numpy as np
import pytest

from rigkit.classroom import mark_file
from rigkit.files.gltf_write import write_glb
from rigkit.files.handin import UNJUDGED, read_handin
from rigkit.files.layout import METRES, UNITS, Axes, Layout, read_layout, write_layout
from rigkit.files.rubrics import read_rubric
from rigkit.frames import quaternion_from_rotation, rotation_about, rotation_from_quaternion
from rigkit.marking import mark
from rigkit.mesh import Mesh
from rigkit.require import RigError
from rigkit.skeleton import Skeleton
from rigkit.standing import answered, checked_answers, doubts, in_words, recognised
from tests.arms import FOLDER, PROJECT, arm, as_file, layout, shifted

FLOAT32 = 1e-6  # metres: what a GLB's places keep
EXACT = 1e-12  # metres: factors and signs alone


def straight() -> Skeleton:
    """An arm without any bend, all in one plane: facing forward or back makes no difference to a mirrored one."""
    key = arm().key.skeleton
    return key.at(np.array([key.positions[0], key.positions[[0, 2]].mean(axis=0), key.positions[2]]))


def glb(path, skeleton: Skeleton, mesh: Mesh) -> None:
    path.write_bytes(write_glb(mesh, skeleton))


def text(skeleton: Skeleton, **said) -> bytes:
    """A layout file that says no more of units and axes than `said`."""
    table = json.loads(write_layout(Layout("wren", "left-arm", 1, skeleton)))
    for key in ("units", "up", "facing"):
        del table[key]
    return json.dumps(table | said).encode()


def test_what_fits_is_left_alone():
    for one in (arm().key, shifted("elbow", (0, 0, 60)), shifted("wrist", (0, 90, 0)), shifted("shoulder", (80, 0, 0))):
        assert recognised(one, arm()) == (one, ())


@pytest.mark.parametrize(("axes", "words"), [
    (Axes("cm"), "only in centimetres; they"), (Axes("mm"), "only in millimetres; they"), (Axes("in"), "only in inches; they"),
    (Axes("m", "+z", "-y"), "only with +z up, facing -y; they"), (Axes("m", "+y", "-z"), "only with +y up, facing -z; they"),
    (Axes("m", "-z", "+y"), "only with -z up, facing +y; they"),
    (Axes("in", "+z", "+x"), "only in inches with +z up, facing +x; they were taken so and converted."),
])  # fmt: skip
def test_recognised(axes, words):
    found, (told,) = recognised(layout(as_file(arm().key.skeleton, axes)), arm())
    assert np.abs(found.skeleton.positions - arm().key.skeleton.positions).max() < EXACT
    assert words in told and found.axes == axes


def test_turns_of_joints_are_turned_too():
    turns = tuple(quaternion_from_rotation(rotation_about([1, 2, 3], 0.4 + i)) for i in range(3))
    key = replace(arm().key.skeleton, rotations=turns)
    found, _ = recognised(layout(as_file(key, Axes("cm", "+z", "-y"))), arm())
    for before, after in zip(turns, found.skeleton.rotations, strict=True):
        assert np.abs(rotation_from_quaternion(before) - rotation_from_quaternion(after)).max() < EXACT


def test_a_missing_joint_does_not_hide_the_axes():
    key = arm().key.skeleton
    bare = Skeleton(key.names[:2], key.parents[:2], key.positions[:2])
    result = mark(layout(as_file(bare, Axes("cm", "+z", "-y"))), arm())
    assert [one.finding for one in result.findings] == ["joint-missing"] and result.mark == 60.0


def test_several_readings_are_asked_about_and_none_is_taken():
    """A straight arm that faces back is a straight arm of the other side that faces forward."""
    one = layout(as_file(straight(), Axes("m", "+y", "-z")))
    found, (told,) = recognised(one, arm())
    assert found is one
    assert (
        "in 2 ways: in metres, on the other side of the body; with +y up, facing -z. They were taken as written" in told
    )
    assert "--facing" in told
    result = mark(one, arm())
    assert result.mark == 0.0 and result.notices[0] == told
    said = answered(one, {"facing": "-z"})
    assert mark(said, arm()).mark == mark(layout(straight()), arm()).mark > 50
    assert said.notices == ("The numbers were read in metres with +y up, facing -z, as rigkit was told to.",)
    assert recognised(answered(one, {"facing": "+z"}), arm())[1] == (), "who says so is believed: it is the other side"


def test_what_a_file_says_is_believed_unless_it_does_not_fit():
    right = read_layout(
        text(as_file(straight(), Axes("cm", "+z", "+y")), units="cm", up="+z", facing="+y"), "wren.json"
    )
    assert recognised(right, arm()) == (right, ())
    half = read_layout(text(as_file(straight(), Axes("m", "+y", "-z")), facing="-z"), "wren.json")
    assert recognised(half, arm()) == (half, ())
    wrong = read_layout(text(as_file(arm().key.skeleton, Axes("in", "+z", "-y")), units="cm", up="+y"), "wren.json")
    found, (told,) = recognised(wrong, arm())
    assert np.abs(found.skeleton.positions - arm().key.skeleton.positions).max() < EXACT
    assert "though they were said to be in centimetres and +y up; they were" in told
    assert found.axes == Axes("in", "+z", "-y", ("units", "up"))
    small = read_layout(text(arm().key.skeleton, units="cm"), "wren.json")
    assert "only in metres, though they were said to be in centimetres" in recognised(small, arm())[1][0]


@pytest.mark.parametrize(
    "axes", [Axes(), Axes("cm"), Axes("m", "+z", "-y"), Axes("in", "+z", "-y"), Axes("m", "+y", "+x")]
)
def test_the_other_sides_limb_is_no_turned_one(axes):
    key = arm().key.skeleton
    result = mark(layout(as_file(key.at(key.positions * [-1, 1, 1]), axes)), arm())
    assert [one.finding for one in result.findings] == ["limb-elsewhere"] and result.mark == 0.0
    assert not any("up" in one for one in result.notices)
    assert len(result.notices) == (axes == Axes("cm")), "the unit alone is told"


def figure(skeleton: Skeleton) -> Skeleton:
    """The arm and its mirror image, named for the other side."""
    names = tuple(name.replace("left", "right") for name in skeleton.names)
    both = np.vstack([skeleton.positions, skeleton.positions * [-1, 1, 1]])
    return Skeleton((*skeleton.names, *names), (None, 0, 1, None, 3, 4), both)


def test_a_whole_figure_that_faces_back_is_told_by_its_names():
    facing_back = Axes("m", "+y", "-z")
    result = mark(layout(as_file(figure(arm().key.skeleton), facing_back)), arm())
    assert result.mark == 100.0 and "facing -z" in result.notices[0]
    forward = arm().key.skeleton
    wrong = figure(forward.at(forward.positions * [1, 1, -1]))  # both elbows bend the wrong way
    assert mark(layout(wrong), arm()).mark <= 50.0
    assert not any("facing" in one for one in mark(layout(wrong), arm()).notices)
    swapped = replace(forward, names=tuple(name.replace("left", "right") for name in forward.names))
    assert mark(layout(swapped), arm()).notices == ()


def test_a_pair_of_joints_looks_the_same_from_behind():
    """Left and right hip in the middle of a body: with z up nothing says which way it faces; in metres nothing is asked."""
    near = replace(arm().joints[0], radius=0.05, parent=None)
    joints = [replace(near, role=role, centre=np.array([x, 0.9, 0.0])) for role, x in (("hip", 0.1), ("knee", -0.1))]
    exercise = replace(arm(), side="middle", joints=tuple(joints))
    pair = Skeleton(("left_hip", "right_hip"), (None, None), [[0.1, 0.9, 0.01], [-0.1, 0.9, 0.01]])
    one = layout(as_file(pair, Axes("cm", "+z", "-y")))
    found, (told,) = recognised(one, exercise)
    assert found is one
    assert "2 ways: in centimetres with +z up, facing -y; in centimetres with +z up, facing +y. They were taken" in told
    assert recognised(layout(pair), exercise)[1] == ()
    (told,) = recognised(layout(as_file(pair, Axes("cm"))), exercise)[1]
    assert "only in centimetres; they were" in told, "a file that says nothing of its axes has those of a layout"


@pytest.mark.parametrize("places", [[[0, 0, 0]], [[37.5, 112.8, -1.8]], [[0, 0, 0]] * 3, [[50, 60, 70]] * 3])
def test_a_heap_or_one_joint_tells_nothing(places):
    one = layout(Skeleton(tuple("abc"[: len(places)]), (None,) * len(places), places))
    assert recognised(one, arm()) == (one, ())


def test_bad_joints_in_another_unit_still_tell_the_unit():
    start = arm().start("scattered").skeleton
    found, (told,) = recognised(layout(start.at(start.positions * 100)), arm())
    assert "only in centimetres" in told and np.abs(found.skeleton.positions - start.positions).max() < EXACT


# The file's own mesh ---------------------------------------------------------------------------------


def moved(mesh: Mesh, axes: Axes) -> Mesh:
    return Mesh(mesh.vertices @ axes.turn / METRES[axes.units], mesh.triangles)


@pytest.mark.parametrize("axes", [Axes("m", "+y", "-z"), Axes("cm", "+z", "-y"), Axes("in", "-z", "+y"), Axes("mm")])
def test_the_files_own_mesh_decides(tmp_path, axes):
    """The joints alone would not tell a straight arm that faces back from one of the other side."""
    mesh = arm().mesh
    shuffled = mesh.vertices[mesh.triangles[::-1]].reshape(-1, 3)  # another program splits and orders vertices anew
    split = Mesh(shuffled, np.arange(len(shuffled)).reshape(-1, 3))
    glb(tmp_path / "wren.glb", as_file(straight(), axes), moved(split, axes))
    read = read_handin(tmp_path / "wren.glb", "wren.glb")
    assert len(read.flesh) <= 70
    found, (told,) = recognised(read, arm())
    assert found.axes == axes and "fit the mesh only" in told
    assert np.abs(found.skeleton.positions - straight().positions).max() < FLOAT32


def test_joints_that_do_not_lie_in_the_files_mesh_are_a_fault(tmp_path):
    glb(tmp_path / "wren.glb", as_file(arm().key.skeleton, Axes("cm")), arm().mesh)
    read = read_handin(tmp_path / "wren.glb", "wren.glb")
    assert recognised(read, arm()) == (read, ())


def test_an_answer_that_the_files_own_mesh_gainsays_is_not_believed(tmp_path):
    """Said for a whole class, an answer meets files that are right as they are."""
    glb(tmp_path / "wren.glb", straight(), arm().mesh)
    said = answered(read_handin(tmp_path / "wren.glb", "wren.glb"), {"facing": "-z", "units": "in"})
    found, (told,) = recognised(said, arm())
    assert "in metres with +y up, facing +z, though they were said to be in inches and facing -z" in told
    assert np.abs(found.skeleton.positions - straight().positions).max() < FLOAT32


def test_another_mesh_says_nothing(tmp_path):
    axes = Axes("cm", "+z", "-y")
    other = Mesh(arm().mesh.vertices * [1.2, 0.9, 1.0], arm().mesh.triangles)
    glb(tmp_path / "wren.glb", as_file(arm().key.skeleton, axes), moved(other, axes))
    assert recognised(read_handin(tmp_path / "wren.glb", "wren.glb"), arm())[0].axes == axes


BACK = Axes("m", "+y", "-z")
HALF = BACK.turn  # a half turn about the upward axis


def with_mesh(vertices: np.ndarray, triangles: np.ndarray):
    return replace(arm(), mesh=Mesh(vertices, triangles))


def few(vertices: np.ndarray) -> np.ndarray:
    """Some vertices, the outermost among them, as a hand-in keeps them."""
    return np.vstack([vertices[::97], vertices[vertices.argmin(axis=0)], vertices[vertices.argmax(axis=0)]])


def test_meshes_of_one_box_are_told_apart_by_their_vertices():
    corners = arm().mesh.bounds @ HALF.T
    vertices, count = np.vstack([arm().mesh.vertices, corners]), len(arm().mesh.vertices)
    exercise = with_mesh(vertices, np.vstack([arm().mesh.triangles, [[0, count, count + 1]]]))
    one = replace(layout(as_file(straight(), BACK)), flesh=few(exercise.mesh.vertices) @ HALF)
    found, (told,) = recognised(one, exercise)
    assert found.axes == BACK and "only with +y up, facing -z" in told
    assert recognised(replace(layout(straight()), flesh=few(exercise.mesh.vertices)), exercise)[1] == ()


def test_of_a_mesh_that_looks_the_same_from_behind_the_joints_decide():
    mesh, count = arm().mesh, len(arm().mesh.vertices)
    exercise = with_mesh(
        np.vstack([mesh.vertices, mesh.vertices @ HALF]), np.vstack([mesh.triangles, mesh.triangles + count])
    )
    in_cm, key = Axes("cm", "+y", "-z"), arm().key.skeleton
    flesh = 100 * few(exercise.mesh.vertices) @ HALF
    found, (told,) = recognised(replace(layout(as_file(key, in_cm)), flesh=flesh), exercise)
    assert found.axes == in_cm and "only in centimetres with +y up, facing -z" in told
    one = replace(layout(as_file(straight(), in_cm)), flesh=flesh)
    found, (told,) = recognised(one, exercise)
    assert found is one and "in 2 ways: in centimetres, on the other side of the body; in centimetres with" in told
    single = replace(layout(Skeleton(("left_elbow",), (None,), key.positions[1:2] * 100)), flesh=flesh)
    assert "in 2 ways" in recognised(single, exercise)[1][0], "one joint cannot decide"
    apart = replace(layout(key), flesh=flesh)
    assert "in 2 ways" in recognised(apart, exercise)[1][0], "the joints are in metres, their mesh is not"
    written = replace(layout(as_file(key, BACK)), flesh=few(exercise.mesh.vertices) @ HALF)
    assert recognised(written, exercise) == (written, ()), "the mesh fits as written"


# Answers and doubts --------------------------------------------------------------------------------


def test_answers():
    one = layout(as_file(arm().key.skeleton, Axes("cm", "+z", "-y")))
    said = answered(one, {"units": "cm", "up": "+z", "facing": "-y"})
    assert mark(said, arm()).mark == 100.0 and len(mark(said, arm()).notices) == 1
    own = read_layout(text(arm().key.skeleton, units="m"), "wren.json")
    assert answered(own, {"units": "cm"}) is own
    assert mark(answered(layout(arm().key.skeleton), {"units": "in"}), arm()).mark == 100.0, "an answer may be wrong"
    assert checked_answers() == {} and checked_answers("in", "+z", "+x") == {"units": "in", "up": "+z", "facing": "+x"}
    assert checked_answers(up="+z") == {"up": "+z", "facing": "-y"}
    for wrong in ({"units": "ft"}, {"up": "+x"}, {"facing": "back"}, {"up": "+z", "facing": "+z"}, {"facing": "-y"}):
        with pytest.raises(RigError, match="units|up|facing"):
            checked_answers(**wrong)


def test_doubts_are_questions():
    tall = layout(as_file(arm().key.skeleton, Axes("cm")))
    (ask,) = doubts(tall)
    assert ask.endswith("Are the numbers in centimetres (--units cm) or in inches (--units in)?")
    assert doubts(arm().key) == () and doubts(answered(tall, {"units": "cm"})) == ()
    assert in_words(answered(tall, {"units": "cm"}).axes) == f"in {UNITS['cm']} with +y up, facing +z"


# What a file cannot tell ---------------------------------------------------------------------------


def nodes(names) -> bytes:
    """The key's joints as nodes of a glTF file, named or not."""
    key = arm().key.skeleton
    steps = np.diff(key.positions, axis=0, prepend=0)
    rows = [{"translation": step.tolist(), "children": [i + 1]} for i, step in enumerate(steps)]
    del rows[-1]["children"]
    rows = [row | ({"name": name} if name is not None else {}) for row, name in zip(rows, names, strict=True)]
    return json.dumps({"asset": {"version": "2.0"}, "nodes": rows}).encode()


def test_a_gltf_without_names_is_not_judged_for_names(tmp_path):
    (tmp_path / "wren.gltf").write_bytes(nodes([None, None, None]))
    (tmp_path / "heron.gltf").write_bytes(nodes(["left_shoulder", None, None]))
    result = mark(read_handin(tmp_path / "wren.gltf", "wren.gltf"), arm())
    assert result.mark == 100.0 and result.criteria["names"].judged is False and result.criteria["names"].score is None
    assert "No joint in the file has a name, as glTF allows, so names cannot be judged." in result.notices
    assert not any(one.criterion == "names" for one in result.findings)
    part = mark(read_handin(tmp_path / "heron.gltf", "heron.gltf"), arm())
    assert (
        part.criteria["names"].judged
        and part.mark < 100.0
        and not any("cannot be judged" in one for one in part.notices)
    )


def test_a_layout_without_names_pays_for_them(tmp_path):
    """A layout has to name its joints, and has a place for it: what is empty there was left out."""
    key = arm().key.skeleton
    (tmp_path / "wren.json").write_bytes(text(replace(key, names=("", "", ""))))
    result = mark(read_handin(tmp_path / "wren.json", "wren.json"), arm())
    assert result.criteria["names"].judged and result.criteria["names"].score < 1.0


def test_a_layout_without_parents_pays_for_them(tmp_path):
    (tmp_path / "wren.json").write_bytes(text(replace(arm().key.skeleton, parents=(None, None, None))))
    result = mark(read_handin(tmp_path / "wren.json", "wren.json"), arm())
    assert {one.finding for one in result.findings} == {"wrong-parent"}


def test_turns_that_nobody_set_are_not_judged(tmp_path):
    (tmp_path / "wren.json").write_bytes(text(arm().key.skeleton))
    read = read_handin(tmp_path / "wren.json", "wren.json")
    assert list(read.unjudged) == ["frames"] and "No joint in the file has a rotation" in read.unjudged["frames"]
    assert mark(read, arm()).notices == (), "the exercise does not ask for frames, so there is nothing to tell"
    result = mark(read, replace(arm(), frame_convention="either"))
    assert (
        result.notices == (read.unjudged["frames"],) and not result.criteria["frames"].judged and result.mark == 100.0
    )
    turned = replace(arm().key.skeleton, rotations=(None, np.array([0.0, 0, 0, 1]), None))
    (tmp_path / "heron.json").write_bytes(text(turned))
    assert read_handin(tmp_path / "heron.json", "heron.json").unjudged == {}


def test_nothing_to_judge_is_no_mark(tmp_path):
    (tmp_path / "wren.gltf").write_bytes(nodes([None, None, None]))
    standard = (PROJECT / "data" / "rubrics" / "standard.toml").read_text("utf-8")
    names_only = (
        standard.partition("[weights]")[0]
        + "[weights]\nnames = 15\n"
        + "[structure]"
        + standard.partition("[structure]")[2]
    )
    (tmp_path / "names.toml").write_text(names_only, "utf-8")
    rubric = read_rubric(tmp_path / "names.toml")
    result = mark_file("wren.gltf", tmp_path / "wren.gltf", arm(), rubric)
    assert (result.status, result.mark) == ("unreadable", None)
    assert result.reason.startswith("wren.gltf: expected something that the rubric weighs, got none of it. No joint")
    (tmp_path / "named.gltf").write_bytes(nodes(["left_shoulder", "left_elbow", "left_wrist"]))
    assert mark_file("named.gltf", tmp_path / "named.gltf", arm(), rubric).mark == 100.0


def test_the_table_of_what_cannot_be_judged_is_told():
    assert set(UNJUDGED) == {".json", ".glb", ".gltf"}
    for rows in UNJUDGED.values():
        for criterion, _, reason in rows:
            assert criterion in arm().rubric.weights and reason.endswith("cannot be judged.")
    assert FOLDER.is_dir()
