"""Lesson 4: how often a limb folds the wrong way against its rest bend, and a goal that passes a bend target; mm."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from rigkit.charts import curves
from rigkit.flip import ASIDE, LIMB, SLIP, SOLVERS, flip_risk
from rigkit.kinematics import side_turns
from rigkit.lesson import safely
from rigkit.require import number
from rigkit.slices import MM
from rigkit.stills import Picture
from rigkit.told import LOOK_AGAIN, NOT_YET, RIGHT, Table, Told

BENDS = tuple(range(-10, 27, 2))  # mm behind the line, of a limb of half a metre
RUNS = 400
SHOWN = {
    "keeps the side": "closed form",
    "sees only places": "FABRIK",
    "has hinge limits": "the same, with hinge limits",
}
"""What the curves are called, and whose they are."""
CARELESS = 4.0  # mm, standard deviation: how far the hand of the exercise slips (our choice), twice `SLIP`
SAFE = 1.0  # per cent of arms that may fold wrongly (our choice)
SPARE = 6.0  # mm beyond what is just enough that still count as an answer


@lru_cache(maxsize=4)
def _risks() -> dict[str, tuple[float, ...]]:
    """Per cent of arms that fold wrongly, for each bend, by curve."""
    shares = np.array(BENDS) / (MM * LIMB)
    return {name: tuple(100 * flip_risk(shares.tolist(), SOLVERS[solver], RUNS)) for name, solver in SHOWN.items()}


def risk_curve() -> Picture:
    """Of 400 arms for each rest bend, each laid with a slip of the hand (sd 2 mm) and pulled to a goal that lies aside
    of its line (sd 0.1 rad, about 38 mm), how many fold the wrong way."""
    risks = _risks()
    told = ", ".join(f"{name} {risks[name][BENDS.index(10)]:.0f} per cent" for name in risks)
    sentence = f"Arms that fold the wrong way, against the millimetres behind the line. At 10 mm: {told}."
    return curves(BENDS, risks, "elbow behind the line, mm (in front where negative)", "arms that fold wrongly, %",
                  sentence, {"on the line": 0.0})  # fmt: skip


def risk_table(*bends: float, slip: float = MM * LIMB * SLIP) -> Table:
    """The same as numbers, for bends in mm. slip: of the hand, mm."""
    shares = np.array([number(one, "a bend, mm", -100, 100) for one in bends]) / (MM * LIMB)
    slips = number(slip, "a slip of the hand, mm", 0, 100) / (MM * LIMB)
    risks = [100 * flip_risk(shares.tolist(), SOLVERS[solver], RUNS, slip=slips) for solver in SHOWN.values()]
    rows = [(f"{one:g} mm", *(f"{risk[i]:.1f} %" for risk in risks)) for i, one in enumerate(bends)]
    jitter = f"a slip of the hand of {slip:g} mm, a goal {ASIDE:g} rad aside (standard deviations)"
    return Table(("behind the line", *SHOWN), rows, [f"{RUNS} arms each: {jitter}."])


def _careless(bend: float) -> float:
    """Per cent of arms laid by the hand of the exercise that fold wrongly, with a solver that keeps the side."""
    share = bend / (MM * LIMB)
    return 100 * float(flip_risk([share], SOLVERS["closed form"], RUNS, slip=CARELESS / (MM * LIMB))[0])


def check_enough(enough: float) -> Told:
    """Whether so many mm are enough for a solver that keeps the side where the hand slips twice as far, and not much
    more; never raises."""

    def answer() -> Told:
        if enough == 0:
            return Told(NOT_YET, "0 mm is on the line.", "Use the table, and write how many millimetres are enough.")
        bend = number(enough, "how many millimetres are enough", -100, 100)
        risk = _careless(bend)
        found = f"At {bend:g} mm {risk:.1f} % of the arms fold the wrong way, with a solver that keeps the side and a "
        found += f"slip of {CARELESS:g} mm."
        if bend < 0:
            return Told(LOOK_AGAIN, found, "That is in front of the line: the elbow belongs behind it.")
        if risk > SAFE:
            return Told(LOOK_AGAIN, found, "Go further behind the line, until it is 1 % or less.")
        least = next(one for one in np.arange(0.5, 40, 0.5) if _careless(one) <= SAFE)
        if bend > least + SPARE:
            return Told(LOOK_AGAIN, found, "So few fold wrongly with less already. How little is just enough?")
        return Told(RIGHT, found, "Keep some room beyond it for the next slip of the hand.")

    return safely(answer)


def passing(steps: int = 8) -> Table:
    """A hand that swings up in front of a shoulder whose bend target stands behind: how far the arm's plane turns at
    each step. Where the line from shoulder to hand passes the bend target the limb flips."""
    heights = np.linspace(-0.30, 0.30, steps)
    targets = np.column_stack([np.full(steps, 0.02), heights, np.full(steps, -0.35)])
    turns = np.degrees(side_turns([0, 0, 0], targets, [0.0, 0.0, -0.6]))
    rows = [(f"{MM * abs(one):.0f} mm {'above' if one > 0 else 'below'}", "–" if i == 0 else f"{turns[i - 1]:.0f}°")
            for i, one in enumerate(heights)]  # fmt: skip
    return Table(("the hand, from the shoulder", "the arm's plane, turned since the row above"), rows)
