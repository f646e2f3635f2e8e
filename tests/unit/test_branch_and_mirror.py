"""Lessons 6 and 10 say what is true: their numbers are the measured ones, their exercises what their modules write."""

import itertools
import re

import numpy as np
import pytest

from rigkit import lesson
from rigkit.marking import mark
from rigkit.middle import reflected
from rigkit.mirror_axes import CONVENTIONS, NEITHER
from rigkit.openings import open_exercise
from rigkit.require import RigError
from rigkit.tables import data_folder, read_table
from rigkit.taught import branch_lesson, branch_work, mirror_frames, mirror_lesson, mirror_work
from rigkit.told import LOOK_AGAIN, RIGHT
from tests.lessons.books import read

SIX, TEN = "06_move_one_joint_move_a_branch_slide_along_the_bone.ipynb", "10_mirror.ipynb"


def prose(book: str, cell: str) -> str:
    return " ".join(next(one.source for one in read(book).cells if one.id == cell).split())


@pytest.mark.parametrize(
    "name, write", [("hobs-arm", branch_lesson.write_exercise), ("both-arms", mirror_lesson.write_both)]
)
def test_the_stored_exercise_is_what_the_lesson_writes(name, write, tmp_path):
    made = write(tmp_path / name)
    stored = data_folder() / "exercises" / name
    assert sorted(one.name for one in made.iterdir()) == sorted(one.name for one in stored.iterdir())
    for one in made.iterdir():
        assert one.read_bytes() == (stored / one.name).read_bytes(), one.name


@pytest.mark.parametrize("name", ["hobs-arm", "both-arms"])
def test_the_stored_key_has_full_marks(name):
    exercise = open_exercise(name)
    assert exercise.key is not None
    result = mark(exercise.key, exercise)
    assert (result.mark, list(result.findings)) == (100.0, [])
    assert result.criteria["mirror"].judged == (name == "both-arms")


# Lesson 6 ------------------------------------------------------------------------------------------


def test_the_prose_says_how_far_joints_lie_off():
    far_in, high, _ = np.round(branch_lesson.MM * branch_lesson.FOUND)
    assert f"{-far_in:.0f} mm too far in and {high:.0f} mm too high" in prose(SIX, "trouble")
    assert f"{-far_in:.0f} mm out and {high:.0f} mm down" in prose(SIX, "guess-intro")
    assert f"{-branch_lesson.MM * branch_lesson.SHIFTED[2]:.0f} mm too far back" in prose(SIX, "branch")


def test_the_puzzle_in_the_prose_is_the_one_that_is_counted():
    ways = (("out", "in"), ("up", "down"), ("forward", "back"))
    told = prose(SIX, "fewest-exercise")
    for role, off in branch_work.PUZZLE.items():
        cells = [f"{abs(mm)} {pair[mm < 0]}" if mm else "right" for mm, pair in zip(off, ways, strict=True)]
        row = f"| {cells[0]} | {cells[2]} |"
        assert (f"| {role} {row}" if role in ("shoulder", "elbow", "wrist") else row) in told
    assert branch_work.check_fewest(3).state == RIGHT
    assert {branch_work.check_fewest(n).state for n in (1, 2, 4, 5, 6)} == {LOOK_AGAIN}


@pytest.mark.parametrize("below", [True, False])
def test_a_branch_moved_joint_by_joint_is_right_and_told_so(below, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    bench = lesson.open_bench("hobs-arm", start="two-faults", lesson="06")
    for role in ("wrist",) if below else branch_work.HAND:
        bench.move(role, forward=-20, below=below)
    told = branch_work.check_hand(bench)
    assert told.state == RIGHT and ("after 3 moves" in told.found) == (not below)


WRIST, ELBOW = {"role": "wrist", "forward": -20}, {"role": "elbow", "by": -42}


@pytest.mark.parametrize(
    "tried",
    [
        lambda bench: bench.move(**WRIST),
        lambda bench: bench.work.move("wrist", (0, 0, -20), False),  # by slider
        lambda bench: [bench.move(role, forward=-20) for role in branch_work.HAND],
        lambda bench: (bench.slide(**ELBOW, below=True), bench.move(**WRIST)),
    ],
    ids=["alone", "slider", "one by one", "both wrong"],
)
def test_a_written_line_gives_the_same_whatever_was_tried_before(tried, tmp_path, monkeypatch):
    """Known wrong answer: `below=True`, put in after the wrist was moved alone, left thumb and finger behind."""
    monkeypatch.chdir(tmp_path)
    bench = lesson.open_bench("hobs-arm", start="two-faults", lesson="06")
    tried(bench)
    bench.move(**WRIST, below=True)
    hand = branch_work.check_hand(bench)
    assert hand.state == RIGHT and "moves" not in hand.found
    bench.slide(**ELBOW, below=True)
    assert branch_work.check_elbow(bench).state == LOOK_AGAIN
    bench.slide(**ELBOW)
    assert (branch_work.check_elbow(bench).state, branch_work.check_hand(bench).state) == (RIGHT, RIGHT)
    steps = len(bench.work.state.history.past)
    bench.slide(**ELBOW)
    assert len(bench.work.state.history.past) == steps


def test_the_fewest_moves_are_what_trying_all_gives():
    """Against brute force: all ordered choices of moves by arrows that occur, up to three of them."""
    parents, draws = (None, 0, 1, 1), np.random.default_rng(6)

    def mended(offs, moves):
        left = offs.copy()
        for joint, below, arrow in moves:
            branch = {0: [0, 1, 2, 3], 1: [1, 2, 3], 2: [2], 3: [3]}[joint] if below else [joint]
            left[branch] -= arrow
        return not np.any(left)

    for _ in range(20):
        offs = np.zeros((4, 3))
        offs[:, 0] = draws.integers(0, 3, 4)
        least = branch_work.fewest(parents, offs)
        arrows = [np.array([step, 0.0, 0.0]) for step in (-2, -1, 1, 2)]
        moves = list(itertools.product(range(4), (True, False), arrows))
        found = next((n for n in range(4) if any(mended(offs, some) for some in itertools.combinations(moves, n))), 4)
        assert least == found


def test_a_slide_keeps_the_line_of_the_bone_it_goes_along():
    rows = {row[0]: row[1:] for row in branch_lesson.bones(20).rows}
    assert rows["along its bone, alone"] == ("+20 mm", "0.5°", "-20 mm", "0.0°")
    assert rows["along its bone, with all below"][2:] == rows["back, with all below"][2:] == ("same", "0.0°")
    told = prose(SIX, "slide-read")
    assert "about four and five degrees" in told and rows["back, alone"][1::2] == ("3.9°", "4.8°")
    assert "half a degree" in told


def test_one_of_two_ways_of_writing_a_place_must_change():
    before, along, stayed = branch_lesson.two_numbers("elbow").rows
    assert before[2] == along[2] != stayed[2] and before[1] == stayed[1] != along[1]
    place, moved, arrow, kept = (np.array([int(x) for x in one.split(",")])
                                 for one in (before[1], along[1], before[2], stayed[2]))  # fmt: skip
    step = np.round(-branch_lesson.MM * branch_lesson.FOUND)  # as the prose has it, in whole millimetres
    assert (moved - place).tolist() == step.tolist() == (arrow - kept).tolist()


def test_a_joint_is_hung_elsewhere_without_moving_only_if_its_place_is_kept():
    kept, carried = branch_lesson.hang("index 1", on="elbow").rows
    assert kept[1] == "0 mm" and carried[1] != "0 mm"
    assert "moved by 0 mm" in repr(branch_lesson.put_between())
    assert "hangs below" in repr(branch_lesson.hang("elbow", on="wrist"))


# Lesson 10 -----------------------------------------------------------------------------------------


def test_the_prose_says_where_the_figure_stands_and_by_how_much_the_mirror_missed():
    aside = mirror_lesson.MM * mirror_lesson.ASIDE[0]
    assert f"{aside:.0f} mm to his left" in prose(TEN, "trouble")
    assert f"{2 * aside:.0f} mm beside the right arm, and no wrist" in repr(mirror_lesson.pressed())
    assert f"{2 * aside:.0f} mm" in prose(TEN, "why")
    assert f"{2 * aside:.0f} mm" in read_table(data_folder() / "outcomes.toml")["right-wrist"]


@pytest.mark.parametrize("picture", [mirror_lesson.found, mirror_lesson.pressed])
def test_the_two_middles_are_drawn_where_they_are(picture):
    """Two dashed lines, each with its words; the arms are drawn to one scale, so the joints tell how far they stand apart."""
    svg = picture().plates[0][0]
    lines = {float(x) for x in re.findall(r'<line x1="([\d.]+)"[^>]*stroke-dasharray="7 5"', svg)}
    circles = [float(x) for x in re.findall(r'<circle cx="([\d.]+)"', svg)][:3]
    arm = open_exercise("both-arms").start("left-only").skeleton.positions[:, 0]
    scale = (circles[2] - circles[0]) / (arm[2] - arm[0])
    assert sorted((x - circles[0]) / scale + arm[0] for x in lines) == pytest.approx(
        [0.0, mirror_lesson.ASIDE[0]], abs=0.002
    )
    assert "the scene's middle" in svg.replace("&#x27;", "'") and "Orlo's middle" in svg.replace("&#x27;", "'")


def test_the_middle_is_found_on_both_arms_and_not_on_one():
    assert [row[1] for row in mirror_lesson.middles().rows] == ["0 mm", "130 mm", "cannot tell"]


@pytest.mark.parametrize("joint", ["shoulder", "elbow", "wrist"])
def test_a_reversed_axis_turns_alike_and_a_reflected_one_pushes_alike(joint):
    for row in mirror_frames.behaviour(joint).rows:
        reverse = row[0] == "same numbers" or row[1] == "z"
        mirrored = [one == "0 mm" for one in row[2:]]
        assert mirrored == ([True, False, False, True] if reverse else [False, True, True, False]), row


def test_the_right_arm_lies_at_the_mirror_image_of_the_left():
    for convention in (*CONVENTIONS, NEITHER):
        arms = mirror_frames.both(convention)
        assert arms.positions[4:] == pytest.approx(reflected(arms.positions[:4], mirror_lesson.plane()))


def test_only_one_writing_of_the_wave_is_right():
    """All ways of putting signs before the six numbers: by same direction the turns about x and y change them."""
    left = mirror_work.Wave.LEFT
    for signs in itertools.product((1, -1), repeat=3):
        wave = mirror_work.Wave()
        for joint, angles in left.items():
            wave.right(joint, *(sign * angle for sign, angle in zip(signs, angles, strict=True)))
        assert (wave.check().state == RIGHT) == (signs == (-1, -1, 1)), signs
    for joint, angles in left.items():
        told = ", ".join(f"{letter} {angle:g}" for letter, angle in zip("xyz", angles, strict=True))
        here = prose(TEN, "wave-exercise")
        assert f"**{joint}** is turned by {told}" in here or f"**{joint}** by {told}" in here


def test_a_picture_says_what_the_table_measures():
    """The skin at its worst place: a roll of the forearm leaves every joint on its mirror image, and no hand."""
    rows = {row[:2]: row for row in mirror_frames.behaviour("elbow").rows}
    for letter in "xyz":
        told = repr(mirror_frames.turned("elbow", about=letter, degrees=20))
        for words in mirror_frames.WORDS:
            assert (
                f"mirrored by {words}. both elbows 20° about {letter}: the skin is {rows[words, letter][2]} from"
                in told
            )
    rolled = repr(mirror_frames.turned("elbow", about="x", degrees=60)).splitlines()
    assert "is 0 mm from" in rolled[0] and "is 154 mm from" in rolled[1]


def test_the_skin_is_measured_against_what_another_way_finds():
    """Against the nearest points of the mirrored skin, at rest and pushed: no vertex lies nearer than its partner."""
    from scipy.spatial import cKDTree

    rest, plane = mirror_lesson.exercise().mesh.vertices, mirror_lesson.plane()
    gaps, partners = cKDTree(rest).query(reflected(rest, plane))
    assert gaps.max() < 1e-6 and np.array_equal(partners, mirror_frames._partners())


def test_the_guess_about_the_shoulders_has_the_outcome_that_is_told():
    told = read_table(data_folder() / "outcomes.toml")["both-about-y"]
    first, second = repr(mirror_frames.turned("shoulder", about="y", degrees=35)).splitlines()
    assert told.startswith(mirror_frames.REVERSED[0]) and "same numbers" in first and "is 0 mm from" in first
    assert mirror_frames.REVERSED[1] in told and "same direction" in second and "is 0 mm from" not in second
    at_rest = repr(mirror_frames.at_rest()).splitlines()
    assert all(line.count("y at you") == count for line, count in zip(at_rest, (1, 2), strict=True))


@pytest.mark.parametrize("slip", ["left_wrst", "wrist_left", "wrist"])
def test_a_name_that_was_mirrored_wrong_is_no_dead_end(slip, tmp_path, monkeypatch):
    """Named right and mirrored again: the partner made before goes."""
    monkeypatch.chdir(tmp_path)
    bench = lesson.open_bench("both-arms", start="left-only", lesson="10")
    bench.rename("wrist", slip)
    bench.mirror()
    assert mirror_lesson.check(bench).state == LOOK_AGAIN
    bench.rename("wrist", "left_wrist")
    bench.mirror()
    assert mirror_lesson.check(bench).state == RIGHT and len(bench.skeleton) == 6


def test_what_a_lesson_orders_is_not_kept_as_a_fault(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    bench = lesson.open_bench("both-arms", start="left-only", lesson="10")
    bench.rename("wrist", "left_wrist")
    bench.mirror()
    bench.move("elbow", forward=6)
    told = mirror_lesson.check(bench)
    assert told.state == LOOK_AGAIN and "mirror again" in told.next_step and told.fault == ()


def test_a_refused_line_of_the_wave_keeps_nothing_of_its_joint():
    wave = mirror_work.Wave()
    wave.right("Shoulder", -10, -30, 25)
    with pytest.raises(RigError, match="the right shoulder's turn"):
        wave.right("shoulder", -10, -30, 250)
    assert wave.said == {}
    with pytest.raises(RigError, match="a joint: expected one of shoulder, elbow"):
        wave.right("sholder", -10, -30, 25)
