"""What the instructors' notebook imports: answers change the draft, the table's choice is kept in words, nothing is raised."""

import pytest

from rigkit import own
from rigkit.require import RigError


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("own")


@pytest.fixture
def character(folder, monkeypatch):
    monkeypatch.setenv("RIGKIT_WORK", str(folder / "work"))
    return own.open_character(own.demo_character())


def dropdowns(shown):
    return {
        (row.children[0].description, box.description): box for row in shown.panel.children[:-1] for box in row.children
    }


def test_the_demo_leaves_open_what_the_notebook_speaks_of(character):
    left = " ".join(character.draft.open_questions())
    assert all(word in left for word in ("rest_pose:", "left_knee:", "joint_4:")) and len(left.split("?")) < 7
    assert {one.role for one in character.draft.asked} == {"hip", "knee", "ankle", "ball", "toe tip"}
    told = repr(own.understood(character))
    assert "left_knee          knee       required  flesh      asked" in told


def test_a_choice_in_the_table_changes_the_draft_and_says_how_to_keep_it(character):
    shown = own.choose(character)
    boxes = dropdowns(shown)
    boxes["left_toe_tip", "left_toe_tip"].value = "ignored"
    boxes["left_knee", "judged by"].value = "region"
    assert character.draft.joint("toe tip").need == "ignored" and character.draft.joint("knee").lie.place == "region"
    lines = shown.panel.children[-1].value
    assert "character.joint(&#x27;left_toe_tip&#x27;, need=&#x27;ignored&#x27;)" in lines
    assert "character.joint(&#x27;left_knee&#x27;, place=&#x27;region&#x27;)" in lines
    assert repr(shown) == "A table to choose in. Run this cell (Shift+Enter) to open it."
    assert all(box.description for box in boxes.values())


def test_the_same_answer_twice_is_one_and_millimetres_count_from_the_file(character):
    start = character.draft.figure.positions
    for _ in range(2):
        character.mend("ball", out=-20, forward=5)
    moved = character.draft.figure.positions - start
    assert moved[5].round(9).tolist() == [-0.02, 0.0, 0.005] and not moved[:5].any() and not moved[6:].any()


def test_on_the_right_side_out_is_the_other_way(character):
    character.say(side="right")
    assert character.arrow(10, 0, 0).tolist() == [-0.01, 0.0, 0.0]


def test_from_open_questions_to_a_marked_hand_in(character):
    assert own.check_key(character).state == own.finish(character).state == own.give_out(character).state == "not yet"
    assert own.try_out(character, "knee").state == "not yet"
    character.joint("joint_4", need="ignored")
    character.joint("knee", fold="forward")
    character.say(rest_pose="She stands.")
    found = own.check_key(character)
    assert found.state == "look again" and "ball" in found.found
    assert {row[0] for row in own.found_in_key(character).rows} == {"knee", "ball"}
    character.mend("ball", out=-21, up=-3)
    character.mend("knee", forward=19)
    assert own.check_key(character).state == own.finish(character).state == own.give_out(character).state == "right"
    told = own.try_out(character, "knee", forward=-40)
    assert "the key itself gets 100, this hand-in 50 of 100." in told.found
    assert "key.json" not in {one.name for one in character.for_students.iterdir()}


def test_a_picture_says_what_it_shows(character):
    html = own.picture_of(character, views=("front", "slice"), joints=("hip",))._repr_html_()
    assert 'alt="Front view.' in html and 'alt="Slice through the hip.' in html


def test_a_slip_of_the_instructor_is_told_in_a_sentence(character):
    with pytest.raises(RigError, match="hip, knee, joint 4, ankle"):
        character.joint("knie", need="ignored")
    with pytest.raises(RigError, match="-1000 to 1000"):
        character.mend("knee", forward=5000)
    assert own.try_out(character, "knie").state == "not yet"
