"""Two markers: laws of the numbers of agreement, the sample that is marked by hand, and what to look at again."""

from argparse import Namespace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigkit.after_marking import agree, alike
from rigkit.agreement import icc, icc_range, weighted_kappa
from rigkit.classroom import mark_class
from rigkit.require import RigError
from rigkit.second_marker import LEAST, agreements, read_grades, read_hand, sample, sheet_csv
from rigkit.word import Word
from tests.arms import FOLDER, PROJECT

SAME = 1e-9  # relative: round-off of sums over a hundred marks
marks = st.lists(st.tuples(*[st.integers(0, 100)] * 2), min_size=2, max_size=40).map(np.array)


@pytest.fixture(scope="module")
def room():
    return mark_class([PROJECT / "data" / "demo-class"], FOLDER)


def by_hand(room, change):
    """Marks by hand: the tool's, each changed by a function of its number among those marked."""
    marked = [one for one in room.counting if one.mark is not None]
    return {one.id: (Word("mark", float(np.clip(change(i, one.mark), 0, 100)), ""),) for i, one in enumerate(marked)}


@given(marks)
def test_full_agreement_is_one(table):
    one = table[:, 0]
    expected = None if np.ptp(one) == 0 else pytest.approx(1.0)
    assert weighted_kappa(one, one) == expected
    assert icc(np.stack([one, one], axis=1)) == expected


@given(marks, st.permutations(range(40)))
def test_neither_the_order_of_markers_nor_that_of_hand_ins_matters(table, order):
    order = [row for row in order if row < len(table)]
    for other in (table[:, ::-1], table[order]):
        for measure in (icc, lambda two: weighted_kappa(*two.T)):
            value = measure(table)
            assert measure(other) == (None if value is None else pytest.approx(value, rel=1e-6, abs=1e-6))


@given(marks, st.floats(0.1, 10), st.integers(-50, 50))
def test_other_units_change_nothing(table, scale, shift):
    value = icc(table)
    assert icc(scale * table + shift) == (None if value is None else pytest.approx(value, rel=1e-6, abs=1e-6))


@given(marks)
def test_both_are_numbers_up_to_one_or_none(table):
    for value in (icc(table), weighted_kappa(*table.T)):
        assert value is None or (np.isfinite(value) and value <= 1 + SAME)
    if (span := icc_range(table)) is not None:
        assert np.all(np.isfinite(span)) and span[0] <= icc(table) + SAME and icc(table) <= span[1] + SAME


def test_a_stricter_marker_lowers_both_numbers():
    one = np.arange(20.0)
    assert icc(np.stack([one, one + 5], axis=1)) < 0.8 > weighted_kappa(one, one + 5)


def test_tables_that_are_none_are_refused():
    for wrong in ([[1.0, 2.0]], [[1.0], [2.0]], [[1.0, np.nan], [2.0, 3.0]], "marks", []):
        with pytest.raises(RigError):
            icc(wrong)
    with pytest.raises(RigError):
        weighted_kappa([1, 2], [1, 2, 3])


def test_the_largest_difference_comes_first_with_what_the_tool_charged(room):
    (one,) = agreements(room.counting, by_hand(room, lambda i, mark: mark - 3 * i))
    gaps = [abs(both.gap) for both in one.both]
    assert gaps == sorted(gaps, reverse=True) and gaps[0] > 30
    assert one.bias == pytest.approx(np.mean([both.gap for both in one.both]), abs=0.06)
    charged = {both.id: both.charged for both in one.both}
    assert charged["teasel"] == ("limit of 60 for wrong parent: 37.5", "wrong parent, wrist: 2.5")
    assert charged["wren"] == ()
    first = next(line for line in one.lines() if line.startswith("  "))
    assert first.startswith(f"  {one.both[0].id}: tool {one.both[0].tool:g}, hand {one.both[0].hand:g}")


def test_marks_alike_give_one_and_nothing_to_review(room):
    (one,) = agreements(room.counting, by_hand(room, lambda i, mark: mark))
    assert (one.kappa, one.icc, one.bias) == (pytest.approx(1), pytest.approx(1), 0)
    assert not [line for line in one.lines() if line.startswith("  ")]
    assert "as much as the hand" in " ".join(one.lines())


def test_where_nothing_can_be_told_it_says_so(room):
    hand = by_hand(room, lambda i, mark: 60)
    (one,) = agreements(room.counting, hand)
    assert (one.kappa, one.icc, one.icc_range) == (None, None, None)
    assert "cannot tell, since the hand gave all the same" in " ".join(one.lines())
    few = {name: hand[name] for name in sorted(hand)[: LEAST - 1]}
    assert f"cannot tell, since it takes {LEAST}" in " ".join(agreements(room.counting, few)[0].lines())
    assert agreements(room.counting, {}) == ()


def test_one_grade_only_leaves_kappa_untold_but_not_the_marks(room):
    hand = by_hand(room, lambda i, mark: mark - i)
    (one,) = agreements(room.counting, hand, {"pass": 0.0, "high": 100.0})
    assert one.kappa is None and one.icc is not None
    assert "weighted kappa cannot tell" in " ".join(one.lines())


def test_criteria_are_compared_each_on_its_own(room):
    hand = {one.id: (Word("names", 100.0 * one.criteria["names"].score, ""), Word("mark", one.mark, ""))
            for one in room.counting if one.mark is not None}  # fmt: skip
    mark, names = agreements(room.counting, hand)
    assert (mark.criterion, names.criterion) == ("mark", "names")
    assert names.icc == pytest.approx(1, abs=1e-3)
    assert {both.id: both.charged for both in names.both}["teasel"] == ()  # what it was charged for is no name


def test_what_cannot_be_compared_is_left_out_with_its_reason(room):
    hand = by_hand(room, lambda i, mark: mark) | {
        "cattail": (Word("mark", 5.0, ""),),
        "nobody": (Word("mark", 5.0, ""),),
    }
    (one,) = agreements(room.counting, hand)
    assert dict(one.left_out) == {"cattail": "the tool gave it no mark", "nobody": "there is no hand-in of that id"}
    again = mark_class([PROJECT / "data" / "demo-class"], FOLDER, words={"wren": (Word("mark", 5.0, ""),)})
    assert dict(agreements(again.counting, hand)[0].left_out)["wren"] == "its mark was set by hand before"


def test_a_sample_is_the_same_each_time_and_spread_over_the_marks(room):
    marked = sorted((one for one in room.counting if one.mark is not None), key=lambda one: one.mark)
    drawn = sample(room.counting, 4, "left-arm")
    assert drawn == sample(tuple(reversed(room.counting)), 4, "left-arm") and len(set(drawn)) == 4
    ranks = sorted([one.id for one in marked].index(name) for name in drawn)
    assert ranks[0] <= 3 and ranks[-1] >= len(marked) - 4
    assert sample(room.counting, 100) == tuple(sorted(one.id for one in marked))
    assert len({sample(room.counting, 4, f"week {week}") for week in range(20)}) > 5  # other people each week


def test_in_a_sample_all_have_the_same_chance():
    from types import SimpleNamespace

    taken = dict.fromkeys((f"s{i:02}" for i in range(30)), 0)
    results = [SimpleNamespace(id=name, mark=float(i // 3)) for i, name in enumerate(taken)]
    for week in range(1500):
        for name in sample(results, 10, str(week)):
            taken[name] += 1
    assert sum(taken.values()) == 15_000
    assert max(abs(count - 500) for count in taken.values()) < 92  # five standard errors: sqrt(1500 / 3 x 2 / 3) = 18.3


def test_a_sheet_goes_out_and_comes_back(tmp_path):
    path = tmp_path / "sheet.csv"
    text = sheet_csv(["heron", "=wren", "teasel"])
    path.write_text(text.replace("heron,,", 'heron,61.5,"seen, twice"').replace("wren,,", "wren,70,"), encoding="utf-8")
    assert read_hand(path) == {"heron": (Word("mark", 61.5, "seen, twice"),), "=wren": (Word("mark", 70.0, ""),)}
    path.write_text("id,criterion,value\nheron,names,50\nheron,mark,60\n", encoding="utf-8")
    assert read_hand(path) == {"heron": (Word("names", 50.0, ""), Word("mark", 60.0, ""))}


def test_a_sheet_of_a_spreadsheet_that_writes_semicolons_comes_back_too(tmp_path):
    path = tmp_path / "sheet.csv"
    path.write_text("\ufeffid;mark;note\nheron;61,5;seen, twice\nwren;;\n", encoding="utf-8")
    assert read_hand(path) == {"heron": (Word("mark", 61.5, "seen, twice"),)}


@pytest.mark.parametrize(("text", "words"), [
    (sheet_csv(["wren", "heron"]), "expected a mark by hand, got none"),
    ("id,criterion,value\nwren,mark,\n", "Write marks into its column value"),
    ("id,mark\nwren,50\nheron,110\n", "line 3, value"),
    ('id,mark,note\nwren,50,"two\nlines"\nheron,much,\n', "line 4, value"),
    ("id,mark\nwren,5\nwren,6\n", "two for wren, mark"),
    ("name,mark\nwren,5\n", "the columns id and mark"),
    ('id,mark\n"wren,5\n', "a CSV file"),
])  # fmt: skip
def test_a_sheet_that_is_wrong_says_where(text, words, tmp_path):
    path = tmp_path / "sheet.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(RigError) as error:
        read_hand(path)
    assert words in str(error.value) and "sheet.csv" in str(error.value)
    with pytest.raises(RigError, match=r"none\.csv"):
        read_hand(tmp_path / "none.csv")


def test_grades_are_read_from_words():
    assert read_grades("A=85, B=70,fail=0") == {"A": 85.0, "B": 70.0, "fail": 0.0}
    for wrong in ("", "A", "A=85", "A=85,B=x", "A=185,B=0", "=5,B=0", "A=5,B=5"):
        with pytest.raises(RigError):
            read_grades(wrong)


def asked(**said):
    return Namespace(**({"draw": None, "out": None, "by_hand": None, "grades": None} | said))


def test_a_sheet_is_drawn_marked_and_held_beside_the_tools_marks(room, tmp_path):
    path = tmp_path / "sheet.csv"
    (line,) = agree(asked(draw=10, out=str(path)), lambda: room)
    names = path.read_text().split()[1:]
    assert len(names) == 10 and all(name.rstrip(",") in line for name in names)
    path.write_text("id,mark,note\n" + "".join(f"{name[:-1]}{60 + i}\n" for i, name in enumerate(names)))
    lines = agree(asked(by_hand=str(path), grades="pass=50,fail=0"), lambda: room)
    assert lines[0] == "Of the mark, 10 hand-ins were marked by both." and "ICC(2,1)" in lines[1]
    assert alike(asked(), lambda: room)[-1].startswith("Cannot tell for 13")


def test_a_sheet_with_marks_in_it_is_never_written_over(room, tmp_path):
    path = tmp_path / "sheet.csv"
    path.write_text("id,mark\nwren,5\n")
    for said, words in (
        ({"draw": 3, "out": str(path)}, "perhaps with marks in it"),
        ({"draw": 3, "out": str(path / "sheet.csv")}, "can be written"),
        ({"draw": 3}, "either --draw N and --out CSV"),
        ({}, "or --by-hand CSV"),
        ({"draw": 3, "out": "x.csv", "by_hand": str(path)}, "either"),
    ):
        with pytest.raises(RigError) as error:
            agree(asked(**said), lambda: room)
        assert words in str(error.value)
    assert path.read_text() == "id,mark\nwren,5\n"
