"""The bench and what notebooks call, without a browser: sliders change words and pictures, errors are told."""

import json
import re
from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest

from rigkit.bench import Bench
from rigkit.bench_face import CONTROLS
from rigkit.bench_folds import Pull, folds_of
from rigkit.bench_parts import Limb, bend_mark, bend_of
from rigkit.bench_plates import PLATE
from rigkit.bench_words import bend_sentence
from rigkit.files.exercise import read_exercise
from rigkit.kinematics import RIGHT
from rigkit.lesson import (
    Told,
    bend_at,
    check,
    check_pulled,
    compare,
    hand_in,
    once_guessed,
    open_bench,
    open_exercise,
    picture_of,
    predict,
    set_up_report,
)  # fmt: skip
from rigkit.limbs import practice_limb
from rigkit.make_exercise import make_exercise
from rigkit.marking import mark
from rigkit.measures.base import own
from rigkit.measures.centring import ring_stretch
from rigkit.openings import another_limb
from rigkit.require import RigError
from rigkit.set_up import package_lines, python_line
from rigkit.work import Store

ADDRESS = re.compile(r"0x[0-9a-f]{6}|/tmp|np\.")


@pytest.fixture(autouse=True)
def own_folders(tmp_path, monkeypatch):
    monkeypatch.setenv("RIGKIT_WORK", str(tmp_path / "work"))
    monkeypatch.setenv("RIGKIT_HANDINS", str(tmp_path / "hand-ins"))


@pytest.fixture(scope="module")
def exercise():
    return open_exercise("left-arm")


def a_bench(exercise, controls=("place", "flex", "bend"), start="forward", **more):
    return Bench(exercise, exercise.start(start), controls=controls, **more)


def slide(bench, way, value):
    bench.parts["place"].sliders[way].value = value


def test_moving_the_elbow_back_goes_through_all_three_verdicts(exercise):
    """15 mm in front: wrong; within 2 mm of the line: cannot tell; behind: right (done-when of lesson 4)."""
    bench = a_bench(exercise)
    seen, pictures = [], set()
    for forward in range(0, -34, -1):
        slide(bench, "forward", forward)
        said = [
            verdict for verdict in ("wrong way", "too straight to tell", "right way") if verdict in bench.words.value
        ]
        assert len(said) == 1
        pictures.add(bench.plates.overlays["side"].value)
        at = 15 + forward
        assert said == ["wrong way" if at > 2.29 else "right way" if at < -2.29 else "too straight to tell"]
        seen += said if said != seen[-1:] else []
    assert seen == ["wrong way", "too straight to tell", "right way"]
    assert len(pictures) == 34


def test_the_pulled_limb_goes_the_way_that_the_words_say(exercise):
    bench = a_bench(exercise)
    bench.flex(60)
    assert "wrong way" in bench.plates.overlays["side"].value
    slide(bench, "forward", -15)
    assert bench.plates.overlays["side"].value.count(">?</text>") == 2
    slide(bench, "forward", -33)
    assert "✓ right way" in bench.plates.overlays["side"].value


def test_the_backdrop_is_never_drawn_again(exercise):
    bench = a_bench(exercise)
    before = {name: layer.value for name, layer in bench.plates.backdrops.items()}
    slide(bench, "out", 7)
    bench.flex(30)
    assert before == {name: layer.value for name, layer in bench.plates.backdrops.items()}
    assert all("Orlo&#x27;s left arm" in value for value in before.values())


def test_only_the_controls_asked_for_exist(exercise):
    for name in CONTROLS:
        bench = a_bench(exercise, (name,))
        chosen = {"choose"} if name in ("place", "along", "helps") else set()
        bare = ("bend", "another", "volume", "mirror", "attempts")  # what there is nothing for here, or no widget
        quiet = {"gauges"} if name in ("place", "along") else set()
        assert set(bench.parts) == (chosen | quiet | {name} if name not in bare else set())
    assert a_bench(exercise, ("place",)).plates.overlays.keys() == {"front", "side", "slice"}


def test_another_limb_is_another_and_both_keep_their_work():
    bench = open_bench("left-arm", "forward", "04", ("side",), ("place", "another"))
    bench.move("elbow", forward=-33)
    bench.parts["another"].button.click()
    assert bench.exercise.id == "left-arm-1" and bench.exercise.key is None
    assert "number 1" in bench.words.value and not bench.changed(["elbow"])
    for change in (lambda: slide(bench, "out", 3), bench.check, bench.hint, bench.reset):
        change()
        assert "Left arm number 1." in bench.words.value, "which limb it is stays in sight"
    assert not np.array_equal(bench.exercise.mesh.vertices, open_exercise("left-arm").mesh.vertices)
    bench.move("elbow", forward=-20)
    bench.parts["another"].button.click()
    assert bench.exercise.id == "left-arm-2" and not bench.changed(["elbow"])
    again = open_bench("left-arm", "forward", "04", ("side",), ("place", "another"))
    assert again.changed(["elbow"]) and again.exercise.id == "left-arm"
    again.another()
    assert again.skeleton.positions[1] == pytest.approx(again.start.positions[1] - [0, 0, 0.02])


def test_a_path_without_an_exercise_is_told_as_such():
    with pytest.raises(RigError, match="exercise.toml in it"):
        open_bench("../nothere")
    with pytest.raises(RigError, match="one of .*left-arm"):
        open_bench("nothere")


def test_every_other_limb_can_be_laid_to_full_marks():
    another = another_limb(open_exercise("left-arm"), "scattered", "")
    for number in range(1, 9):
        exercise, start, _ = another(number)
        middles = np.array([own(exercise)[joint.role].middle for joint in exercise.joints])
        middles[1] += ring_stretch(exercise, "elbow") * exercise.joints[1].fold.away
        judged = mark(replace(start, skeleton=start.skeleton.at(middles)), exercise)
        assert judged.mark == 100.0, judged.findings


def test_every_other_limb_has_an_answer_of_its_own():
    another = another_limb(open_exercise("left-arm"), "scattered", "")
    answers, forward = [], []
    for number in range(1, 9):
        exercise, start, _ = another(number)
        middles = np.array([own(exercise)[joint.role].middle for joint in exercise.joints])
        answers.append(1000 * (middles - start.skeleton.positions))
        bend = bend_of(Limb.of(exercise, start.skeleton), exercise.start("forward").skeleton)
        forward.append(-1000 * bend.along)
        assert {one.joint for one in mark(start, exercise).findings} >= {"shoulder", "elbow", "wrist"}
    for one, other in combinations(answers, 2):
        assert np.linalg.norm(one - other, axis=1).min() > 5, "mm, at every joint"
    assert min(forward) >= 5.9 and max(forward) <= 24.1 and np.ptp(forward) > 10 and len(set(forward)) == 8


def test_another_limb_is_found_for_any_made_exercise(tmp_path):
    for kind, side in (("shoulder_arm", "left"), ("leg", "right"), ("hips", "left")):
        made = read_exercise(make_exercise(tmp_path / kind, practice_limb(kind, 5, side)))
        exercise, start, _ = another_limb(made, "scattered", "")(2)
        assert exercise.id == f"{made.id}-2" and exercise.side == side
        assert exercise.title == f"{side.capitalize()} {kind.replace('_', ' ')} number 2"
        assert [(one.role, one.need) for one in exercise.joints] == [(one.role, one.need) for one in made.joints]
        assert another_limb(exercise, "scattered", "") is not None
        assert another_limb(replace(made, id=f"{side}-nose-5feceb"), "scattered", "") is None
        assert another_limb(replace(made, id=f"{made.id}-of-clay"), "scattered", "") is None


@pytest.mark.parametrize(("kind", "wrong"), [("arm", "backwards"), ("leg", "forwards")])
def test_bench_and_marks_say_the_same_way_of_a_wrong_fold(tmp_path, kind, wrong):
    exercise = read_exercise(make_exercise(tmp_path / kind, practice_limb(kind, 5)))
    limb = Limb.of(exercise, exercise.key.skeleton)
    middle = limb.roles[limb.fold_role]
    put = exercise.key.skeleton.moved(middle, exercise.key.skeleton.positions[middle] - 0.06 * limb.fold.away)
    assert f"would fold {wrong}" in bend_sentence(limb, put)
    told = [one.message for one in mark(replace(exercise.key, skeleton=put), exercise).findings]
    assert any(f"will fold {wrong}" in message for message in told)


@pytest.mark.parametrize("kind", ["arm", "leg", "toe_walker", "bird_leg", "hips"])
def test_the_trunk_stays_where_it_is_as_the_limb_is_pulled(tmp_path, kind):
    """The end at which the trunk is cut: a limb of 0.6 to 0.9 m folds, and it goes no further than 3 in 100 of that."""
    exercise = read_exercise(make_exercise(tmp_path / kind, practice_limb(kind, 7)))
    fold = folds_of(Limb.of(exercise, exercise.key.skeleton), exercise.key.skeleton, Pull(1.0))[0]
    rest = exercise.mesh.vertices
    axis, end = (0, rest[:, 0].min()) if kind == "arm" else (1, rest[:, 1].max())
    cut_end = np.abs(rest[:, axis] - end) < 0.02
    assert np.linalg.norm(fold.vertices - rest, axis=1)[cut_end].mean() < 0.02


def test_stills_say_which_way_the_figure_faces_without_a_he():
    ((svg, _),) = picture_of("left-arm", "resting", ("side",)).plates
    assert "← facing this way" in svg and "he faces" not in svg


def test_the_bend_is_not_spoken_of_before_it_is_taught(exercise):
    bench = a_bench(exercise, ("place",))
    assert not re.search("way|straight", bench.words.value)
    assert "shoulder–wrist" not in bench.plates.overlays["slice"].value


def test_unknown_controls_and_views_are_refused(exercise):
    with pytest.raises(RigError, match="place, along, below"):
        a_bench(exercise, ("spin",))
    with pytest.raises(RigError, match="front, side"):
        a_bench(exercise, views=("back",))


def test_moves_are_from_the_start_and_number_boxes_keep_step(exercise):
    bench = a_bench(exercise)
    start = bench.skeleton.positions[1]
    for _ in range(2):
        bench.move("elbow", out=3, up=-2, forward=5)
    assert bench.skeleton.positions[1] - start == pytest.approx([0.003, -0.002, 0.005])
    assert [bench.parts["place"].boxes[way].value for way in ("out", "up", "forward")] == [3, -2, 5]
    bench.parts["place"].boxes["up"].value = 4
    assert (bench.skeleton.positions[1] - start)[1] == pytest.approx(0.004)
    bench.move("elbow", forward=-3.5)
    assert (bench.skeleton.positions[1] - start)[2] == pytest.approx(-0.0035)
    bench.reset()
    assert np.array_equal(bench.skeleton.positions[1], start)


def test_choosing_a_joint_moves_the_slice_and_nothing_else(exercise):
    bench = a_bench(exercise)
    places = bench.skeleton.positions
    bench.parts["choose"].choice.value = "wrist"
    assert "Slice through the wrist" in bench.plates.overlays["slice"].value
    assert np.array_equal(bench.skeleton.positions, places)
    slide(bench, "out", 5)
    assert np.array_equal(bench.skeleton.positions[:2], places[:2])
    assert bench.skeleton.positions[2, 0] == pytest.approx(places[2, 0] + 0.005)


def test_an_error_in_a_callback_is_shown_in_the_panel_and_goes_again(exercise, monkeypatch):
    bench = a_bench(exercise)

    def broken(*_given):
        raise ZeroDivisionError("by zero")

    monkeypatch.setattr(bench.plates, "draw", broken)
    slide(bench, "out", 1)
    assert "ZeroDivisionError" in bench.words.value and "Your work is kept" in bench.words.value
    with pytest.raises(ZeroDivisionError):
        bench.move("elbow", out=2)
    monkeypatch.undo()
    slide(bench, "out", 3)
    assert "ZeroDivisionError" not in bench.words.value


@pytest.mark.parametrize("onto", [0, 1])
def test_joints_in_one_place_are_told_not_thrown(exercise, onto):
    bench = a_bench(exercise)
    wrist, there = bench.skeleton.positions[2], bench.skeleton.positions[onto]
    bench.work.put(bench.skeleton.moved(2, there))
    bench.flex(50)
    assert "cannot tell" in bench.words.value and check(bench).state == "look again"
    bench.work.put(bench.skeleton.moved(2, wrist))
    assert "wrong way" in bench.words.value


def test_a_limb_straight_to_the_front_cannot_be_told(exercise):
    bench = a_bench(exercise)
    shoulder = bench.skeleton.positions[0]
    bench.work.put(bench.skeleton.moved(1, shoulder + [0, 0, 0.2]).moved(2, shoulder + [0, 0, 0.4]))
    assert "cannot tell" in bench.words.value


def test_work_is_there_again_and_damage_is_told(tmp_path):
    bench = open_bench("left-arm", "forward", "04", controls=("place", "names"))
    bench.move("elbow", forward=-20)
    bench.rename("elbow", "left_elbow")
    again = open_bench("left-arm", "forward", "04", controls=("place", "names"))
    assert np.array_equal(again.skeleton.positions, bench.skeleton.positions)
    assert again.skeleton.names[1] == "left_elbow" and "saved work was opened" in again.words.value
    assert again.parts["place"].sliders["forward"].value == -20  # the elbow, which folds, is chosen first
    again.choose("wrist")
    assert again.parts["place"].sliders["forward"].value == 0
    (tmp_path / "work" / "04-left-arm.json").write_text("{")
    afresh = open_bench("left-arm", "forward", "04")
    assert not afresh.changed(afresh.limb.roles) and "damaged-1" in afresh.words.value


def test_a_name_box_renames_and_the_rule_answers(exercise):
    bench = a_bench(exercise, ("names",))
    assert "every name follows the rule" in bench.words.value
    bench.rename("elbow", "elbow")
    assert "2 of 3" in bench.words.value and "which side" not in bench.words.value, "quiet until asked"
    bench.check()
    assert "which side" in bench.words.value
    for role, box in bench.parts["names"].boxes.items():
        box.value = f"left_{role}"
    assert bench.skeleton.names == ("left_shoulder", "left_elbow", "left_wrist")
    assert "every name follows the rule" in bench.words.value
    bench.parts["names"].boxes["elbow"].value = "<b>=x"
    assert "<b>=x" not in bench.words.value


def test_the_hints_climb_and_the_last_one_mends(exercise):
    bench = a_bench(exercise, ("place", "flex", "hint"))
    said = []
    for _ in range(5):
        bench.parts["hint"].button.click()
        said += re.findall(r"Hint (\d) of 4", bench.words.value)
    assert said == ["1", "2", "3", "4", "4"]  # one at a time, so that the verdict stays in sight
    settings = re.search(r"sliders to out (-?\d+), up (-?\d+), forward (-?\d+)", bench.words.value)
    bench.move("elbow", *map(int, settings.groups()))
    assert check(bench).state == "right"


def test_without_the_bend_among_the_criteria_an_elbow_off_the_middle_is_not_forgiven(exercise):
    """Lesson 2 asks for the middle alone: an elbow in front of the line is not right because a bend would mend it."""
    bench = a_bench(exercise, ("place", "hint"), "scattered")
    key, start = exercise.key.skeleton, exercise.start("scattered").skeleton
    for role, number in bench.limb.roles.items():
        step = 1000 * (key.positions[number] - start.positions[number])
        bench.move(role, *step)
        if role == "elbow":
            for forward in (0, -20, -40, -50):
                bench.move(role, step[0], step[1], forward)
                told = check(bench, ("centring", "fold"), ("elbow",))
                assert told.state == "look again" and "back" in told.next_step, forward
                assert "✗ off the middle" in bench.words.value
            bench.move(role, *step)
    assert check(bench).state == "right"


def test_both_lines_show_a_tick_only_where_the_check_is_right(exercise):
    """Lesson 4 says: go on until both lines show a tick. Millimetre by millimetre, ticks and check must agree."""
    bench = a_bench(exercise, ("place", "bend"))
    for back in range(0, 90):
        bench.move("elbow", back=back)
        ticks = bench.words.value.count("✓")
        assert (ticks == 2) == (check(bench, ("bend", "centring")).state == "right"), back


def test_a_picture_before_a_guess_tells_no_more_than_it_shows():
    for start in ("scattered", "forward"):
        for _, sentence in picture_of("left-arm", start, ("front", "side"), pulled=60).plates:
            assert "mm" not in sentence and "outside" not in sentence and "chosen" not in sentence


def test_down_and_back_may_be_said(exercise):
    bench = a_bench(exercise)
    bench.move("elbow", down=3, back=30)
    one = bench.skeleton.positions
    bench.move("elbow", up=-3, forward=-30)
    assert np.array_equal(one, bench.skeleton.positions)


def test_hints_lead_all_the_way_from_a_scattered_start(exercise):
    bench = a_bench(exercise, ("place", "hint"), "scattered")
    for _ in range(12):
        if check(bench).state == "right":
            break
        for _ in range(4):
            bench.hint()
        role, *sliders = re.search(
            r"Choose the (\w+) and set its sliders to out (-?\d+), up (-?\d+), forward (-?\d+)", bench.words.value
        ).groups()
        bench.move(role, *map(int, sliders))
    assert check(bench).state == "right"


def test_the_check_button_shows_findings_with_their_mends(exercise):
    bench = a_bench(exercise, ("place", "flex", "check"))
    bench.parts["check"].button.click()
    assert "Move the elbow back" in bench.words.value
    slide(bench, "forward", -33)
    bench.parts["check"].button.click()
    assert "nothing to mend" in bench.words.value


def test_turning_draws_the_turned_view_anew(exercise):
    bench = a_bench(exercise, ("turn",), views=("turned",))
    before = bench.plates.backdrops["turned"].value
    bench.parts["turn"].slider.value = -60
    assert bench.plates.backdrops["turned"].value != before


def test_play_and_pull_are_one(exercise):
    bench = a_bench(exercise)
    bench.parts["flex"].slider.value = 40
    assert "Pulled 40 per cent" in bench.plates.overlays["front"].value
    bench.flex(0)
    assert bench.parts["flex"].slider.value == 0 and "At rest" in bench.plates.overlays["front"].value


def test_three_plates_fit_a_notebook_at_1280(exercise):
    """848 px: the output's width measured in JupyterLab 4.6 at 1280 px with its file list open."""
    assert sum(PLATE[name][0] for name in ("front", "side", "slice")) + 2 * 8 <= 848


def test_stored_outputs_hold_no_address_and_no_place_of_a_machine(exercise):
    bench = a_bench(exercise)
    shown = [bench, check(bench), check(None), set_up_report(), hand_in(bench, "wren"), hand_in(bench)]
    shown += [predict("k", "Which?", ["a", "b"]), compare("k", "It swung.")]
    shown.append(picture_of("left-arm", "forward"))
    for one in shown:
        assert not ADDRESS.search(repr(one)), one
        if not isinstance(one, Bench) and hasattr(one, "_repr_html_"):
            assert not ADDRESS.search(one._repr_html_())
    assert bench._repr_mimebundle_()["text/plain"] == (
        "Bench: Orlo's left arm. Run this cell (Shift+Enter) to open it."
    )


def test_checks_tell_not_yet_look_again_and_right(exercise):
    bench = a_bench(exercise)
    assert check(bench).state == "not yet"
    bench.move("elbow", forward=-10)
    told = check(bench, ("bend",))
    assert told.state == "look again" and "back" in told.next_step
    bench.move("elbow", forward=-33)
    assert check(bench).state == "right"
    bench.rename("wrist", "joint_3")
    assert check(bench, ("names",)).state == "look again"
    assert isinstance(check("no bench"), Told) and check(bench, ("speed",)).state == "not yet"


def test_the_check_agrees_with_the_marks(exercise):
    bench = a_bench(exercise)
    bench.move("elbow", forward=-33)
    for role in bench.limb.roles:
        bench.rename(role, f"left_{role}")
    assert mark(bench.layout, exercise).mark == 100.0


def test_guesses_are_kept_and_shown_again(tmp_path):
    assert repr(compare("way", "forward")).startswith("? not yet") and "forward" not in repr(compare("way", "forward"))
    waiting = once_guessed("way", sorted, "ba", reverse=True)
    assert repr(waiting).startswith("? not yet") and f"min-height:{waiting.room}px" in waiting._repr_html_()
    first = predict("way", "Which way?", ["forward", "back"])
    first.panel.children[1].value = "back"
    assert predict("way", "Which way?", ["forward", "back"]).panel.children[1].value == "back"
    assert repr(compare("way", "forward")) == "you guessed: back. What happened: forward."
    assert once_guessed("way", sorted, "ba", reverse=True) == ["b", "a"] and waiting.room > 300
    predict("fist", "What will it do?", ["a", "b"]).panel.children[1].value = "a"
    assert "swings out of the fist" in repr(compare("fist"))
    (tmp_path / "work" / "guesses.json").write_text('{"way": "back"}')
    assert set(json.loads((tmp_path / "work" / "guesses.json").read_text())) == {"way"}


def test_pictures_have_their_sentence_and_say_what_they_show():
    shown = picture_of("left-arm", "forward", ("front", "slice", "turned"), with_bend=True)
    assert len(shown.plates) == 3 and shown._repr_html_().count("<img alt=") == 3
    assert ["wrong way" in sentence for _, sentence in shown.plates] == [True, False, True]
    pulled = picture_of("left-arm", "forward", ("side",), pulled=60, with_bend=True)
    assert pulled.plates[0][0].count("<path") > 2 and "✗ wrong way" in pulled.plates[0][0]
    assert "wrong way" not in picture_of("left-arm", "forward", ("side",), pulled=60).plates[0][0].split(">", 1)[1]


def test_a_picture_may_put_the_elbow_in_front_and_behind():
    assert [bend_at("left-arm", "forward", front).split(": ")[1] for front in (15, 2, 0, -2, -15)] == [
        "wrong way", "too straight to tell", "too straight to tell", "too straight to tell", "right way"
    ]  # fmt: skip
    straight = picture_of("left-arm", "forward", ("side",), pulled=60, with_bend=True, front=1)
    assert "1 mm off the shoulder–wrist line" in straight.plates[0][1]


def test_benches_that_show_one_work_follow_each_other():
    one = open_bench("left-arm", "forward", "04", controls=("place",))
    two = open_bench("left-arm", "forward", "04", views=("front",), controls=("names",))
    two.parts["names"].boxes["elbow"].value = "left_bow"
    one.choose("elbow")
    one.parts["place"].sliders["forward"].value = -20
    assert one.skeleton is two.skeleton and two.skeleton.names[1] == "left_bow"
    other = open_bench("left-arm", "forward", "05")
    assert other.skeleton.names[1] == "left_elbow"


def test_how_far_it_is_pulled_is_checked(exercise):
    bench = a_bench(exercise)
    states = []
    for per_cent in (0, 30, 60):
        bench.flex(per_cent)
        states.append(check_pulled(bench, 50).state)
    assert states == ["not yet", "look again", "right"]


def test_the_set_up_report_says_what_to_do():
    assert python_line((3, 12))[0] and not python_line((3, 10))[0]
    good, line = package_lines({"no-such-thing": "1"})[0]
    assert not good and "missing" in line and "README" in line
    assert "✗" not in repr(set_up_report())


def test_hints_asked_for_are_kept_with_the_work_and_cost_nothing(tmp_path):
    exercise, store = open_exercise("left-arm"), Store(tmp_path, "hinted")
    bench = Bench(exercise, exercise.start("forward"), controls=("place", "bend", "hint"), store=store)
    for _ in range(3):
        bench.hint()
    assert bench.layout.hints == (1, 1, 1, 0)
    peer = Bench(exercise, exercise.start("forward"), controls=("place", "bend", "hint"), store=store)
    peer.hint()
    assert bench.layout.hints == peer.layout.hints == (2, 1, 1, 0)
    kept, _ = store.load(3)
    assert kept.hints == (2, 1, 1, 0)
    asked, plain = mark(kept, exercise), mark(replace(kept, hints=()), exercise)
    assert (asked.mark, asked.findings) == (plain.mark, plain.findings)
    assert set(asked.notices) - set(plain.notices) == {"Hints asked for on the bench: 4. They cost nothing."}


def test_a_hint_stays_until_it_is_followed():
    exercise = open_exercise("left-arm")
    bench = Bench(exercise, exercise.start("forward"), controls=("place", "bend", "hint"))
    bench.hint()
    role = bench.work._helped[0]
    assert "Hint 1 of 4" in bench.words.value
    bench.choose("shoulder" if role != "shoulder" else "wrist")
    assert "Hint 1 of 4" in bench.words.value
    bench.move(role, forward=-1)
    bench.hint()
    assert "Hint 2 of 4" in bench.words.value, "a small step does not begin the ladder again"
    key = exercise.key.skeleton.positions[("shoulder", "elbow", "wrist").index(role)]
    bench.work.put(bench.skeleton.moved(bench.limb.roles[role], key))
    assert "Hint" not in bench.words.value


@pytest.mark.parametrize(("back", "words"), [(0, ""), (25, "too much"), (-9, "too little")])
def test_a_plate_has_its_tick_only_where_the_amount_is_right_too(back, words):
    exercise = open_exercise("left-arm")
    key = exercise.key.skeleton
    skeleton = key.moved(1, key.positions[1] - [0, 0, back / 1000])
    mark_ = bend_mark(Limb.of(exercise, key), skeleton)
    assert (mark_.verdict == RIGHT) == (not words) and words in mark_.words


def test_how_far_a_joint_lies_off_is_quiet_until_the_gauges_are_asked_for(exercise):
    bench = a_bench(exercise, ("place",), start="scattered")
    bench.choose("elbow")
    assert "outside its ring" in bench.words.value and " mm" not in bench.words.value and not bench.face.graphs.value
    bench.parts["gauges"].button.value = True
    assert "mm from the middle of the flesh" in bench.words.value and "Gauges: middle" in bench.face.graphs.value
    bench.gauges(False)
    assert " mm" not in bench.words.value and bench.parts["gauges"].button.value is False


def test_neighbours_come_before_the_bend_that_hangs_on_them(exercise):
    bench = a_bench(exercise, ("place", "bend"), start="scattered")
    assert "First the shoulder and the wrist" in bench.words.value and "way" not in bench.words.value
    right = exercise.key.skeleton
    bench.work.put(right.moved(1, bench.skeleton.positions[1]))
    assert "First the" not in bench.words.value and "the elbow lies" in bench.words.value
