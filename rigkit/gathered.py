"""Gathered: files, folders and zips given -> hand-ins as (label, file), what is passed over, and whose they are."""

import os
import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path, PurePosixPath
from typing import cast

from rigkit.files.handin import ENDINGS, id_from
from rigkit.files.layout import LONGEST_NAME, Layout, plain_text
from rigkit.files.packed import Packed, entries
from rigkit.require import RigError, shown

ZIP = ".zip"
OTHERWISE = "export as .glb, or hand in the workbook's .json"
WRITTEN = ("results.json", "gradebook.csv", "class.html")
Found = list[tuple[str, Path]]  # an entry of a zip is Packed, which is read as a Path is
FIELD = re.compile(r"\{(id|attempt|any)\}")
# control signs, ends of lines, and what turns the direction of reading about
UNSHOWN = re.compile(r"[\x00-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069]")
LONGEST_PATTERN = 100  # characters
MOST_ATTEMPTS = 6  # digits


def find_handins(given: Iterable[str | Path], out: Path | None = None) -> tuple[Found, list[tuple[str, str]]]:
    """The hand-ins among files, folders and zips given: (label, file), the label relative to the folder, with `/`; and
    what is passed over: (label, reason).

    A hand-in ends in .json, .glb or .gltf, and may lie in a zip. Links that lead out of their folder are passed over;
    hidden files, results of an earlier run and what lies in `out` are not looked at. Raises RigError where a given path
    is not there.
    """
    found: Found = []
    passed: list[tuple[str, str]] = []
    paths = [Path(one) for one in given]
    for one in paths:
        label = shown_name(one.name)
        if one.is_dir():
            _in_folder(one, out.resolve() if out else None, found, passed)
        elif one.exists() and one.suffix.lower() in (*ENDINGS, ZIP):
            _take(label, one, found, passed)
        elif one.exists() and len(paths) > 1:
            passed.append((label, _why_not(one.suffix)))
        else:
            got = "another kind of file" if one.exists() else "nothing there"
            raise RigError(f"a folder, or a file ending in {', '.join((*ENDINGS, ZIP))}", got, where=label)
    once: dict[object, tuple[str, Path]] = {}
    for label, file in found:
        place = (file.path.resolve(), file.begins, label) if isinstance(file, Packed) else file.resolve()
        once.setdefault(place, (label, file))
    return list(once.values()), sorted(set(passed))


def _take(label: str, path: Path, found: Found, passed: list[tuple[str, str]]) -> None:
    """Take a file for a hand-in, or what lies in it if it is a zip."""
    if path.suffix.lower() != ZIP:
        found.append((label, path))
        return
    try:
        inner = entries(path, label)
    except RigError as error:
        passed.append((label, str(error).removeprefix(f"{label}: ").rstrip(".")))
        return
    if not inner:
        passed.append((label, f"there is no file in it to read; {OTHERWISE}"))
    for name, one in inner:
        ending = PurePosixPath(name).suffix
        if isinstance(one, str):
            passed.append((name, one))
        elif ending.lower() in ENDINGS:
            found.append((name, cast(Path, one)))
        else:
            passed.append((name, _why_not(ending)))


def _in_folder(folder: Path, out: Path | None, found: Found, passed: list[tuple[str, str]]) -> None:
    root = folder.resolve()

    def closed(there: Path) -> None:
        label = shown_name(there.relative_to(root).as_posix() if there != root else root.name)
        passed.append((label, "a folder that cannot be looked into; change who may read it"))

    for here, folders, files in os.walk(root, onerror=lambda error: closed(Path(error.filename))):
        there = Path(here)
        if not os.access(there, os.R_OK | os.X_OK):
            closed(there)
            folders[:] = []
            continue
        kept = there if there.name != "students" else there.parent  # an earlier run's results lie here, or above
        earlier = (kept / "gradebook.csv").exists() and (kept / "results.json").exists()
        folders[:] = sorted(f for f in folders if not f.startswith(".") and (there / f) != out)
        for name in sorted([*files, *(f for f in folders if (there / f).is_symlink())]):
            path = there / name
            label = shown_name(path.relative_to(root).as_posix())
            if name.startswith(".") or (earlier and (name in WRITTEN if kept == there else path.suffix == ".html")):
                continue
            if path.is_symlink():  # it would be another's hand-in, or lie elsewhere
                passed.append((label, "a link is not followed; hand in the file itself"))
            elif path.suffix.lower() not in (*ENDINGS, ZIP):
                passed.append((label, _why_not(path.suffix)))
            else:
                _take(label, path, found, passed)


def _why_not(suffix: str) -> str:
    """Why a file of another kind is passed over, and what to do."""
    ending = shown_name(suffix.lower())
    what = f"files ending in {ending} are not read" if ending else "a file without an ending is not read"
    return f"{what}; {OTHERWISE}"


def shown_name(name: str) -> str:
    """A file's name as text that can be written anywhere: with a mark in place of bytes that are no text, and of signs
    that would move a screen's cursor or turn its lines about.

    >>> shown_name("wren\\n2.json") == "wren\\N{REPLACEMENT CHARACTER}2.json"
    True
    """
    return UNSHOWN.sub("\N{REPLACEMENT CHARACTER}", name.encode("utf-8", "surrogateescape").decode("utf-8", "replace"))


@dataclass(frozen=True)
class Pattern:
    """How file names say whose a hand-in is: texts and fields in turn, read from the right; a field reaches to the
    nearest of the text before it, and over no `/`."""

    text: str

    def __post_init__(self) -> None:
        fields = FIELD.findall(self.text)
        if not ("id" in fields and all(fields.count(one) == 1 for one in set(fields) - {"any"})):
            raise RigError("{id} once in it, and {attempt} once at most", shown(self.text), where="the pattern of ids")
        if "{" in (plain := FIELD.sub("", self.text)) or "}" in plain or len(self.text) > LONGEST_PATTERN:
            raise RigError("{id}, {attempt} and {any} beside plain text", shown(self.text), where="the pattern of ids")
        if re.search(r"\}\{", self.text):
            raise RigError("some text between two fields", shown(self.text), next_step="Write as in {id}_{attempt}",
                           where="the pattern of ids")  # fmt: skip

    def read(self, label: str) -> dict[str, str] | None:
        """The fields that a file's label says; None where it does not fit.

        The label's ending is left out, and of its folders as many are looked at as the pattern has.

        >>> Pattern("{id}_{attempt}").read("late/red_wren_2.json")
        {'attempt': '2', 'id': 'red_wren'}
        """
        parts = label.split("/")[-1 - self.text.count("/") :]
        stem = parts[-1].rpartition(".")[0] or parts[-1]
        rest, said = "/".join([*parts[:-1], stem]), {}
        pieces = FIELD.split(self.text)  # text, field, text, field ... text
        for number in range(len(pieces) - 1, 0, -2):
            text, field, before = pieces[number], pieces[number - 1], pieces[number - 2]
            if not rest.endswith(text):
                return None
            rest = rest[: len(rest) - len(text)]
            begins = rest.rfind(before) + len(before) if before and number > 2 else len(before)
            if not rest[:begins].endswith(before):
                return None
            value, rest = rest[begins:], rest[:begins]
            number_like = value.isascii() and value.isdecimal() and len(value) <= MOST_ATTEMPTS
            if "/" in value or (field == "id" and not value.strip()) or (field == "attempt" and not number_like):
                return None
            said[field] = value
        said.pop("any", None)
        return said if rest == pieces[0] else None


def id_of(label: str, pattern: Pattern | None = None) -> str:
    """The id that a file's name gives, by a pattern where it fits."""
    said = pattern.read(label) if pattern else None
    return (plain_text(said["id"], "", []).strip() if said else "") or id_from(label)


def named_by(layout: Layout, label: str, pattern: Pattern | None) -> Layout:
    """A layout with the id, and the attempt, that the name of its file says; a notice where that is not the file's
    own, or where the name says nothing."""
    if pattern is None:
        return layout
    said = pattern.read(label)
    if said is None:
        words = f"The file's name does not fit {pattern.text}; the id in it is used, or else its whole name."
        return replace(layout, notices=(*layout.notices, words))
    name, notices = id_of(label, pattern), layout.notices
    if layout.id not in (name, id_from(label)):
        notices = (*notices, f"The file says the id {layout.id[:LONGEST_NAME]}; its name says {name}, which counts.")
    return replace(layout, id=name, attempt=int(said.get("attempt", layout.attempt)), notices=notices)
