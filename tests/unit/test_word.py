"""The instructor's word: a table of scores and marks set by hand, which survives marking again and shows as such."""

import html
import json
import re

import pytest

from rigkit.classroom import mark_class, results_json
from rigkit.glance import found_in
from rigkit.marking import Class, mark
from rigkit.report import class_page, student_page
from rigkit.require import RigError
from rigkit.word import Word, by_rubric, read_words, set_by_word, with_words
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


def page_of(room, name):
    body = re.sub(r"<svg.*?</svg>|<style.*?</style>", " ", student_page(room[name], room["class"]), flags=re.S)
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", body)).split())


@pytest.fixture
def room(tmp_path):
    words = read_words(table(tmp_path, "id;criterion;value;note\nteasel;mark;95;I showed it so\n"
                             "cattail;mark;60;seen on paper\nbittern;centring;90,5;the cuff\n"))  # fmt: skip
    whole = mark_class([PROJECT / "data" / "demo-class"], FOLDER, words=words)
    return {"class": whole} | {one.id: one for one in whole.counting}


def test_semicolons_and_commas_in_numbers_are_read(room):
    assert room["teasel"].mark == 95.0 and room["bittern"].criteria["centring"].score == 0.905


def test_what_a_word_set_is_told_apart_from_what_the_rubric_gives(room):
    assert (set_by_word(room["teasel"]), by_rubric(room["teasel"])) == ({"mark"}, 60.0)
    assert (set_by_word(room["cattail"]), by_rubric(room["cattail"])) == ({"mark"}, None)
    assert (set_by_word(room["bittern"]), by_rubric(room["bittern"])) == ({"centring"}, 50.0)
    assert (set_by_word(room["wren"]), by_rubric(room["wren"])) == (set(), 100.0)
    (cap,) = room["bittern"].caps  # by hand: 25 under bend, 9.5 % of 30 under centring, the rest by the limit of 50
    assert (cap["before"], cap["took"]) == (72.2, 22.2)


def test_a_page_with_a_word_on_it_does_not_contradict_itself(room):
    told = page_of(room, "teasel")
    assert "95.0 of 100, by the instructor's word (60.0 by the rubric)" in told
    assert "By the rubric, taken off: 2.5 under its criteria, 37.5 by a limit" in told
    assert "By the rubric it costs 40.0 of 100: 2.5 under structure, 37.5 by the limit of 60" in told
    assert "with this alone mended" not in told and "Mark by the rubric: 100 less" in told
    assert told.index("I showed it so") < told.index("What went well")
    told = page_of(room, "cattail")
    assert "60.0 of 100, by the instructor's word (not read by the tool)" in told
    assert "expected JSON" in told and "nothing to mend" not in told and "How the mark is made" not in told
    told = page_of(room, "bittern")
    assert (
        "Taken off: 27.85 under its criteria, 22.2 by a limit" in told and "covers it; by the instructor's word" in told
    )


def test_the_class_page_says_which_mark_is_a_word_and_counts_nothing_for_it(room):
    rows = class_page(room["class"]).split("<tr>")
    teasel, cattail = (next(row for row in rows if f"students/{name}.html" in row) for name in ("teasel", "cattail"))
    assert "by the instructor's word (60.0 by the rubric)" in teasel and "off</td>" not in teasel
    assert "by the instructor's word (not read by the tool)" in cattail and "expected JSON" in cattail
    assert "nothing" not in cattail.partition("mending")[2]
    assert "wrong-parent" not in {row.kind.id for row in found_in(room["class"])}
    assert {row.kind.id: row.points for row in found_in(room["class"])}["bends-wrong-way"] == pytest.approx(47.2)


def test_a_word_for_the_criterion_of_a_finding_stands_in_place_of_its_cost():
    result = with_words(mark(shifted("wrist", (0, 0, 25)), arm()), (Word("centring", 90.0, "the cuff hides it"),))
    whole = Class("left-arm", "Orlo's left arm", arm().rubric, (result,), (result,), asked=arm())
    told = page_of({"class": whole, "wren": result}, "wren")
    assert "stands in place of what it costs under centring" in told and told.count("It cost") == 1
    assert "3.0" in told.partition("Centring:")[2][:160] and found_in(whole)[0].kind.criterion != "centring"
