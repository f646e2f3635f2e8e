"""The class of sixty: what is stored is what its generator draws; all of it is marked, and says what to teach."""

import json
from collections import Counter

from rigkit.classroom import mark_class, write_class
from rigkit.glance import monday
from tests.habits import EXERCISE, FOLDER, STUDENTS, the_class


def test_what_is_stored_is_what_is_drawn():
    assert {path.name: path.read_bytes() for path in FOLDER.iterdir()} == the_class()


def test_sixty_hand_ins_one_in_ten_of_another_program_and_little_to_store():
    endings = Counter(path.suffix for path in FOLDER.iterdir())
    assert endings == {".json": 54, ".gltf": 6} and len(set(STUDENTS)) == 59
    assert sum(path.stat().st_size for path in FOLDER.iterdir()) < 50_000


def test_all_but_the_one_that_broke_off_are_marked_and_differ(tmp_path):
    room = mark_class([FOLDER], EXERCISE, roster=STUDENTS)
    assert Counter(one.status for one in room.results) == {"marked": 59, "unreadable": 1}
    assert room.absent == () and len(room.counting) == 59
    marks = [one.mark for one in room.counting if one.mark is not None]
    assert len(set(marks)) > 20 and min(marks) <= 50.0 and 3 <= marks.count(100.0) <= 20
    assert len({found.finding for one in room.counting for found in one.findings}) >= 12, "many habits, many faults"
    assert monday(room).startswith("Teach again on Monday: lesson ")
    write_class(room, tmp_path)
    assert len(list((tmp_path / "students").iterdir())) == 59
    assert len(json.loads((tmp_path / "results.json").read_text("utf-8"))["handins"]) == 60
