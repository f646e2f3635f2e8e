"""The risk of a flip: how often a solver that starts from a rest bend folds a limb to the wrong side; shares 0 to 1.

Rests and targets are jittered, as hands and files jitter them, and solvers are really run, hundreds of limbs at once.
"""

from collections.abc import Callable, Sequence

import numpy as np

from rigkit import require
from rigkit.kinematics import carried
from rigkit.require import RigError
from rigkit.solvers import Solved, closed_form, cyclic_descent, damped_least_squares, fabrik
from rigkit.vectors import length

LIMB = 0.5  # metres from root to end; everything else is a share of it
UPPER = 0.55  # share of the line at which the middle joint lies (our choice, near an arm's proportions)
SLIP = 0.004  # share of the line: the standard deviation of a careless placement, 2 mm on an arm (our choice)
PULLED = (0.6, 0.95)  # targets lie at such shares of the line from the root
ASIDE = 0.1  # radians: standard deviation of a target's direction off the line (our choice)
STRAIGHT = 1e-9  # sine of the flexion: what round-off makes of a limb that never left its line

Solver = Callable[[np.ndarray, np.ndarray], Solved]
HINGES = np.array([[0.0, 0.0, 0.0], [-1.0, 0.0, 0.0]])
"""For those limbs: the root turns freely, the middle joint about one axis, positive the way the limb folds."""
SOLVERS: dict[str, Solver] = {
    "closed form": closed_form,
    "FABRIK": fabrik,
    "cyclic descent": lambda rests, targets: cyclic_descent(rests, targets, HINGES),
    "damped least squares": lambda rests, targets: damped_least_squares(rests, targets, HINGES),
    "the same, with hinge limits": lambda rests, targets: damped_least_squares(rests, targets, HINGES, (0.0, np.pi)),
}


def jittered_limbs(bend: float, samples: int, seed: int, slip: float = SLIP) -> tuple[np.ndarray, np.ndarray]:
    """Rest places (samples, 3, 3) of limbs along -y that fold away from -z, and targets (samples, 3), in metres.

    bend: the meant rest bend as a share of the line, positive the right way (the middle joint back, at -z). Drawn from
    raw 64-bit words of one generator by sums alone, so the same seed gives the same limbs on every machine. samples:
    1 to 100,000. seed: 0 up to 2**63 - 1. slip: standard deviation of the middle joint's place, a share of the line.
    """
    bend, slip = require.number(bend, "a rest bend", -1.0, 1.0), require.number(slip, "a slip", 0.0, 1.0)
    samples, seed = require.whole(samples, "how many limbs", 1, 100_000), require.whole(seed, "a seed", 0, 2**63 - 1)
    words = (np.random.PCG64(seed).random_raw(61 * samples) >> np.uint64(11)).reshape(samples, 61)
    # Twelve even numbers less six: mean 0, deviation 1, close to normal (central limit theorem), and no logarithm.
    bells = words[:, 1:].reshape(samples, 5, 12).sum(axis=2) / 2.0**53 - 6.0
    rests = np.zeros((samples, 3, 3))
    rests[:, 1] = LIMB * (bells[:, :3] * slip + [0.0, -UPPER, -bend])
    rests[:, 2] = [0.0, -LIMB, 0.0]
    ways = np.column_stack([ASIDE * bells[:, 3], -np.ones(samples), ASIDE * bells[:, 4]])
    reach = PULLED[0] + (PULLED[1] - PULLED[0]) * (words[:, 0] / 2.0**53)
    return rests, (LIMB * reach / length(ways))[:, None] * ways


def wrong_side(solved: Solved) -> np.ndarray:
    """Which solved limbs, places (n, 3, 3), fold the wrong way (n,): 1, or 0; 0.5 for a limb that stayed straight.

    With a hinge: its flexion is negative, the elbow is broken backwards. Without: the middle joint lies against the
    fold direction -z, carried along with the line from root to end by the smallest rotation. Nothing tells what the
    next solver does with a straight limb, so it counts as half wrong.
    """
    places, hinge = solved.positions, solved.hinges[:, 1]
    upper, lower = places[:, 1] - places[:, 0], places[:, 2] - places[:, 1]
    line = upper + lower
    away = carried(np.array([[0.0, 0.0, -1.0]]), np.array([[0.0, -1.0, 0.0]]), line)
    free = np.all(hinge == 0.0, axis=1)[:, None]
    along = np.sum(np.cross(upper, lower) * np.where(free, np.cross(away, line), hinge), axis=1)
    return np.where(np.abs(along) < STRAIGHT * length(upper) * length(lower), 0.5, (along < 0).astype(float))


def flip_risk(
    bends: Sequence[float], solver: Solver, samples: int = 200, seed: int = 1, slip: float = SLIP
) -> np.ndarray:
    """Share (m,) of limbs that end on the wrong side, for each of the rest bends (m,), shares of the line.

    solver: one of SOLVERS, or what takes rest places (n, 3, 3) and targets (n, 3) and gives a `Solved`.

    >>> risk = flip_risk([-0.05, 0.0, 0.05], SOLVERS["FABRIK"], samples=100)
    >>> bool(risk[0] > 0.5 > risk[2])
    True
    """
    if np.ndim(bends) != 1 or not len(bends):
        raise RigError("a list of rest bends, one or more", require.shown(bends), where="the risk of a flip")
    limbs = [jittered_limbs(bend, samples, seed, slip) for bend in bends]
    solved = solver(*(np.concatenate(both) for both in zip(*limbs, strict=True)))
    return wrong_side(solved).reshape(len(bends), samples).mean(axis=1)
