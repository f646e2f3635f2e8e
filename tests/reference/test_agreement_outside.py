"""Agreement of markers beside a printed case, scikit-learn's kappa and scipy's analysis of variance."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigkit.agreement import icc, icc_range, weighted_kappa

SAME = 1e-9  # relative: round-off of sums over a hundred marks
JUDGES = np.array([[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7]], dtype=float)
"""Six targets by four judges, the table of Shrout & Fleiss 1979 (from memory); the article prints ICC(2,1) = .29 and
mean squares of 11.24 between targets, 32.49 between judges and 1.02 for what is left."""

marks = st.lists(st.tuples(*[st.integers(0, 100)] * 2), min_size=2, max_size=40).map(np.array)
grades = st.lists(st.tuples(*[st.integers(0, 5)] * 2), min_size=1, max_size=40).map(np.array)


def test_icc_is_that_of_the_printed_case():
    assert round(icc(JUDGES), 2) == 0.29
    assert icc(JUDGES) == pytest.approx((11.24 - 1.02) / (11.24 + 3 * 1.02 + 4 * (32.49 - 1.02) / 6), abs=2e-3)


def test_its_range_is_that_of_other_programs_on_the_printed_case():
    """0.02 to 0.76, as programs for statistics give for this table (from memory)."""
    assert np.round(icc_range(JUDGES), 2).tolist() == [0.02, 0.76]


def test_its_range_holds_the_truth_as_often_as_it_says():
    chance, hits = np.random.default_rng(8), 0
    for _ in range(600):
        table = chance.normal(0, 2, (15, 1)) + chance.normal(0, 0.5, (1, 2)) + chance.normal(0, 1, (15, 2))
        least, most = icc_range(table)
        hits += least <= 4 / (4 + 0.25 + 1) <= most
    assert 0.92 < hits / 600 < 0.98  # three standard errors about 0.95


@given(marks)
def test_icc_agrees_with_the_mean_squares_of_a_library(table):
    """scipy's one-way analysis of variance, once by hand-ins and once by markers, gives the same sums of squares."""
    from scipy.stats import f_oneway

    value = icc(table)
    total, (n, k) = float(np.sum((table - table.mean()) ** 2)), table.shape
    groups = [table, table.T]
    ratios = [1e300 if np.ptp(group, axis=1).max() == 0 else float(f_oneway(*group).statistic) for group in groups]
    if total == 0:
        assert value is None
        return
    parts = []
    for group, ratio in zip(groups, ratios, strict=True):
        count, size = group.shape
        share = ratio * (count - 1) / (count * (size - 1))
        parts.append(total * share / (1 + share))
    between, markers = parts[0] / (n - 1), parts[1] / (k - 1)
    error = (total - parts[0] - parts[1]) / ((n - 1) * (k - 1))
    spread = between + (k - 1) * error + k * (markers - error) / n
    if value is None:
        assert spread == pytest.approx(0, abs=SAME * total)
    else:
        assert value == pytest.approx((between - error) / spread, rel=1e-6, abs=1e-6)


@given(grades)
def test_kappa_agrees_with_a_library(table):
    from sklearn.metrics import cohen_kappa_score

    one, two = table.T
    value = weighted_kappa(one, two)
    if len({*one, *two}) == 1:
        assert value is None
    else:
        library = cohen_kappa_score(one, two, weights="quadratic", labels=range(6))
        assert value == pytest.approx(library, rel=SAME, abs=SAME)
