"""What is handed in and whose it is: zips read within limits and never unpacked, ids and attempts from file names."""

import io
import json
import os
import struct
import zipfile
from pathlib import Path

import pytest

from rigkit.__main__ import main
from rigkit.classroom import find_handins, mark_class, read_roster
from rigkit.files import packed
from rigkit.files.layout import Layout, write_layout
from rigkit.gathered import Pattern
from rigkit.require import RigError
from tests.arms import FOLDER, arm, shifted

GOOD = write_layout(Layout("wren", "left-arm", 1, arm().key.skeleton))


def zipped(path, entries, how=zipfile.ZIP_DEFLATED):
    """A zip with these entries, (name, text or bytes), in this order; names as they are given."""
    path.parent.mkdir(parents=True, exist_ok=True)
    with zipfile.ZipFile(path, "w", how) as file:
        for name, content in entries:
            file.writestr(zipfile.ZipInfo(name) if how == zipfile.ZIP_STORED else name, content)
    return path


def changed(text, **keys):
    return json.dumps(json.loads(text) | keys)


def test_what_lies_in_folders_and_zips_is_marked(tmp_path):
    zipped(tmp_path / "late" / "sorrel.zip", [
        ("arm.json", changed(GOOD, id="sorrel")), ("deep/er/heron.json", changed(GOOD, id="heron")),
        ("notes.txt", "no hand-in"), ("__MACOSX/._arm.json", "x"), (".hidden.json", "x"), ("deep/", ""),
    ])  # fmt: skip
    (tmp_path / "wren.json").write_text(GOOD, "utf-8")
    room = mark_class([tmp_path], FOLDER)
    assert [(one.id, one.file, one.mark) for one in room.results] == [
        ("heron", "late/sorrel.zip/deep/er/heron.json", 100.0), ("sorrel", "late/sorrel.zip/arm.json", 100.0),
        ("wren", "wren.json", 100.0),
    ]  # fmt: skip
    assert [file for file, _ in room.passed_over] == ["late/sorrel.zip/notes.txt"]
    assert [one.id for one in mark_class([tmp_path / "late" / "sorrel.zip"], FOLDER).results] == ["heron", "sorrel"]


def test_processes_read_zips_as_well(tmp_path):
    zipped(tmp_path / "in" / "all.zip", [(f"s{i}.json", changed(GOOD, id=f"s{i}")) for i in range(6)])
    one, two = (mark_class([tmp_path / "in"], FOLDER, jobs=jobs) for jobs in (1, 2))
    assert [r.to_dict() for r in one.results] == [r.to_dict() for r in two.results] and len(one.results) == 6


@pytest.mark.parametrize("name", ["../../wren.json", "/etc/wren.json", "C:\\x\\wren.json", "..\\wren.json", "./wren.json",
                                  "a/../../../../wren.json", "\x1b[2Jwren.json", "<b>wren.json"])  # fmt: skip
def test_a_path_in_a_zip_is_a_name_and_nothing_else(tmp_path, name, monkeypatch):
    zipped(tmp_path / "in" / "x.zip", [(name, GOOD)], zipfile.ZIP_STORED)
    before = sorted(tmp_path.rglob("*"))
    ((label, file),), passed = find_handins([tmp_path / "in"])
    assert label.startswith("x.zip/") and label.endswith("wren.json") and passed == []
    assert ".." not in label and "\\" not in label and label.isprintable()
    opened, plain = [], Path.open
    monkeypatch.setattr(Path, "open", lambda self, *more: opened.append(self) or plain(self, *more))
    assert file.open("rb").read() == GOOD.encode()
    assert opened == [tmp_path / "in" / "x.zip"] and sorted(tmp_path.rglob("*")) == before


def test_two_entries_of_one_name_are_both_read(tmp_path):
    with pytest.warns(UserWarning, match="Duplicate"):
        zipped(tmp_path / "x.zip", [("wren.json", GOOD), ("wren.json", changed(GOOD, attempt=2))])
    assert [one.file for one in mark_class([tmp_path], FOLDER).results] == ["x.zip/1/wren.json", "x.zip/wren.json"]


def passed_over(folder):
    return dict(find_handins([folder])[1])


def test_what_no_hand_in_needs_is_not_unpacked(tmp_path):
    inner = io.BytesIO()
    with zipfile.ZipFile(inner, "w") as file:
        file.writestr("wren.json", GOOD)
    link = zipfile.ZipInfo("link.json")
    link.external_attr = 0o120777 << 16
    with zipfile.ZipFile(tmp_path / "x.zip", "w", zipfile.ZIP_DEFLATED) as file:
        file.writestr("zeros.json", b"0" * 3_000_000)
        file.writestr("large.glb", bytes(packed.LARGEST_ENTRY + 1), zipfile.ZIP_STORED)
        file.writestr("inner.zip", inner.getvalue())
        file.writestr("lzma.json", GOOD, zipfile.ZIP_LZMA)
        file.writestr(link, "/etc/passwd")
        file.writestr("good.json", GOOD)
    found, passed = find_handins([tmp_path])
    assert [label for label, _ in found] == ["x.zip/good.json"]
    told = dict(passed)
    assert "3.0 MB, which no hand-in needs" in told["x.zip/zeros.json"]
    assert "20.0 MB, which no hand-in needs" in told["x.zip/large.glb"]
    assert "a zip within a zip" in told["x.zip/inner.zip"] and "packed in a way" in told["x.zip/lzma.json"]
    assert "a link in a zip" in told["x.zip/link.json"]


def test_a_locked_zip_is_told(tmp_path):
    data = bytearray(zipped(tmp_path / "x.zip", [("wren.json", GOOD)]).read_bytes())
    data[data.rfind(b"PK\x01\x02") + 8] |= 1
    (tmp_path / "x.zip").write_bytes(data)
    assert "password" in passed_over(tmp_path)["x.zip/wren.json"]


def test_a_long_list_is_refused_before_it_is_read(tmp_path, monkeypatch):
    zipped(tmp_path / "x.zip", [(f"{i}.json", "") for i in range(5_001)])
    monkeypatch.setattr(zipfile, "ZipFile", None)
    assert "at most 5,000 files" in passed_over(tmp_path)["x.zip"]


def test_a_list_that_hides_its_length_is_refused(tmp_path, monkeypatch):
    data = zipped(tmp_path / "x.zip", [("wren.json", GOOD)]).read_bytes()
    end = data.rfind(packed.END)
    far = struct.pack("<4sQHHIIQQQQ", b"PK\x06\x06", 44, 45, 45, 0, 0, 10**9, 10**9, 10**12, 0)
    (tmp_path / "x.zip").write_bytes(data[:end] + far + packed.LOCATOR + struct.pack("<IQI", 0, end, 1) + data[end:])
    monkeypatch.setattr(zipfile, "ZipFile", None)
    assert "at most 5,000 files" in passed_over(tmp_path)["x.zip"]


def test_a_damaged_entry_is_unreadable_and_stops_nothing(tmp_path):
    data = bytearray(zipped(tmp_path / "x.zip", [("a.json", GOOD), ("b.json", changed(GOOD, id="b"))]).read_bytes())
    data[60] ^= 0xFF
    (tmp_path / "x.zip").write_bytes(data)
    room = mark_class([tmp_path], FOLDER)
    assert {one.id: one.status for one in room.results} == {"a": "unreadable", "b": "marked"}
    assert "a damaged entry of a zip file" in next(one.reason for one in room.results if one.id == "a")


def test_any_cut_or_flip_of_a_zip_gives_results_and_never_an_error(tmp_path):
    data = zipped(tmp_path / "x.zip", [("a.json", GOOD), ("b.json", GOOD)]).read_bytes()
    for place in range(0, len(data), 7):
        for broken in (data[:place], data[:place] + bytes([data[place] ^ 0x55]) + data[place + 1 :]):
            (tmp_path / "x.zip").write_bytes(broken)
            for _, file in find_handins([tmp_path])[0]:
                try:
                    assert len(file.open("rb").read()) <= packed.LARGEST_ENTRY
                except OSError:
                    continue


@pytest.mark.parametrize(("pattern", "label", "said"), [
    ("{id}_{attempt}", "late/red_wren_2.json", ("red_wren", "2")), ("{any}-{id}", "2026-arm-wren.glb", ("wren", None)),
    ("{id}/{any}", "class/wren/arm.json", ("wren", None)), ("{id}.zip/{any}", "wren.zip/arm.json", ("wren", None)),
    ("arm {id}", "arm wren.gltf", ("wren", None)), ("{id}(.*)", "wren(.*).json", ("wren", None)),
    ("{id}_{attempt}", "wren.json", None), ("{id}_{attempt}", "wren_x.json", None), ("{id}_{attempt}", "_2.json", None),
    ("{id}_{attempt}", "wren_٣.json", None), ("{id}/{any}", "wren.json", None), ("arm {id}", "leg wren.json", None),
])  # fmt: skip
def test_a_pattern_reads_names_from_the_right(pattern, label, said):
    found = Pattern(pattern).read(label)
    assert (found and (found["id"], found.get("attempt"))) == said


@pytest.mark.parametrize("text", ["{attempt}", "{id}{any}", "{id}_{id}", "{name}_{id}", "{id", "x{id}" * 40])
def test_a_pattern_that_says_nothing_clear_is_refused(text):
    with pytest.raises(RigError, match="pattern of ids"):
        Pattern(text)


def test_a_long_name_full_of_signs_takes_no_time():
    assert Pattern("{any}_{any}_{any}_{id}_{any}-{attempt}").read("_" * 100_000 + ".json") is None


def test_the_name_counts_where_it_fits_and_else_the_file(tmp_path):
    (tmp_path / "wren_1.json").write_text(changed(GOOD, id="wren", attempt=9), "utf-8")
    (tmp_path / "wren_2.json").write_text(
        write_layout(Layout("somebody", "left-arm", 1, shifted("elbow", (0, 0, 33)).skeleton)), "utf-8"
    )
    (tmp_path / "teasel.json").write_text(changed(GOOD, id="teasel"), "utf-8")
    (tmp_path / "heron_3.json").write_text("{", "utf-8")
    room = mark_class([tmp_path], FOLDER, pattern="{id}_{attempt}")
    assert [(one.id, one.attempt, one.status) for one in room.counting] == [
        ("heron", -1, "unreadable"), ("teasel", 1, "marked"), ("wren", 2, "marked"),
    ]  # fmt: skip
    teasel, wren = room.counting[1:]
    assert "does not fit {id}_{attempt}" in teasel.notices[0]
    assert "The file says the id somebody; its name says wren, which counts." in wren.notices and wren.mark == 50.0
    assert len(room.results) == 4, "earlier attempts stay on record"


def test_a_long_name_in_a_zip_keeps_its_ending(tmp_path):
    long = "a class of the spring term/" + "wren " * 30 + "left arm, second attempt"
    zipped(tmp_path / "in" / "all.zip", [(f"{long}.json", GOOD), ("e" * 900 + ".json", GOOD)])
    found, passed = find_handins([tmp_path / "in"])
    assert found[0][0] == f"all.zip/{long}.json" and passed == []
    assert found[1][0].endswith("e.json") and len(found[1][0]) < 300


def test_a_zip_without_a_file_to_read_is_told(tmp_path):
    zips = {"none": [], "hidden": [(".arm.json", GOOD)], "folder": [("arm/", "")], "odd": [("../", "")]}
    for name, entries in zips.items():
        zipped(tmp_path / "in" / f"{name}.zip", entries)
    found, passed = find_handins([tmp_path / "in"])
    assert found == [] and {name for name, why in passed if "there is no file in it to read" in why} == {
        "none.zip", "hidden.zip", "folder.zip", "odd.zip"}  # fmt: skip


def test_an_entry_without_a_name_stops_nothing(tmp_path):
    path = zipped(tmp_path / "in" / "x.zip", [("wren.json", GOOD)], zipfile.ZIP_STORED)
    body = path.read_bytes()
    begins = body.rfind(b"PK\x01\x02")
    path.write_bytes(body[: begins + 46] + b"\0" + body[begins + 47 :])  # the name ends at its first NUL
    (tmp_path / "in" / "sorrel.json").write_text(GOOD, "utf-8")
    found, passed = find_handins([tmp_path / "in"])
    assert [label for label, _ in found] == ["sorrel.json"] and [label for label, _ in passed] == ["x.zip"]


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="pipes are files on Linux and macOS")
@pytest.mark.parametrize("ending", [".json", ".glb", ".zip"])
def test_a_pipe_is_not_waited_for(tmp_path, ending):
    (tmp_path / "in").mkdir()
    os.mkfifo(tmp_path / "in" / f"wren{ending}")
    room = mark_class([tmp_path / "in"], FOLDER, out=tmp_path / "out")
    said = [one.reason for one in room.results] + [why for _, why in room.passed_over]
    assert len(said) == 1 and "expected a file, got something else" in said[0]


def test_a_folder_that_may_not_be_looked_into_is_told(tmp_path, monkeypatch):
    for name in ("closed", "listed only", "open"):
        (tmp_path / "in" / name).mkdir(parents=True)
        (tmp_path / "in" / name / "wren.json").write_text(GOOD, "utf-8")
    scan, access = os.scandir, os.access

    def scandir(path):
        if str(path).endswith("closed"):
            raise PermissionError(13, "Permission denied", str(path))
        return scan(path)

    monkeypatch.setattr("os.scandir", scandir)
    monkeypatch.setattr("os.access", lambda path, how: "only" not in str(path) and access(path, how))  # root may all
    found, passed = find_handins([tmp_path / "in"])
    assert [label for label, _ in found] == ["open/wren.json"]
    assert [label for label, why in passed if "cannot be looked into" in why] == ["closed", "listed only"]


def test_signs_that_move_a_screen_are_not_in_what_is_shown(tmp_path, capsys):
    (tmp_path / "in").mkdir()
    for name in ("\x1b[2Jwren.json", "a\nb.json", "\u202eknil.txt", "\u00e9t\u00e9.json"):
        (tmp_path / "in" / name).write_text("{", "utf-8")
    (tmp_path / "roster.csv").write_text('id\n"\x1b[2Jsorrel"\n"\u202ewren"\n', "utf-8")
    assert read_roster(tmp_path / "roster.csv") == ("[2Jsorrel", "wren"), "as ids in hand-ins are read"
    words = ["mark", str(tmp_path / "in"), "--exercise", str(FOLDER), "--out", str(tmp_path / "out")]
    assert main([*words, "--roster", str(tmp_path / "roster.csv")]) == 0
    said = capsys.readouterr().out
    for shown in ("\ufffd[2Jwren.json", "a\ufffdb.json", "\ufffdknil.txt", "\u00e9t\u00e9.json"):
        assert shown in said
    assert said.replace("\n", "").isprintable() and "\na" not in said
