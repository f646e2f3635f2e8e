"""Straight lines home: one joint moves on a straight line from anywhere to its place, and no step lowers the mark."""

from collections.abc import Iterable

import numpy as np

from rigkit.marking import mark
from tests.proof.case import pick
from tests.proof.ground import Ground, any_way, ground, numbers

STEPS = 14  # places on each line, at random, and its two ends


def starts(g: Ground, role: str, chance) -> np.ndarray:
    """Where a line begins: within two local radii of the joint's place, or anywhere within its nearest bone's length."""
    bones = np.linalg.norm(g.places - g.places[g.number[role]], axis=1)
    far = pick(chance, [2 * g.radius(role), float(bones[bones > 0].min())])
    return g.middle(role) + far * np.cbrt(chance.uniform()) * any_way(chance)


def examine(kind: str, seed: int, count: int | Iterable[int], others: float = 0.0) -> list[dict]:
    """Lines on one limb; all other joints in their places, or anywhere within `others` local radii of them."""
    g, rows = ground(kind, seed), []
    home = np.array([g.middle(role) for role in g.roles])
    for number in numbers(count):
        chance = np.random.default_rng([seed, number])
        role, places = pick(chance, g.roles), home.copy()
        if others:
            places += [others * g.radius(one) * np.cbrt(chance.uniform()) * any_way(chance) for one in g.roles]
        joint, start = g.number[role], starts(g, role, chance)
        marks = []
        for share in [1.0, *sorted(chance.uniform(size=STEPS), reverse=True), 0.0]:
            places[joint] = home[joint] + share * (start - home[joint])
            marks.append(mark(g.layout(places), g.exercise).mark)
        fall = max(one - two for one, two in zip(marks, marks[1:], strict=False))
        rows.append(
            {"kind": kind, "seed": seed, "number": number, "role": role, "marks": marks, "fall": max(fall, 0.0)}
        )
    return rows


def falls(rows: list[dict]) -> list[str]:
    """Lines on which a step lowered the mark, or whose end has not full marks."""
    return [f"{row['kind']} {row['seed']} line {row['number']}, {row['role']}: {row['marks']}"
            for row in rows if row["fall"] > 1e-9]  # fmt: skip
