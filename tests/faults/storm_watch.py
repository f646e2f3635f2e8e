"""What the storm watches: a process that marks (what it opens, what each hand-in takes), and what it wrote."""

import csv
import json
import os
import re
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

from tests.arms import PROJECT

OWN_FILE = re.compile(r"results\.json|gradebook\.csv|class\.html|students/[a-z0-9_-]+\.html")
RISKY = tuple("=+-@\t\r\n\uff1d\uff0b\uff0d\uff20")
OWN_TAG = re.compile("/?(style|head|body|html|main|title|meta|h[123]|p|div|span|a|table|thead|tbody|t[rhd]|ul|li|section|details|summary|"
                     "strong|footer|svg|g|path|line|circle|rect|text|tspan|polygon|polyline|ellipse|defs|clipPath|use|desc|pattern)")  # fmt: skip
TAG, HANDLER = (
    re.compile(r"<(/?[^\s<>/]*)((?:[^<>\"]|\"[^\"]*\")*)"),
    re.compile(r"""[\s/"']on\w+\s*=|javascript:|url\(""", re.I),
)
HREF = re.compile(r'(?:href|src)="([^"]*)"')
OWN_HREF = re.compile(r"#[\w-]+|\.\./class\.html|students/[a-z0-9_-]+\.html")
HIDDEN = re.compile(
    "[\x00-\x09\x0b-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069]"
)  # moves a terminal's words about


def watched(report: str, given: str, out: str, arguments: list[str]) -> None:
    """Run `rigkit` with the arguments; write what it opened elsewhere and what each hand-in took."""
    from rigkit import __main__, classroom, gathered, gradebook

    elsewhere: set[str] = set()
    roster = Path(given).with_name("roster.csv")
    own = (PROJECT / "rigkit", PROJECT / "data", sys.prefix, sys.base_prefix, f"/proc/{os.getpid()}", roster)
    homes = [os.path.realpath(one) for one in (given, out, *own, arguments[arguments.index("--exercise") + 1])]
    writes = ("os.remove", "os.rename", "os.mkdir", "os.rmdir", "os.symlink", "os.link", "os.chmod", "os.truncate")
    alarms = ("socket.", "subprocess.", "os.system", "os.exec", "os.posix_spawn", "os.fork", "urllib.", "shutil.copy")

    def hook(event: str, what: tuple) -> None:
        if event.startswith(alarms):
            elsewhere.add(f"{event} {what!r:.200}")
        elif (event == "open" or event in writes) and isinstance(what[0], (str, bytes)):
            path, within = os.fsdecode(what[0]), what[1] is None if event == "open" else what[-1] != -1
            if within and not Path(path).is_absolute():  # by a folder that is open, as rmtree does
                return
            path = os.path.realpath(path)
            changes = event in writes or what[2] & (os.O_WRONLY | os.O_RDWR | os.O_CREAT)
            inside = (homes[1], f"/proc/{os.getpid()}") if changes else homes
            if not any(path == home or path.startswith(home + os.sep) for home in inside):
                elsewhere.add(f"{event} {path!r:.200}")

    took: dict[str, list[float]] = {}

    def timed(work: Callable, name_of: Callable) -> Callable:
        def call(*arguments, **more):
            Path("/proc/self/clear_refs").write_text("5")  # the peak of memory counts from here
            begins = time.process_time()
            try:
                return work(*arguments, **more)
            finally:
                row = took.setdefault(name_of(*arguments), [0.0, 0.0])
                row[0] += time.process_time() - begins
                row[1] = max(row[1], _peak())

        return call

    classroom.mark_file = timed(classroom.mark_file, lambda label, *_: label)
    gathered._take = timed(gathered._take, lambda label, *_: label)
    gradebook._page = timed(gradebook._page, lambda job: "page of " + json.dumps(gradebook.from_bytes(job[0]).file))
    gradebook.class_page = timed(gradebook.class_page, lambda *_: "class.html")
    sys.addaudithook(hook)
    try:
        status = __main__.main(arguments)
    finally:
        homes.append("/")
        Path(report).write_text(json.dumps({"took": took, "elsewhere": sorted(elsewhere), "peak": _peak()}), "utf-8")
    sys.exit(status)


def _peak() -> float:
    """The peak of this process's memory, MB."""
    return int(re.search(r"VmHWM:\s+(\d+)", Path("/proc/self/status").read_text())[1]) / 1024


def wrong_in(out: Path) -> Iterator[str]:
    """What should not be in results: markup in pages, formulas in the table, files of other names."""
    for path in out.rglob("*.html"):
        yield from (f"{path.name}: {words}" for words in alive(path.read_text("utf-8")))
    with (out / "gradebook.csv").open(encoding="utf-8", newline="") as file:
        for cell in (cell for row in csv.reader(file) for cell in row):
            if cell.startswith(RISKY) or cell.lstrip().startswith(RISKY):
                yield f"a formula: {cell[:80]!r}"
    for name in (path.relative_to(out).as_posix() for path in out.rglob("*") if path.is_file()):
        if not OWN_FILE.fullmatch(name):
            yield f"left in the folder: {name}"


def alive(page: str) -> Iterator[str]:
    """What in a page does not come from rigkit's own templates: tags, handlers, addresses."""
    body = page[page.index("</style>") :]
    for name, rest in TAG.findall(body):
        if not OWN_TAG.fullmatch(name):
            yield f"a tag {name[:60]!r}"
        if HANDLER.search(re.sub(r"url\(#[\w-]+\)", "", rest)) and HANDLER.search(re.sub(r'"[^"]*"', '""', rest)):
            yield f"a handler in {rest[:80]!r}"
        for where in HREF.findall(rest):
            if not OWN_HREF.fullmatch(where):
                yield f"an address {where[:80]!r}"
