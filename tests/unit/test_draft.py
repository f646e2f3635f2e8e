"""Drafts of exercises from characters of one's own: what is guessed, what is asked, what the key is told, what is written."""

import hashlib
import tomllib
from dataclasses import replace

import numpy as np
import pytest

from rigkit.__main__ import main
from rigkit.draft import Draft
from rigkit.exercise_text import key_of
from rigkit.files.exercise import read_exercise
from rigkit.files.gltf import read_gltf
from rigkit.files.gltf_write import skinned_glb, vertex_normals, write_glb
from rigkit.files.layout import Layout
from rigkit.limbs import KINDS, Shape, practice_limb
from rigkit.marking import mark
from rigkit.meant import meant_by
from rigkit.mesh import Mesh
from rigkit.naming import read_rule
from rigkit.openings import hand_out, open_exercise, read_draft
from rigkit.require import RigError
from rigkit.skeleton import Skeleton
from rigkit.tables import data_folder
from rigkit.vectors import angle_between
from tests.faults.hostile_gltf import CASES
from tests.unit.test_gltf import SIZED, Sheet, carried, placed, turned

POSE = "the figure stands"
CLOSE = 1e-4  # metres: a tenth of a millimetre, what five decimals and float32 leave
CLOTH = 0.004  # metres between flesh and sleeve


def arm(**shape):
    return practice_limb("arm", 7, shape=Shape(**shape))


def saved(folder, limb, name="orlos_arm", **changes):
    """A limb as a character's file: its first joints, with names changed."""
    path = folder / f"{name}.glb"
    first = key_of(limb, limb.roles[:5] if limb.kind == "leg" else limb.roles[:3])
    path.write_bytes(write_glb(limb.mesh, replace(first, **changes)))
    return path


def first_three(limb, positions=None, names=("left_shoulder", "left_elbow", "left_wrist")):
    places = limb.key.positions[:3] if positions is None else positions
    return Draft(limb.mesh, Skeleton(names, (None, 0, 1), places), "orlo", "Orlo's arm", "left", rest_pose=POSE)


def off(limb, role, arrow):
    """The arm's first three joints with one of them off its place."""
    places = limb.key.positions[:3].copy()
    places[limb.roles.index(role)] += arrow
    return first_three(limb, places)


def findings(draft):
    return {(one.finding, one.joint) for one in draft.checked()[0].findings}


# Every kind --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "kind, side", [*((kind, "left") for kind in KINDS), ("leg", "right"), ("creature_arm", "right")]
)
def test_the_true_key_passes_its_own_exercise_or_questions_remain(kind, side, tmp_path):
    limb = practice_limb(kind, 7, side)
    path = tmp_path / f"{kind}.glb"
    path.write_bytes(skinned_glb(limb.mesh, limb.key))
    draft = read_draft(path).with_said(rest_pose=POSE)
    left = draft.open_questions()
    # A creature's thumb begins in its palm, where lines of sight see the palm: that is asked, and nothing else.
    asked = (f"{side}_thumb_1: ",) if kind == "creature_arm" else ()
    assert len(left) == len(asked) and all(one.startswith(asked) for one in left)
    if asked:
        draft = draft.with_joint("thumb 1", middle="key")
    exercise = read_exercise(draft.write(tmp_path / "made"))
    taken = [role for role in limb.roles if role not in ("pelvis", "clavicle")]
    assert sorted(joint.role for joint in exercise.joints) == sorted(taken) and exercise.side == side
    result = mark(Layout("key", exercise.id, 1, limb.key), exercise)
    assert (result.mark, result.findings) == (100.0, ())
    for one in draft.asked:
        true = limb.key.positions[limb.roles.index(one.role)]
        assert one.lie.place == "region" or np.linalg.norm(one.lie.middle - true) < 0.001
    for joint in exercise.joints:
        true = limb.key.positions[limb.roles.index(joint.role)]
        assert joint.fold is None or joint.role in limb.away
        if joint.fold is not None:
            assert angle_between(joint.fold.away, limb.away[joint.role]) < np.radians(25)
        assert np.linalg.norm(joint.middle - true) < 0.2 * (joint.radius or 0.05)


def test_a_limb_of_its_own_flesh_is_cut_and_the_others_are_regions():
    limb = arm()
    draft = Draft(limb.mesh, limb.key, "orlo", "Orlo", "left")
    flesh = {one.role for one in draft.asked if one.lie.place == "flesh"}
    assert {"elbow", "wrist", "index 2"} <= flesh and not flesh & {"shoulder", "thumb 1", "index 1", "index tip"}


# What is asked -----------------------------------------------------------------------------------------


def test_a_key_too_straight_is_asked_about_and_not_guessed(tmp_path):
    limb = arm(bend=0.0)
    draft = read_draft(saved(tmp_path, limb)).with_said(rest_pose=POSE)
    (question,) = draft.open_questions()
    assert question.startswith("left_elbow: the key is too straight there to tell.")
    text = (draft.write(tmp_path / "made") / "exercise.toml").read_text()
    rows = {row["role"]: row for row in tomllib.loads(text)["joints"]}
    assert "fold" not in rows["elbow"] and '# fold = {away = "?"' in text
    told = draft.with_joint("elbow", fold="back")
    assert told.open_questions() == () and any("straight" in one and joint == "elbow" for one, joint in findings(told))


def test_a_key_bent_against_anatomy_is_asked_about():
    limb = arm()
    draft = off(limb, "elbow", [0, 0, 0.04])
    (question,) = draft.open_questions()
    assert "left_elbow: the key does not bend as anatomy has it, back" in question
    meant = draft.with_joint("elbow", fold="back")
    assert meant.open_questions() == () and "bends-wrong-way" in {one for one, _ in findings(meant)}
    creature = draft.with_joint("elbow", fold="forward")
    assert creature.open_questions() == () and any("anatomy" in one for one in creature.checked()[1])


@pytest.mark.parametrize(
    "name, words",
    [("node_1", "it has no name"), ("left_humungus", "no naming rule knows"), ("left_elbwo", "a slip of elbow")],
)
def test_a_joint_whose_name_says_nothing_is_asked_about(name, words):
    draft = first_three(arm(), names=("left_shoulder", name, "left_wrist"))
    (question,) = draft.open_questions()
    assert question.startswith(f"{name}: ") and words in question
    told = draft.with_joint(name, role="elbow")
    assert told.open_questions() == () and [one.role for one in told.asked] == ["shoulder", "elbow", "wrist"]
    assert told.joint("elbow").away @ [0, 0, -1] > 0.9


def test_no_role_is_taken_twice():
    draft = first_three(arm(), names=("left_shoulder", "left_elbow", "left_forearm"))
    (question,) = draft.open_questions()
    assert question.startswith("left_forearm: another joint is the elbow already")


def test_names_by_no_rule_at_all_ask_which_rule_students_shall_keep_to(tmp_path):
    path = saved(tmp_path, arm(), names=("L-Shoulder", "L-Elbow", "L-Wrist"))
    (question,) = [one for one in read_draft(path).open_questions() if one.startswith("naming:")]
    assert "asked for left_shoulder where this figure says L-Shoulder" in question and "hanim, plain" in question
    assert not any(one.startswith("naming:") for one in read_draft(path).with_said(naming="plain").open_questions())
    one_good = saved(tmp_path, arm(), names=("L-Shoulder", "l_elbow", "L-Wrist"))
    draft = read_draft(one_good)
    assert draft.naming == "hanim" and not any(one.startswith("naming:") for one in draft.open_questions())


def test_a_figure_of_many_metres_is_asked_for_its_unit(tmp_path):
    limb = arm()
    path, key = tmp_path / "in_cm.glb", key_of(limb, limb.roles[:3])
    path.write_bytes(write_glb(Mesh(limb.mesh.vertices * 100, limb.mesh.triangles), key.at(key.positions * 100)))
    assert any(one.startswith("units: the figure measures") for one in read_draft(path).open_questions())
    draft = read_draft(path, units="cm")
    assert not any(one.startswith("units") for one in draft.open_questions())
    assert np.abs(draft.figure.positions - key.positions).max() < CLOSE


def test_another_axis_up_is_turned(tmp_path):
    limb = arm()
    key = key_of(limb, limb.roles[:3])
    turn = np.array([[1.0, 0, 0], [0, 0, -1], [0, 1, 0]])  # y up, facing z -> z up, facing -y
    path = tmp_path / "z_up.glb"
    path.write_bytes(write_glb(Mesh(limb.mesh.vertices @ turn.T, limb.mesh.triangles), key.at(key.positions @ turn.T)))
    draft = read_draft(path, up="+z", facing="-y")
    assert np.abs(draft.figure.positions - key.positions).max() < CLOSE
    assert np.abs(draft.mesh.vertices - limb.mesh.vertices).max() < CLOSE


def test_a_side_that_no_name_says_is_asked_for():
    limb = arm()
    names = ("shoulder", "elbow", "wrist")
    draft = replace(first_three(limb, names=names), doubts=("side: no name says one",))
    assert draft.open_questions() == ("side: no name says one",)
    assert draft.with_said(side="left").open_questions() == ()


def test_of_both_sides_the_one_asked_for_counts(tmp_path):
    left, right = practice_limb("leg", 7), practice_limb("leg", 7, "right")
    n = len(left.mesh.vertices)
    both = Mesh(np.vstack([left.mesh.vertices, right.mesh.vertices - [0.2, 0, 0]]),
                np.vstack([left.mesh.triangles, right.mesh.triangles + n]))  # fmt: skip
    parents = (*left.key.parents, *(None if one is None else one + 5 for one in right.key.parents))
    places = np.vstack([left.key.positions, right.key.positions - [0.2, 0, 0]])
    path = tmp_path / "legs.glb"
    path.write_bytes(write_glb(both, Skeleton(left.key.names + right.key.names, parents, places)))
    draft = read_draft(path)
    assert draft.side == "left" and any("both sides" in one for one in draft.notices)
    assert {one.name for one in draft.asked} == set(left.key.names)
    other = read_draft(path, side="right").with_said(rest_pose=POSE)
    assert {one.name for one in other.asked} == set(right.key.names) and other.checked()[0].mark == 100.0
    ignored = tomllib.loads((other.write(tmp_path / "made") / "exercise.toml").read_text())["ignored"]
    assert "left_knee" in ignored and "right_knee" not in ignored
    whole = Layout("whole", other.id, 1, read_gltf(path.read_bytes(), "legs.glb").skeleton)
    assert mark(whole, read_exercise(tmp_path / "made")).mark == 100.0


# What the key is told ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "role, arrow, finding",
    [
        ("elbow", [0.09, 0.06, 0], "outside-flesh"),
        ("wrist", [0, 0, 0.015], "off-centre"),
        ("shoulder", [0, 0, 0.15], None),
    ],
)
def test_a_key_with_a_joint_out_of_place_is_told(role, arrow, finding):
    draft = off(arm(), role, arrow)
    if finding is None:  # no flesh to be seen there: asked, and found in the check as well
        assert any(one.startswith(f"left_{role}: ") and "(middle)" in one for one in draft.open_questions())
        finding = "outside-flesh"
    assert (finding, role) in findings(draft)


def test_a_key_with_a_wrong_name_is_told():
    draft = first_three(arm(), names=("left_shoulder", "right_elbow", "left_wrist"))
    assert draft.joint("right_elbow").need == "ignored"
    told = draft.with_joint("right_elbow", role="elbow")
    assert any("right" in one.message for one in told.checked()[0].findings if one.criterion == "names")
    mended = told.changed("elbow", called="left_elbow")
    assert mended.checked()[0].mark == 100.0


def test_a_key_off_the_meshs_own_loops_is_told():
    limb = arm()
    bone = limb.key.positions[2] - limb.key.positions[1]
    assert first_three(limb).checked()[1] == ()
    (note,) = off(limb, "elbow", 0.12 * bone).checked()[1]
    assert note.startswith("elbow: the mesh is made to bend") and "up the limb" in note


def test_moving_a_joint_back_mends_the_key():
    limb = arm()
    draft = off(limb, "wrist", [0, 0, 0.015])
    assert draft.checked()[0].mark < 100.0
    assert draft.changed("wrist", limb.key.positions[2]).checked()[0].mark == 100.0


# Answers -----------------------------------------------------------------------------------------------


def test_answers_change_a_copy_alone(tmp_path):
    draft = read_draft(saved(tmp_path, arm()))
    other = draft.with_joint("elbow", need="optional", place="region", middle="key", names=("cubit",), fold=[0, 0, -2])
    before, after = draft.joint("elbow"), other.joint("elbow")
    assert (before.need, before.lie.place) == ("required", "flesh")
    assert (after.need, after.lie.place, after.names, after.away.tolist()) == (
        "optional",
        "region",
        ("cubit",),
        [0, 0, -1],
    )
    assert np.array_equal(np.mean(list(after.lie.landmarks.values()), axis=0), draft.figure.positions[after.number])
    made = read_exercise(other.with_said(rest_pose=POSE).write(tmp_path / "made")).asked("elbow")
    assert (made.need, made.place, made.names) == ("optional", "region", ("cubit",))


@pytest.mark.parametrize(
    "answer, words",
    [({"need": "perhaps"}, "required, optional, ignored"), ({"fold": "sideways"}, "out, in, up"),
     ({"fold": [0, 0, 0]}, "no length"), ({"fold": [0.59, -0.8, 0]}, "runs along it"), ({"stretch": 2}, "0.005 to 0.5"),
     ({"colour": "red"}, "one of need"), ({"role": "<b>"}, "small letters")],
)  # fmt: skip
def test_an_answer_that_cannot_be_is_refused(answer, words, tmp_path):
    with pytest.raises(RigError, match=words):
        read_draft(saved(tmp_path, arm())).with_joint("elbow", **answer)


def test_a_joint_that_is_not_there_is_refused_with_those_there_are():
    with pytest.raises(RigError, match="shoulder, elbow, wrist"):
        first_three(arm()).with_joint("tail", need="ignored")


def test_own_rule_and_rubric_go_into_the_folder(tmp_path):
    rule = tmp_path / "house.toml"
    text = (data_folder() / "naming" / "plain.toml").read_text()
    rule.write_text(text.replace('id = "plain"', 'id = "house"').replace('left = "left"', 'left = "lf"'))
    draft = first_three(arm()).with_said(naming=str(rule))
    made = read_exercise(draft.write(tmp_path / "made"))
    assert made.naming.name_for("elbow", "left") == "lf_elbow" and made.own_files == ("house.toml",)
    assert (hand_out(tmp_path / "made", tmp_path / "theirs") / "house.toml").is_file()
    with pytest.raises(RigError):
        draft.with_said(rubric="no-such-rubric")


def test_words_with_quotes_and_signs_come_back(tmp_path):
    title = 'Orlo\'s "long" arm \\ ünï — 腕'
    made = read_exercise(first_three(arm()).with_said(title=title, rest_pose='it "hangs"').write(tmp_path / "made"))
    assert (made.title, made.rest_pose) == (title, 'it "hangs"')


def test_names_of_the_open_standard_are_known(tmp_path):
    limb, rule = practice_limb("leg", 7), read_rule("hanim")
    names = tuple(rule.name_for(role, "left") for role in limb.roles)
    draft = read_draft(saved(tmp_path, limb, names=names))
    assert [one.role for one in draft.asked] == list(limb.roles) and draft.naming == "hanim"
    assert draft.with_said(rest_pose=POSE).checked()[0].mark == 100.0


@pytest.mark.parametrize(
    "name, role, side, need",
    [("left_elbow", "elbow", "left", "required"), ("orlo:R_Wrist", "wrist", "right", "required"),
     ("l_metacarpophalangeal_2", "index 1", "left", "required"), ("LeftForearm", "elbow", "left", "required"),
     ("vl5", "vl 5", None, "ignored"), ("left_forearm_twist", "forearm twist", "left", "ignored"),
     ("left_toe_tip", "toe tip", "left", "optional"), ("pelvis", "pelvis", None, "ignored")],
)  # fmt: skip
def test_what_a_name_means(name, role, side, need):
    one = meant_by(name)
    assert (one.role, one.side, one.need, one.doubt) == (role, side, need, "")


# A draft marks nobody ----------------------------------------------------------------------------------


def test_a_draft_is_refused_everywhere_with_what_is_open(tmp_path, capsys):
    folder = tmp_path / "made"
    path = saved(tmp_path, arm(bend=0.0))
    assert main(["exercise", str(path), "--out", str(folder)]) == 0
    said = capsys.readouterr().out
    assert "Open: rest_pose:" in said and "Open: left_elbow:" in said and "marks nobody yet" in said
    for use in (
        lambda: main(["mark", str(path), "--exercise", str(folder), "--out", str(tmp_path / "marked")]),
        lambda: main(["hand-out", str(folder), "--out", str(tmp_path / "theirs")]),
    ):
        assert use() == 2
        told = capsys.readouterr().err
        assert "a draft with 2 open questions" in told and "rest_pose" in told and "left_elbow" in told
    with pytest.raises(RigError, match="a draft with 2 open questions"):
        open_exercise(str(folder))
    assert not (tmp_path / "marked").exists() and not (tmp_path / "theirs").exists()


def test_a_question_that_stands_in_the_file_is_not_settled_by_taking_it_out_of_the_list(tmp_path):
    """With `open` emptied and the fold's line left as it was, the elbow's bend would not be judged, in silence."""
    folder = read_draft(saved(tmp_path, arm(bend=0.0))).write(tmp_path / "made")
    toml = folder / "exercise.toml"
    text = toml.read_text().replace('rest_pose = ""', 'rest_pose = "it hangs"')
    begin, end = text.index("open = ["), text.index("]\n", text.index("open = [")) + 2
    for left in ("", "open = []\n"):
        toml.write_text(text[:begin] + left + text[end:])
        with pytest.raises(RigError, match=r'exercise\.toml, line \d+: expected an answer in place of each "\?"'):
            read_exercise(folder)
    rows = [row for row in (text[:begin] + text[end:]).splitlines() if not row.startswith("# fold")]
    toml.write_text("\n".join(rows))
    assert read_exercise(folder).asked("elbow").fold is None, "nothing folds there: that was said by deleting the line"


def test_a_draft_is_completed_by_hand(tmp_path):
    limb = arm(bend=0.0)
    folder = read_draft(saved(tmp_path, limb)).write(tmp_path / "made")
    toml = folder / "exercise.toml"
    text = toml.read_text().replace('rest_pose = ""', 'rest_pose = "it hangs"').replace("# fold = ", "fold = ")
    begin, end = text.index("open = ["), text.index("]\n", text.index("open = [")) + 2
    toml.write_text((text[:begin] + text[end:]).replace('"?"', '"back"'))
    exercise = read_exercise(folder)
    assert exercise.asked("elbow").fold.away.tolist() == [0, 0, -1]
    bent = limb.key.moved(1, limb.key.positions[1] + [0, 0, -0.015])
    assert mark(Layout("wren", exercise.id, 1, bent), exercise).mark == 100.0


def test_an_exercise_is_never_written_over_by_the_command(tmp_path, capsys):
    path, folder = saved(tmp_path, arm()), tmp_path / "made"
    assert main(["exercise", str(path), "--out", str(folder)]) == 0
    (folder / "exercise.toml").write_text("mine")
    assert main(["exercise", str(path), "--out", str(folder)]) == 2
    assert "Choose another folder" in capsys.readouterr().err and (folder / "exercise.toml").read_text() == "mine"


def test_the_students_copy_holds_no_joint(tmp_path):
    draft = read_draft(saved(tmp_path, arm())).with_said(rest_pose=POSE)
    folder = draft.write(tmp_path / "made")
    theirs = hand_out(folder, tmp_path / "theirs")
    assert sorted(one.name for one in theirs.iterdir()) == ["exercise.toml", "mesh.glb", "start-scattered.json"]
    scene = read_gltf((theirs / "mesh.glb").read_bytes(), "mesh.glb")
    assert scene.skeleton is None and np.abs(scene.mesh.vertices - draft.mesh.vertices).max() < 1e-6
    start = read_exercise(theirs).start("scattered").skeleton
    assert start.names == draft.limb().key.names
    assert mark(Layout("start", "", 1, start), read_exercise(theirs)).mark < 70


def test_a_mesh_with_joints_in_it_is_not_handed_out(tmp_path):
    folder = first_three(arm()).write(tmp_path / "made")
    mine = saved(tmp_path, arm()).read_bytes()
    (folder / "mesh.glb").write_bytes(mine)
    toml = folder / "exercise.toml"
    sha = tomllib.loads(toml.read_text())["mesh_sha256"]
    toml.write_text(toml.read_text().replace(sha, hashlib.sha256(mine).hexdigest()))
    with pytest.raises(RigError, match="joints, which tell the answer"):
        hand_out(folder, tmp_path / "theirs")
    assert not (tmp_path / "theirs").exists()


# Files -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", [name for name, one in CASES.items() if not one.heavy])
def test_hostile_files_are_refused_or_taken_as_the_reader_does(name, tmp_path):
    data = CASES[name].build()
    path = tmp_path / "hostile.glb"
    path.write_bytes(data)
    try:
        scene = read_gltf(data, "hostile.glb")
    except RigError as error:
        with pytest.raises(RigError) as refused:
            read_draft(path)
        assert str(refused.value) == str(error)
        return
    if scene.mesh is None or scene.skeleton is None:
        with pytest.raises(RigError, match="a mesh and joints in it"):
            read_draft(path)
    elif len(scene.mesh.triangles) < 10_000:
        assert isinstance(read_draft(path).open_questions(), tuple)


@pytest.mark.parametrize("name, words", [("none.glb", "no such file"), ("figure.obj", "another kind")])
def test_what_is_no_character_is_refused(name, words, tmp_path):
    if name != "none.glb":
        (tmp_path / name).write_text("x")
    with pytest.raises(RigError, match=words):
        read_draft(tmp_path / name)


def clothed(limb) -> bytes:
    """The arm in another exporter's manner: centimetres and Z up below the topmost node, a twist joint without a name,
    a sleeve of a mesh and skin of its own, 4 mm off the flesh."""
    sheet, undone = Sheet(), np.linalg.inv(SIZED)
    key = limb.key
    names = ["clavicle_l", *key.names[1:4]] if limb.kind == "shoulder_arm" else list(key.names[:3])
    places = [*key.positions[:4], (key.positions[2] + key.positions[3]) / 2]
    parents = [None, 0, 1, 2, 2]
    local = [placed(np.linalg.inv(SIZED[:3, :3] * 100), carried(undone, one)) for one in places]
    nodes = [{"name": "figure", "rotation": turned([1, 0, 0], -90).tolist(), "scale": [0.01] * 3, "children": [1]}]
    for n, parent in enumerate(parents):
        below = local[n] if parent is None else np.linalg.inv(local[parent]) @ local[n]
        node = {"matrix": below.T.ravel().tolist()} | ({"name": names[n]} if n < 4 else {})
        children = [1 + m for m, one in enumerate(parents) if one == n]
        nodes.append(node | ({"children": children} if children else {}))

    def skin(joints):
        bind = np.array([np.linalg.inv(SIZED @ local[n]) for n in joints])
        number = sheet.store(bind.transpose(0, 2, 1).reshape(-1, 16).astype("<f4"), "MAT4", 5126)
        sheet.document["skins"].append({"joints": [1 + n for n in joints], "inverseBindMatrices": number})

    def pulls(count):
        def store(sheet):
            joints, shares = np.zeros((count, 4), "<u1"), np.tile(np.array([1, 0, 0, 0], "<f4"), (count, 1))
            return {"JOINTS_0": sheet.store(joints, "VEC4", 5121), "WEIGHTS_0": sheet.store(shares, "VEC4", 5126)}

        return store

    skin(range(5))
    skin([1, 2])
    body, count = limb.mesh, len(limb.mesh.vertices)
    worn = body.vertices + CLOTH * vertex_normals(body)
    meshes = [sheet.mesh(name, points, body.triangles, pulls(count))
              for name, points in (("body", body.vertices), ("sleeve", worn))]  # fmt: skip
    first = len(nodes)
    nodes += [{"mesh": number, "skin": number} for number in meshes]
    sheet.document["nodes"], sheet.document["scenes"][0]["nodes"] = nodes, [0, first, first + 1]
    return sheet.glb()


def test_a_clothed_figure_of_several_skins_in_another_exporters_manner_marks_five_hand_ins(tmp_path):
    limb = practice_limb("shoulder_arm", 7)
    path = tmp_path / "orlo.glb"
    path.write_bytes(clothed(limb))
    draft = read_draft(path)
    assert [one.role for one in draft.asked] == ["shoulder", "elbow", "wrist"]
    assert any("2 skins" in one for one in draft.notices) and any("2 meshes" in one for one in draft.notices)
    assert len(draft.mesh.vertices) == 2 * len(limb.mesh.vertices)
    draft = draft.with_said(rest_pose=POSE).with_joint("node_5", need="ignored")
    assert draft.open_questions() == ()
    body = read_draft(path, meshes=["body"])
    assert len(body.mesh.vertices) == len(limb.mesh.vertices)
    for one, other in zip(draft.asked, body.asked, strict=True):  # the flesh decides, not the sleeve
        assert np.linalg.norm(one.lie.middle - other.lie.middle) < 0.002
    exercise = read_exercise(draft.write(tmp_path / "made"))
    key, away = draft.key, np.array([0.0, 0.0, 0.035])
    in_front = key.moved(1, key.positions[1] + away)
    wrist = key.moved(2, key.positions[2] + [0.03, 0.022, 0])
    swapped = key.renamed(1, "left_wrist").renamed(2, "left_elbow")
    short = Skeleton(key.names[:2], key.parents[:2], key.positions[:2])
    marked = [mark(Layout("wren", exercise.id, 1, one), exercise) for one in (key, in_front, wrist, swapped, short)]
    found = [{(one.finding, one.joint) for one in result.findings} for result in marked]
    assert marked[0].mark == 100.0 and not found[0]
    assert marked[1].mark == 50.0 and ("bends-wrong-way", "elbow") in found[1]
    assert ("outside-flesh", "wrist") in found[2] and marked[2].mark <= 60.0
    assert {joint for _, joint in found[3]} == {"elbow", "wrist"}
    assert ("missing", "wrist") in found[4] or any(joint == "wrist" for _, joint in found[4])


def test_the_command_takes_the_skin_and_meshes_chosen(tmp_path, capsys):
    path = tmp_path / "orlo.glb"
    path.write_bytes(clothed(practice_limb("shoulder_arm", 7)))
    assert main(["exercise", str(path), "--meshes", "body", "--skin", "0", "--out", str(tmp_path / "made")]) == 0
    assert "Taken as one: body. Left out: sleeve." in capsys.readouterr().out
    assert main(["exercise", str(path), "--meshes", "hat", "--out", str(tmp_path / "none")]) == 2
    told = capsys.readouterr().err
    assert "0 body, 1 sleeve" in told and "Traceback" not in told and not (tmp_path / "none").exists()


@pytest.mark.parametrize(("turn", "asked"), [
    (np.eye(3), ""), (np.diag([-1.0, 1.0, -1.0]), "facing:"), (np.array([[1.0, 0, 0], [0, 0, -1], [0, 1, 0]]), "up:"),
    (np.diag([1.0, -1.0, -1.0]), "up:"),
], ids=["as it should be", "faces back", "lies on its back", "stands on its head"])  # fmt: skip
def test_axes_that_the_names_gainsay_are_asked_about(turn, asked, tmp_path):
    limb = practice_limb("leg", 5)
    mesh = Mesh(limb.mesh.vertices @ turn.T, limb.mesh.triangles)
    path = tmp_path / "orlo.glb"
    path.write_bytes(skinned_glb(mesh, limb.key.at(limb.key.positions @ turn.T)))
    questions = [one for one in read_draft(path).open_questions() if one.startswith(("facing:", "up:"))]
    assert [one.partition(" ")[0] for one in questions] == ([asked] if asked else [])
