"""The set-up report of lesson 0: a line for each thing that lessons need, with what to do where it is missing."""

from __future__ import annotations

import re
import sys
from importlib import metadata

from rigkit.require import RigError
from rigkit.tables import data_folder
from rigkit.work import WORK, own_folder, write_whole

OLDEST, NEWEST = (3, 11), (3, 13)  # Python versions that the pinned packages were tested on
Line = tuple[bool, str]


def python_line(version: tuple[int, int]) -> Line:
    """Whether this Python is one of those the workbook was tested on."""
    span = f"{OLDEST[0]}.{OLDEST[1]} to {NEWEST[0]}.{NEWEST[1]}"
    if OLDEST <= version <= NEWEST:
        return True, f"Python is one of {span}."
    return False, f"Python is {version[0]}.{version[1]}; install one of {span} and set up again as README.md says."


def pinned(text: str) -> dict[str, str]:
    """The packages and versions that a requirements file pins."""
    return dict(re.findall(r"^([A-Za-z0-9._-]+)==([^\s;#]+)", text, re.MULTILINE))


def package_lines(wanted: dict[str, str]) -> list[Line]:
    """Whether each pinned package is there in its version; one line where all are."""
    wrong = []
    for name, version in wanted.items():
        try:
            found = metadata.version(name)
        except metadata.PackageNotFoundError:
            wrong.append(f"{name} is missing")
            continue
        if found != version:
            wrong.append(f"{name} is {found}, tested with {version}")
    todo = "Run the README's set-up command again in this environment."
    return [(False, f"{one}. {todo}") for one in wrong] or [
        (True, "Every package is there in the version that was tested.")
    ]


def data_line() -> Line:
    """Whether the exercises can be read."""
    try:
        found = sorted((data_folder() / "exercises").glob("*/exercise.toml"))
    except RigError as error:
        return False, f"The data folder cannot be read. {error}"
    if not found:
        return False, "There is no exercise in data/exercises; copy the whole project, with its data folder."
    return True, "The exercises can be read."


def folder_line() -> Line:
    """Whether work can be kept beside the notebook."""
    trial = own_folder(WORK) / "set-up-trial.txt"
    try:
        write_whole(trial, "This file may be removed.\n")
        trial.unlink()
    except (RigError, OSError) as error:
        return False, f"Your work cannot be kept here. {error}"
    return True, "Your work can be kept beside the lessons, in the folder work."


def lines() -> list[Line]:
    """All lines of the report but the one that only a person can see: whether the button answers."""
    try:
        wanted = pinned((data_folder().parent / "requirements.txt").read_text(encoding="utf-8"))
    except (RigError, OSError):
        wanted = {}
    return [python_line(sys.version_info[:2]), *package_lines(wanted), data_line(), folder_line()]
