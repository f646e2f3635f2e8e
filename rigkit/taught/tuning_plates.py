"""What the tuning desk shows, as HTML text of one fixed size: everyone's mark before and now, who changes and why."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from html import escape
from statistics import median

from rigkit.marking import Result
from rigkit.picture import FONTS_ON_SCREEN, LIGHT, on_any_page
from rigkit.plates import line, svg, words
from rigkit.retuned import Change, grade

PICTURE, LEFT, RIGHT = 150, 74, 20  # px: the picture's height, what is kept free at its sides
BASES, STACK, DOT = (66, 120), 38, 4.0  # px: the rows' base lines, how high dots may stack, a dot's radius
MOST_LINES = 12  # changes that all get a line from before to now; of more, those of a grade only
MOST_REASONS = 2  # of one change, in words; the sizes tell of more


def page(
    before: Mapping[str, Result], now: Mapping[str, Result], changed: Sequence[Change], grades: Mapping[str, float],
    told: str, width: int, height: int,
) -> str:  # fmt: skip
    """The picture, a sentence, and a row for each change, those of a grade first."""
    moved = [one for one in changed if grade(one.before, grades) != grade(one.after, grades)]
    rest = sorted((one for one in changed if one not in moved), key=lambda one: -abs(_step(one)))
    sentence = _sentence(before, now, changed, moved)
    rows = "".join(_row(one, grades, one in moved) for one in (*sorted(moved, key=lambda one: -abs(_step(one))), *rest))
    cell = f"padding:2px 14px 2px 0;text-align:left;border-bottom:1px solid {LIGHT.faint};vertical-align:top"
    head = "".join(f'<th scope="col" style="{cell}">{name}</th>' for name in ("id", "before", "now", "grade", "why"))
    table = f'<table style="border-collapse:collapse;font:inherit;width:100%"><tr>{head}</tr>{rows}</table>'
    if not rows:
        table = "Move a slider. Who changes, and why, will stand here."
    return _framed(
        f"{_picture(before, now, changed, grades, sentence, width)}"
        f'<div role="status" style="padding:0 14px"><b>{escape(sentence)}</b> {escape(told)}</div>'
        f'<div role="region" aria-label="Who changes, and why" tabindex="0" style="height:{height - PICTURE - 54}px;'
        f'overflow:auto;margin:6px 14px 0">{table}</div>', width, height)  # fmt: skip


def refusal(why: str, width: int, height: int) -> str:
    """Why the numbers on the desk are no rubric."""
    sign = LIGHT.wrong
    return _framed(
        f'<div role="status" style="margin:16px 14px;padding-left:12px;border-left:4px dashed {sign.colour}">'
        f'<b style="color:{sign.ink}">{sign.mark} refused</b> {escape(why)} Nobody is marked by such a rubric.</div>',
        width, height)  # fmt: skip


def _framed(body: str, width: int, height: int) -> str:
    font = FONTS_ON_SCREEN.replace(chr(34), "")
    size = f"box-sizing:border-box;width:{width}px;height:{height}px;overflow:hidden"
    look = f"background:{LIGHT.paper};color:{LIGHT.ink};font:13.5px/1.45 {font}"
    return on_any_page(f'<div style="{size};{look}">{body}</div>')


def _step(one: Change) -> float:
    return (one.after or 0.0) - (one.before or 0.0)


def _sentence(before: Mapping, now: Mapping, changed: Sequence[Change], moved: Sequence[Change]) -> str:
    middles = [median([one.mark for one in marks.values() if one.mark is not None] or [0.0]) for marks in (before, now)]
    if not changed:
        return f"Nobody's mark changes. Half of the class has {middles[0]:.1f} or more."
    up, down = (sum(sign * _step(one) > 0 for one in changed) for sign in (1, -1))
    who = f"{len(moved)} of them another grade" if moved else "nobody another grade"
    return (f"{len(changed)} of {len(now)} get another mark ({up} up, {down} down), {who}. Half of the class has "
            f"{middles[1]:.1f} or more, before {middles[0]:.1f}.")  # fmt: skip


def _row(one: Change, grades: Mapping[str, float], moved: bool) -> str:
    cell = f"padding:2px 14px 2px 0;border-bottom:1px solid {LIGHT.faint};vertical-align:top;white-space:nowrap"
    sign = LIGHT.right if _step(one) > 0 else LIGHT.wrong
    old, new = grade(one.before, grades), grade(one.after, grades)
    told = f"<b>{escape(old)} → {escape(new)}</b>" if moved else escape(new)
    more = len(one.reasons) - MOST_REASONS
    why = "; ".join(reason.words for reason in one.reasons[:MOST_REASONS]) + (f"; and {more} more" if more > 0 else "")
    marks = ["none" if mark is None else f"{mark:.1f}" for mark in (one.before, one.after)]
    shown = f'<span style="color:{sign.ink}">{"▲" if _step(one) > 0 else "▼"} {marks[1]}</span>'
    cells = [escape(one.id), marks[0], shown, told]
    return ("<tr>" + "".join(f'<td style="{cell}">{text}</td>' for text in cells)
            + f'<td style="{cell.removesuffix("nowrap")}normal">{escape(why)}.</td></tr>')  # fmt: skip


def _picture(
    before: Mapping, now: Mapping, changed: Sequence[Change], grades: Mapping, sentence: str, width: int
) -> str:
    """Two rows of dots over one scale of marks: how everyone stood before, and stands now."""
    scale = (width - LEFT - RIGHT) / 100

    def at(mark: float) -> float:
        return LEFT + mark * scale

    body = []
    bounds = sorted(grades.values()) + [100.0]
    for least, most in zip(bounds, bounds[1:], strict=False):
        name = grade(least, grades)
        body.append(words((at(least) + at(most)) / 2, 18, name, LIGHT, anchor="middle", weight="bold"))
        if least > 0:
            body.append(line((at(least), 8), (at(least), BASES[1] + 6), LIGHT.contour, 1, "2 4"))
    for mark in range(0, 101, 20):
        body.append(words(at(mark), BASES[1] + 24, str(mark), LIGHT, anchor="middle"))
    places = [_stacked(marks, at, base) for marks, base in zip((before, now), BASES, strict=True)]
    steps = {one.id: _step(one) for one in changed}
    few = len(changed) <= MOST_LINES
    for one in changed:
        name, regraded = one.id, grade(one.before, grades) != grade(one.after, grades)
        if (few or regraded) and all(name in row for row in places):
            (x, y), (u, v) = places[0][name], places[1][name]
            body.append(line((x, y + DOT), (u, v - DOT), LIGHT.unsure.colour, 0.8))
    for row, base, title in zip(places, BASES, ("before", "now"), strict=True):
        body.append(line((LEFT, base + 6), (width - RIGHT, base + 6), LIGHT.faint, 1))
        body.append(words(LEFT - 12, base + 2, title, LIGHT, anchor="end"))
        body += [_dot(x, y, steps.get(name, 0.0) if base == BASES[1] else 0.0) for name, (x, y) in row.items()]
    return svg((width, PICTURE), f"Marks before and now, from 0 to 100. {sentence}", body)


def _stacked(marks: Mapping[str, Result], at, base: float) -> dict[str, tuple[float, float]]:
    """Where each dot stands: over its mark, and so high that it lies on no other dot."""
    ends: list[float] = []  # where the last dot of each level ends
    level = {}
    for name in sorted(marks, key=lambda name: (marks[name].mark or 0.0, name)):
        if (mark := marks[name].mark) is not None:
            x = at(mark)
            level[name] = next((n for n, end in enumerate(ends) if x - DOT > end), len(ends))
            ends[level[name] :] = [x + DOT + 1, *ends[level[name] + 1 :]]
    rise = min(2 * DOT + 1.5, STACK / max(len(ends) - 1, 1))
    return {name: (at(marks[name].mark or 0.0), base - n * rise) for name, n in level.items()}


def _dot(x: float, y: float, step: float) -> str:
    if not step:
        ring = f'fill="{LIGHT.paper}" stroke="{LIGHT.ink}" stroke-width="1.3"'
        return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{DOT}" {ring}/>'
    up = -1.0 if step > 0 else 1.0
    corners = ((x, y + up * 6), (x - 5.5, y - up * 4), (x + 5.5, y - up * 4))
    colour = (LIGHT.right if step > 0 else LIGHT.wrong).colour
    return f'<polygon points="{" ".join(f"{a:.1f},{b:.1f}" for a, b in corners)}" fill="{colour}"/>'
