"""The risk of a flip: how often a solver that starts from a rest bend folds a limb to the wrong side; shares 0 to 1.

Rests and targets are jittered, as hands and files jitter them, and solvers are really run, hundreds of limbs at once.
"""

from collections.abc import Callable, Sequence

import numpy as np

from rigkit import require
from rigkit.solvers import Solved

LIMB = 0.5  # metres from root to end; everything else is a share of it
UPPER = 0.55  # share of the line at which the middle joint lies (our choice, near an arm's proportions)
SLIP = 0.004  # share of the line: the standard deviation of a careless placement, 2 mm on an arm (our choice)
PULLED = (0.6, 0.95)  # targets lie at such shares of the line from the root
ASIDE = 0.1  # radians: standard deviation of a target's direction off the line (our choice)

Solver = Callable[[np.ndarray, np.ndarray], Solved]


def jittered_limbs(bend: float, samples: int, seed: int, slip: float = SLIP) -> tuple[np.ndarray, np.ndarray]:
    """Rest places (samples, 3, 3) of limbs along -y that fold away from -z, and targets (samples, 3), in metres.

    bend: the meant rest bend as a share of the line, positive the right way (the middle joint back, at -z).
    Same seed, same limbs, on every machine with the same numpy.
    """
    rng = np.random.Generator(np.random.PCG64(seed))
    middles = rng.normal(size=(samples, 3)) * slip + [0.0, -UPPER, -bend]
    rests = np.zeros((samples, 3, 3))
    rests[:, 1] = LIMB * middles
    rests[:, 2] = [0.0, -LIMB, 0.0]
    aside = rng.normal(size=(samples, 2)) * ASIDE
    ways = np.column_stack([aside[:, 0], -np.ones(samples), aside[:, 1]])
    ways /= np.linalg.norm(ways, axis=1, keepdims=True)
    return rests, LIMB * rng.uniform(*PULLED, size=(samples, 1)) * ways


def wrong_side(positions: np.ndarray) -> np.ndarray:
    """Which solved limbs (n, 3, 3) fold the wrong way: the middle joint lies against the fold direction, carried along.

    The fold direction -z travels with the line from root to end by the smallest rotation. A limb that stayed straight
    is on neither side; it counts as half wrong, for nothing tells what the next solver does with it.
    """
    line = positions[:, 2] - positions[:, 0]
    line = line / np.linalg.norm(line, axis=1, keepdims=True)
    rest, away = np.array([0.0, -1.0, 0.0]), np.array([0.0, 0.0, -1.0])
    axis = np.cross(rest, line)
    carried = away + np.cross(axis, away) + np.cross(axis, np.cross(axis, away)) / (1.0 + line @ rest)[:, None]
    along = np.sum((positions[:, 1] - positions[:, 0]) * carried, axis=1)
    return np.where(np.abs(along) < 1e-9 * LIMB, 0.5, (along < 0).astype(float))


def flip_risk(
    bends: Sequence[float], solver: Solver, samples: int = 200, seed: int = 1, slip: float = SLIP
) -> np.ndarray:
    """Share (m,) of limbs that end on the wrong side, for each of the rest bends (m,), shares of the line.

    solver: takes rest places (n, 3, 3) and targets (n, 3) and gives a `Solved`.

    >>> from rigkit.solvers import fabrik
    >>> risk = flip_risk([-0.05, 0.0, 0.05], fabrik, samples=100)
    >>> bool(risk[0] > 0.5 > risk[2])
    True
    """
    risks = []
    for bend in bends:
        bend = require.number(bend, "a rest bend", -1.0, 1.0)
        rests, targets = jittered_limbs(bend, samples, seed, slip)
        risks.append(float(wrong_side(solver(rests, targets).positions).mean()))
    return np.array(risks)
