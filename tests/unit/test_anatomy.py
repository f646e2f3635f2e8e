"""The reference tables say where each value comes from, and what is worked out from them is what they say."""

import csv
import math
import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rigkit import anatomy
from rigkit.anatomy import (
    EVERY,
    MEMORY,
    NONE,
    READ,
    SOME,
    check_range,
    facts,
    folds,
    joint_centres,
    proportions,
    range_of_motion,
    read_facts,
    segment,
)  # fmt: skip
from rigkit.require import RigError
from rigkit.tables import data_folder

EXACT = 1e-9  # a handful of float64 operations on numbers near one
FOLDER = data_folder() / "reference"
TABLES = sorted(path.stem for path in FOLDER.glob("*.csv"))
ARM = {"shoulder": [0.2, 1.4, 0.0], "elbow": [0.2, 1.1, -0.02], "wrist": [0.2, 0.85, 0.0]}


@pytest.mark.parametrize("table", TABLES)
def test_every_row_says_where_it_comes_from(table):
    with (FOLDER / f"{table}.csv").open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == len(facts(table)) > 0
    for row in rows:
        assert len(row["source"]) > 10 and row["how_known"] in (*READ, MEMORY), row
        assert (MEMORY in row["source"]) <= (row["how_known"] == MEMORY), "memory is never passed off as reading"
        assert row["unit"]
    assert len({tuple(row.values()) for row in rows}) == len(rows), "a row stands there twice"


def test_the_readme_names_every_table():
    said = (FOLDER / "README.md").read_text(encoding="utf-8")
    assert TABLES == ["finger_bones", "folds", "hanim", "joint_centres", "motion", "segments"]
    assert all(f"`{table}.csv`" in said for table in TABLES) and all(f"`{label}`" in said for label in (*READ, MEMORY))


HEAD = "joint,value,unit,source,how_known,note\n"


@pytest.mark.parametrize(
    "text, word",
    [
        ("", "comma-separated"),
        ("joint,value,unit\nknee,1,deg\n", "columns that end in"),
        (HEAD + "knee,1,deg,a book,read in the source\n", "line 2.*6 cells"),
        (HEAD + "knee,1,deg,a book,read in the source,\nknee,1,deg, ,read in the source,\n", "line 3.*a source"),
        (HEAD + "knee,1,deg,a book,believed,\n", "how it is known"),
        (HEAD + "knee,much,deg,a book,from memory,\n", "line 2.*numbers"),
        (HEAD + "knee,,deg,a book,from memory,\n", "numbers"),
        (HEAD + "knee,nan,deg,a book,from memory,\n", "numbers"),
        (HEAD + 'knee,1,deg,"a book,from memory,\n', "comma-separated"),
        (HEAD.replace("value", "x,y,z") + "knee,1,,0,m,a book,from memory,\n", "numbers"),
    ],
)
def test_a_table_that_cannot_be_trusted_is_refused(tmp_path, text, word):
    path = tmp_path / "table.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(RigError, match=rf"table\.csv.*{word}"):
        read_facts(path)


def test_a_table_that_is_not_there(tmp_path):
    with pytest.raises(RigError) as caught:
        read_facts(tmp_path / "none.csv")
    assert str(tmp_path) not in str(caught.value)
    with pytest.raises(RigError, match="finger_bones, folds"):
        facts("../naming/plain")


@pytest.mark.parametrize(
    "call, names",
    [
        (lambda: segment("shoulder", "nose"), "hip to knee"),
        (lambda: range_of_motion("tail", "flexion"), "elbow, forearm, wrist"),
        (lambda: range_of_motion("knee", "twist"), "extension, flexion"),
        (lambda: check_range("tail", 1.0), "elbow, wrist"),
        (lambda: check_range("pip", -0.5), "extension"),
        (lambda: check_range("elbow", math.nan), "a number from"),
        (lambda: folds("shoulder"), "elbow, mcp, pip"),
        (lambda: folds("elbow", "middle"), "left, right"),
        (lambda: joint_centres("clavicle", {}), "elbow, shoulder, wrist"),
        (
            lambda: joint_centres("knee", {"lateral_femoral_epicondyle": [0, 0, 0]}),
            "and medial_femoral_epicondyle, got",
        ),
        (lambda: joint_centres("hip", {"iliac_crest": [0, 1, 0]}), "elbow, shoulder, wrist, knee, ankle, got"),
        (lambda: joint_centres("elbow", {"acromion": [0, 0, 0], "radiale": [0, np.inf, 0]}), "landmark radiale"),
        (lambda: proportions({**ARM, "elbow": [0, math.nan, 0]}), "the place of elbow"),
        (lambda: proportions({role: [0, 0, 0] for role in ARM}), "the arm.*joints apart"),
        (lambda: proportions(ARM, stature=0.0), "the stature"),
    ],
)
def test_what_no_table_knows_is_answered_with_what_they_know(call, names):
    with pytest.raises(RigError, match=names):
        call()


@pytest.mark.parametrize(
    "role, away, vector",
    [
        # standard anatomy: the tip of the elbow points back, the kneecap forward; common practice: the toe-walker's ankle
        ("elbow", "back", (0, 0, -1)),
        ("knee", "forward", (0, 0, 1)),
        ("ankle", "back", (0, 0, -1)),
        ("index 1", "out", (1, 0, 0)),  # fingers curl to the palm, which faces the thigh
        ("little 3", "out", (1, 0, 0)),
        ("thumb 2", "", ()),  # a plane of its own
    ],
)
def test_which_way_each_joint_folds(role, away, vector):
    left, right = folds(role), folds(role, "right")
    assert left.about[2] == right.about[2] == away and left.numbers == vector
    assert right.numbers == tuple(-x if i == 0 else x for i, x in enumerate(vector)), "body words stay, x turns over"


WORDS = {
    "out": (1, 0, 0),
    "in": (-1, 0, 0),
    "up": (0, 1, 0),
    "down": (0, -1, 0),
    "forward": (0, 0, 1),
    "back": (0, 0, -1),
}


def test_the_vectors_of_the_folds_say_what_their_words_say():
    for row in facts("folds"):
        _, toward, away = row.about
        assert row.numbers == WORDS.get(away, ())
        assert toward not in WORDS or np.array_equal(WORDS[toward], np.negative(WORDS[away])), "away is the other way"


@pytest.mark.parametrize(
    "role, degrees, state, within, beyond",
    [
        ("elbow", 143, EVERY, ["150", "143", "160", "145"], []),  # AAOS 150, Boone & Azen 143, Merck 160, e-hand 145
        ("elbow", 143.1, SOME, ["150", "160", "145"], ["143"]),
        ("elbow", 160, SOME, ["160"], ["150", "143", "145"]),
        ("elbow", 160.1, NONE, [], ["150", "143", "160", "145"]),
        ("elbow", -0.1, NONE, [], ["0"]),  # AAOS 0; what is known from memory (4.7) says nothing
        ("knee", 130, EVERY, ["130", "152.6", "147.8"], []),  # Merck 130, Soucie 2011 girls 152.6, boys 147.8
        ("knee", -3, SOME, ["5.4"], ["1.6"]),
        ("index 1", 90, EVERY, ["90", "90"], []),  # Merck 90, e-hand 90
        ("ring 2", 101, SOME, ["120"], ["100"]),  # Merck 120, e-hand 100
        ("dip", 81, NONE, [], ["80", "80"]),
        ("thumb 3", 85, SOME, ["90"], ["80"]),
        ("ankle", 20, EVERY, ["20"], []),  # Merck: 20 towards the shin, 50 towards the sole
        ("ankle", -51, NONE, [], ["50"]),
        ("wrist", 0, EVERY, ["80", "76", "90", "75"], []),
    ],
)
def test_a_fold_beside_the_sources(role, degrees, state, within, beyond):
    got, text = check_range(role, math.radians(degrees))
    assert got == state and state in text and f"{abs(degrees):.1f} degrees" in text
    listed = text.split(f"{state}: ")[1]
    for word, values in (("within", within), ("beyond", beyond)):
        part = next((part for part in listed.split("; ") if part.startswith(word)), word)
        assert re.findall(r"([\d.]+) \(", part) == values


def test_values_from_memory_never_decide():
    """Soucie's adults, from memory, reach 62.1 degrees at the ankle; the one source that was read says 50."""
    ankle = range_of_motion("ankle", "plantarflexion")
    assert max(row.value for row in ankle.rows) == 62.1 and (ankle.least, ankle.most) == (50, 50)
    with pytest.raises(RigError, match="memory alone"):
        range_of_motion("dip", "share_of_pip_flexion")


# Drillis & Contini 1966: upper arm 0.186, forearm 0.146 of the stature
TABLE_ARM = {"shoulder": [0, 0.332, 0], "elbow": [0, 0.146, 0], "wrist": [0, 0, 0]}


def by_drillis(places, stature):
    found = [one for one in proportions(places, stature) if one.source.startswith("Drillis")]
    return {one.bone: one.deviation for one in found}, {one.whole for one in found}


def test_an_arm_made_by_the_table_does_not_depart_from_it():
    for stature, whole in ((1.0, "stature"), (None, "arm")):
        deviations, wholes = by_drillis(TABLE_ARM, stature)
        assert max(map(abs, deviations.values())) < EXACT and wholes == {whole}


def test_a_doubled_bone_is_found():
    doubled = {**TABLE_ARM, "wrist": [0, -0.146, 0]}
    assert by_drillis(doubled, 1.0)[0] == pytest.approx({("shoulder", "elbow"): 0, ("elbow", "wrist"): 100})
    # without a stature by shares of the arm: 0.292 / 0.478 beside 0.146 / 0.332, and 0.186 / 0.478 beside 0.186 / 0.332
    assert by_drillis(doubled, None)[0] == pytest.approx(
        {("shoulder", "elbow"): -30.54393, ("elbow", "wrist"): 38.91213}
    )
    assert all(one.deviation > 20 for one in proportions(doubled) if one.bone == ("elbow", "wrist")), "by every source"


def test_a_single_bone_without_a_stature_says_nothing():
    assert proportions({"shoulder": [0, 1, 0], "elbow": [0, 0, 0]}) == ()
    assert proportions({"spine": [0, 1, 0]}, 1.7) == ()


@settings(max_examples=50)
@given(st.lists(st.tuples(*[st.floats(-2, 2)] * 3), min_size=3, max_size=3, unique=True), st.floats(0.1, 10))
def test_shares_do_not_depend_on_size_and_sum_to_one(places, scale):
    roles = ("hip", "knee", "ankle")
    try:
        one = proportions(dict(zip(roles, places, strict=True)))
    except RigError:  # all within a nanometre
        return
    many = proportions({role: scale * np.array(place) for role, place in zip(roles, places, strict=True)})
    assert np.allclose([p.share for p in one], [p.share for p in many], rtol=1e-6, atol=1e-6)
    for source in {(p.source, p.people) for p in one}:
        mine = [p for p in one if (p.source, p.people) == source]
        assert sum(p.share for p in mine) == pytest.approx(1) == sum(p.table for p in mine)


@pytest.mark.parametrize(
    "role, pair", [(r, tuple(p)) for r, *p in sorted({row.about for row in facts("joint_centres") if row.about[1]})]
)
def test_an_estimate_moves_with_its_landmarks_and_names_its_source(role, pair):
    landmarks = {pair[0]: np.array([0.1, 1.0, 0.2]), pair[1]: np.array([0.3, 0.4, 0.0])}
    (place, rule), *_ = joint_centres(role, landmarks)
    (moved, _), *_ = joint_centres(role, {name: where + [1, 2, 3] for name, where in landmarks.items()})
    assert np.allclose(moved - place, [1, 2, 3], atol=EXACT) and rule.source and not place.flags.writeable
    swapped, _ = joint_centres(role, dict(zip(pair, list(landmarks.values())[::-1], strict=False)))[0]
    if rule.value == 0.5:
        assert np.allclose(swapped, place, atol=EXACT), "a midpoint has no first"


def test_rows_without_landmarks_are_never_used():
    """The two conflicting fractions for the wrist are shown and decide nothing."""
    assert [row.value for row in facts("joint_centres") if row.about[0] == "wrist"] == [0.5, 0.993, 1.006]
    for _, rule in joint_centres("wrist", {"radial_styloid": [0, 0, 0], "ulnar_styloid": [0.05, 0, 0], "": [0, 0, 0]}):
        assert rule.value == 0.5


def test_tables_are_read_once():
    assert facts("motion") is facts("motion")
    assert anatomy.facts.cache_info().hits > 0
