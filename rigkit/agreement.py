"""Agreement of markers: marks of the same hand-ins, a row each, (n, k) -> how far they agree beyond chance, or None.

Both numbers are 1 where all marks are the same, near 0 where markers agree no better than strangers would, and count a
marker who is always stricter as disagreement. Where nothing can be told the answer is None, never NaN.
"""

import numpy as np

from rigkit import require
from rigkit.require import RigError
from rigkit.tolerance import ROUND_OFF

MOST = 1e6
"""No mark is higher: squares of such stay far from overflow."""


def weighted_kappa(first: np.ndarray, second: np.ndarray) -> float | None:
    """Quadratically weighted kappa of two markers' grades (n,), as ranks: 0, 1, 2 and so on.

    A disagreement counts by the square of its steps, against what the two would have by chance, each with as many of
    each grade. None where both gave one and the same grade to all. Raises RigError for lists that do not go together.
    Source: Cohen 1968, Psychological Bulletin 70, 213-220; written out for squares, where chance is the mean over all
    pairs of one grade each.

    >>> weighted_kappa([0, 1, 2, 3], [0, 1, 2, 2])
    0.875
    """
    ranks = _table([first, second]).T
    by_chance = np.mean((ranks[:, :1] - ranks[:, 1]) ** 2)
    if by_chance == 0.0:
        return None
    return float(1.0 - np.mean((ranks[:, 0] - ranks[:, 1]) ** 2) / by_chance)


def icc(marks: np.ndarray) -> float | None:
    """ICC(2,1) of marks (n, k) of n hand-ins by k markers: the share of the spread of single marks that lies between
    hand-ins. Markers stand for any others, and their own strictness counts against them.

    None where there is no spread at all. Raises RigError where the marks are no table of two rows and columns or more.
    Source: Shrout & Fleiss 1979, Psychological Bulletin 86, 420-428, case 2.

    >>> round(icc([[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7]]), 2)
    0.29
    """
    n, k, between, markers, error = _mean_squares(marks)
    spread = between + (k - 1) * error + k * (markers - error) / n
    if not np.ptp(marks) or spread <= ROUND_OFF * (between + markers + error):
        return None
    return float((between - error) / spread)


def icc_range(marks: np.ndarray, sure: float = 0.95) -> tuple[float, float] | None:
    """Between which two values ICC(2,1) lies with the confidence `sure`, for marks (n, k) as in `icc`.

    None where it cannot be told. Source: Shrout & Fleiss 1979, with the degrees of freedom that they take from
    Satterthwaite; normal errors are supposed, so for marks near 100 it is a rough guide. Where so few marks agree so
    badly that the formula misses the value itself, the range is widened to it.
    """
    from scipy.stats import f

    n, k, between, markers, error = _mean_squares(marks)
    value = icc(marks)
    if value is None or error <= ROUND_OFF * between:
        return None if value is None else (value, value)
    a, c = k * value * markers / error, n * (1 + (k - 1) * value) - k * value
    freedom = (k - 1) * (n - 1) * (a + c) ** 2 / ((n - 1) * a**2 + c**2)
    tail = (1.0 - require.number(sure, "sure", 0.0, 1.0)) / 2.0
    low, high = (float(f.isf(tail, *pair)) for pair in ((n - 1, freedom), (freedom, n - 1)))
    rest = k * markers + (k * n - k - n) * error
    least = n * (between - low * error) / (low * rest + n * between)
    most = n * (high * between - error) / (rest + n * high * between)
    return (min(least, value), max(most, value)) if np.isfinite([least, most]).all() else None


def _mean_squares(marks: np.ndarray) -> tuple[int, int, float, float, float]:
    """n, k, and the mean squares between hand-ins, between markers and of what is left."""
    table = _table(marks)
    n, k = table.shape
    if min(n, k) < 2:
        raise RigError("two hand-ins and two markers, or more", f"{n} by {k}", where="marks")
    centred = table - table.mean()
    rows, columns = centred.mean(axis=1), centred.mean(axis=0)
    left = centred - rows[:, None] - columns
    return n, k, k * float(rows @ rows) / (n - 1), n * float(columns @ columns) / (k - 1), float(
        np.sum(left**2) / ((n - 1) * (k - 1)))  # fmt: skip


def _table(marks: object) -> np.ndarray:
    try:
        table = np.array(marks, dtype=float)
    except (TypeError, ValueError):
        raise RigError("a number from each marker for each hand-in", require.shown(marks), where="marks") from None
    if table.ndim != 2 or not table.size or not np.all(np.abs(table) <= MOST):
        raise RigError("a number from each marker for each hand-in", require.shown(table), where="marks")
    return table
