"""TOML tables: a dict read from one file of the project or of an exercise, every error naming the file."""

import tomllib
from pathlib import Path

from rigkit.require import RigError

LARGEST = 1_000_000  # bytes; rules, rubrics and exercises are a few kilobytes, so anything near this is another file


def data_folder() -> Path:
    """The project's `data/` folder, which lies beside the `rigkit/` folder. Raises RigError where it is not there."""
    import rigkit

    folder = Path(rigkit.__file__).resolve().parent.parent / "data"
    if not folder.is_dir():
        raise RigError("the project's data/ folder beside the rigkit/ folder", "no such folder",
                       "rigkit was installed apart from its project",
                       "Install it from the project's folder with: pip install -e ./rigkit", where="data")  # fmt: skip
    return folder


def read_table(path: Path, where: str = "") -> dict:
    """The dict that a TOML file holds; `schema.fits` says whether it is one of its kind.

    Raises RigError, naming the file as `where`, by default its name without its folder.
    """
    where = where or path.name
    try:
        if path.stat().st_size > LARGEST:
            raise RigError(f"a table under {LARGEST} bytes", f"{path.stat().st_size} bytes", where=where)
        return tomllib.loads(path.read_bytes().decode("utf-8-sig"))
    except OSError as error:
        raise RigError(f"a readable file {where}", (error.strerror or "no such file").lower(),
                       next_step="Check the name and the folder", where=where) from None  # fmt: skip
    except UnicodeDecodeError:
        raise RigError("text saved as UTF-8", "other bytes", next_step="Save it as UTF-8", where=where) from None
    except RecursionError:
        raise RigError("a TOML file", "lists within lists without end", where=where) from None
    except RigError:
        raise
    except ValueError as error:
        raise RigError("a TOML file", f"something else ({error})", next_step="Mend that line", where=where) from None
