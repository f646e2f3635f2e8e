"""Whole files: what is written lies beside its place and then moves there, so that a reader never sees half of it."""

import os
from pathlib import Path


def write_whole(path: Path, content: str | bytes) -> None:
    """Write a text, or bytes, whole or not at all, with its folder where that is not there yet. Raises OSError."""
    beside = path.with_name(f".{path.name}.{os.getpid()}.part")
    path.parent.mkdir(parents=True, exist_ok=True)
    try:
        beside.write_bytes(content if isinstance(content, bytes) else content.encode("utf-8"))
        beside.replace(path)
    finally:
        beside.unlink(missing_ok=True)
