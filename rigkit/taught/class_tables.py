"""A marked class in tables and pages: what went in and came out, findings by joint, losses, one student's numbers."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from html import escape
from pathlib import Path
from typing import NamedTuple

from rigkit.classroom import find_handins
from rigkit.files.handin import read_handin
from rigkit.files.rubrics import CRITERIA, read_finding_kinds
from rigkit.marking import Class
from rigkit.picture import FONTS_ON_SCREEN, LIGHT, on_any_page
from rigkit.report import CRITERION_WORDS, class_page, student_page
from rigkit.require import RigError, choice
from rigkit.stills import Picture, picture
from rigkit.taught.class_desk import Marking, found
from rigkit.told import Table
from rigkit.work import WORK, own_folder

MOST = 6  # rows of a table of files
LEAST_DARK = 4  # students: a cell of one alone is never the darkest
ABOUT = {
    "structure": {"found": "is there", "parent": "hangs on", "parent-asked": "should hang on"},
    "centring": {"offset": "distance from its middle", "radius": "local radius: that of a circle as large as the slice",
                 "offset-radius": "that distance in local radii"},
    "fold": {"station": "distance beyond its stretch of limb", "station-radius": "the same in local radii"},
    "bend": {"bend-line": "length of the line between its neighbours", "bend": "off that line, the way it must lie",
             "bend-share": "the same as a share of the line", "bend-straight": "up to this share: too straight to tell",
             "bend-least": "from this share on: plainly bent", "bend-most": "beyond this share: bent too much"},
    "names": {"name": "is called", "name-asked": "by the rule"},
}  # fmt: skip
"""Which measurements a criterion looks at, and what they are in words."""


def what_goes_in(handins: str = "demo-class") -> Table:
    """The first files of a folder of hand-ins and what they hold."""
    files, passed = find_handins([found(handins, "")])
    rows = []
    for label, path in files[:MOST]:
        try:
            layout = read_handin(path, label)
            rows.append((label, layout.id, str(layout.attempt), ", ".join(layout.skeleton.names)))
        except RigError:
            rows.append((label, Path(label).stem, "", "could not be read"))
    under = [f"and {len(files) - MOST} more files"] if len(files) > MOST else []
    return Table(("file", "id", "attempt", "joints in it"), rows, [*under, *(f"{name}: {why}" for name, why in passed)])


def what_came_out(marking: Marking) -> Table:
    """What was written, where it lies, and whom it is for."""
    place, pages = f"{own_folder(WORK).name}/{marking.out.name}", len(list((marking.out / "students").glob("*.html")))
    return Table(("file", "what it is", "for"), [
        (f"{place}/class.html", "the class at a glance", "you, on Sunday evening"),
        (f"{place}/students/", f"{pages} pages, one for each student", "each student, to keep or to print"),
        (f"{place}/gradebook.csv", "a row for each id", "a spreadsheet, or the office"),
        (f"{place}/results.json", "every measurement, score and finding", "whoever wants to check a mark"),
    ])  # fmt: skip


class Page:
    """A page that was written, shown as it is, without its links."""

    def __init__(self, name: str, text: str):
        self.name, self.text = name, re.sub(r"</?a\b[^>]*>", "", text)

    def __repr__(self) -> str:
        return f"Page: {self.name}. Run this cell (Shift+Enter) to see it."

    def _repr_html_(self) -> str:
        return (f'<iframe title="{escape(self.name)}" sandbox="" srcdoc="{escape(self.text)}" '
                f'style="width:100%;max-width:860px;height:560px;border:0"></iframe>')  # fmt: skip


def page_of(marking: Marking, student: str = "") -> Page:
    """The class's page, or a student's."""
    if not student:
        return Page("class.html", class_page(marking.room))
    return Page(f"the page of {student}", student_page(marking.result(student), marking.room))


class Heat(Table):
    """A table in which a cell has the more colour, the greater the number written in it (the last two apart)."""

    def _repr_html_(self) -> str:
        most = max([LEAST_DARK, *(int(cell) for row in self.rows for cell in row[1:-2] if cell.isdecimal())])
        edge = f"padding:4px 14px;border:1px solid {LIGHT.faint};color:{LIGHT.ink}"
        head = "".join(f'<th scope="col" style="{edge};text-align:left">{escape(cell)}</th>' for cell in self.head)
        body = []
        for row in self.rows:
            cells = [f'<th scope="row" style="{edge};text-align:left;font-weight:normal">{escape(row[0])}</th>']
            for place, cell in enumerate(row[1:], 1):
                shade = int(cell) / most if cell.isdecimal() and place < len(row) - 2 else 0.0
                cells.append(f'<td style="{edge};text-align:center;background:{_shaded(shade)}">{escape(cell)}</td>')
            body.append(f'<tr style="background:{LIGHT.paper}">{"".join(cells)}</tr>')
        under = "".join(f"<div>{escape(one)}</div>" for one in self.under)
        font = FONTS_ON_SCREEN.replace(chr(34), "")
        look = f"max-width:860px;padding:10px 14px;background:{LIGHT.paper};color:{LIGHT.ink};font:14px/1.5 {font}"
        table = f"<tr>{head}</tr>{''.join(body)}"
        table = f'<table style="border-collapse:collapse;font:inherit;margin:0 0 6px">{table}</table>'
        return on_any_page(f'<div style="{look}">{table}{under}</div>')


def _shaded(share: float) -> str:
    """A warm flesh tone over the paper, on a dark page a dark one: ink can be read on both."""
    return f"light-dark(rgb(226 164 124 / {share:.2f}),rgb(152 72 28 / {share:.2f}))"


def who_by_joint(room: Class) -> Mapping[tuple[str, str], frozenset[str]]:
    """The ids of those who have a finding of a kind at a joint, by (finding, joint)."""
    who: dict[tuple[str, str], set[str]] = {}
    for one in room.counting:
        for finding in one.findings:
            who.setdefault((finding.finding, finding.joint), set()).add(one.id)
    return {key: frozenset(ids) for key, ids in who.items()}


def by_joint(marking: Marking) -> Heat:
    """How many students have each finding, joint by joint, the most common first; and the lesson that teaches it."""
    who, room = who_by_joint(marking.room), marking.room
    asked = [one.role for one in room.asked.joints] if room.asked else []
    joints = [*asked, *sorted({joint for _, joint in who} - set(asked))]
    students = {kind: frozenset().union(*(ids for (one, _), ids in who.items() if one == kind)) for kind, _ in who}
    rows = []
    for kind in sorted(students, key=lambda kind: (-len(students[kind]), kind)):
        counts = [str(len(who[kind, joint])) if (kind, joint) in who else "" for joint in joints]
        about = read_finding_kinds()[kind]
        rows.append((about.title, *counts, str(len(students[kind])), str(about.lesson)))
    whole = [len(frozenset().union(*(ids for (_, one), ids in who.items() if one == joint))) for joint in joints]
    under = [f"Students with any finding: {', '.join(f'{joint} {n}' for joint, n in zip(joints, whole, strict=True))}."]
    return Heat(("finding", *joints, "students", "lesson"), rows, under)


class Loss(NamedTuple):
    """What a criterion took from a class: from how many students, how many points together with what its limits took,
    and the lessons that teach it again."""

    students: int
    points: float
    lessons: tuple[int, ...]


def losses(room: Class) -> dict[str, Loss]:
    """What each criterion took that took something."""
    kinds, done = read_finding_kinds(), {}
    for name in CRITERIA:
        who, points, lessons = set(), 0.0, set()
        for one in room.counting:
            took = [(f.finding, f.cost) for f in one.findings]
            took += [(cap["finding"], cap["took"]) for cap in one.caps if cap["took"]]
            for kind, cost in took:
                if kinds[kind].criterion == name:
                    who.add(one.id)
                    points += cost
                    lessons.add(kinds[kind].lesson)
        if who:
            done[name] = Loss(len(who), round(points, 2), tuple(sorted(lessons)))
    return done


def by_criterion(marking: Marking) -> Table:
    """What each criterion took from the class, limits included."""
    rows = [(name, CRITERION_WORDS[name][1], str(one.students), f"{one.points:.1f}", ", ".join(map(str, one.lessons)))
            for name, one in losses(marking.room).items()]  # fmt: skip
    return Table(("criterion", "what it looks at", "students", "points", "lesson"), rows)


def most_often(marking: Marking) -> str:
    """Which criterion took something from most students, in words."""
    took = losses(marking.room)
    name = max(took, key=lambda name: took[name].students)
    return f"{name}: {took[name].students} students lost something there"


def findings_of(marking: Marking, student: str) -> Table:
    """A student's findings: what was found, what it cost, what mends it, which lesson teaches it."""
    one, kinds = marking.result(student), read_finding_kinds()
    rows = [(f.joint, f.message, f"{f.cost:.2f}", f.mend, str(kinds[f.finding].lesson)) for f in one.findings]
    under = [f"The limit of {cap['cap']:g} for {kinds[cap['finding']].title.lower()} took {cap['took']:g} more."
             for cap in one.caps if cap["took"]]  # fmt: skip
    mark = f"{student} has no mark. {one.reason}" if one.mark is None else f"{student} has {one.mark:g} of 100."
    return Table(("joint", "found", "cost", "what mends it", "lesson"), rows, [*under, *one.notices, mark])


def picture_of(
    marking: Marking, student: str, views: Sequence[str] = ("side", "slice"), joint: str = "elbow"
) -> Picture:
    """A student's joints in the mesh, as handed in."""
    one, asked = marking.result(student), marking.room.asked
    if one.skeleton is None or asked is None:
        raise RigError("a hand-in that could be read", f"{student}'s, which could not", where="the picture")
    return picture(asked, one.skeleton, views, (joint,), 0.0, True)


def measured(marking: Marking, student: str, joint: str, about: str) -> Table:
    """What was measured of a student's joint for one criterion, with what the rubric allows."""
    looks = ABOUT[choice(about, "a criterion", tuple(ABOUT))]
    facts = {m.measure: m for m in marking.result(student).measurements if m.joint == joint}
    rows = []
    for name, words in looks.items():
        if name in facts:
            value, unit = facts[name].value, facts[name].unit
            shown = (
                value if isinstance(value, str) else f"{value:.4f}" if unit in ("share", "radius") else f"{value:.1f}"
            )
            rows.append((name, words, shown, {"text": "", "share": "of the line", "radius": "radii"}.get(unit, unit)))
    values = marking.room.rubric.of(joint).values
    allowed = [f"{key.partition('.')[2]} {values[key]:g}" for key in values if key.startswith(f"{about}.")
               and about in ("centring", "fold")]  # fmt: skip
    return Table(
        ("measure", "in words", "value", ""),
        rows,
        [f"The rubric, in local radii: {', '.join(allowed)}."] if allowed else [],
    )


def files_of(marking: Marking, student: str) -> Table:
    """All files of a student: which attempt each says it is, and its mark."""
    rows = [
        (one.file, str(one.attempt), "" if one.mark is None else f"{one.mark:.1f}")
        for one in marking.room.results
        if one.id == student
    ]
    return Table(("file", "attempt", "mark"), rows)
