"""The command line and the class: exit statuses, which files are hand-ins, gradebook, pages, roster, attempts."""

import csv
import io
import json
import subprocess
import sys
from pathlib import Path

import pytest

from rigkit.__main__ import main
from rigkit.classroom import write_whole
from rigkit.files.layout import Layout, write_layout
from rigkit.report import page_name
from tests.arms import FOLDER, PROJECT, arm, shifted


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
    assert "0 hand-ins" in capsys.readouterr().out


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
