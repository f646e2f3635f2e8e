"""A limb for each student: made from id and salt, handed out without key and salt, marked by the id alone."""

import json

import numpy as np
import pytest

from rigkit.__main__ import main
from rigkit.classroom import mark_class
from rigkit.files.exercise import read_exercise
from rigkit.files.layout import Layout, write_layout
from rigkit.limbs import KINDS, limb_seed
from rigkit.make_exercise import layouts_of
from rigkit.marking import mark
from rigkit.own_limbs import OwnLimbs, own_limb, read_class_exercise
from rigkit.require import RigError
from tests.arms import FOLDER

ROLES = ("shoulder", "elbow", "wrist")
CLASS = ("wren", "teasel", "Sea Holly")


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    out = tmp_path_factory.mktemp("class") / "own-arms"
    assert main(["limb", "arm", "--salt", "reed", "--roles", *ROLES, "--out", str(out)]) == 0
    return out


@pytest.fixture
def given(folder, tmp_path):
    """The students' folders, and the roster they were made from."""
    (tmp_path / "roster.csv").write_text("id\n" + "".join(f"{one}\n" for one in CLASS), "utf-8")
    assert (
        main(["hand-out", str(folder), "--roster", str(tmp_path / "roster.csv"), "--out", str(tmp_path / "out")]) == 0
    )
    return tmp_path


def key_of(student):
    return layouts_of(own_limb("arm", student, "reed"), ROLES)["key"]


def put(folder, name, student, joints=None, **more):
    folder.mkdir(exist_ok=True)
    layout = Layout(student, "own-left-arm", 1, key_of(student) if joints is None else joints)
    (folder / name).write_text(json.dumps(json.loads(write_layout(layout)) | more), "utf-8")


def test_each_folder_has_an_own_limb_and_neither_key_nor_salt(given):
    folders = sorted((given / "out").iterdir())
    assert [one.name.partition("-")[0] for one in folders] == ["sea", "teasel", "wren"]
    meshes = {read_exercise(one).mesh.vertices.tobytes() for one in folders}
    assert len(meshes) == len(CLASS)
    for one in folders:
        assert sorted(path.name for path in one.iterdir()) == [
            "exercise.toml", "mesh.glb", "start-forward.json", "start-resting.json", "start-scattered.json",
        ]  # fmt: skip
        assert all(b"reed" not in path.read_bytes() and b"from-id" not in path.read_bytes() for path in one.iterdir())


def test_marking_makes_the_same_limb_as_was_handed_out(folder, given):
    own, mine = read_class_exercise(folder), read_exercise(given / "out" / "wren")
    assert isinstance(own, OwnLimbs)
    made = own.of("  WREN ")
    np.testing.assert_array_equal(made.mesh.vertices, mine.mesh.vertices)
    np.testing.assert_array_equal(made.mesh.triangles, mine.mesh.triangles)
    assert [joint.role for joint in made.joints] == list(ROLES) and made.key is None
    for one, other in zip(made.joints, mine.joints, strict=True):
        assert (one.role, one.need, one.names) == (other.role, other.need, other.names)
        np.testing.assert_array_equal(one.middle, other.middle)
    assert (made.id, mine.id, mine.title) == ("own-left-arm", "own-left-arm", f"{made.title}, wren")


def test_everyone_is_marked_in_their_own_limb(folder, tmp_path):
    put(tmp_path / "in", "a.json", "wren")
    put(tmp_path / "in", "b.json", "teasel")
    put(tmp_path / "in", "c.json", "Sea Holly", joints=key_of("wren"))
    for jobs in ("1", "2"):
        assert main(["mark", str(tmp_path / "in"), "--exercise", str(folder), "--out", str(tmp_path / jobs),
                     "--jobs", jobs]) == 0  # fmt: skip
    found = {one["id"]: one for one in json.loads((tmp_path / "1" / "results.json").read_text("utf-8"))["handins"]}
    assert found["wren"]["mark"] == found["teasel"]["mark"] == 100.0
    assert found["Sea Holly"]["mark"] < 100.0, "a key made for another's limb does not fit"
    for name in ("results.json", "class.html", "students/wren.html", "gradebook.csv"):
        assert (tmp_path / "1" / name).read_bytes() == (tmp_path / "2" / name).read_bytes()
        assert b"reed" not in (tmp_path / "1" / name).read_bytes()


def test_a_seed_or_a_limb_in_the_hand_in_is_not_listened_to(folder, tmp_path):
    seed = limb_seed("wren", "reed")
    put(tmp_path / "in", "b.json", "teasel", joints=key_of("wren"), seed=seed,
        limb={"kind": "arm", "side": "left", "seed": seed, "id": "wren"}, salt="reed")  # fmt: skip
    (one,) = mark_class([tmp_path / "in"], folder).results
    assert one.mark < 100.0 and any("seed" in notice for notice in one.notices)
    put(tmp_path / "in", "b.json", "teasel", joints=key_of("wren"))
    (plain,) = mark_class([tmp_path / "in"], folder).results
    assert plain.findings == one.findings


def test_the_file_name_says_whose_limb_it_is(folder, tmp_path):
    put(tmp_path / "in", "wren_2.json", "somebody", joints=key_of("wren"))
    (one,) = mark_class([tmp_path / "in"], folder, pattern="{id}_{attempt}").results
    assert (one.id, one.attempt, one.mark) == ("wren", 2, 100.0)


def test_look_and_export_take_the_students_limb(folder, tmp_path, capsys):
    put(tmp_path / "in", "wren.json", "wren")
    handin = str(tmp_path / "in" / "wren.json")
    assert main(["look", handin, "--exercise", str(folder)]) == 0
    assert main(["export", handin, "--exercise", str(folder), "--out", str(tmp_path / "wren.glb")]) == 0
    assert "3 joints" in capsys.readouterr().out


@pytest.mark.parametrize("kind", KINDS)
def test_limbs_of_any_kind_differ_between_students_in_more_than_detail(kind):
    """More than a joint may lie off: 8 mm on an arm, 2 mm on a finger; and all of them are limbs that can be made."""
    keys = [own_limb(kind, f"student {number}", "reed").key.positions for number in range(12)]
    apart = [np.linalg.norm(one - other, axis=1).max() for i, one in enumerate(keys) for other in keys[:i]]
    assert np.median(apart) > (0.004 if kind == "finger" else 0.03)


def test_anothers_key_seldom_passes(folder):
    own = read_class_exercise(folder)
    marks = [mark(Layout(student, own.id, 1, key_of("wren")), own.of(student)).mark for student in map(str, range(20))]
    assert sorted(marks)[-3] < 90.0 and np.median(marks) < 70.0


def changed(folder, tmp_path, before, after):
    text = (folder / "exercise.toml").read_text("utf-8")
    assert before in text
    (tmp_path / "changed").mkdir()
    (tmp_path / "changed" / "exercise.toml").write_text(text.replace(before, after), "utf-8")
    return tmp_path / "changed"


@pytest.mark.parametrize(("before", "after", "said"), [
    ('kind = "arm"', 'kind = "wing"', "limb.kind: expected one of arm,"),
    ('side = "left", seed', 'side = "right", seed', "limb.side: expected the side of the exercise, left"),
    ('salt = "reed"', 'salt = " "', "limb.salt: expected a word of your own"),
    ('"wrist"]', '"knee"]', "limb.roles"), ('seed = "from-id"', "seed = 7", "limb.seed: expected from-id"),
    ("\nlimb =", f'\nmesh_sha256 = "{"0" * 64}"\nlimb =', "limb and mesh_sha256"),
    ('rubric = "standard"', 'rubric = "nowhere"', "nowhere.toml"),
])  # fmt: skip
def test_what_is_wrong_in_it_is_said_with_its_place(folder, tmp_path, before, after, said):
    with pytest.raises(RigError, match=said.replace(".", r"\.")):
        read_class_exercise(changed(folder, tmp_path, before, after))


def test_its_own_naming_rule_and_helps_reach_the_students(folder, tmp_path):
    mine = changed(folder, tmp_path, 'naming = "plain"', 'naming = "mine.toml"')
    (mine / "mine.toml").write_bytes((FOLDER.parent.parent / "naming" / "hanim.toml").read_bytes())
    text = (mine / "exercise.toml").read_text("utf-8").replace("\nlimb", "\nhelps = {snap = false}\nlimb")
    (mine / "exercise.toml").write_text(text, "utf-8")
    given = read_exercise(read_class_exercise(mine).write(tmp_path / "given", "wren"))
    assert given.naming.id == "hanim" and dict(given.helps) == {"snap": False, "gauges": True, "hints": True}


def test_handing_out_wrongly_is_told_in_words(folder, tmp_path, capsys):
    (tmp_path / "roster.csv").write_text("id\nwren\n", "utf-8")
    (tmp_path / "none.csv").write_text("id\n", "utf-8")
    roster, out = ["--roster", str(tmp_path / "roster.csv")], ["--out", str(tmp_path / "out")]
    for words, said in ((["hand-out", str(folder), *out], "hand-out EXERCISE --roster FILE"),
                        (["hand-out", str(FOLDER), *roster, *out], "Leave out --roster"),
                        (["hand-out", str(folder), "--roster", str(tmp_path / "none.csv"), *out], "at least one id"),
                        (["limb", "arm", "--salt", "reed", "--out", str(folder)], "holds exercise.toml")):  # fmt: skip
        assert main(words) == 2
        err = capsys.readouterr().err
        assert said in err and err.count("\n") == 1
    (tmp_path / "out" / "wren").mkdir(parents=True)
    (tmp_path / "out" / "wren" / "key.json").write_text("{}", "utf-8")
    assert main(["hand-out", str(folder), *roster, *out]) == 2
    assert "key.json" in capsys.readouterr().err
