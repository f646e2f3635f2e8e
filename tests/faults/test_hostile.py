"""Hostile and broken hand-ins: each is listed or marked in a sentence, the others are marked, no traceback is seen."""

import csv
import io
import json
import subprocess
import sys

import pytest

from tests.arms import FOLDER, PROJECT


def text(**changes) -> str:
    key = json.loads((FOLDER / "key.json").read_text("utf-8"))
    del key["id"]
    return json.dumps(key | changes)


def joints(**changes) -> str:
    key = json.loads((FOLDER / "key.json").read_text("utf-8"))
    key["joints"][1] |= changes
    del key["id"]
    return json.dumps(key)


MARKUP = "<script>alert(1)</script>"
FORMULA = "=HYPERLINK(1)"
UNREADABLE = {
    "empty.json": (b"", "empty file"),
    "prose.json": (b"here are my joints", "expected JSON"),
    "picture.json": (b"\x89PNG\r\n\x1a\n\x00\xff", "UTF-8"),
    "version.json": (text(version=7), "expected version 1, got version 7"),
    "nan.json": (text().replace("1.12869", "NaN"), "got NaN"),
    "flood.json": (text(joints=[{"name": "a", "position": [0, 0, 0]}] * 10_000), "at most 512 joints, got 10000"),
    "circle.json": (joints(parent=2), "circle"),
    "far.json": (joints(position=[1e308, 0, 0]), "coordinates within 100,000 m"),
    "overflow.json": (text().replace("1.12869", "1e999"), "expected a finite number, got inf"),
    "deep.json": (b"[" * 900_000, "lists within lists"),
    "deepobject.json": (b'{"a":' * 190_000, "lists within lists"),
    "huge.json": (b" " * 1_100_000, "at most 1 MB"),
    "other.json": (text(exercise="right-leg"), "one for right-leg"),
    "broken.glb": (b"glTF" + b"\xff" * 60, "broken.glb"),
    "broken.gltf": (b"{}", "broken.gltf"),
    "bare.gltf": (b'{"asset": {"version": "2.0"}}', "bare.gltf"),
    "null.json": (b"null", "expected a layout"),
    "nulls.json": (b"\x00" * 100, "nulls.json"),
    "newer.json": (text(version=2), "Probably written by a newer rigkit"),
    "misspelt.json": (
        text().replace('"position"', '"postion"'),
        "joint 0 (left_shoulder): expected the key position, got the key 'postion'",
    ),
    "quoted.json": (
        joints(position=["0.3", 1.1, 0.0]),
        "joint 1 (left_elbow), position, item 1: expected a number, got '0.3'. Probably the number stands in quotes",
    ),
    "byname.json": (joints(parent="left_shoulder"), "joint 1 (left_elbow), parent: expected the parent's number"),
    "places.json": (joints(position=[0.5] * 150_000), "joint 1 (left_elbow), position: expected 3 numbers in a list"),
    "nested.json": (text(units="?").replace('"?"', "[" * 950 + "]" * 950), "nested.json"),
    "longkeys.json": (
        text(joints=[{"p" * 200_000: 1, "osition" * 60_000: 2}]),
        "joint 0: expected the key name, got no such key",
    ),
    "manykeys.json": (
        text(joints=[{f"nam{i}": i for i in range(50_000)}]),
        "joint 0: expected the key name, got the key 'nam0'",
    ),
    "fetched.json": (
        text(**{"$schema": "http://127.0.0.1:9/s", "$ref": "file:///etc/passwd"}, units="feet"),
        "units: expected one of m, cm, mm, in, got 'feet'",
    ),
}
MARKED = {
    "markup.json": joints(name=MARKUP),
    "formula.json": joints(name=FORMULA),
    "formulaid.json": text(id=FORMULA),
    "fullwidth.json": text(id="\uff1d1+1"),
    "markupid.json": text(id=MARKUP),
    "nameless.json": joints(name=""),
    "surrogate.json": joints(name="\ud800left_elbow"),
    "rightleft.json": joints(name="left\u202e_elbow"),
    "scores.json": text(mark=100, criteria={"bend": {"score": 1}}),
    "roled.json": joints(name="wrist"),
    "crowd.json": text(joints=json.loads(text())["joints"] + [
        {"name": f"j{i}", "parent": 2 + i, "position": [0.5, 0.9, 0.0]} for i in range(509)]),
    "far_but_allowed.json": joints(position=[99_999.0, 0, 0]),
    "extras.json": text(**{f"key{i}": "x" for i in range(50_000)}),
    "slips.json": json.dumps(json.loads(text()) | {"joints": [one | {f"rotaton{i}": 0 for i in range(500)} for one in json.loads(text())["joints"]]}),
    "reference.json": text(**{"$ref": "file:///etc/passwd", "$schema": "http://127.0.0.1:9/s"}),
    "good.json": text(),
}  # fmt: skip


@pytest.fixture(scope="module")
def run(tmp_path_factory):
    base = tmp_path_factory.mktemp("hostile")
    folder = base / "class"
    folder.mkdir()
    for name, (data, _) in UNREADABLE.items():
        (folder / name).write_bytes(data if isinstance(data, bytes) else data.encode("utf-8"))
    for name, data in MARKED.items():
        (folder / name).write_bytes(data.encode("utf-8", "surrogatepass"))
    command = [
        sys.executable,
        "-m",
        "rigkit",
        "mark",
        str(folder),
        "--exercise",
        str(FOLDER),
        "--out",
        str(base / "out"),
    ]
    return subprocess.run(command, capture_output=True, text=True, cwd=PROJECT), base / "out"


@pytest.fixture(scope="module")
def handins(run):
    return {one["file"]: one for one in json.loads((run[1] / "results.json").read_text("utf-8"))["handins"]}


def test_all_were_dealt_with(run, handins):
    assert run[0].returncode == 0
    assert run[0].stderr == ""
    assert "Traceback" not in run[0].stdout
    assert set(handins) == {*UNREADABLE, *MARKED}


@pytest.mark.parametrize("name", sorted(UNREADABLE))
def test_unreadable_with_a_reason(handins, name):
    one = handins[name]
    assert (one["status"], one["mark"]) == ("unreadable", None)
    assert UNREADABLE[name][1] in one["reason"]
    assert one["reason"].startswith(name)
    assert "\n" not in one["reason"] and len(one["reason"]) < 400
    assert "could not be marked (" not in one["reason"], "the last net was needed: give this fault words of its own"


@pytest.mark.parametrize("name", sorted(MARKED))
def test_marked_with_a_finding_or_a_notice(handins, name):
    one = handins[name]
    assert (one["status"], one["reason"]) == ("marked", "")
    assert one["findings"] or one["notices"] or one["mark"] == 100.0


def test_the_good_one_is_not_harmed(handins):
    assert handins["good.json"]["mark"] == 100.0
    assert handins["scores.json"]["mark"] == 100.0
    assert handins["markup.json"]["mark"] < 100.0


def test_no_markup_gets_through(run):
    pages = [path.read_text("utf-8") for path in run[1].rglob("*.html")]
    assert len(pages) > len(MARKED)
    for page in pages:
        assert "<script" not in page
    assert any("&lt;script&gt;" in page for page in pages)


def test_no_formula_gets_through(run):
    rows = csv.reader(io.StringIO((run[1] / "gradebook.csv").read_text("utf-8")))
    cells = [cell for row in rows for cell in row]
    assert "'" + FORMULA in cells
    assert "'\uff1d1+1" in cells
    assert not [cell for cell in cells if cell.lstrip().startswith(tuple("=+-@\t\r\uff1d\uff0b\uff0d\uff20"))]


@pytest.mark.parametrize("name", ["empty.json", "deep.json", "circle.json", "broken.glb", "markup.json"])
def test_look_never_shows_a_traceback(run, name):
    path = run[1].parent / "class" / name
    look = subprocess.run(
        [sys.executable, "-m", "rigkit", "look", str(path)], capture_output=True, text=True, cwd=PROJECT
    )
    assert "Traceback" not in look.stderr
    assert look.returncode == (2 if name in UNREADABLE else 0)
    assert look.stderr.count("\n") == (1 if name in UNREADABLE else 0)
