"""The instructor's word: a table of scores and marks set by hand, which survives marking again and shows as such."""

import json

import pytest

from rigkit.classroom import mark_class, results_json
from rigkit.marking import mark
from rigkit.require import RigError
from rigkit.word import Word, read_words, with_words
from tests.arms import FOLDER, PROJECT, arm, shifted

HEAD = "id,criterion,value,note\n"


def table(tmp_path, text):
    path = tmp_path / "words.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_score_set_by_hand_changes_the_mark_as_the_rubric_weighs_it():
    """By hand: structure 15, centring 30, fold 15, bend 25, names 15; the wrist is worth nothing of three in centring."""
    result = mark(shifted("wrist", (0, 0, 25)), arm())
    assert result.criteria["centring"].score == pytest.approx(2 / 3, abs=1e-6) and result.mark == 87.0
    told = with_words(result, (Word("centring", 90.0, "the cuff hides it"),))
    assert told.mark == 94.0  # 30 x (0.9 - 2/3) more
    assert told.findings == result.findings
    assert told.notices[-1] == "The instructor's word: centring 90 % instead of 67 % (the cuff hides it)."


def test_a_cap_still_holds_unless_the_mark_itself_is_set():
    result = mark(shifted("elbow", (0, 0, 33)), arm())
    assert result.mark == 50.0
    assert with_words(result, (Word("bend", 80.0, ""),)).mark == 50.0
    both = with_words(result, (Word("bend", 80.0, ""), Word("mark", 72.5, "seen in class")))
    assert both.mark == 72.5 and len(both.notices) == 2
    assert both.notices[-1] == "The instructor's word: the mark is 72.5 instead of 50.0 (seen in class)."


def test_words_hold_for_the_hand_in_that_counts_and_survive_marking_again(tmp_path):
    words = read_words(
        table(tmp_path, HEAD + 'heron,mark,"61,5",talked it over\nmarigold,mark,10,by eye\nnobody,mark,5,\n')
    )
    handins = PROJECT / "data" / "demo-class"
    one, two = (results_json(mark_class([handins], FOLDER, jobs=jobs, words=words)) for jobs in (1, 2))
    assert one == two
    entries = {entry["id"]: entry for entry in json.loads(one)["handins"]}
    assert entries["heron"]["mark"] == 61.5 and "The instructor's word" in entries["heron"]["notices"][-1]
    plain = {entry["id"]: entry for entry in json.loads(results_json(mark_class([handins], FOLDER)))["handins"]}
    changed = {name for name in plain if plain[name] != entries[name]}
    assert changed == {"heron", "marigold"} & set(plain)


def test_a_file_that_could_not_be_read_may_be_marked_by_hand(tmp_path):
    (tmp_path / "class").mkdir()
    (tmp_path / "class" / "wren.json").write_text("torn")
    words = read_words(table(tmp_path, HEAD + "wren,mark,40,seen on paper\nwren,names,100,\n"))
    (result,) = mark_class([tmp_path / "class"], FOLDER, words=words).results
    assert (result.status, result.mark) == ("marked", 40.0) and "JSON" in result.reason
    assert len(result.notices) == 1


@pytest.mark.parametrize(("text", "words"), [
    ("id,criterion\nwren,mark\n", "none called value, note"),
    (HEAD + "wren,posture,5,\n", "line 2, criterion"),
    (HEAD + "wren,mark,much,\n", "a number from 0 to 100, got 'much'"),
    (HEAD + "wren,mark,101,\n", "line 2, value"),
    (HEAD + "wren,structure,0.9,\n", "a score in per cent, such as 90, got 0.9"),
    (HEAD + "wren,structure,1,\n", "Write 100"),
    (HEAD + "wren,mark,nan,\n", "line 2, value"),
    (HEAD + ",mark,5,\n", "line 2, id"),
    (HEAD + "wren,mark,5,\nwren,Mark,6,\n", "two for wren, mark"),
    (HEAD + '"wren,mark,5,\n', "a CSV file"),
])  # fmt: skip
def test_a_table_that_is_wrong_says_where(text, words, tmp_path):
    with pytest.raises(RigError) as error:
        read_words(table(tmp_path, text))
    assert words in str(error.value) and "words.csv" in str(error.value)


def test_empty_lines_and_a_missing_table(tmp_path):
    assert read_words(table(tmp_path, "\ufeff" + HEAD + "\n,,,\nwren,Names,50,ok\n")) == {
        "wren": (Word("names", 50.0, "ok"),)
    }
    with pytest.raises(RigError, match=r"none\.csv"):
        read_words(tmp_path / "none.csv")
