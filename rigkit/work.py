"""A student's own files: layouts kept as they change (one JSON a bench), guesses, and hand-ins counted up.

Every file is written whole or not at all. A file that cannot be read is put aside, never overwritten.
"""

from __future__ import annotations

import json
import os
import re
from dataclasses import dataclass, replace
from pathlib import Path

from rigkit.files import whole
from rigkit.files.layout import LONGEST_NAME, Layout, plain_text, read_layout, write_layout
from rigkit.require import RigError, text

ATTEMPT = ".attempt-"
WORK, HAND_INS = ("RIGKIT_WORK", "work"), ("RIGKIT_HANDINS", "hand-ins")


def own_folder(place: tuple[str, str]) -> Path:
    """The folder of an environment variable, or the one of that name beside the notebook (where the kernel started)."""
    variable, name = place
    return Path(os.environ.get(variable) or name)


def write_whole(path: Path, content: str) -> None:
    """Write a text file whole or not at all. Raises RigError, naming the folder, where it cannot be written."""
    try:
        whole.write_whole(path, content)
    except OSError as error:
        raise RigError(
            "a folder that can be written",
            (error.strerror or "an error").lower(),
            "the folder is read-only or full",
            "Copy the lessons to a folder of your own and open them there",
            where=path.parent.name,
        ) from None


def put_aside(path: Path) -> str:
    """Rename a damaged file to the next free `NAME.damaged-N` and return that name."""
    number = 1
    while (aside := path.with_name(f"{path.name}.damaged-{number}")).exists():
        number += 1
    path.replace(aside)
    return aside.name


def safe_name(name: str, otherwise: str) -> str:
    """A file name made from any text: letters, digits, - and _ stay, the rest becomes -."""
    return re.sub(r"[^\w-]+", "-", name).strip("-_")[:48] or otherwise


@dataclass(frozen=True)
class Store:
    """Where one bench keeps its layout: a folder and a name without ending."""

    folder: Path
    name: str

    @classmethod
    def beside(cls, exercise: str, lesson: str) -> Store:
        """The store of an exercise in a lesson, in `work/` beside the notebook or where RIGKIT_WORK says."""
        return cls(own_folder(WORK), safe_name(f"{lesson}-{exercise}" if lesson else exercise, "layout"))

    @property
    def path(self) -> Path:
        """The file that holds the work."""
        return self.folder / f"{self.name}.json"

    def save(self, layout: Layout) -> None:
        """Keep a layout; the one before is replaced."""
        write_whole(self.path, write_layout(layout))

    def load(self, joints: int) -> tuple[Layout | None, str]:
        """The kept layout, or None and what to say about it ("" where nothing was kept yet).

        joints: how many the bench has at least; a file with fewer does not belong to it and is put aside.
        """
        if not self.path.is_file():
            return None, ""
        try:
            layout = read_layout(self.path.read_bytes(), self.path.name)
            if len(layout.skeleton) < joints:
                raise RigError(f"{joints} joints or more", f"{len(layout.skeleton)}", where=self.path.name)
        except RigError as error:
            aside = put_aside(self.path)
            return None, f"Your saved work could not be read, so this starts afresh; it was kept as {aside}. ({error})"
        except OSError as error:
            return None, f"Your saved work could not be opened ({error.strerror}), so this starts afresh."
        return layout, "Your saved work was opened."

    def keep(self, layout: Layout) -> int:
        """Keep a layout as one more attempt, beside the work; its number."""
        number = max(self.attempts(), default=0) + 1
        write_whole(self._attempt(number), write_layout(replace(layout, attempt=number)))
        return number

    def attempts(self) -> tuple[int, ...]:
        """Numbers of the attempts kept so far."""
        found = (path.stem.rpartition(ATTEMPT)[2] for path in self.folder.glob(f"{self.name}{ATTEMPT}*.json"))
        return tuple(sorted(int(number) for number in found if number.isdecimal()))

    def attempt(self, number: int) -> Layout:
        """An attempt that was kept. Raises RigError where it cannot be read."""
        path = self._attempt(number)
        try:
            return read_layout(path.read_bytes(), path.name)
        except OSError as error:
            raise RigError("an attempt that was kept", error.strerror or "none", where=path.name) from None

    def _attempt(self, number: int) -> Path:
        return self.folder / f"{self.name}{ATTEMPT}{number}.json"


def guesses() -> dict[str, str]:
    """The guesses kept so far, by key; a damaged file is put aside and counts as none."""
    path = own_folder(WORK) / "guesses.json"
    if not path.is_file():
        return {}
    try:
        return {str(key): str(guess) for key, guess in json.loads(path.read_text(encoding="utf-8")).items()}
    except (ValueError, AttributeError, RecursionError):
        put_aside(path)
        return {}


def remember(key: str, guess: str) -> None:
    """Keep a guess under its key."""
    write_whole(
        own_folder(WORK) / "guesses.json", json.dumps(guesses() | {key: guess}, ensure_ascii=False, indent=1) + "\n"
    )


def write_hand_in(layout: Layout, student: str, exercise: str) -> tuple[str, int]:
    """Write a hand-in for a student; returns its place as `hand-ins/NAME.json` and the attempt's number.

    Attempts count up from what lies in the folder; the same work again is no new attempt. Raises RigError where the
    name is missing or nothing can be written.
    """
    notices: list[str] = []
    name = plain_text(text(student, "student", 10 * LONGEST_NAME), "the name", notices).strip()
    if not name:
        raise RigError(
            "your name or class id, in quotes",
            "none",
            next_step='Write student="wren" with your own id',
            where="student",
        )
    folder, stem = own_folder(HAND_INS), safe_name(name, "student")
    pattern = re.compile(re.escape(f"{stem}.{safe_name(exercise, 'exercise')}.") + r"(\d{1,9})\.json")
    found = [pattern.fullmatch(one.name) for one in folder.iterdir()] if folder.is_dir() else []
    attempt = 1 + max([int(one.group(1)) for one in found if one], default=0)
    for number in (attempt - 1, attempt):  # the same work again is the same attempt
        path = folder / f"{stem}.{safe_name(exercise, 'exercise')}.{number}.json"
        content = write_layout(replace(layout, id=name, exercise=exercise, attempt=number, notices=()))
        if number and (number == attempt or _holds(path, content)):
            break
    write_whole(path, content)
    return f"{folder.name}/{path.name}", number


def _holds(path: Path, content: str) -> bool:
    try:
        return path.read_text(encoding="utf-8") == content
    except (OSError, UnicodeDecodeError):
        return False
