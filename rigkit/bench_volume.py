"""Volume at the fold: how much of a joint's own flesh is kept as its limb is pulled, as a small curve in SVG."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from rigkit.bench_folds import Pull, folds_of
from rigkit.bench_gauges import gauges, gauges_svg
from rigkit.bench_parts import Limb, placed_joint
from rigkit.bench_state import State
from rigkit.bulk import OWN
from rigkit.files.exercise import Exercise
from rigkit.mesh import Mesh
from rigkit.picture import THEMED, Style
from rigkit.plates import line, svg, words
from rigkit.skeleton import Skeleton

AMOUNTS = np.linspace(0.0, 1.0, 9)
SIZE, LEFT, RIGHT, TOP, FOOT = (318, 132), 44, 300, 34, 104  # px
LEAST = 0.0  # share of the own flesh at the foot of the curve; what falls below is drawn on it


def kept(limb: Limb, skeleton: Skeleton) -> np.ndarray | None:
    """Shares (9,) of the folding joint's own flesh (two local radii up and down) kept when pulled by 0, 1/8 ... 1;
    None where the mesh is open or nothing folds."""
    return _kept(limb.exercise, tuple(limb.roles.items()), limb.focus, skeleton)


@lru_cache(maxsize=4)  # by the very skeleton: one that moved is another
def _kept(exercise: Exercise, roles: tuple, focus: str, skeleton: Skeleton) -> np.ndarray | None:
    limb = Limb(exercise, dict(roles), focus)
    where = placed_joint(limb, skeleton, limb.fold_role) if limb.folding else None
    if where is None or where.radius is None or not exercise.mesh.is_closed:
        return None
    own, rest = 2 * OWN * np.pi * where.radius**3, exercise.mesh.volume
    volumes = [folds_of(limb, skeleton, Pull(float(amount)))[:1] for amount in AMOUNTS[1:]]
    if not all(volumes):
        return None
    bent = [Mesh(one[0].vertices, exercise.mesh.triangles).volume for one in volumes]
    return np.array([1.0, *(1.0 + (volume - rest) / own for volume in bent)])


def volume_svg(shares: np.ndarray, amount: float, role: str, style: Style) -> str:
    """The curve, and where on it the limb is now."""
    now = float(np.interp(amount, AMOUNTS, shares))
    sentence = f"Volume at the {role}: {100 * now:.0f} % kept, {100 * shares[-1]:.0f} % when pulled all the way."

    def at(amount: float, share: float) -> tuple[float, float]:
        return (LEFT + amount * (RIGHT - LEFT), FOOT - (max(share, LEAST) - LEAST) / (1 - LEAST) * (FOOT - TOP))

    curve = " ".join(f"{x:.1f},{y:.1f}" for x, y in (at(a, s) for a, s in zip(AMOUNTS, shares, strict=True)))
    x, y = at(amount, now)
    body = [
        words(14, 18, f"flesh kept at the {role}: {100 * now:.0f} %", style, weight="bold"),
        line(at(0, LEAST), at(1, LEAST), style.ink, 1),
        line(at(0, 1.0), at(1, 1.0), style.unsure.colour, 1, "1 3"),
        f'<polyline points="{curve}" fill="none" stroke="{style.right.colour}" stroke-width="2.4"/>',
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="5" fill="{style.ink}"/>',
        words(LEFT - 6, TOP + 4, "100 %", style, anchor="end"),
        words(LEFT - 6, FOOT + 4, "0 %", style, anchor="end"),
        words(LEFT, FOOT + 20, "at rest", style),
        words(RIGHT, FOOT + 20, "pulled", style, anchor="end"),
    ]
    return svg(SIZE, sentence, body)


def graphs(limb: Limb, state: State, with_gauges: bool, with_volume: bool, bends: bool) -> str:
    """Gauges of the chosen joint, and the curve while the limb is pulled, one below the other; "" without either."""
    drawn, skeleton = [], state.skeleton
    if with_gauges and (found := gauges(limb, skeleton, state.chosen, bends)):
        drawn.append(gauges_svg(found, THEMED))
    if with_volume and not state.pull.at_rest and (shares := kept(limb, skeleton)) is not None:
        drawn.append(volume_svg(shares, state.pull.amount, limb.fold_role, THEMED))
    return "".join(drawn)
