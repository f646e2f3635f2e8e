"""Zip files of hand-ins: the entries of one -> labels and `Packed` files to read, within limits, nothing written.

No path that an entry names is opened: an entry is read by its place in the zip, its name only shown.
"""

import zipfile
import zlib
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from stat import S_ISLNK
from types import SimpleNamespace

from rigkit.files.layout import without_hidden
from rigkit.require import RigError

LARGEST_ZIP = 1_000_000_000  # bytes; sixty glTF files of the largest size allowed, packed
LONGEST_LIST = 2_000_000  # bytes of a zip's own table of its entries: reading it takes some ten times that memory
MOST_ENTRIES = 5_000
HALF_A_NAME = 125  # characters; of longer names beginning and end are shown. Most file systems allow 255 bytes
LARGEST_ENTRY = 20_000_000  # bytes unpacked, as for a hand-in
LARGEST_ALL = 2_000_000_000  # bytes of all entries unpacked
MOST_PACKED = 200  # an entry this many times larger than what it was packed to; layouts reach 10, flat meshes 40
READ = {zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED}  # others may ask for gigabytes to be unpacked
ENTRY, END, LOCATOR = b"PK\x03\x04", b"PK\x05\x06", b"PK\x06\x07"
END_SIZE, LONGEST_REMARK = 22, 65_535
UNREADABLE = (zipfile.BadZipFile, NotImplementedError, EOFError, RuntimeError, ValueError)


@dataclass(frozen=True)
class Packed:
    """One entry of the zip at `path`, in the form of a file that can be read: where it begins, its size packed and
    unpacked, its checksum, and whether it is packed at all."""

    path: Path
    begins: int
    packed: int
    size: int
    checksum: int
    deflated: bool

    def exists(self) -> bool:
        """It is there, since it was listed."""
        return True

    is_file = exists

    def stat(self) -> SimpleNamespace:
        """Its unpacked size, as the zip says."""
        return SimpleNamespace(st_size=self.size)

    def open(self, mode: str = "rb") -> BytesIO:
        """Its bytes, as many as the zip says. Raises OSError where they are others."""
        with self.path.open("rb") as file:
            file.seek(self.begins)
            head = file.read(30)  # then follow its name and more of no use here, of these two lengths
            file.seek(int.from_bytes(head[26:28], "little") + int.from_bytes(head[28:30], "little"), 1)
            data = file.read(self.packed)
        try:
            body = zlib.decompressobj(-zlib.MAX_WBITS).decompress(data, self.size + 1) if self.deflated else data
        except zlib.error:
            body = b""
        if not head.startswith(ENTRY) or len(body) != self.size or zlib.crc32(body) != self.checksum:
            raise OSError(0, "a damaged entry of a zip file")
        return BytesIO(body)


def entries(path: Path, label: str) -> list[tuple[str, Packed | str]]:
    """What lies in a zip file: (label, file), or (label, reason) for what is not read; folders and hidden files left
    out. label: the zip's own, said in front. Raises RigError for a zip that cannot be read within the limits."""
    try:
        if not path.is_file():  # a pipe would be waited for
            raise RigError("a file", "something else", where=label)
        if path.stat().st_size > LARGEST_ZIP:
            raise RigError("a zip of at most 1 GB", f"{path.stat().st_size / 1e9:.1f} GB", where=label)
        _refuse_long_list(path, label)
        with zipfile.ZipFile(path) as packed:
            there = packed.infolist()
    except RigError:
        raise
    except OSError as error:
        raise RigError("a zip that can be read", (error.strerror or "an error").lower(), where=label) from None
    except UNREADABLE:
        raise RigError("a zip", "a file that cannot be read as one", "it was not copied to its end",
                       "Unpack it and mark again", label) from None  # fmt: skip
    if sum(one.file_size for one in there) > LARGEST_ALL:
        raise RigError("at most 2 GB unpacked", "more", next_step="Unpack it and mark again", where=label)
    found: dict[str, Packed | str] = {}
    for number, one in enumerate(there):
        parts = [_shown(part) for part in one.filename.replace("\\", "/").split("/")]
        parts = [part for part in parts if part not in ("", ".", "..")]
        if not parts or one.is_dir() or any(part.startswith((".", "__MACOSX")) for part in parts):
            continue
        shown = "/".join([label, *parts])
        if shown in found:  # two entries of one name: both are read
            shown = "/".join([label, str(number), *parts])
        found[shown] = _why_not(one) or Packed(path, one.header_offset, one.compress_size, one.file_size, one.CRC,
                                               one.compress_type == zipfile.ZIP_DEFLATED)  # fmt: skip
    return list(found.items())


def _shown(part: str) -> str:
    """A folder's or a file's name as it is shown, its ending kept."""
    clean = without_hidden(part).strip()
    return clean[:HALF_A_NAME] + clean[HALF_A_NAME:][-HALF_A_NAME:]


def _why_not(one: zipfile.ZipInfo) -> str:
    """Why an entry is not read, or ""."""
    if S_ISLNK(one.external_attr >> 16):
        return "a link in a zip is not followed; hand in the file itself"
    if one.filename.lower().endswith(".zip"):
        return "a zip within a zip is not opened; unpack it and mark again"
    if one.flag_bits & 0x1:
        return "it is locked with a password; unpack it and mark again"
    if one.compress_type not in READ:
        return "it is packed in a way that is not read; pack it as a plain zip"
    most = max(one.file_size, one.compress_size)
    if most > LARGEST_ENTRY or most > MOST_PACKED * max(one.compress_size, 64):
        return f"unpacked it would have {most / 1e6:,.1f} MB, which no hand-in needs"
    return ""


def _refuse_long_list(path: Path, label: str) -> None:
    """Refuse a zip whose list of entries is too long, before anything reads that list."""
    with path.open("rb") as file:
        file.seek(-min(path.stat().st_size, LONGEST_REMARK + END_SIZE + 20), 2)
        tail = file.read()
    begins = len(tail) - END_SIZE
    if not (tail[begins:].startswith(END) and tail.endswith(b"\0\0")):  # there is a remark behind it
        begins = tail.rfind(END)
    if begins < 0 or len(tail) < begins + END_SIZE:
        raise zipfile.BadZipFile
    count, size = int.from_bytes(tail[begins + 10 : begins + 12], "little"), tail[begins + 12 : begins + 16]
    far = tail[max(begins - 20, 0) : begins].startswith(LOCATOR)  # zip64: the true numbers stand elsewhere
    if far or count > MOST_ENTRIES or int.from_bytes(size, "little") > LONGEST_LIST:
        raise RigError(f"at most {MOST_ENTRIES:,} files in a zip", "more", next_step="Unpack it and mark again",
                       where=label)  # fmt: skip
