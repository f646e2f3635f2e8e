"""Limbs of two bones in closed form, one or a million: roots, targets (..., 3) -> middles, ends (..., 3), metres.

The law of cosines tells how far along and off the line to the target the middle joint lies; a direction tells on which
side. Tolani, Goswami & Badler, "Real-time inverse kinematics techniques for anthropomorphic limbs", Graphical Models
62, 2000: the middle lies on a circle about that line.
"""

from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import ArrayLike

from rigkit import require
from rigkit.require import RigError
from rigkit.tolerance import FARTHEST, NO_LENGTH, ROUND_OFF

REACHED, TOO_FAR, TOO_NEAR, STUCK = "reached", "too far", "too near", "no way to bend"
STATES = (REACHED, TOO_FAR, TOO_NEAR, STUCK)
"""What the codes in `TwoBones.states` mean."""
BLOCK = 32768
"""Limbs worked on at once: their numbers stay in the processor's cache. Measured: half or twice as many take longer."""
SLANTED = 0.06
"""Squared sine between line and side: below it, taking out the side's part along the line costs digits, so twice."""
LAST_DIGIT = 1e-15
"""Of a length: what a square and its root leave undecided."""
NOWHERE = 1e-100
"""Metres: so near to the root a target has no direction (its square is still a number)."""


@dataclass(frozen=True, eq=False)
class TwoBone:
    """A solved limb: places (3,) of middle and end in metres, and how it went.

    state: "reached"; "too far" and "too near" (the nearest that can be reached is taken); "no way to bend" (nothing
    says to which side: the limb stays straight along the line to its goal).
    """

    middle: np.ndarray
    end: np.ndarray
    state: str


@dataclass(frozen=True, eq=False)
class TwoBones:
    """Solved limbs: middles and ends (..., 3) in metres, and states (...,), small whole numbers that STATES names."""

    middles: np.ndarray
    ends: np.ndarray
    states: np.ndarray


def solve_two_bone(root: ArrayLike, lengths: ArrayLike, target: ArrayLike, toward: ArrayLike | None) -> TwoBone:
    """Place middle and end of a limb so that its end meets a target, in closed form.

    root, target: (3,) metres. lengths: upper and lower bone, metres, both above zero. toward: direction (3,) to
    which the middle joint shall lie off the line from root to target (from the rest layout, or
    `toward_bend_target`), or None when nothing tells: then the limb stays straight. A target on the root itself
    leaves the line open; the middle then goes toward the side. Raises RigError for bones without length.

    >>> pose = solve_two_bone([0, 0, 0], (4, 3), [5, 0, 0], toward=[0, 1, 0])
    >>> [round(float(x), 6) for x in pose.middle]
    [3.2, 2.4, 0.0]
    """
    start, goal = require.vector(root, "the root's place"), require.vector(target, "the target")
    side = require.vector((0, 0, 0) if toward is None else toward, "the side to bend to")
    upper, lower = _lengths(lengths).tolist()
    (a, b, c), (x, y, z), (i, j, k) = start.tolist(), goal.tolist(), side.tolist()
    x, y, z = x - a, y - b, z - c
    gap, far, near = x * x + y * y + z * z, (upper + lower) ** 2, (upper - lower) ** 2  # all squared
    if near < gap < far and gap > NOWHERE**2:
        share = (i * x + j * y + k * z) / gap
        i, j, k = i - share * x, j - share * y, k - share * z
        off = i * i + j * j + k * k
        if off > SLANTED * float(side @ side) and off > NO_LENGTH**2:
            along = 0.5 + 0.5 * (upper - lower) * (upper + lower) / gap
            high = 0.5 * sqrt((far - gap) * (gap - near) / gap / off)
            middle = (a + along * x + high * i, b + along * y + high * j, c + along * z + high * k)
            return TwoBone(require.frozen(np.array(middle)), goal, REACHED)
    many = solve_two_bones(start, (upper, lower), goal, side)  # which knows what to do at the limits
    return TwoBone(many.middles, many.ends, STATES[int(many.states)])


def solve_two_bones(roots: ArrayLike, lengths: ArrayLike, targets: ArrayLike, toward: ArrayLike) -> TwoBones:
    """Solve many limbs in one call, as `solve_two_bone` solves one.

    roots, targets: (..., 3) metres. lengths: (..., 2) metres. toward: (..., 3), a zero vector where nothing tells.
    Shapes broadcast: one root, one pair of lengths and one side for a million targets will do. Arrays come out
    read-only. Raises RigError for bones without length, shapes that do not go together, and places beyond 100 km.

    >>> poses = solve_two_bones([0, 0, 0], (2, 1), [[2.5, 0, 0], [4, 0, 0], [0.5, 0, 0]], toward=[0, 1, 0])
    >>> [STATES[code] for code in poses.states], poses.ends[1].tolist()
    (['reached', 'too far', 'too near'], [3.0, 0.0, 0.0])
    """
    given = [
        _lengths(lengths),
        rows(roots, "a root"),
        rows(targets, "a target"),
        rows(toward, "a side", most=4.0 * FARTHEST),
    ]
    try:
        shape = np.broadcast_shapes(*(array.shape[:-1] for array in given))
    except ValueError:
        got = ", ".join(str(array.shape) for array in given)
        raise RigError("lengths, roots, targets and sides that go together", got, where="limbs of two bones") from None
    count = int(np.prod(shape))
    # Each limb's numbers stand in a column; what is the same for all is kept once.
    columns = [
        (array if array.ndim == 1 else np.broadcast_to(array, (*shape, array.shape[-1]))).reshape(-1, array.shape[-1]).T
        for array in given
    ]
    middles, states = np.empty((count, 3)), np.zeros(count, dtype=np.uint8)
    ends = np.array(np.broadcast_to(columns[2].T, (count, 3)))
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):  # limbs where that happens are solved again
        for first in range(0, count, BLOCK):
            block = slice(first, first + BLOCK)
            here = [array[:, block] if array.shape[1] == count else array for array in columns]
            _solve_block(here, middles[block], ends[block], states[block])
    for result in (middles, ends, states):
        result.setflags(write=False)
    return TwoBones(middles.reshape(*shape, 3), ends.reshape(*shape, 3), states.reshape(shape))


def rows(value: ArrayLike, what: str, width: int = 3, most: float = FARTHEST) -> np.ndarray:
    """Convert to numbers (..., width); refuse other shapes, NaN and what lies beyond 100 km, worded by `require`."""
    try:
        array = np.asarray(value, dtype=float)
    except (TypeError, ValueError, OverflowError):
        array = np.zeros(0)
    if array.shape[-1:] != (width,):
        raise RigError(f"rows of {width} numbers", require.shown(value), where=what)
    if array.size and not (array.max() <= most and array.min() >= -most):
        require.points(np.resize(array[~(np.abs(array) <= most)], (1, 3)), what)
    return array


def _lengths(lengths: ArrayLike) -> np.ndarray:
    array = rows(lengths, "the lengths of two bones", 2, most=4.0 * FARTHEST)  # two places may lie that far apart
    if array.size and array.min() < NO_LENGTH:
        raise RigError("two bones with a length", f"{array.min():g} m", "two joints coincide", where="a limb")
    return array


def _dot(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    """Products (m,) of vectors in columns (3, m); the second may be one for all."""
    total = a[0] * b[0]
    spare = np.empty_like(total)
    for axis in (1, 2):
        total += np.multiply(a[axis], b[axis], out=spare)
    return total


def _solve_block(columns, middles, ends, states) -> None:
    """Solve limbs given in columns (2 or 3, m or 1 for all) into rows (m, 3) and codes (m,)."""
    bones, starts, goals, sides = columns
    arrow = np.empty((3, len(middles)))  # each coordinate of all limbs side by side in memory, and so in what follows
    np.subtract(goals, starts, out=arrow)
    gap, far, near = _dot(arrow, arrow), (bones[0] + bones[1]) ** 2, (bones[0] - bones[1]) ** 2  # all squared
    odd = (gap >= far) | (gap <= np.maximum(near, NOWHERE**2))
    inverse, size = 1.0 / gap, np.sum(sides * sides, axis=0)
    share = _dot(arrow, sides)
    share *= inverse
    across = arrow * share
    np.subtract(sides, across, out=across)
    off = _dot(across, across)
    slanted = np.flatnonzero(off <= np.maximum(SLANTED * size, NO_LENGTH**2))
    if len(slanted):
        line, aside = arrow[:, slanted], across[:, slanted]
        aside -= line * (_dot(line, aside) * inverse[slanted])
        across[:, slanted], off[slanted] = aside, _dot(aside, aside)
        odd |= off <= NO_LENGTH**2 * np.maximum(size, 1.0)  # nothing tells the side
    high = far - gap
    gap -= near
    high *= gap
    high *= inverse
    high /= off
    across *= np.sqrt(high, out=high)
    across *= 0.5
    inverse *= 0.5 * (bones[0] - bones[1]) * (bones[0] + bones[1])
    inverse += 0.5
    arrow *= inverse
    arrow += across
    np.add(arrow, starts, out=middles.T)
    few = np.flatnonzero(odd)
    if len(few):
        these = (array if array.shape[1] == 1 else array[:, few] for array in columns)
        middles[few], ends[few], states[few] = _straight(*these)


def _straight(bones, starts, goals, sides) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Limbs that end straight or folded flat: at a limit of their reach, beyond it, or with nothing to bend them."""
    (upper, lower), arrow = bones, goals - starts
    far, near, sign = upper + lower, np.abs(upper - lower), np.where(upper >= lower, 1.0, -1.0)
    gap, size = np.sqrt(np.sum(arrow**2, axis=0)), np.sqrt(np.sum(sides**2, axis=0))
    aside = np.where(size < NO_LENGTH, [[0.0], [-1.0], [0.0]], sides / size)
    line = np.where(gap < NOWHERE, sign * aside, arrow / gap)
    inner = gap <= near + LAST_DIGIT * far
    stuck = ~inner & (gap < far - LAST_DIGIT * far)
    reach = np.where(stuck, far, np.clip(gap, near, far))
    ends = np.where(reach == gap, goals, starts + reach * line)
    states = np.select([stuck, gap > far * (1 + ROUND_OFF), gap < near - far * ROUND_OFF], [3, 1, 2], 0)
    return (starts + np.where(inner, sign, 1.0) * upper * line).T, ends.T, states
