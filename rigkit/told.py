"""Small answers for notebooks: a state, what was found and one next step, shown as text or HTML; never an address."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

from rigkit.picture import FONTS_ON_SCREEN, LIGHT, on_any_page

NOT_YET, LOOK_AGAIN, RIGHT = "not yet", "look again", "right"
MARKS = {NOT_YET: "?", LOOK_AGAIN: "✗", RIGHT: "✓"}


@dataclass(frozen=True)
class Told:
    """An answer. state: "not yet", "look again", "right" or another word. found, next_step: a sentence or "".

    then: what the next step is called, where it is none. fault: a finding's kind and joint, for the progress page.
    room: px that it takes at least on a page.

    >>> print(Told("right", "Every joint lies in the middle.", "Go on to the next lesson."))
    ✓ right: Every joint lies in the middle. Go on to the next lesson.
    """

    state: str
    found: str = ""
    next_step: str = ""
    then: str = "Next"
    fault: tuple[str, str] | tuple[()] = ()
    room: int = 0

    def __repr__(self) -> str:
        mark = MARKS.get(self.state, "")
        last = self.next_step if self.then == "Next" else f"{self.then}: {self.next_step}"
        return f"{mark} {self.state}: {self.found} {last}".strip().replace("  ", " ")

    def _repr_html_(self) -> str:
        sign = {"✓": LIGHT.right, "✗": LIGHT.wrong}.get(MARKS.get(self.state, ""), LIGHT.unsure)
        plain = self.state not in MARKS
        rule = {LIGHT.right: "solid", LIGHT.wrong: "dashed"}.get(sign, "solid" if plain else "dotted")
        next_step = f"<br><b>{escape(self.then)}:</b> {escape(self.next_step)}" if self.next_step else ""
        font = FONTS_ON_SCREEN.replace(chr(34), "")
        return on_any_page(
            f'<div style="max-width:760px;min-height:{self.room}px;padding:10px 14px;background:{LIGHT.paper};'
            f'color:{LIGHT.ink};border-left:4px {rule} {sign.colour};font:14px/1.5 {font}">'
            f'<b style="color:{sign.ink}">{MARKS.get(self.state, "")} {escape(self.state)}</b> '
            f"{escape(self.found)}{next_step}</div>"
        )


class Table:
    """Rows of words with a head, and lines under them, as text and as HTML.

    >>> print(Table(("joint", "need"), [("elbow", "required")]))
    joint  need
    elbow  required
    """

    def __init__(self, head: Sequence[str], rows: Sequence[Sequence[str]], under: Sequence[str] = ()):
        self.head, self.rows, self.under = tuple(head), [tuple(row) for row in rows], tuple(under)

    def __repr__(self) -> str:
        wide = [max(len(row[n]) for row in (self.head, *self.rows)) for n in range(len(self.head))]
        lines = ["  ".join(cell.ljust(w) for cell, w in zip(row, wide, strict=True)) for row in (self.head, *self.rows)]
        return "\n".join(line.rstrip() for line in (*lines, *self.under))

    def _repr_html_(self) -> str:
        cell = f"padding:3px 18px 3px 0;text-align:left;border-bottom:1px solid {LIGHT.faint};color:{LIGHT.ink}"
        rows = ["".join(f'<th style="{cell}">{escape(one)}</th>' for one in self.head)]
        rows += ["".join(f'<td style="{cell}">{escape(one)}</td>' for one in row) for row in self.rows]
        body = "".join(f'<tr style="background:{LIGHT.paper}">{row}</tr>' for row in rows)
        under = "".join(f"<div>{escape(one)}</div>" for one in self.under)
        font = FONTS_ON_SCREEN.replace(chr(34), "")
        look = f"max-width:860px;padding:10px 14px;background:{LIGHT.paper};color:{LIGHT.ink};font:14px/1.5 {font}"
        table = f'<table style="border-collapse:collapse;font:inherit;margin:0 0 6px">{body}</table>'
        return on_any_page(f'<div style="{look}">{table}{under}</div>')
