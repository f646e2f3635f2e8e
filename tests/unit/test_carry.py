"""A limb carried out as GLB and brought back: what was changed meanwhile is told, and nothing else."""

import json

import pytest

from rigkit.__main__ import main
from rigkit.bench import Bench
from rigkit.carry import brought_back, carry_out
from rigkit.files.gltf import read_gltf
from rigkit.files.gltf_write import skinned_glb
from rigkit.files.layout import write_layout
from rigkit.frames import rotation_about
from rigkit.lesson import bring_back, export
from rigkit.mesh import Mesh
from rigkit.require import RigError
from tests.arms import FOLDER, arm, shifted

PRAISE = "Nothing differs: every joint came back as it went out."


def test_a_limb_comes_back_as_it_went_out(tmp_path):
    path = carry_out(arm().key, arm(), tmp_path / "orlo.glb")
    assert brought_back(arm().key, path, arm()) == (PRAISE,)
    scene = read_gltf(path.read_bytes(), "orlo.glb")
    assert len(scene.mesh.triangles) == len(arm().mesh.triangles) and scene.weights.shape[1] == 3


def test_a_layout_goes_out_as_json_too_and_another_ending_is_refused(tmp_path):
    path = carry_out(arm().key, arm(), tmp_path / "orlo.json")
    assert brought_back(arm().key, path, arm()) == (PRAISE,)
    with pytest.raises(RigError, match=r"\.glb or \.json"):
        carry_out(arm().key, arm(), tmp_path / "orlo.txt")


def test_what_was_changed_on_the_way_is_told(tmp_path):
    path = carry_out(shifted("elbow", (0, 0, -5)), arm(), tmp_path / "orlo.glb")
    assert brought_back(arm().key, path, arm()) == ("left_elbow moved by 5 mm.",)


@pytest.mark.parametrize(("scale", "turn", "words"), [
    (100.0, None, "centimetres"), (1.0, ([1, 0, 0], 90), "z up"), (1 / 0.0254, ([0, 1, 0], 180), "inches"),
])  # fmt: skip
def test_a_program_with_other_units_and_axes_is_recognised(scale, turn, words, tmp_path):
    rotation = rotation_about(turn[0], turn[1] * 3.141592653589793 / 180) if turn else None
    mesh, skeleton = arm().mesh, arm().key.skeleton

    def there(points):
        return scale * (points if rotation is None else points @ rotation.T)

    (tmp_path / "back.glb").write_bytes(
        skinned_glb(Mesh(there(mesh.vertices), mesh.triangles), skeleton.at(there(skeleton.positions)))
    )
    first, *notices = brought_back(arm().key, tmp_path / "back.glb", arm())
    assert first == PRAISE and any(words in notice for notice in notices)


def test_the_commands(tmp_path, capsys):
    (tmp_path / "wren.json").write_text(write_layout(shifted("wrist", (3, 0, 0))), encoding="utf-8")
    glb, back = str(tmp_path / "wren.glb"), str(tmp_path / "back.json")
    assert main(["export", str(tmp_path / "wren.json"), "--exercise", str(FOLDER), "--out", glb]) == 0
    assert "3 joints, the mesh and skin weights were written to wren.glb." in capsys.readouterr().out
    assert main(["look", glb, "--beside", str(tmp_path / "wren.json")]) == 0
    assert capsys.readouterr().out.startswith("Nothing differs from wren.\n")
    (tmp_path / "back.json").write_text(write_layout(arm().key), encoding="utf-8")
    assert main(["look", back, "--beside", glb]) == 0
    assert "left_wrist moved by 3 mm." in capsys.readouterr().out
    assert main(["look", glb, "--json"]) == 0
    assert len(json.loads(capsys.readouterr().out)["joints"]) == 3
    assert main(["export", str(tmp_path / "wren.json"), "--exercise", str(FOLDER), "--out", "x.txt"]) == 2
    assert main(["export", str(tmp_path / "none.json"), "--exercise", str(FOLDER), "--out", glb]) == 2


def test_words_set_by_hand_on_the_command_line(tmp_path, capsys):
    (tmp_path / "class").mkdir()
    (tmp_path / "class" / "wren.json").write_text(write_layout(shifted("elbow", (0, 0, 33))), encoding="utf-8")
    (tmp_path / "words.csv").write_text(
        "id,criterion,value,note\nwren,mark,77,seen\nnobody,mark,1,\n", encoding="utf-8"
    )
    told = ["mark", str(tmp_path / "class"), "--exercise", str(FOLDER), "--out", str(tmp_path / "out")]
    assert main([*told, "--words", str(tmp_path / "words.csv")]) == 0
    shown = capsys.readouterr().out
    assert "Words for ids without a hand-in: nobody." in shown
    (entry,) = json.loads((tmp_path / "out" / "results.json").read_text("utf-8"))["handins"]
    page = next((tmp_path / "out" / "students").glob("*.html")).read_text("utf-8")
    assert (entry["id"], entry["mark"]) == ("wren", 77.0) and "word: the mark is 77.0 instead of 50.0 (seen)." in page


def test_a_bench_goes_out_and_comes_back(tmp_path, monkeypatch):
    monkeypatch.setenv("RIGKIT_HANDINS", str(tmp_path / "hand-ins"))
    bench = Bench(arm(), arm().key)
    assert "hand-ins/left-arm.glb holds the mesh" in str(export(bench))
    assert export(bench).next_step.startswith("Go on with the cell below.")  # nobody need search for a program
    assert PRAISE in str(bring_back(bench))
    bench.move("elbow", forward=-3)
    assert "left_elbow moved by 3 mm." in str(bring_back(bench))
    assert "none.glb" in str(bring_back(bench, "none.glb"))
    assert "the bench of this lesson" in str(export(None)) and "ends in .glb" in str(export(bench, "arm.txt"))
