"""TOML tables: a dict read from one file, its format and keys checked, every error naming file and key."""

import tomllib
from pathlib import Path

from rigkit import require
from rigkit.require import RigError

LARGEST = 1_000_000  # bytes; rules, rubrics and exercises are a few kilobytes, so anything near this is another file


def data_folder() -> Path:
    """The project's `data/` folder, which lies beside the `rigkit/` folder. Raises RigError where it is not there."""
    import rigkit

    folder = Path(rigkit.__file__).resolve().parent.parent / "data"
    if not folder.is_dir():
        raise RigError(
            "the project's data/ folder beside the rigkit/ folder",
            "no such folder",
            "rigkit was installed apart from its project",
            "Install it from the project's folder with: pip install -e ./rigkit",
            where="data",
        )
    return folder


def read_table(path: str | Path, kind: str, needed: tuple[str, ...], also: tuple[str, ...] = ()) -> dict:
    """Read one TOML file of `format = kind`, version 1.

    Takes the path, the format's name, the keys that must be there and those that may be. Returns the dict.
    Raises RigError, naming the file (its name, not its folder) and the key.
    """
    path = Path(path)
    where = path.name
    try:
        if path.stat().st_size > LARGEST:
            raise RigError(f"a table under {LARGEST} bytes", f"{path.stat().st_size} bytes", where=where)
        table = tomllib.loads(path.read_bytes().decode("utf-8-sig"))
    except OSError as error:
        raise RigError(
            f"a readable file {where}",
            (error.strerror or "no such file").lower(),
            next_step="Check the name and the folder",
            where=where,
        ) from None
    except UnicodeDecodeError:
        raise RigError("text saved as UTF-8", "other bytes", next_step="Save it as UTF-8", where=where) from None
    except (tomllib.TOMLDecodeError, RecursionError, ValueError) as error:
        if isinstance(error, RigError):
            raise
        raise RigError("a TOML file", f"something else ({error})", next_step="Mend that line", where=where) from None
    if table.get("format") != kind or table.get("version") != 1:
        raise RigError(
            f'format = "{kind}" and version = 1',
            f"format {table.get('format')!r} and version {table.get('version')!r}",
            "another kind of file, or one of a later version",
            where=where,
        )
    keys(table, ("format", "version", *needed), also, where)
    return table


def keys(table: object, needed: tuple[str, ...], also: tuple[str, ...], where: str) -> dict:
    """Check that `table` is a dict which has every key of `needed` and none beyond `needed` and `also`."""
    if not isinstance(table, dict):
        raise RigError("a table of keys", require.kind(table), where=where)
    for key in needed:
        if key not in table:
            raise RigError(f"the key {key}", "no such key", next_step=f"Add {key} = ...", where=where)
    for key in table:
        if key not in needed and key not in also:
            raise RigError(
                f"one of the keys {', '.join((*needed, *also))}",
                f"the key {key!r}",
                "a slip of the pen",
                "Mend or remove it",
                where=where,
            )
    return table
