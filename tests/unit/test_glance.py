"""What an instructor sees first, and what a student takes home: sentences, plates and pages, also under other names."""

import json
import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pytest

from rigkit.__main__ import main
from rigkit.aliases import alias, aliases
from rigkit.class_plates import bars_of, heat_of
from rigkit.classroom import mark_class
from rigkit.feedback import LESSONS, lessons_again, went_well
from rigkit.files.layout import Layout, write_layout
from rigkit.files.rubrics import read_finding_kinds
from rigkit.glance import by_lesson, compared, found_in, hardest, monday, read_before
from rigkit.marking import mark
from rigkit.own_limbs import own_limb, read_class_exercise, write_own_limbs
from rigkit.report import class_page, student_page
from rigkit.require import RigError
from rigkit.spots import placed_in, spots_of
from tests.arms import FOLDER, PROJECT, arm, named, shifted, with_joint


def put(folder, name, layout, **more):
    folder.mkdir(exist_ok=True, parents=True)
    (folder / f"{name}.json").write_text(write_layout(replace(layout, **({"id": name} | more))), "utf-8")


@pytest.fixture
def room(tmp_path):
    folder = tmp_path / "in"
    for name in ("wren", "heron"):
        put(folder, name, shifted("elbow", (0, 0, 33)))
    put(folder, "teasel", shifted("wrist", (14, 0, 0)))
    put(folder, "sorrel", named("left_shoulder", "left_elbow", "wrist"))
    put(folder, "sedge", arm().key)
    return mark_class([folder], FOLDER, roster=["wren", "heron", "teasel", "sorrel", "sedge", "osier"])


def text_of(page):
    body = re.sub(r"<svg.*?</svg>|<style.*?</style>", " ", page, flags=re.S)
    return " ".join(re.sub(r"<[^>]+>", " ", body).replace("&#39;", "'").split())


def test_the_titles_of_lessons_are_those_of_the_notebooks():
    titles = {}
    for path in (PROJECT / "lessons").glob("[0-9]*.ipynb"):
        first = "".join(json.loads(path.read_text("utf-8"))["cells"][0]["source"])
        number, title = re.match(r"# Lesson (\d+) · (.+)", first).groups()
        titles[int(number)] = title
    assert {number: title for number, title in titles.items() if number} == LESSONS
    assert {one.lesson for one in read_finding_kinds().values()} <= set(LESSONS)


def test_monday_is_said_at_the_top_of_the_page(room):
    rows = found_in(room)
    assert rows[0].kind.id == "bends-wrong-way" and rows[0].who == {"wren", "heron"}
    first = monday(room)
    assert first == ("Teach again on Monday: lesson 4, Make it bend the right way. 2 of 5 lost a point or more there, "
                     "100.0 points in all, more than any other lesson cost.")  # fmt: skip
    page = text_of(class_page(room))
    assert page.index(first) < page.index("5 handed in")
    assert "Hardest: bend" in page and "limits left out" in page and "Not handed in: 1" in page


def only(room, *ids):
    """The same class, as if these alone had handed in."""
    some = tuple(one for one in room.counting if one.id in ids)
    return replace(room, results=some, counting=some)


def test_where_nobody_shares_anything_the_dearest_is_for_a_talk_and_not_for_the_room(room):
    """A class of which no two lost in one lesson lost 50 points all the same."""
    alone = only(room, "wren", "sedge")
    assert monday(alone) == ("No two lost a point or more in the same lesson. Dearest: lesson 4, Make "
                             "it bend the right way, 50.0 points. For a talk: wren.")  # fmt: skip
    assert monday(only(room, "wren")).startswith("One was marked. Dearest: lesson 4, ")
    assert "wren" not in monday(alone, named=False)
    assert monday(only(room, "sedge")).startswith("Nothing has to be taught again")
    nobody = replace(room, results=(), counting=())
    assert monday(nobody).startswith("Nothing was marked")
    assert hardest(nobody) is None and "There was nothing to mark" in class_page(nobody)


def test_what_most_lost_and_what_cost_most_are_both_said(room, tmp_path):
    for name in ("a", "b"):
        put(tmp_path / "more", name, named("left_shoulder", "left_elbow", "wrist"))
    more = mark_class([tmp_path / "more", tmp_path / "in"], FOLDER)
    assert monday(more) == (
        "Teach again on Monday: lesson 3, Name and side. 3 of 7 lost a point or more there, 7.5 points in all. "
        "Dearest: lesson 4, Make it bend the right way, 100.0 points. For a talk: heron, wren."
    )


@pytest.mark.parametrize("rubric", ["first-week", "standard", "strict"])
def test_monday_says_nothing_that_the_table_denies(rubric):
    """What is said of lessons is added up from the table of findings, by hand."""
    room = mark_class([PROJECT / "data" / "demo-class"], FOLDER, rubric)
    points, who = {}, {}
    for row in found_in(room):
        points[row.kind.lesson] = points.get(row.kind.lesson, 0) + row.points
        who[row.kind.lesson] = who.get(row.kind.lesson, set()) | row.who
    often, dear = max(who, key=lambda one: len(who[one])), max(points, key=points.get)
    first = monday(room)
    assert f"Monday: lesson {often}, " in first and f"Dearest: lesson {dear}, " in first
    assert f", {points[dear]:.1f} points. For a talk" in first
    for one in by_lesson(room):
        assert set(one.points) == who[one.lesson] and one.whole == pytest.approx(points[one.lesson], abs=0.06)
    assert re.search(rf"Lesson {often}, [^0-9]+ {len(who[often])} {points[often]:.1f}", text_of(class_page(room)))


def test_what_cost_less_than_a_point_is_no_reason_and_not_loud(room):
    slight = next(one for one in room.counting if one.id == "teasel")
    criteria = slight.criteria | {"centring": replace(slight.criteria["centring"], score=1 - 0.0003)}
    little = replace(slight, mark=99.97, criteria=criteria, findings=(replace(slight.findings[0], cost=0.01),))
    other = replace(little, id="wren", file="wren.json")
    both = replace(room, results=(little, other), counting=(little, other))
    assert monday(both).startswith("Nothing has to be taught again: in no lesson")
    row = class_page(both).partition('href="students/teasel.html"')[2].partition("</tr>")[0]
    assert "0.01 off" in row and "\N{HEAVY MULTIPLICATION X}" not in row and '<span class="small">Off centre' in row


def test_the_map_of_joints_shows_what_is_dear_as_well_and_says_that_it_is_a_choice(tmp_path):
    room = mark_class([PROJECT / "data" / "demo-class"], FOLDER)
    page = class_page(room)
    assert "Of 11 findings 7 are shown" in text_of(page)
    shown = re.search(r'aria-label="Students by joint and finding\. ([^"]+)"', page)[1]
    for title in ("bends the wrong way", "wrong parent", "a joint is missing"):  # what took most points
        assert title in shown
    svg = page.partition('<div class="heat">')[2].partition("</svg>")[0] + "</svg>"
    told = texts(svg)
    elbow = {one.id for one in room.counting if any(found.joint == "elbow" for found in one.findings)}
    assert told[told.index("any finding") + 1 :].count(str(len(elbow))) >= 1 and len(elbow) == 7
    few = mark_class([PROJECT / "data" / "demo-class" / "wren.json"], FOLDER)
    assert "are shown: those" not in class_page(few)


def test_points_of_a_finding_are_its_costs_and_what_its_limits_took(room):
    whole = sum(row.points for row in found_in(room))
    assert whole == pytest.approx(sum(100 - one.mark for one in room.counting), abs=0.3)


def test_the_class_before_is_compared(room, tmp_path):
    put(tmp_path / "then", "wren", shifted("elbow", (0, 0, 33)))
    put(tmp_path / "then", "teasel", shifted("wrist", (30, 0, 0)))
    put(tmp_path / "then", "sedge", arm().key)
    put(tmp_path / "then", "sedge-2", shifted("elbow", (0, 0, 33)), id="sedge", attempt=0)
    assert main(["mark", str(tmp_path / "then"), "--exercise", str(FOLDER), "--out", str(tmp_path / "was")]) == 0
    before = read_before(tmp_path / "was" / "results.json")
    assert before.marks["sedge"] == 100.0, "a hand-in that did not count is not compared"
    assert compared(room, before).startswith("Of 3 with a mark in both hand-ins 1 rose and 0 fell; half of them had")
    assert {row.kind.id: row.before for row in found_in(room, before)}["bends-wrong-way"] == 1
    assert compared(room, before) in text_of(class_page(room, before))
    assert "dashed: the hand-in before" in class_page(room, before)
    nobody = replace(before, marks={})
    assert "Nobody has a mark both" in compared(room, nobody)


@pytest.mark.parametrize("content", ["", "[]", "{}", '{"format": "rigkit-results", "version": 1}', "[" * 100_000,
                                     '{"format": "rigkit-results", "version": 1, "handins": [{"id": 1}]}'])  # fmt: skip
def test_another_file_is_no_class_before(tmp_path, content):
    (tmp_path / "x.json").write_text(content, "utf-8")
    with pytest.raises(RigError, match="x.json"):
        read_before(tmp_path / "x.json")


def texts(svg):
    return [one.text for one in ET.fromstring(svg).iter("{http://www.w3.org/2000/svg}text")]


def test_bars_count_everyone_once():
    shown = texts(bars_of([0, 9.9, 10, 99.9, 100, 100]))
    assert [one for one in shown if one.isdecimal()] == ["2", "1", "3"]


def test_a_heat_map_has_its_numbers_in_it_and_says_them():
    svg = heat_of(["elbow", "<b>"], ["Off centre", "Bends the wrong way"],
                  {("elbow", "Off centre"): 7, ("<b>", "Bends the wrong way"): 1}, {"elbow": 7})  # fmt: skip
    shown = texts(svg)
    assert "7" in shown and "1" in shown and "<b>" in shown and "elbow" in shown and "none" in shown
    assert "elbow, off centre: 7" in ET.fromstring(svg).attrib["aria-label"]
    heights = [float(size) for size in re.findall(r'font-size="([\d.]+)"', svg)]
    assert min(heights) >= 12


def test_everyone_is_in_the_limb_and_the_plates_say_how_many_are_off(room):
    page = class_page(room)
    front, side = re.findall(r'aria-label="(Everyone[^"]+)"', page)
    assert front.startswith("Everyone&#x27;s joints, front view") or front.startswith("Everyone's joints, front view")
    assert "elbow 2 of 5" in front and "wrist 1 of 5" in side and "shoulder 0 of 5" in side
    drawn = re.findall(r'd="((?:M-?\d+ -?\d+(?:h0|m-35-35l70 70m0-70l-70 70))+)"', page)
    assert sum(one.count("M") for one in drawn) == 2 * 15


def test_a_spot_leads_back_to_its_place():
    for exercise in (arm(),):
        joints = exercise.key.skeleton
        for role, place in placed_in(exercise, spots_of(joints, exercise)).items():
            np.testing.assert_allclose(
                place, joints.positions[[j.role for j in exercise.joints].index(role)], atol=1e-5
            )


def test_joints_of_different_limbs_are_compared_in_each_limbs_own_measure(tmp_path):
    """Everyone lays the true joints, each in another limb: in one limb they lie in one place, and a joint that lies a
    tenth of the bones further back does so for all."""
    own = read_class_exercise(write_own_limbs(tmp_path / "own", "arm", "left", "reed", ["shoulder", "elbow", "wrist"]))
    example, places, back = own.of("nobody"), [], []
    for student in ("wren", "teasel", "heron", "sedge"):
        exercise, key = own.of(student), own_limb("arm", student, "reed").key.positions[:3]
        joints = arm().key.skeleton.at(key)
        places.append(placed_in(example, spots_of(joints, exercise))["elbow"])
        size = np.mean(np.linalg.norm(np.diff(key, axis=0), axis=1))
        moved = joints.moved(1, key[1] + 0.1 * size * exercise.asked("elbow").fold.away)
        back.append(placed_in(example, spots_of(moved, exercise))["elbow"])
    assert np.ptp(places, axis=0).max() < 0.004
    steps = np.array(back) - places
    assert np.ptp(steps, axis=0).max() < 0.003 and np.linalg.norm(steps, axis=1).min() > 0.02


def test_a_page_says_what_went_well_and_which_lesson_to_look_at_again(room):
    wren = next(one for one in room.counting if one.id == "wren")
    said = went_well(wren)
    assert said[0] == "Everything that is asked for is there: 3 joints, each under its right parent."
    assert not any("Bent the right way" in one for one in said) and "Every name follows the naming rule." in said
    assert any(re.search(r"shoulder \(\d\.\d mm off\)", one) for one in said) and not any(
        "elbow (" in one for one in said
    )
    (again,) = lessons_again([wren])
    assert (again.lesson, again.title, again.points) == (4, LESSONS[4], pytest.approx(100 - wren.mark, abs=0.1))
    told = text_of(student_page(wren, room))
    assert all(one in told for one in said) and "Lesson 4, Make it bend the right way : bends the wrong way" in told
    assert f"Marked by the rubric Standard (standard, checksum {room.rubric.sha256[:12]}) with rigkit" in told
    sorrel = next(one for one in room.counting if one.id == "sorrel")
    assert "Named by the rule: shoulder, elbow." in went_well(sorrel)
    assert any("Bent the right way at rest: elbow (18.0 mm" in one for one in went_well(sorrel))


def test_nothing_is_praised_that_is_not_there():
    missing = mark(Layout("wren", "left-arm", 1, arm().key.skeleton.__class__(
        ("left_shoulder",), (None,), arm().key.skeleton.positions[:1])), arm())  # fmt: skip
    assert not any("Everything" in one for one in went_well(missing))
    unread = replace(missing, status="unreadable", criteria=None, measurements=(), findings=(), caps=())
    assert went_well(unread) == () and lessons_again([unread]) == ()


class Outline(HTMLParser):
    """What a screen reader goes by: headings in order, heads of tables, names of pictures, the page's language."""

    def __init__(self, page):
        super().__init__()
        self.headings, self.bare, self.unnamed, self.lang = [], 0, 0, ""
        self.outside = []
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        said = dict(attrs)
        self.headings += [int(tag[1])] if re.fullmatch("h[1-6]", tag) else []
        self.bare += tag == "th" and "scope" not in said
        self.unnamed += tag == "svg" and "xmlns" in said and not said.get("aria-label")
        self.lang = said.get("lang", self.lang)
        self.outside += [said[key] for key in ("src", "href") if key in said]


def test_pages_can_be_read_aloud_and_open_offline(room):
    pages = [class_page(room), *(student_page(one, room) for one in room.counting)]
    assert not any(Outline(page).outside for page in pages[1:]), "a student's page leads to nobody else's marks"
    for page in pages:
        seen = Outline(page)
        assert seen.lang == "en" and seen.bare == 0 and seen.unnamed == 0
        assert seen.headings[0] == 1 and seen.headings.count(1) == 1
        assert all(after - before <= 1 for before, after in zip(seen.headings, seen.headings[1:], strict=False))
        assert all(re.fullmatch(r"students/[\w.-]+", link) for link in seen.outside)
        assert "@import" not in page and "url(" not in page and "<script" not in page
        assert '<span class="sign">' not in page, "signs are not read out; the words beside them are"


def test_aliases_are_stable_and_all_different():
    assert len({alias(number) for number in range(1000)}) == 1000
    ids = [f"s{number}" for number in range(200)]
    names = aliases(ids, "left-arm")
    assert names == aliases(reversed(ids), "left-arm") and len(set(names.values())) == 200
    assert names != aliases(ids, "right-arm")
    assert sorted(names, key=names.get) != ids


def test_with_aliases_nothing_in_the_class_page_tells_who_is_who(tmp_path):
    folder, ids = tmp_path / "in", ["wrenwren", "heronheron", "teaselteasel"]
    put(folder, ids[0], with_joint("wrenwren_extra", 1, (0.2, 1.3, 0.2)))
    put(folder, ids[1], shifted("elbow", (0, 0, 33)))
    put(folder, "heronheron-2", shifted("elbow", (0, 0, 33)), id=ids[1], attempt=0)
    (folder / f"{ids[2]}.json").write_text("{", "utf-8")
    (folder / f"{ids[2]}.txt").write_text("", "utf-8")
    (tmp_path / "roster.csv").write_text("id\n" + "\n".join([*ids, "osierosier"]), "utf-8")
    arguments = ["mark", str(folder), "--exercise", str(FOLDER), "--out", str(tmp_path / "out"), "--roster",
                 str(tmp_path / "roster.csv"), "--aliases"]  # fmt: skip
    assert main(arguments) == 0
    page = (tmp_path / "out" / "class.html").read_text("utf-8")
    for one in (*ids, "osierosier"):
        assert one not in page
    names = aliases([*ids, "osierosier"], "left-arm")
    assert all(name in page for name in names.values())
    for one in ids:
        assert f"In what is shown to the class: {names[one]}." in text_of(
            (tmp_path / "out" / "students" / f"{one}.html").read_text("utf-8")
        )
    first = page
    assert main([*arguments, "--jobs", "2"]) == 0
    assert (tmp_path / "out" / "class.html").read_text("utf-8") == first
    assert all(one in (tmp_path / "out" / "gradebook.csv").read_text("utf-8") for one in ids)
    assert Path(tmp_path / "out" / "results.json").read_text("utf-8").count("wrenwren") > 1
