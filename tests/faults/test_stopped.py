"""A marking run that is killed, or has no room to write: nothing lost, nothing half-written, the same bytes at last."""

import json
import os
import random
import re
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from rigkit.__main__ import main
from rigkit.classroom import mark_class
from rigkit.files.layout import Layout, write_layout
from rigkit.gradebook import STAGE, write_class
from rigkit.kept import NAME, Kept, as_bytes, from_bytes
from tests.arms import FOLDER, PROJECT, arm, shifted

KILLS = 20 if os.environ.get("HYPOTHESIS_PROFILE") == "slow" else 3
RUN = [sys.executable, "-m", "rigkit", "mark"]


def everything(folder: Path) -> dict[str, bytes]:
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


@pytest.fixture
def handins(tmp_path):
    folder = tmp_path / "in"
    folder.mkdir()
    for number in range(16):
        joints = shifted("elbow", (number, 3 * (number % 4), 2 * number)).skeleton
        text = write_layout(Layout(f"s{number:02}", "left-arm", 1, joints))
        (folder / f"s{number:02}.json").write_text(text, "utf-8")
    (folder / "bad.json").write_text("{", "utf-8")
    return folder


def words(handins, out, *more):
    return [str(handins), "--exercise", str(FOLDER), "--out", str(out), *more]


def test_a_result_is_the_same_after_it_was_kept(handins):
    for one in mark_class([handins], FOLDER).results:
        again = from_bytes(as_bytes(one))
        assert again.to_dict() == one.to_dict() and again.measurements == one.measurements
        assert again.findings == one.findings and again.spots == one.spots and again.attempt == one.attempt
        assert from_bytes(as_bytes(one), packed=True).measurements == one.measurements
        if one.skeleton is not None:
            assert again.skeleton.positions.tobytes() == one.skeleton.positions.tobytes()
            assert again.skeleton.names == one.skeleton.names and again.skeleton.parents == one.skeleton.parents


def test_what_was_marked_is_not_marked_again(handins, tmp_path, monkeypatch):
    first = mark_class([handins], FOLDER, out=tmp_path / "out")
    monkeypatch.setattr("rigkit.classroom.mark_file", None)
    again = mark_class([handins], FOLDER, out=tmp_path / "out")
    assert [one.to_dict() for one in again.results] == [one.to_dict() for one in first.results]
    write_class(again, tmp_path / "out")
    assert not (tmp_path / "out" / NAME).exists(), "once all is written nothing is kept"


@pytest.mark.parametrize("change", ["hand-in", "name", "rubric", "answers", "pattern", "exercise", "rigkit"])
def test_what_a_result_hangs_on_is_looked_at(handins, tmp_path, monkeypatch, change):
    folder = tmp_path / "exercise"
    folder.mkdir()
    for path in FOLDER.iterdir():
        (folder / path.name).write_bytes(path.read_bytes())
    mark_class([handins], folder, out=tmp_path / "out")
    more = {}
    if change == "hand-in":
        (handins / "s01.json").write_text((handins / "s02.json").read_text("utf-8"), "utf-8")
    elif change == "name":
        (handins / "s01.json").rename(handins / "t01.json")
    elif change == "exercise":
        text = (folder / "exercise.toml").read_text("utf-8")
        (folder / "exercise.toml").write_text(text + "# changed\n", "utf-8")
    elif change == "rigkit":
        monkeypatch.setattr("rigkit.kept._own_code", lambda: b"another version")
    else:
        more = {"rubric": {"rubric": "strict"}, "answers": {"answers": {"facing": "+z"}},
                "pattern": {"pattern": "s{id}"}}[change]  # fmt: skip
    asked = []
    monkeypatch.setattr("rigkit.classroom.mark_file", lambda label, path, *rest, _was=mark_one, **k: (
        asked.append(label), _was(label, path, *rest, **k))[1])  # fmt: skip
    mark_class([handins], folder, out=tmp_path / "out", **more)
    assert len(asked) == (1 if change in ("hand-in", "name") else 17)


from rigkit.classroom import mark_file as mark_one  # noqa: E402 - the true one, before a test puts its own in its place


def test_a_torn_or_foreign_line_does_not_count(handins, tmp_path):
    out = tmp_path / "out"
    whole = [one.to_dict() for one in mark_class([handins], FOLDER, out=out).results]
    kept = (out / NAME).read_bytes()
    for broken in (kept[:-20], kept[:700], b"\xff" * 300 + kept, kept.replace(b"\n", b"", 3), b"{}\n" + kept[50:]):
        (out / NAME).write_bytes(broken)
        assert [one.to_dict() for one in mark_class([handins], FOLDER, out=out).results] == whole
        again = Kept(out, "")
        again.close()
        lines = [line for line in (out / NAME).read_bytes().split(b"\n") if re.match(rb"[0-9a-f]{64} ", line)]
        assert len(lines) >= 17


def kept_lines(out: Path) -> set[bytes]:
    """What is kept of hand-ins that were marked, line by line, but for a last line that was cut off."""
    text = (out / NAME).read_bytes() if (out / NAME).exists() else b""
    return {line for line in text.split(b"\n")[:-1] if re.match(rb"[0-9a-f]{64} ", line)}


def come(number: int, out: Path, before: set[bytes]) -> bool:
    """Whether the moment to kill has come: for some soon after more results are kept, for others soon after the writing
    of pages begins; for the rest it comes by the clock alone."""
    return (kept_lines(out) > before, (out / STAGE).exists(), False)[number % 3]


def test_killed_at_any_moment_and_run_again_gives_the_same_bytes(handins, tmp_path):
    """Over the results of an earlier class; where a run comes to its end before its kill, the next marks all anew."""
    out, chance = tmp_path / "out", random.Random(20)
    for number in range(16, 16 + 2 * KILLS):
        text = (handins / f"s{number % 16:02}.json").read_text("utf-8")
        (handins / f"t{number}.json").write_text(text.replace(f'"s{number % 16:02}"', f'"t{number}"'), "utf-8")
    last = (handins / "s15.json").rename(tmp_path / "s15.json")
    assert main(["mark", *words(handins, out)]) == 0
    old = everything(out)
    last.rename(handins / "s15.json")
    begins = time.monotonic()
    subprocess.run(
        [*RUN, *words(handins, tmp_path / "whole", "--jobs", "1")], cwd=PROJECT, check=True, capture_output=True
    )
    length, whole = time.monotonic() - begins, everything(tmp_path / "whole")
    assert whole["results.json"] != old["results.json"] and len(whole) == len(old) + 1
    stopped = set()
    for number in range(KILLS):
        before = kept_lines(out)
        run = subprocess.Popen([*RUN, *words(handins, out, "--jobs", str(1 + number % 2))], cwd=PROJECT,
                               start_new_session=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)  # fmt: skip
        until, later = time.monotonic() + chance.uniform(0.2, 1.1) * length, chance.uniform(0, 0.15) * length
        while run.poll() is None and time.monotonic() < until and not come(number, out, before):
            time.sleep(0.002)
        time.sleep(later if come(number, out, before) else 0)
        if run.poll() is None and number % 4 < 2:
            run.kill()
        elif run.poll() is None:
            os.killpg(run.pid, signal.SIGKILL)  # all its processes at once
        ended, now = run.wait() == 0, {name: content for name, content in everything(out).items() if name[0] != "."}
        moments = {"at its end": ended, "writing": (out / STAGE).exists(), "marking": kept_lines(out), "at first": True}
        stopped.add(next(moment for moment, it_is in moments.items() if it_is))
        assert kept_lines(out) >= before or now == whole, "what was marked is kept until all is written"
        assert all(content in (old.get(name), whole.get(name)) for name, content in now.items()), "each file is whole"
    assert stopped >= ({"marking", "writing"} if KILLS >= 20 else set())
    assert main(["mark", *words(handins, out, "--jobs", "2")]) == 0
    assert everything(out) == whole


LIMITED = """
import resource, signal, sys
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (int(sys.argv[1]), int(sys.argv[1])))
from rigkit.__main__ import main
sys.exit(main(sys.argv[2:]))
"""


@pytest.mark.skipif(os.name == "nt", reason="limits on the size of a file are set as Linux and macOS have them")
@pytest.mark.parametrize("most", [10, 3_000, 30_000])
def test_no_room_is_one_line_and_leaves_the_old_results(handins, tmp_path, most):
    """No file may grow beyond so many bytes, as on a disk that is full."""
    out = tmp_path / "out"
    (handins / "s03.json").rename(tmp_path / "s03.json")
    assert main(["mark", *words(handins, out)]) == 0
    old = everything(out)
    (tmp_path / "s03.json").rename(handins / "s03.json")
    run = subprocess.run([sys.executable, "-c", LIMITED, str(most), "mark", *words(handins, out, "--jobs", "1")],
                         capture_output=True, text=True, cwd=PROJECT)  # fmt: skip
    assert run.returncode == 1
    assert run.stderr.startswith("rigkit: results could not be written to out: ") and run.stderr.count("\n") == 1
    assert {name: content for name, content in everything(out).items() if name != NAME} == old
    assert main(["mark", *words(handins, out)]) == 0
    assert len(json.loads((out / "results.json").read_text("utf-8"))["handins"]) == 17


@pytest.fixture
def small_disk(tmp_path):
    """An empty file system of its own, and a function that gives it another size or makes it read-only."""
    folder = tmp_path / "disk"
    folder.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=9m", "tmpfs", str(folder)]
    if shutil.which("mount") is None or subprocess.run(mount, capture_output=True).returncode:
        pytest.skip("a small file system is mounted by root on Linux alone")
    try:
        yield folder, lambda how: subprocess.run(["mount", "-o", f"remount,{how}", str(folder)], check=True)
    finally:
        subprocess.run(["umount", "-l", str(folder)], check=True)


@pytest.mark.parametrize(("how", "words_of_it"), [
    ("size={used}", "no space left on device"), ("size={used}+20", "no space left on device"),
    ("size={used}+200", "no space left on device"), ("ro", "read-only file system")])  # fmt: skip
@pytest.mark.parametrize("jobs", ["1", "2"])
def test_a_full_disk_is_one_line_and_leaves_the_old_results(handins, tmp_path, small_disk, how, words_of_it, jobs):
    """Full at the first byte, while results are kept, while pages are written; or not to be written at all."""
    disk, remount = small_disk
    out = disk / "out"
    last = (handins / "s15.json").rename(tmp_path / "s15.json")
    assert main(["mark", *words(handins, out)]) == 0
    old = everything(out)
    last.rename(handins / "s15.json")
    used = (shutil.disk_usage(disk).used + 1023) // 1024
    remount(f"size={used + int(how.partition('+')[2] or 0)}k" if how != "ro" else how)
    run = subprocess.run([*RUN, *words(handins, out, "--jobs", jobs)], cwd=PROJECT, capture_output=True, text=True)
    assert (run.returncode, run.stderr) == (1, f"rigkit: results could not be written to out: {words_of_it}.\n")
    assert {name: content for name, content in everything(out).items() if name != NAME} == old
    remount("rw,size=9m")
    assert main(["mark", *words(handins, out)]) == 0
    assert len(everything(out)) == len(old) + 1


def test_a_folder_that_may_not_be_written_is_one_line(handins, tmp_path, capsys, monkeypatch):
    def refused(*_):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("os.mkdir", refused)  # root may write everywhere
    assert main(["mark", *words(handins, tmp_path / "out")]) == 1
    assert capsys.readouterr().err == "rigkit: results could not be written to out: permission denied.\n"


def test_it_counts_on_a_screen_and_nowhere_else(handins, tmp_path, capsys, monkeypatch):
    assert main(["mark", *words(handins, tmp_path / "out")]) == 0
    assert capsys.readouterr().err == ""
    monkeypatch.setattr("sys.stderr.isatty", lambda: True, raising=False)
    assert main(["mark", *words(handins, tmp_path / "out")]) == 0
    err = capsys.readouterr().err
    assert "\rMarked 1 of 17" in err and "\rMarked 17 of 17\n" in err and "\rPages written: 17 of 17\n" in err


def test_the_same_bytes_on_one_and_on_two_processes(handins, tmp_path):
    for jobs in ("1", "2"):
        assert main(["mark", *words(handins, tmp_path / jobs, "--jobs", jobs)]) == 0
    assert everything(tmp_path / "1") == everything(tmp_path / "2")
    assert arm().id in (tmp_path / "1" / "results.json").read_text("utf-8")


@pytest.mark.skipif(os.name == "nt", reason="Windows sends no such signal to one process")
def test_ctrl_c_is_one_word_and_leaves_nobody_behind(handins, tmp_path):
    run = subprocess.Popen([*RUN, *words(handins, tmp_path / "out", "--jobs", "2")], cwd=PROJECT, text=True,
                           start_new_session=True, stdout=subprocess.PIPE, stderr=subprocess.PIPE)  # fmt: skip
    until = time.monotonic() + 60
    while not (tmp_path / "out" / NAME).exists() and time.monotonic() < until:
        time.sleep(0.01)
    os.killpg(run.pid, signal.SIGINT)
    _, err = run.communicate(timeout=60)
    assert (run.returncode, err) == (130, "rigkit: Stopped.\n")
    with pytest.raises(ProcessLookupError):  # no process of its group is left
        for _ in range(200):
            os.killpg(run.pid, 0)
            time.sleep(0.05)
