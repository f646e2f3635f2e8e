"""Plates of a class: marks, findings by joint, and everyone's joints in one limb, as SVG text with numbers in it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from rigkit.backdrops import ground
from rigkit.files.exercise import Exercise
from rigkit.outline import Edges
from rigkit.picture import LIGHT, SMALL_TEXT, TITLE_TEXT, fit_views
from rigkit.plates import line, svg, words

STEP = 10  # points of a bar
WARM = "#E2A47C"  # the darkest cell of a heat map; ink reads on it (6.9 to 1)
LEAST_DARK = 4  # students: a cell of one alone is never the darkest
COLUMN, ROW, HEAD, SIDE = 106, 30, 62, 128  # px of a heat map: a cell, the headings, the names of joints
LETTER = 6.9  # px about as wide as a letter of 12 px is
VIEWS = {"front": (430, 520), "side": (430, 520)}
MOST_NAMED = 6  # joints named in a limb; of more, those where most is to mend
DOT, CROSS = "M%d %dh0", "M%d %dm-35-35l70 70m0-70l-70 70"
TALL, WIDE = 220, 560  # px of the bars


def bars_of(marks: Sequence[float], before: Sequence[float] = ()) -> str:
    """How many students have marks from 0 to 9, from 10 to 19 and so on; of the hand-in before as dashed lines."""
    counts, past = _counts(marks), _counts(before)
    most = max([1, *counts, *past])
    left, foot, top = 24, TALL - 34, 44
    wide = (WIDE - 2 * left) / len(counts)
    body = [words(left, 20, "Marks", LIGHT, weight="bold", size=TITLE_TEXT)]
    if any(past):
        body.append(words(left + 60, 20, "dashed: the hand-in before", LIGHT))
    for number, (count, was) in enumerate(zip(counts, past, strict=True)):
        x, high = left + number * wide, (foot - top) * count / most
        if count:
            body.append(f'<rect x="{x + 3:.1f}" y="{foot - high:.1f}" width="{wide - 6:.1f}" height="{high:.1f}" '
                        f'fill="{LIGHT.flesh}" stroke="{LIGHT.contour}"/>')  # fmt: skip
            body.append(words(x + wide / 2, foot - high - 5, str(count), LIGHT, anchor="middle"))
        if was:
            y = foot - (foot - top) * was / most
            body.append(line((x + 3, y), (x + wide - 3, y), LIGHT.ink, 1.6, "5 4"))
        last = 100 if number == len(counts) - 1 else number * STEP + STEP - 1
        body.append(words(x + wide / 2, foot + 16, f"{number * STEP}–{last}", LIGHT, anchor="middle"))
    body.append(line((left, foot), (WIDE - left, foot), LIGHT.ink, 1.2))
    told = [f"{count} with {number * STEP} or more" for number, count in enumerate(counts) if count]
    return svg((WIDE, TALL), f"How many students have which marks, in steps of {STEP}: {', '.join(told)}.", body)


def _counts(marks: Sequence[float]) -> list[int]:
    counts = [0] * (100 // STEP)
    for mark in marks:
        counts[min(int(mark // STEP), len(counts) - 1)] += 1
    return counts


def heat_of(
    joints: Sequence[str], titles: Sequence[str], counts: Mapping[tuple[str, str], int], whole: Mapping[str, int]
) -> str:
    """How many students have which finding (columns, by titles) at which joint (rows): the number in each cell, the
    darker the more. whole: for each joint the students with any finding there, also one that has no column."""
    most = max([LEAST_DARK, *counts.values()])
    width, height = SIDE + COLUMN * (len(titles) + 1) + 14, HEAD + ROW * len(joints) + 12
    body = []
    for column, title in enumerate([*titles, "any finding"]):
        rows = _wrapped(title, int((COLUMN - 8) / LETTER))
        for number, text in enumerate(rows):
            y = HEAD - 10 - (len(rows) - 1 - number) * (SMALL_TEXT + 3)
            body.append(words(SIDE + COLUMN * (column + 0.5), y, text, LIGHT, anchor="middle"))
    for row, joint in enumerate(joints):
        y = HEAD + ROW * row
        body.append(words(12, y + ROW / 2 + 4, joint[: int((SIDE - 16) / LETTER)], LIGHT))
        for column, title in enumerate(titles):
            count, x = counts.get((joint, title), 0), SIDE + COLUMN * column
            body.append(f'<rect x="{x + 1}" y="{y + 1}" width="{COLUMN - 2}" height="{ROW - 2}" '
                        f'fill="{_shade(count / most)}" stroke="{LIGHT.faint}"/>')  # fmt: skip
            if count:
                body.append(f'<text x="{x + COLUMN / 2}" y="{y + ROW / 2 + 5}" text-anchor="middle" font-size="14" '
                            f'fill="{LIGHT.ink}">{count}</text>')  # fmt: skip
        any_, middle = whole.get(joint, 0), SIDE + COLUMN * (len(titles) + 0.5)
        body.append(words(middle, y + ROW / 2 + 5, str(any_) if any_ else "none", LIGHT, anchor="middle"))
    cells = sorted(counts.items(), key=lambda item: (-item[1], item[0]))
    told = "; ".join(f"{joint}, {title.lower()}: {count}" for (joint, title), count in cells)
    return svg((width, height), f"Students by joint and finding. {told}.", body, LIGHT.paper)


def _wrapped(text: str, most: int) -> list[str]:
    """A heading in lines of at most so many letters, where its words allow it; three at most."""
    rows = [""]
    for word in text.split():
        if rows[-1] and len(rows[-1]) + 1 + len(word) > most and len(rows) < 3:
            rows.append(word)
        else:
            rows[-1] = f"{rows[-1]} {word}".strip()
    return rows


def _shade(share: float) -> str:
    """From paper to a warm tone."""
    paper, warm = ([int(colour[i : i + 2], 16) for i in (1, 3, 5)] for colour in (LIGHT.paper, WARM))
    return "#" + "".join(f"{round(a + (b - a) * share):02X}" for a, b in zip(paper, warm, strict=True))


def everyone_in(
    exercise: Exercise, right: Mapping[str, np.ndarray], off: Mapping[str, np.ndarray], own: bool = False
) -> list[str]:
    """Everyone's joints in one limb, from the front and from the side. right, off: for each role the places (n, 3),
    metres, of joints without and with something to mend: dots and crosses. own: whether each was laid in a limb of
    its own, and is shown where it would lie in this one."""
    edges, plates = Edges.of(exercise.mesh.triangles), []
    places = np.concatenate([*right.values(), *off.values(), np.zeros((0, 3))])
    low, high = exercise.mesh.bounds
    near = places[np.all((places > low - 0.25 * (high - low)) & (places < high + 0.25 * (high - low)), axis=1)]
    counts = {role: len(off.get(role, ())) for role in {**right, **off}}
    named = sorted(counts, key=lambda role: (-counts[role], role))[:MOST_NAMED]
    for view in fit_views(exercise.mesh, VIEWS, exercise.side, near).values():
        body = [ground(exercise.mesh, edges, view, exercise.side, LIGHT)]
        for table, drawn, sign in ((right, DOT, LIGHT.right), (off, CROSS, LIGHT.wrong)):
            flat = [view.project(one) for one in table.values() if len(one)]
            if flat:
                spots = np.rint(np.concatenate(flat) * 10).astype(int)
                path = (drawn * len(spots)) % tuple(spots.ravel().tolist())
                body.append(f'<path transform="scale(.1)" d="{path}" fill="none" stroke="{sign.colour}" '
                            f'stroke-width="{50 if sign is LIGHT.right else 16}" stroke-linecap="round" '
                            f'stroke-opacity=".75"/>')  # fmt: skip
        for role in named:
            there = [one for one in (right.get(role), off.get(role)) if one is not None and len(one)]
            spread = view.project(np.concatenate(there))
            label = f"{role}: {counts[role]} off" if counts[role] else role
            x, y, anchor = float(np.percentile(spread[:, 0], 96)) + 10, float(np.median(spread[:, 1])) + 4, "start"
            if x + 1.2 * LETTER * len(label) > view.size[0] - 8:  # no room on this side
                x, anchor = float(np.percentile(spread[:, 0], 4)) - 10, "end"
            body.append(words(x, y, label, LIGHT, anchor=anchor, weight="bold"))
        told = ", ".join(f"{role} {counts[role]} of {counts[role] + len(right.get(role, ()))}" for role in counts)
        where = " Each was laid in a limb of its own, and is shown where it would lie in this one." if own else ""
        sentence = f"Everyone's joints, {view.title.lower()} view; with something to mend: {told}.{where}"
        plates.append(svg(view.size, sentence, body))
    return plates
