"""A student's own copy of the lessons: new ones come, changed ones replace what is untouched, else they lie beside.

Run as the student: own_copy.py LESSONS OWN HANDINS. Nothing of the student's is ever overwritten: a lesson is replaced
only while it has the very bytes that were given. A lesson that was deleted or renamed comes anew.
"""

import json
import os
import sys
from hashlib import sha256
from pathlib import Path

GIVEN = ".given.json"  # what was given: a lesson's name -> checksums of its bytes


def own_copy(lessons: Path, own: Path, hand_ins: Path) -> list[str]:
    """Bring OWN/lessons up to date, with a private folder for work and a link to the hand-ins; the names written.

    Files that this account may not read, such as the answers, are left out.
    """
    copy = own / "lessons"
    for folder in (own, copy, copy / "work"):
        folder.mkdir(parents=True, exist_ok=True)
        folder.chmod(0o700)
    if not os.path.lexists(copy / "hand-ins"):
        (copy / "hand-ins").symlink_to(hand_ins)
    try:
        given = {str(name): list(sums) for name, sums in json.loads((own / GIVEN).read_text(encoding="utf-8")).items()}
    except (OSError, ValueError, AttributeError, TypeError):
        given = {}
    written = []
    for lesson in sorted(lessons.glob("*.ipynb")):
        if not os.access(lesson, os.R_OK):
            continue
        content, sums, there = lesson.read_bytes(), given.setdefault(lesson.name, []), copy / lesson.name
        new, taken = _sum(content) not in sums, os.path.lexists(there)
        if taken and not new:
            continue
        old = there.read_bytes() if there.is_file() else b""
        if taken and old != content and _sum(old) not in sums:
            there = _beside(there)
        if not taken or old != content:
            _write(there, content)
            written.append(there.name)
        if new:
            sums.append(_sum(content))
    _write(own / GIVEN, json.dumps(given, indent=1).encode())
    return written


def _sum(content: bytes) -> str:
    return sha256(content).hexdigest()


def _beside(path: Path) -> Path:
    """The next free name beside a lesson, which sorts next to it."""
    number = 1
    while os.path.lexists(beside := path.with_name(f"{path.stem}.updated-{number}.ipynb")):
        number += 1
    return beside


def _write(path: Path, content: bytes) -> None:
    """Write a file whole or not at all."""
    part = path.with_name(f".{path.name}.part")
    part.write_bytes(content)
    part.replace(path)


if __name__ == "__main__":
    own_copy(*(Path(one) for one in sys.argv[1:]))
