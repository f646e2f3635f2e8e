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
    return {box.description: box for box in shown.panel.children[:-1]}


@pytest.fixture
def answered(character):
    character.joint("joint_4", need="ignored")
    character.joint("knee", fold="forward")
    character.say(rest_pose="She stands upright.")
    return character


def test_the_demo_leaves_open_what_the_notebook_speaks_of(character):
    left = " ".join(character.draft.open_questions())
    assert all(word in left for word in ("rest_pose:", "left_knee:", "joint_4:")) and len(left.split("?")) < 7
    assert {one.role for one in character.draft.asked} == {"hip", "knee", "ankle", "ball", "toe tip"}
    told = repr(own.understood(character))
    assert "left_knee          knee       required  flesh      asked" in told
    assert "joint_4            ?          asked" in told
    short = repr(own.joints_in(character))
    assert "joint_4            ?          asked" in short and "region" not in short and "judged" not in short


def test_a_choice_in_the_table_changes_the_draft_and_says_how_to_keep_it(character):
    shown = own.choose(character)
    boxes = dropdowns(shown)
    boxes["left_toe_tip"].value = "ignored"
    assert boxes["joint_4"].value == "asked"
    boxes["joint_4"].value = "ignored"
    assert character.draft.joint("toe tip").need == "ignored" and own.questions(character, "joints").state == "right"
    lines = shown.panel.children[-1].value
    assert "character.joint(&#x27;left_toe_tip&#x27;, need=&#x27;ignored&#x27;)" in lines
    assert "character.joint(&#x27;joint_4&#x27;, need=&#x27;ignored&#x27;)" in lines
    assert repr(shown) == "A table to choose in. Run this cell (Shift+Enter) to open it."
    assert all(boxes)


def test_the_same_answer_twice_is_one_and_millimetres_count_from_the_file(character):
    start = character.draft.figure.positions
    for _ in range(2):
        character.mend("ball", out=-20, forward=5)
    moved = character.draft.figure.positions - start
    assert moved[5].round(9).tolist() == [-0.02, 0.0, 0.005] and not moved[:5].any() and not moved[6:].any()
    told = repr(character.mend("knee", forward=19))
    assert "left_knee  forward 19 mm" in told and "left_ball  in 20 mm and forward 5 mm" in told


def test_on_the_right_side_out_is_the_other_way(character):
    character.say(side="right")
    assert character.arrow(10, 0, 0).tolist() == [-0.01, 0.0, 0.0]


def test_from_open_questions_to_a_marked_hand_in(character):
    assert own.check_key(character).state == own.finish(character).state == own.give_out(character).state == "not yet"
    assert own.try_out(character, "knee").state == "not yet"
    character.joint("joint_4", need="ignored")
    character.joint("knee", fold="forward")
    character.say(rest_pose="She stands upright.")
    found = own.check_key(character)
    assert found.state == "not yet" and "ball" in found.found and "21 mm" not in repr(found)
    assert {row[0] for row in own.found_in_key(character).rows} == {"knee", "ball"}
    assert not any(row[2] for row in own.found_in_key(character).rows)
    character.mend("ball", out=-10)
    found = own.check_key(character)
    assert found.state == "look again" and "Move the ball in" in found.next_step
    character.mend("ball", out=-21, up=-3)
    character.mend("knee", forward=19)
    assert own.check_key(character).state == own.finish(character).state == own.give_out(character).state == "right"
    told = own.try_out(character, "knee", forward=-40)
    assert "the key itself gets 100, this hand-in 50 of 100." in told.found
    assert "key.json" not in {one.name for one in character.for_students.iterdir()}


def test_a_key_that_is_still_wrong_is_written_and_never_right(answered):
    for told in (own.finish(answered), own.give_out(answered), own.try_out(answered, "knee", forward=-40)):
        assert told.state == "look again" and "But: The key gets 84.2 of 100." in told.found
    answered.mend("ball", out=-21, up=-3)
    answered.mend("knee", forward=19)
    answered.joint("knee", fold="none")
    assert "the bend of the knee is not judged" in own.finish(answered).found


def test_a_joint_on_the_wrong_side_is_told_before_the_rubric_is_blamed(answered):
    answered.mend("ball", out=21, up=-3, forward=-2)
    answered.mend("knee", forward=18)
    found = own.check_key(answered)
    assert "The ball now lies 42 mm from the middle of its slice, too far out." in found.found
    assert found.next_step == "In is a negative out, down a negative up, back a negative forward."
    assert [row[0] for row in own.found_in_key(answered).rows] == ["ball"], "the knee bends as it was asked to"


@pytest.mark.parametrize(("answers", "state", "words"), [
    ({"need": "required"}, "not yet", 'no naming rule has the word "joint 4"'), ({"need": "optional"}, "not yet", "(role)"),
    ({"role": "knee"}, "not yet", "the knee already"), ({"role": "wrist"}, "look again", "have to lay a wrist"),
    ({"need": "ignored"}, "right", ""),
])  # fmt: skip
def test_only_a_joint_that_a_rule_can_name_is_asked_for(character, answers, state, words):
    character.joint("joint_4", **answers)
    told = own.questions(character, "joints")
    assert told.state == state and words in told.found


def test_a_draft_keeps_what_the_notebook_asks_beside(answered):
    answered.joint("joint_4", need="required")
    assert own.finish(answered).state == own.give_out(answered).state == "not yet"
    assert "no naming rule has the word" in (answered.folder / "exercise.toml").read_text()


def test_a_joint_that_is_ignored_after_all_is_taken_for_nothing(character):
    character.joint("joint_4", role="knee")
    assert "knee" not in repr(character.joint("joint_4", need="ignored"))


@pytest.mark.parametrize(("fold", "words"), [("out", "to lie out"), ("back", "to lie back"), ("none", "not judged")])
def test_a_fold_that_anatomy_does_not_know_is_asked_about(character, fold, words):
    character.joint("knee", fold=fold)
    told = own.questions(character, "folds")
    assert told.state == "look again" and words in told.found and "other way" not in told.found


@pytest.mark.parametrize("words", [{"rest_pose": "..."}, {"rest_pose": "She stands."}, {"title": ""}, {"title": "..."}])
def test_words_that_say_nothing_are_no_answer(answered, words):
    answered.say(**words)
    assert own.questions(answered, "words").state == own.finish(answered).state == "not yet"


def test_a_picture_says_what_it_shows(character):
    html = own.picture_of(character, views=("front", "slice"), joints=("hip",))._repr_html_()
    assert 'alt="Front view.' in html and 'alt="Slice through the hip.' in html


def test_a_slip_of_the_instructor_is_told_in_a_sentence(character):
    with pytest.raises(RigError, match="left_hip, left_knee, joint_4, left_ankle"):
        character.joint("knie", need="ignored")
    with pytest.raises(RigError, match="-1000 to 1000"):
        character.mend("knee", forward=5000)
    assert own.try_out(character, "knie").state == "not yet"
