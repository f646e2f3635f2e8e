"""The command line and the class: exit statuses, which files are hand-ins, gradebook, pages, roster, attempts."""

import csv
import html
import io
import json
import re
import shutil
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from rigkit.__main__ import main
from rigkit.classroom import read_roster, safe, write_class
from rigkit.files.exercise import read_exercise
from rigkit.files.gltf_write import write_glb
from rigkit.files.layout import Axes, Layout, write_layout
from rigkit.files.whole import write_whole
from rigkit.marking import Class, mark
from rigkit.mesh import Mesh
from rigkit.report import page_name
from tests.arms import FOLDER, PROJECT, arm, as_file, shifted


@pytest.fixture
def class_folder(tmp_path):
    folder = tmp_path / "class"
    folder.mkdir()
    return folder


def put(folder, name, layout=None, **changes):
    layout = layout or arm().key
    fields = {"id": name.split("/")[-1].split(".")[0], "exercise": "left-arm", "attempt": 1} | changes
    (folder / name).parent.mkdir(parents=True, exist_ok=True)
    (folder / name).write_text(write_layout(Layout(skeleton=layout.skeleton, **fields)), encoding="utf-8")


def marked(folder, out, *more) -> list[dict]:
    assert main(["mark", str(folder), *more, "--exercise", str(FOLDER), "--out", str(out)]) == 0
    return json.loads((out / "results.json").read_text("utf-8"))["handins"]


def gradebook(out) -> list[dict]:
    return list(csv.DictReader(io.StringIO((out / "gradebook.csv").read_text("utf-8"))))


def test_files_and_folders(class_folder, tmp_path):
    put(class_folder, "wren.json")
    put(class_folder, "late/heron.json", shifted("elbow", (0, 0, 33)))
    put(class_folder, ".hidden.json")
    put(class_folder, ".git/x.json")
    (class_folder / "notes.txt").write_text("no hand-in")
    (class_folder / "folder.json").mkdir()
    found = marked(class_folder, tmp_path / "out")
    assert [(one["id"], one["file"], one["mark"]) for one in found] == [
        ("heron", "late/heron.json", 50.0), ("wren", "wren.json", 100.0),
    ]  # fmt: skip
    found = marked(
        class_folder / "wren.json", tmp_path / "out", str(class_folder / "late"), str(class_folder / "wren.json")
    )
    assert [one["file"] for one in found] == ["heron.json", "wren.json"]


def test_links_are_not_followed_out(class_folder, tmp_path):
    put(tmp_path, "elsewhere/secret.json")
    put(class_folder, "wren.json")
    try:
        (class_folder / "link.json").symlink_to(tmp_path / "elsewhere" / "secret.json")
        (class_folder / "deep").symlink_to(tmp_path / "elsewhere", target_is_directory=True)
    except OSError:
        pytest.skip("this machine makes no symbolic links")
    assert [one["file"] for one in marked(class_folder, tmp_path / "out")] == ["wren.json"]


def test_results_in_the_class_folder_are_no_handins(class_folder):
    put(class_folder, "wren.json")
    first = marked(class_folder, class_folder / "out")
    assert marked(class_folder, class_folder / "out") == first
    assert marked(class_folder, class_folder) == first
    assert marked(class_folder, class_folder) == first


def test_two_files_of_one_id(class_folder, tmp_path):
    put(class_folder, "a.json", id="wren", attempt=2)
    put(class_folder, "b.json", shifted("elbow", (0, 0, 33)), id="wren", attempt=1)
    put(class_folder, "c.json", shifted("elbow", (0, 0, 33)), id="heron", attempt=1)
    put(class_folder, "d.json", id="heron", attempt=1)
    found = marked(class_folder, tmp_path / "out")
    assert [(one["id"], one["file"]) for one in found] == [
        ("heron", "c.json"), ("heron", "d.json"), ("wren", "a.json"), ("wren", "b.json"),
    ]  # fmt: skip
    assert [one["notices"] for one in found] == [
        ["Not counted: of this id d.json counts."], [], [], ["Not counted: of this id a.json counts."],
    ]  # fmt: skip
    assert [(row["id"], row["mark"]) for row in gradebook(tmp_path / "out")] == [("heron", "100.0"), ("wren", "100.0")]
    assert sorted(p.name for p in (tmp_path / "out" / "students").iterdir()) == ["heron.html", "wren.html"]
    assert "c.json" in (tmp_path / "out" / "class.html").read_text("utf-8")


def test_pages_of_those_who_left_go_and_others_stay(class_folder, tmp_path):
    put(class_folder, "wren.json")
    put(class_folder, "heron.json")
    out = tmp_path / "out"
    marked(class_folder, out)
    (out / "students" / "mine.html").write_text("<p>written by hand</p>")
    (class_folder / "heron.json").unlink()
    marked(class_folder, out)
    assert sorted(p.name for p in (out / "students").iterdir()) == ["mine.html", "wren.html"]


def test_roster(class_folder, tmp_path):
    put(class_folder, "wren.json")
    roster = tmp_path / "roster.csv"
    roster.write_text("name,id\nA,wren\nB,heron\nC,=1+1\n", encoding="utf-8-sig")
    marked(class_folder, tmp_path / "out", "--roster", str(roster))
    rows = gradebook(tmp_path / "out")
    assert [(row["id"], row["status"]) for row in rows] == [
        ("wren", "marked"), ("'=1+1", "not handed in"), ("heron", "not handed in"),
    ]  # fmt: skip
    results = json.loads((tmp_path / "out" / "results.json").read_text("utf-8"))
    assert results["not_handed_in"] == ["=1+1", "heron"]
    assert "Not handed in." in (tmp_path / "out" / "class.html").read_text("utf-8")


def test_a_class_for_another_exercise_is_not_marked_and_what_was_written_stays(class_folder, tmp_path, capsys):
    for name in ("wren", "heron", "sedge"):
        put(class_folder, f"{name}.json")
    out, leg = tmp_path / "out", str(FOLDER.parent / "left-leg")
    marked(class_folder, out)
    before = {path: path.read_bytes() for path in out.rglob("*") if path.is_file()}
    capsys.readouterr()
    assert main(["mark", str(class_folder), "--exercise", leg, "--out", str(out)]) == 2
    said = capsys.readouterr()
    assert "expected hand-ins for left-leg, got 3 of 3 for left-arm" in said.err and "--anyway" in said.err
    assert said.out == "" and {path: path.read_bytes() for path in out.rglob("*") if path.is_file()} == before
    assert main(["mark", str(class_folder), "--exercise", leg, "--out", str(out), "--anyway"]) == 0
    assert "0 marked, 3 could not be read" in capsys.readouterr().out
    put(class_folder, "plover.json", exercise="left-leg")  # one or two astray stop nobody, nor do fewer than half
    for extra in ("a", "b"):
        put(class_folder, f"{extra}.json", exercise="")
    assert main(["mark", str(class_folder), "--exercise", leg, "--out", str(out)]) == 0
    (class_folder / "a.json").unlink()
    assert main(["mark", str(class_folder), "--exercise", leg, "--out", str(out)]) == 2
    assert main(["mark", str(class_folder / "wren.json"), "--exercise", leg, "--out", str(out)]) == 0


def test_exercises_and_rubrics_go_by_name_where_no_such_file_is(class_folder, tmp_path, capsys, monkeypatch):
    put(class_folder, "wren.json")
    monkeypatch.chdir(tmp_path)
    arguments = ["mark", str(class_folder), "--out", "out", "--exercise"]
    assert main([*arguments, "left-arm", "--rubric", "strict"]) == 0
    assert main([*arguments, "left-armm"]) == 2
    assert "or one of both-arms, " in capsys.readouterr().err
    assert main([*arguments, "left-arm", "--rubric", "hard"]) == 2
    assert "expected one of first-week, standard, strict, or a file" in capsys.readouterr().err
    (tmp_path / "left-arm").mkdir()  # a folder of one's own comes first
    assert main([*arguments, "left-arm"]) == 2
    assert "expected an exercise folder" in capsys.readouterr().err


def test_the_screen_says_who_is_missing_and_who_is_not_expected(class_folder, tmp_path, capsys):
    put(class_folder, "bittern.json")
    put(class_folder, "wren.json")
    put(class_folder, "zebra.json")
    roster = tmp_path / "roster.csv"
    roster.write_text("id\nbitern\nwren\nosier\n", "utf-8")
    marked(class_folder, tmp_path / "out", "--roster", str(roster))
    said = capsys.readouterr().out
    assert "On the roster, not handed in: 2 (bitern, osier)." in said
    assert "Handed in, not on the roster: 2 (bittern (the roster has bitern), zebra)." in said
    assert "Not on the roster: 2, bittern (the roster has bitern), zebra." in page(tmp_path / "out", "class")
    marked(class_folder, tmp_path / "out", "--roster", str(roster), "--aliases")
    assert "Not on the roster: 2." in page(tmp_path / "out", "class")
    roster.write_text("id\nbittern\nwren\nzebra\n", "utf-8")
    capsys.readouterr()
    marked(class_folder, tmp_path / "out", "--roster", str(roster))
    assert "not handed in: none.\nHanded in, not on the roster: none." in capsys.readouterr().out


def test_a_pattern_that_gives_odd_ids_says_so(class_folder, tmp_path, capsys):
    put(class_folder, "wren_1.json", id="")
    put(class_folder, "Arm (1).json", id="")
    marked(class_folder, tmp_path / "out", "--id-pattern", "{id}_{attempt}")
    said = capsys.readouterr().out
    assert "Ids by {id}_{attempt}, so wren_1.json is of wren. Names that do not fit: 1 (Arm (1).json)." in said
    assert "Odd ids, by the files' names or in them: 1 (Arm (1) (Arm (1).json))." in said


@pytest.mark.parametrize("sign", [",", ";", "\t"])
@pytest.mark.parametrize("coding", ["utf-8", "utf-8-sig", "utf-16"])
def test_a_roster_of_any_spreadsheet_is_read(tmp_path, sign, coding):
    """Of Europe's spreadsheets most write semicolons; "Unicode text" is UTF-16 with tabs."""
    text = f'name{sign}id\r\n"Finch{sign} A"{sign}r\u00f8rdrum\r\n{sign}\r\nB{sign} wren \r\n'
    (tmp_path / "roster.csv").write_bytes(text.encode(coding))
    assert read_roster(tmp_path / "roster.csv") == ("r\u00f8rdrum", "wren")


def test_another_rubric(class_folder, tmp_path):
    put(class_folder, "wren.json", shifted("elbow", (5, 4, 0)))
    text = (FOLDER.parent.parent / "rubrics" / "standard.toml").read_text()
    strict = tmp_path / "strict.toml"
    strict.write_text(text.replace("allowed = 0.20", "allowed = 0.02").replace('id = "standard"', 'id = "strict"'))
    assert marked(class_folder, tmp_path / "out")[0]["findings"] == []
    found = marked(class_folder, tmp_path / "out", "--rubric", str(strict))
    assert [one["finding"] for one in found[0]["findings"]] == ["off-centre"]
    assert json.loads((tmp_path / "out" / "results.json").read_text("utf-8"))["rubric"]["name"] == "strict"


def test_a_gltf_is_a_handin(class_folder, tmp_path):
    """The exercise's own joints as the nodes of a glTF file, which keeps places relative to the parent."""
    key = arm().key.skeleton
    nodes = []
    for i, name in enumerate(key.names):
        above = key.positions[key.parents[i]] if key.parents[i] is not None else 0.0
        nodes.append(
            {"name": name, "translation": (key.positions[i] - above).tolist(), "children": list(key.children(i))}
        )
    for node in nodes:
        if not node["children"]:
            del node["children"]
    document = {"asset": {"version": "2.0"}, "scenes": [{"nodes": [0]}], "scene": 0, "nodes": nodes}
    (class_folder / "Wren.gltf").write_text(json.dumps(document))
    found = marked(class_folder, tmp_path / "out")
    assert [(one["id"], one["mark"], one["findings"]) for one in found] == [("Wren", 100.0, [])]


def test_page_names_are_safe_and_differ():
    ids = ["wren", "Wren", "WREN", "a/b", "../x", "con", "", "é", "<b>", "a" * 64, "a" * 63, "=1", "x.y", "-rf", "."]
    names = [page_name(one) for one in ids]
    assert len({name.lower() for name in names}) == len(ids)
    for name in names:
        assert set(name) <= set("abcdefghijklmnopqrstuvwxyz0123456789-_.")
        assert name.endswith(".html") and name.count(".") == 1 and len(name) < 60
    assert page_name("wren") == "wren.html"
    assert page_name("con") != "con.html"


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["mark", "{class}", "--exercise", "{class}", "--out", "{out}"], "expected an exercise folder"),
        (["mark", "{class}", "--exercise", "{class}/nowhere", "--out", "{out}"], "expected an exercise folder"),
        (["mark", "{class}/nobody.json", "--exercise", "{arm}", "--out", "{out}"], "got nothing there"),
        (["mark", "{class}", "--exercise", "{arm}", "--out", "{out}", "--rubric", "{class}/none.toml"], "none.toml"),
        (["mark", "{class}", "--exercise", "{arm}", "--out", "{out}", "--roster", "{class}/none.csv"], "none.csv"),
        (["look", "{class}/nobody.json"], "nobody.json: expected a file"),
    ],
)
def test_unusable_is_one_line_and_status_two(class_folder, tmp_path, capsys, arguments, said):
    words = {"class": str(class_folder), "arm": str(FOLDER), "out": str(tmp_path / "out")}
    assert main([one.format(**words) for one in arguments]) == 2
    err = capsys.readouterr().err
    assert said in err
    assert err.startswith("rigkit: ") and err.count("\n") == 1
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(
    "arguments", [[], ["mark"], ["nonsense"], ["mark", "x", "--exercise", "y", "--out", "z", "--jobs", "0"]]
)
def test_wrong_usage_is_status_two(arguments, capsys):
    try:
        status = main(arguments)
    except SystemExit as left:
        status = left.code
    assert status == 2
    assert "Traceback" not in capsys.readouterr().err


@pytest.mark.parametrize("blocked", ["out", "out/students", "out/class.html", "out/results.json"])
def test_results_that_cannot_be_written_are_status_one(class_folder, tmp_path, capsys, blocked):
    put(class_folder, "wren.json")
    path = tmp_path / blocked
    path.parent.mkdir(parents=True, exist_ok=True)
    if blocked.endswith(("html", "json")):
        (path / "in the way").mkdir(parents=True)
    else:
        path.write_text("in the way")
    arguments = ["mark", str(class_folder), "--exercise", str(FOLDER), "--out", str(tmp_path / "out")]
    assert main(arguments) == 1
    err = capsys.readouterr().err
    assert err.startswith("rigkit: ") and err.count("\n") == 1 and "could not be written" in err
    assert not list(tmp_path.rglob("*.part"))


def test_an_empty_class(class_folder, tmp_path, capsys):
    assert marked(class_folder, tmp_path / "out") == []
    assert "There was nothing to mark: a hand-in is a file ending in .json, .glb or .gltf." in capsys.readouterr().out
    assert "There was nothing to mark" in page(tmp_path / "out", "class")
    assert "passed_over" not in (tmp_path / "out" / "results.json").read_text("utf-8")


def page(out, name) -> str:
    """A page's text without its tags, on one line."""
    text = (out / f"{name}.html").read_text("utf-8").partition("<body>")[2]
    return " ".join(html.unescape(re.sub(r"<[^>]+>", "", text)).split())


def test_what_is_passed_over_is_listed(class_folder, tmp_path, capsys):
    put(class_folder, "wren.json")
    put(tmp_path, "elsewhere.json")
    for name in ("late/heron.ABC", "sorrel.zip", "notes", ".hidden.txt"):
        (class_folder / name).parent.mkdir(exist_ok=True)
        (class_folder / name).write_text("x")
    (class_folder / "link.json").symlink_to(tmp_path / "elsewhere.json")
    (class_folder / "deep").symlink_to(tmp_path, target_is_directory=True)
    (class_folder / "again").symlink_to(class_folder / "late", target_is_directory=True)
    assert [one["file"] for one in marked(class_folder, tmp_path / "out")] == ["wren.json"]
    away = "a link is not followed; hand in the file itself"
    export = "export as .glb, or hand in the workbook's .json"
    passed = {
        "again": away,
        "deep": away,
        "late/heron.ABC": f"files ending in .abc are not read; {export}",
        "link.json": away,
        "notes": f"a file without an ending is not read; {export}",
        "sorrel.zip": "expected a zip, got a file that cannot be read as one. Probably it was not copied to its end. "
        "Unpack it and mark again",
    }
    told = json.loads((tmp_path / "out" / "results.json").read_text("utf-8"))["passed_over"]
    assert {one["file"]: one["reason"] for one in told} == passed
    said, shown = capsys.readouterr().out, page(tmp_path / "out", "class")
    assert "6 files passed over:" in said
    for file, reason in passed.items():
        assert f"  {file}: {reason}.\n" in said and f"{file}: {reason}." in shown
    assert len(gradebook(tmp_path / "out")) == 1
    put(class_folder, "late/plover.json")
    marked(class_folder, class_folder)
    first = (class_folder / "results.json").read_bytes()
    marked(class_folder, class_folder)
    assert (class_folder / "results.json").read_bytes() == first, "results of an earlier run are not listed"
    assert main(["mark", *map(str, [class_folder / "wren.json", class_folder / "notes"]), "--exercise", str(FOLDER),
                 "--out", str(tmp_path / "two")]) == 0  # fmt: skip
    assert "1 file passed over:\n  notes: " in capsys.readouterr().out


def test_taken_off_and_mark_make_a_hundred_on_the_page(class_folder, tmp_path):
    put(class_folder, "wren.json", shifted("elbow", (0, 0, 33)))
    put(class_folder, "heron.json", shifted("wrist", (30, -10, 0)))
    for one in marked(class_folder, tmp_path / "out"):
        told = page(tmp_path / "out" / "students", one["id"])
        table = told.partition("How the mark is made")[2].partition("Mark: 100 less")[0]
        off = [float(number) for number in re.findall("\N{HEAVY MULTIPLICATION X}" + r"\s*([\d.]+)", table)]
        assert off and 100 - sum(off) == pytest.approx(one["mark"], abs=0.06)  # the mark has one decimal
    told = page(tmp_path / "out" / "students", "wren")
    assert "25.0 by a limit: the mark can be 50 at most with “bends the wrong way”." in told
    assert (
        "It cost 50.0 of 100: 25.0 under bend, 25.0 by the limit of 50; with this alone mended the mark would be 100.0"
        in told
    )
    assert "cannot pass" not in told, "who passes is not for a rubric to say"
    assert "100 %" not in told and "right 1" not in told


def test_a_flood_of_findings_is_counted(tmp_path):
    one = mark(shifted("shoulder", (0, 20, 0)), arm(), file="wren.json")
    assert [found.finding for found in one.findings] == ["off-centre"]
    many = replace(one, findings=tuple(replace(one.findings[0], joint=f"x{i}", cost=0.25) for i in range(45)))
    write_class(Class("left-arm", "Orlo's left arm", arm().rubric, (many,), (many,)), tmp_path)
    told = page(tmp_path / "students", "wren")
    assert told.count("It cost") == 20
    assert "And 25 more of the same kind. Together they cost 6.25 of 100." in told
    assert "(x0, x1, x2, x3 and 41 more)" in page(tmp_path, "class")
    assert gradebook(tmp_path)[0]["findings"].endswith("off-centre x19; and 25 more")
    assert len(json.loads((tmp_path / "results.json").read_text("utf-8"))["handins"][0]["findings"]) == 45
    other = replace(one.findings[0], finding="side-missing")
    write_class(Class("left-arm", "x", arm().rubric, (), (replace(many, findings=(*many.findings, other)),)), tmp_path)
    assert "And 26 more: off centre, no side. Together" in page(tmp_path / "students", "wren")


@pytest.mark.parametrize("sign", "=+-@\uff1d\uff0b\uff0d\uff20")
def test_no_cell_begins_like_a_formula(class_folder, tmp_path, sign):
    put(class_folder, "a.json", id=f"{sign}A1")
    marked(class_folder, tmp_path / "out")
    assert gradebook(tmp_path / "out")[0]["id"] == f"'{sign}A1"
    assert all(safe(f"{start}{sign}A1").startswith("'") for start in ("", " ", "\t", "\u3000", "\u00a0"))
    assert safe(f"A{sign}1") == f"A{sign}1"


def test_look(tmp_path, capsys):
    put(tmp_path, "wren.json")
    assert main(["look", str(tmp_path / "wren.json")]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0].startswith("wren: 3 joints")
    assert "375.1" in lines[2] and "left_elbow" in lines[2] and "below left_shoulder" in lines[2]
    assert main(["look", str(tmp_path / "wren.json"), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["joints"][1] == {"name": "left_elbow", "parent": 0, "position": [0.3751, 1.12869, -0.01801]}
    assert told["notices"] == []
    assert told["read_as"] == {"units": "m", "up": "+y", "facing": "+z"}
    assert list(told["unjudged"]) == ["frames"]


def unsaid(folder, name, skeleton, axes):
    """A layout in other units and axes, which does not say so."""
    put(folder, name, Layout("", "", 1, as_file(skeleton, axes)))
    table = json.loads((folder / name).read_text("utf-8"))
    for key in ("units", "up", "facing"):
        del table[key]
    (folder / name).write_text(json.dumps(table), "utf-8")


def test_look_shows_what_was_understood(tmp_path, capsys):
    key, axes = arm().key.skeleton, Axes("cm", "+z", "-y")
    unsaid(tmp_path, "wren.json", key, axes)
    mesh = Mesh(100 * arm().mesh.vertices @ axes.turn, arm().mesh.triangles)
    (tmp_path / "wren.glb").write_bytes(write_glb(mesh, as_file(key, axes)))
    for name in ("wren.json", "wren.glb"):
        assert main(["look", str(tmp_path / name), "--exercise", str(FOLDER)]) == 0
        out = capsys.readouterr().out
        assert re.search(r"left_elbow +375\.1 +1,128\.7 +-18\.0 +below left_shoulder", out)
        assert "Read in centimetres with +z up, facing -y." in out
        assert "Noticed: The numbers fit the mesh only in centimetres with +z up, facing -y; they were taken so" in out
        assert "Not judged: No joint in the file has a rotation" in out
    assert main(["look", str(tmp_path / "wren.json")]) == 0
    out = capsys.readouterr().out
    assert "Read in metres with +y up, facing +z." in out
    assert "Are the numbers in centimetres (--units cm) or in inches (--units in)?" in out
    assert main(["look", str(tmp_path / "wren.json"), "--units", "cm", "--up", "+z", "--facing", "-y", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["read_as"] == {"units": "cm", "up": "+z", "facing": "-y"}
    assert told["joints"][1]["position"] == pytest.approx([0.3751, 1.12869, -0.01801], abs=1e-12)
    assert main(["look", str(tmp_path / "wren.json"), "--up", "+z", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["read_as"] == {"units": "m", "up": "+z", "facing": "-y"}
    assert main(["look", str(tmp_path / "wren.json"), "--up", "+z", "--facing", "-z"]) == 2
    assert "expected facing square to up" in capsys.readouterr().err
    assert main(["look", str(tmp_path / "wren.json"), "--units", "ft"]) == 2
    assert "--units: expected one of" in capsys.readouterr().err


def test_what_is_asked_can_be_answered(class_folder, tmp_path):
    """A straight arm that faces back could be one of the other side; a well bent one could not."""
    key = arm().key.skeleton
    straight = key.moved(1, key.positions[[0, 2]].mean(axis=0))
    unsaid(class_folder, "teasel.json", straight, Axes("m", "+y", "-z"))
    unsaid(class_folder, "wren.json", key, Axes("in", "+z", "+y"))
    put(class_folder, "sorrel.json", Layout("", "", 1, straight))
    sorrel, teasel, wren = marked(class_folder, tmp_path / "out")
    assert (teasel["mark"], wren["mark"]) == (0.0, 100.0) and sorrel["mark"] > 50
    assert "Say which is right" in teasel["notices"][0] and "only in inches with +z up" in wren["notices"][0]
    first = (tmp_path / "out" / "results.json").read_bytes()
    marked(class_folder, tmp_path / "out", "--jobs", "2")
    assert (tmp_path / "out" / "results.json").read_bytes() == first
    told = [marked(class_folder, tmp_path / "out", "--facing", "-z", *more) for more in ((), ("--jobs", "2"))]
    assert told[0] == told[1]
    assert told[0][0] == sorrel, "who says so is believed"
    assert told[0][1]["mark"] == sorrel["mark"]
    assert told[0][2]["mark"] == 100.0, "an answer that cannot be is not believed"
    assert "though they were said to be facing -z" in told[0][2]["notices"][1]


def test_look_doubts_the_units_of_places_far_away(tmp_path, capsys):
    put(tmp_path, "wren.json", shifted("wrist", (98_000_000, 0, 0)))
    put(tmp_path, "near.json", shifted("wrist", (9_000, 0, 0)))
    assert main(["look", str(tmp_path / "wren.json")]) == 0
    told = capsys.readouterr().out
    assert " 98,000,5" in told
    assert "Noticed: The joint left_wrist lies 98,001 m from the origin. A figure is a few metres tall" in told
    assert main(["look", str(tmp_path / "wren.json"), "--json"]) == 0
    assert "98,001 m" in json.loads(capsys.readouterr().out)["notices"][0]
    assert main(["look", str(tmp_path / "near.json")]) == 0
    assert "Noticed" not in capsys.readouterr().out


def test_hand_out_writes_all_that_students_need_and_no_key(tmp_path, capsys):
    source = tmp_path / "mine"
    shutil.copytree(FOLDER, source)
    (source / "own.toml").write_bytes((PROJECT / "data" / "naming" / "plain.toml").read_bytes())
    text = (source / "exercise.toml").read_text("utf-8").replace('naming = "plain"', 'naming = "own.toml"')
    (source / "exercise.toml").write_text(text, "utf-8")
    (source / "notes.txt").write_text("the answers", "utf-8")
    assert main(["hand-out", str(source), "--out", str(tmp_path / "given")]) == 0
    given = sorted(path.name for path in (tmp_path / "given").iterdir())
    assert given == ["exercise.toml", "mesh.glb", "own.toml", "start-forward.json", "start-resting.json",
                     "start-scattered.json"]  # fmt: skip
    assert read_exercise(tmp_path / "given").key is None
    assert "no key" in capsys.readouterr().out
    assert main(["hand-out", str(source), "--out", str(source)]) == 2
    assert "key.json" in capsys.readouterr().err and (source / "key.json").is_file()
    assert main(["hand-out", str(tmp_path), "--out", str(tmp_path / "other")]) == 2
    (tmp_path / "file").write_text("", "utf-8")
    assert main(["hand-out", str(source), "--out", str(tmp_path / "file")]) == 2


def test_limb_writes_an_exercise_whose_key_passes(tmp_path, capsys):
    assert main(["limb", "finger", "--seed", "7", "--side", "right", "--out", str(tmp_path / "mine")]) == 0
    assert capsys.readouterr().out.startswith("finger, right: 4 joints, ")
    assert main(["mark", str(tmp_path / "mine" / "key.json"), "--exercise", str(tmp_path / "mine"),
                 "--out", str(tmp_path / "out")]) == 0  # fmt: skip
    assert json.loads((tmp_path / "out" / "results.json").read_text("utf-8"))["handins"][0]["mark"] == 100.0


def test_limb_gives_each_student_their_own(tmp_path, capsys):
    meshes = []
    for student in ("wren", "teasel", "Wren"):
        out = tmp_path / student.lower()
        assert main(["limb", "finger", "--id", student, "--salt", "reed", "--out", str(out)]) == 0
        meshes.append((out / "mesh.glb").read_bytes())
        assert "reed" not in (out / "exercise.toml").read_text("utf-8")
    assert meshes[0] == meshes[2] != meshes[1]
    assert main(["limb", "finger", "--id", "teasel", "--salt", "reed", "--out", str(tmp_path / "wren")]) == 2
    assert "Choose another folder" in capsys.readouterr().err
    assert (tmp_path / "wren" / "mesh.glb").read_bytes() == meshes[0]


def test_limb_names_its_kinds(capsys):
    assert main(["limb", "--list"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0].split(maxsplit=1) == ["arm", "an arm with its shoulder and a five-finger hand"]
    assert len(lines) >= 4


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ([], "KIND is missing"),
        (["arm", "--seed", "1"], "--out DIR is missing"),
        (["arm", "--out", "OUT"], "either --seed N"),
        (["arm", "--out", "OUT", "--id", "wren"], "together with --salt"),
        (["arm", "--out", "OUT", "--salt", "s", "--seed", "1"], "either --seed N"),
        (["arm", "--out", "OUT", "--seed", "1", "--roles", "elbow"], "--roles goes with --salt"),
        (["arm", "--out", "OUT", "--salt", "s", "--roles", "knee"], "a role of the limb"),
        (["arm", "--out", "OUT", "--salt", " "], "expected a word of your own"),
        (["arm", "--out", "OUT", "--id", "wren", "--salt", "s", "--seed", "1"], "either --seed N"),
        (["nose", "--out", "OUT", "--seed", "1"], "one of arm, "),
        (["legg", "--seed", "1"], "one of arm, "),
        (["arm", "--out", "FILE", "--seed", "1"], "Choose another folder"),
    ],
)
def test_limb_asked_wrongly_is_told_in_words(tmp_path, capsys, words, said):
    (tmp_path / "file").write_text("in the way")
    places = {"OUT": str(tmp_path / "out"), "FILE": str(tmp_path / "file")}
    assert main(["limb", *(places.get(word, word) for word in words)]) == 2
    assert said in capsys.readouterr().err
    for seed in ("-1", "1.5", "x", str(2**63), "\u0661\u0662"):
        with pytest.raises(SystemExit) as stopped:
            main(["limb", "arm", "--seed", seed, "--out", places["OUT"]])
        assert stopped.value.code == 2


def test_help_loads_nothing_heavy():
    code = (
        "import sys\nfrom rigkit.__main__ import main\n"
        "try:\n    main(['--help'])\nexcept SystemExit:\n    pass\n"
        "print(sorted({'numpy', 'scipy', 'jinja2', 'matplotlib'} & set(sys.modules)), file=sys.stderr)"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd=PROJECT)
    assert run.stderr.strip() == "[]"


def test_as_a_module(tmp_path):
    put(tmp_path, "wren.json")
    run = subprocess.run(
        [sys.executable, "-m", "rigkit", "look", str(tmp_path / "wren.json")], capture_output=True, text=True
    )
    assert (run.returncode, run.stderr) == (0, "")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="a device that is always full is Linux's")
def test_a_full_place_for_what_is_told_is_one_line(tmp_path):
    """Known wrong answer: a traceback, though all results were there."""
    put(tmp_path, "wren.json")
    words = ["mark", str(tmp_path), "--exercise", str(FOLDER), "--out", str(tmp_path / "out")]
    with open("/dev/full", "w") as full:  # noqa: PTH123
        run = subprocess.run([sys.executable, "-m", "rigkit", *words], stdout=full, stderr=subprocess.PIPE, text=True)
    assert run.returncode == 1 and (tmp_path / "out" / "results.json").is_file()
    assert run.stderr.splitlines()[-1] == (
        "rigkit: what is to be told here could not be written: no space left on device."
    )


def test_results_are_whole_or_not_at_all(tmp_path, monkeypatch):
    path = tmp_path / "results.json"
    write_whole(path, "old")

    def full(self, data):
        with open(self, "wb") as file:  # noqa: PTH123
            file.write(data[:2])
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "write_bytes", full)
    with pytest.raises(OSError, match="No space left"):
        write_whole(path, "new and longer")
    assert path.read_text() == "old"
    assert [one.name for one in tmp_path.iterdir()] == ["results.json"]
