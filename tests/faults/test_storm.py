"""A sample of the storm: nothing crashes, hangs, grows, gets out or gets lost; and the watch sees what it is there for.

`python -m tests.faults.storm` marks 100,000 hand-ins in this way.
"""

import json
import subprocess
import sys
from pathlib import Path

import pytest

from rigkit.classroom import mark_class
from rigkit.files.layout import write_layout
from rigkit.gradebook import write_class
from rigkit.own_limbs import write_own_limbs
from tests.arms import FOLDER, PROJECT, arm, layout
from tests.faults.storm import AGAIN, EXERCISES, one_batch
from tests.faults.storm_watch import HIDDEN, alive, wrong_in

pytestmark = pytest.mark.skipif(
    not Path("/proc/self/clear_refs").exists(), reason="peaks of memory are read from /proc"
)


@pytest.mark.parametrize(
    "batch", [0, AGAIN - 1, EXERCISES.index("both-arms"), EXERCISES.index("own"), EXERCISES.index("left-leg")]
)
def test_a_sample_of_the_storm(tmp_path, batch):
    write_own_limbs(tmp_path / "own", "arm", "left", "salt", ("shoulder", "elbow", "wrist"))
    rows = one_batch(tmp_path, batch, 60, seed=7)
    assert [one for row in rows.values() for one in row.failures] == []
    assert sum(row.count for kind, row in rows.items() if kind != "batches") == 60
    assert sum(row.marked for row in rows.values()) >= 6, "enough pages to look through"


@pytest.mark.parametrize(
    "piece", ["<script>", "<img src=x>", '<p onclick="x">', '<a href="http://127.0.0.1">', "<b>", "<svg/onload=x>"]
)
def test_the_watch_sees_markup(piece):
    assert list(alive(f"<style></style><p>{piece}</p>"))
    assert not list(alive(f"<style></style><p>{piece.replace('<', '&lt;')}</p>"))


def test_the_watch_sees_formulas_files_and_signs(tmp_path):
    (tmp_path / "in").mkdir()
    room = mark_class([tmp_path / "in"], FOLDER)
    write_class(room, tmp_path / "out")
    assert not list(wrong_in(tmp_path / "out"))
    (tmp_path / "out" / "gradebook.csv").write_text('"a, b"," =1+1"\n', "utf-8")
    (tmp_path / "out" / ".part").touch()
    assert len(list(wrong_in(tmp_path / "out"))) == 2
    assert HIDDEN.search("a\x1b[2J") and HIDDEN.search("\u202ea") and not HIDDEN.search("a \u00e9\n")


SPOILT = """
import sys
from pathlib import Path
import rigkit.classroom as classroom
from tests.faults.storm_watch import watched
true = classroom.read_handin
def spoilt(path, label):
    Path('/etc/hostname').exists() and Path('/etc/hostname').read_bytes()
    path.with_suffix('.bak').write_bytes(b'')
    return true(path, label)
classroom.read_handin = spoilt
watched(*sys.argv[1:4], sys.argv[4:])
"""


def test_the_watch_sees_what_is_opened_elsewhere(tmp_path):
    (tmp_path / "in").mkdir()
    (tmp_path / "in" / "a.json").write_text(write_layout(layout(arm().key.skeleton)), "utf-8")
    given, out, report = str(tmp_path / "in"), str(tmp_path / "out"), tmp_path / "report.json"
    words = ["mark", given, "--exercise", str(FOLDER), "--out", out]
    run = subprocess.run(
        [sys.executable, "-c", SPOILT, str(report), given, out, *words], cwd=PROJECT, capture_output=True
    )
    assert run.returncode == 0, run.stderr
    noted = json.loads(report.read_text("utf-8"))
    seen = " ".join(noted["elsewhere"])
    assert "a.bak" in seen and ("/etc/hostname" in seen or not Path("/etc/hostname").exists())
    assert noted["took"]["a.json"][1] > 1 and noted["took"]['page of "a.json"'][0] > 0
