"""nbval runs each lesson as a student first opens it, unsolved, and compares with the outputs that are stored."""

import shutil
import subprocess
import sys

import pytest

from tests.lessons.books import BOOKS, CELL_SECONDS, LESSONS, own_room


@pytest.mark.parametrize("name", BOOKS)
def test_the_stored_outputs_still_come_out(name, tmp_path):
    room = tmp_path / "room"
    room.mkdir()
    shutil.copy(LESSONS / name, room)
    command = [sys.executable, "-m", "pytest", "--nbval", "--nbval-current-env", "-q", "-p", "no:cacheprovider",
               f"--nbval-cell-timeout={CELL_SECONDS}", "--rootdir", str(room), "-c", "/dev/null", name]  # fmt: skip
    command[command.index("/dev/null")] = str(room / "none.ini")
    (room / "none.ini").write_text("[pytest]\n")
    result = subprocess.run(command, cwd=room, env=own_room(tmp_path), capture_output=True, text=True, timeout=300)
    assert result.returncode == 0, result.stdout[-4000:] + result.stderr[-2000:]
    assert " passed" in result.stdout


def test_a_wrong_stored_output_is_noticed(tmp_path):
    """The guard guarded: nbval must fail on a lesson in which one stored verdict was changed."""
    name = next(book for book in BOOKS if book.startswith("04"))
    room = tmp_path / "room"
    room.mkdir()
    text = (LESSONS / name).read_text()
    assert "too straight to tell" in text and "wrong way" in text
    (room / name).write_text(text.replace("15 mm in front", "16 mm in front"))
    assert (room / name).read_text() != text
    (room / "none.ini").write_text("[pytest]\n")
    command = [sys.executable, "-m", "pytest", "--nbval", "--nbval-current-env", "-q", "-p", "no:cacheprovider",
               "--rootdir", str(room), "-c", str(room / "none.ini"), name]  # fmt: skip
    result = subprocess.run(command, cwd=room, env=own_room(tmp_path), capture_output=True, text=True, timeout=300)
    assert result.returncode == 1 and "16 mm in front" in result.stdout
