"""nbval runs each lesson as a student first opens it, unsolved, and compares with the outputs that are stored."""

import subprocess
import sys
from pathlib import Path

import pytest

from tests.lessons.books import BOOKS, CELL_SECONDS, LESSONS, own_room


def nbval(name: str, text: str, folder: Path) -> subprocess.CompletedProcess:
    """Let nbval run one notebook's text in a folder of its own."""
    room = folder / "room"
    room.mkdir()
    (room / name).write_text(text, encoding="utf-8")
    (room / "none.ini").write_text("[pytest]\n")
    command = [sys.executable, "-m", "pytest", "--nbval", "--nbval-current-env", "-q", "-p", "no:cacheprovider",
               f"--nbval-cell-timeout={CELL_SECONDS}", "--rootdir", str(room), "-c", str(room / "none.ini"), name]  # fmt: skip
    return subprocess.run(command, cwd=room, env=own_room(folder), capture_output=True, text=True, timeout=300)


@pytest.mark.parametrize("name", [*BOOKS, "progress.ipynb"])
def test_the_stored_outputs_still_come_out(name, tmp_path):
    result = nbval(name, (LESSONS / name).read_text(encoding="utf-8"), tmp_path)
    assert result.returncode == 0, result.stdout[-4000:] + result.stderr[-2000:]
    assert " passed" in result.stdout


def test_a_wrong_stored_output_is_noticed(tmp_path):
    """The guard guarded: nbval must fail on a lesson in which one stored verdict was changed."""
    name = next(book for book in BOOKS if book.startswith("04"))
    text = (LESSONS / name).read_text(encoding="utf-8")
    changed = text.replace("15 mm in front", "16 mm in front")
    assert changed != text
    result = nbval(name, changed, tmp_path)
    assert result.returncode == 1 and "1 failed" in result.stdout and "Cell 6" in result.stdout
