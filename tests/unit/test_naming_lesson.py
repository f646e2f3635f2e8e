"""What lesson 3 shows: partners by name alone, bones across the chest where a name says no side, sheets by any rule."""

import numpy as np
import pytest

from rigkit.naming import read_rule
from rigkit.openings import open_exercise
from rigkit.taught import naming_lesson as taught


@pytest.fixture
def found():
    return open_exercise(taught.EXERCISE).start(taught.START).skeleton


def test_of_the_names_as_found_two_have_a_partner_and_of_the_right_ones_all(found):
    rule = read_rule("plain")
    assert taught.paired(found, rule) == 2
    exercise = open_exercise(taught.EXERCISE)
    for joint, asked in enumerate(exercise.joints):
        found = found.renamed(joint, rule.name_for(asked.role, "left"))
    assert taught.paired(found, rule) == len(exercise.joints) == 9


def test_joints_of_the_exercise_lie_where_the_key_has_them(found):
    assert np.array_equal(found.positions, open_exercise(taught.EXERCISE).key.skeleton.positions)


def test_the_picture_says_which_made_joints_hang_on_the_other_arm():
    ((drawing, sentence),) = taught.mirrored().plates
    assert "the mirror made 4" in sentence and "right_elbow" in sentence and "NaN" not in drawing


def test_the_letters_stand_where_the_sheet_asks():
    said = [sentence for _, sentence in taught.lettered().plates]
    assert "elbow on the left of the picture" in said[0] and "middle one of the index finger" in said[1]
    assert taught.halyard()._asked == {"A": ("elbow", "right"), "B": ("index 2", "left"), "pelvis": ("pelvis", None)}
    assert "index 2" not in repr(taught.halyard().rule()) and "elbow" not in repr(taught.halyard().rule())


@pytest.mark.parametrize("sheet", [taught.halyard, taught.hanim])
def test_a_sheet_is_right_by_its_own_rule_and_by_no_other(sheet):
    told = sheet()
    assert told.check().state == "not yet"
    for by, state in ((told._by, "right"), (read_rule("plain"), "look again")):
        told.say(**{word: by.name_for(*asked) for word, asked in told._asked.items()})
        assert told.check().state == state


def test_a_mirror_needs_a_side_and_a_program_every_letter():
    rows = {row[0]: row[2:] for row in taught.judged("left_elbow", "elbow", "Left_Elbow").rows}
    assert rows == {"left_elbow": ("right_elbow", "yes"), "elbow": ("no partner", "no"),
                    "Left_Elbow": ("Right_Elbow", "no")}  # fmt: skip
