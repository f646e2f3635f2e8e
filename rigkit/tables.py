"""Tables: a dict from a TOML file of the project or of an exercise, rows from a CSV file; errors name the file."""

import csv
import io
import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from rigkit.require import RigError

LARGEST = 1_000_000  # bytes; all these tables have a few kilobytes, so anything near this is another file
BETWEEN = ",;\t"  # what stands between cells: most of Europe's spreadsheets write semicolons
ASKED = re.compile(r'^#.*= *"\?"', re.MULTILINE)  # a line of a draft that waits for its answer


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
        text = path.read_bytes().decode("utf-8-sig")
        table = tomllib.loads(text)
        if not table.get("open") and (line := ASKED.search(text)):
            number = text.count("\n", 0, line.start()) + 1
            raise RigError('an answer in place of each "?" of the draft', line[0].lstrip("# ")[:40] + " ...",
                           next_step='Write which way in place of "?", such as "forward", and take the # away; or '
                           "delete the line where nothing folds", where=f"{where}, line {number}")  # fmt: skip
        return table
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


@dataclass(frozen=True)
class Rows:
    """A CSV file: the columns' names, and each row by them, with the number of the line on which it ends."""

    names: tuple[str, ...]
    rows: tuple[tuple[int, Mapping[str, str]], ...]


def read_rows(path: str | Path, what: str, where: str = "") -> Rows:
    """The rows of a CSV file, as spreadsheets save it: commas, semicolons or tabs between cells, UTF-8 with or without
    a byte order mark, or UTF-16 with one. The names in its first line tell which; one of them has to be id.

    what: such as "a roster", for errors. Raises RigError, naming the file as `where`, by default its name.
    """
    path = Path(path)
    where = where or path.name
    try:
        if path.stat().st_size > LARGEST:
            raise RigError(what, f"a file of {path.stat().st_size / 1e6:.1f} MB", where=where)
        data = path.read_bytes()
        wide = data.startswith((b"\xff\xfe", b"\xfe\xff"))
        text = data.decode("utf-16" if wide else "utf-8-sig").replace("\r\n", "\n")
        first = text.lstrip("\n").partition("\n")[0]
        fits = (sign for sign in BETWEEN if "id" in _cells(first, sign))
        lines = csv.reader(io.StringIO(text), delimiter=next(fits, ","), strict=True)
        names: tuple[str, ...] = ()
        rows = []
        for cells in lines:
            if not names:
                names = tuple(cell.strip() for cell in cells)
            elif any(cell.strip() for cell in cells):
                cells += [""] * (len(names) - len(cells))
                rows.append((lines.line_num, {name: cell.strip() for name, cell in zip(names, cells, strict=False)}))
    except OSError as error:
        raise RigError(what, (error.strerror or "an error").lower(), where=where) from None
    except (UnicodeDecodeError, csv.Error):
        raise RigError("a CSV file saved as UTF-8", "something else", where=where) from None
    return Rows(names, tuple(rows))


def _cells(line: str, sign: str) -> list[str]:
    return [cell.strip() for cell in next(csv.reader([line], delimiter=sign), [])]
