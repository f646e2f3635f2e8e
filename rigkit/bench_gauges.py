"""Gauges: a joint's measurements as small bars with the range that is right, in SVG; the same numbers as the marks."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rigkit.bench_parts import Limb, bend_or_none, counted, limits_of, placed_joint
from rigkit.mends import half_up
from rigkit.picture import Style
from rigkit.plates import line, svg, words
from rigkit.skeleton import Skeleton
from rigkit.slices import MM

ROW, LEFT, RIGHT_EDGE, WIDE = 26, 96, 232, 318  # px
PAST = 2.2  # how much of a bar lies beyond what is right, in widths of what is right


@dataclass(frozen=True)
class Gauge:
    """A number in mm and the range in which it is right; both ends of the bar that shows it."""

    name: str
    value: float
    low: float
    high: float
    ends: tuple[float, float]

    @property
    def right(self) -> bool:
        """Whether the number is in its range."""
        return self.low <= self.value <= self.high


def gauges(limb: Limb, skeleton: Skeleton, role: str, with_bend: bool) -> list[Gauge]:
    """What can be measured of a joint: how far from its middle, how far beyond its stretch, and its bend."""
    where, rubric, found = placed_joint(limb, skeleton, role), limb.exercise.rubric, []
    counts = counted(limb, where, role)
    if counts is not None and where.radius is not None:
        ring = MM * where.radius * rubric["centring.allowed"]
        found.append(Gauge("middle", MM * float(np.linalg.norm(counts)), 0.0, ring, (0.0, ring * (1 + PAST))))
        beyond = MM * where.radius * rubric["fold.allowed"]
        if limb.exercise.asked(role).stretch is not None:
            off = MM * float(np.linalg.norm(where.beyond))
            found.append(Gauge("along the limb", off, 0.0, beyond, (0.0, beyond + ring * PAST)))
    bend = bend_or_none(limb, skeleton) if with_bend and role == limb.fold_role else None
    if bend is not None:
        least, most, askew = (MM * one for one in limits_of(limb, bend))
        room = most - least
        found.append(Gauge("bend", MM * bend.along, least, most, (least - PAST / 2 * room, most + PAST / 2 * room)))
        found.append(Gauge("beside its plane", MM * abs(bend.sideways), 0.0, askew, (0.0, askew * (1 + PAST / 2))))
    return found


def gauges_svg(found: list[Gauge], style: Style) -> str:
    """The gauges one below the other: a bar, the right range thick, a needle, the number with its sign."""
    told = ", ".join(f"{one.name} {half_up(one.value):g} mm, {'right' if one.right else 'not right'}" for one in found)
    body = []
    for row, one in enumerate(found):
        y = 15 + ROW * row
        least, most = one.ends

        def at(value: float, least=least, most=most) -> float:
            return LEFT + (RIGHT_EDGE - LEFT) * float(np.clip((value - least) / (most - least), 0.0, 1.0))

        sign = style.right if one.right else style.wrong
        body += [
            words(LEFT - 8, y + 4, one.name, style, anchor="end"),
            line((LEFT, y), (RIGHT_EDGE, y), style.contour, 1.2),
            line((at(one.low), y), (at(one.high), y), style.right.colour, 6),
            line((at(one.value), y - 8), (at(one.value), y + 8), style.ink, 2.4),
            words(RIGHT_EDGE + 8, y + 4, f"{sign.mark} {half_up(one.value):g} mm", style, sign.ink),
        ]
    return svg((WIDE, ROW * len(found) + 6), f"Gauges: {told}.", body)
