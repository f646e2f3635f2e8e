"""The progress page: answers of checks are kept, tell what is passed and what came back, and never stop a check."""

import json
import os
from pathlib import Path

import pytest
from jupyter_client.manager import start_new_kernel

from rigkit import lesson, progress
from rigkit.told import LOOK_AGAIN, NOT_YET, RIGHT, Told

LESSONS = Path(__file__).parents[2] / "lessons"
FAULT = ("bends-wrong-way", "elbow")
WRONG = Told(LOOK_AGAIN, "The elbow lies 15 mm in front.", "Move it back.", fault=FAULT)


class Shell:
    """What a notebook's kernel knows: the cells that were run."""

    def __init__(self, *ran: str):
        self.history_manager = self
        self.input_hist_raw = ["", *ran]


@pytest.fixture(autouse=True)
def beside_the_lessons(tmp_path, monkeypatch):
    monkeypatch.setenv("RIGKIT_WORK", str(tmp_path / "work"))
    monkeypatch.chdir(LESSONS)


@pytest.fixture
def lesson_four(monkeypatch):
    """A kernel in which lesson 4 was run down to the check of its bend."""
    page = next(one for one in progress.pages(LESSONS) if one.number == "4")
    source = page.checks["bend-check"][1]
    monkeypatch.setattr(progress, "get_ipython", lambda: Shell(*page.cells[: page.cells.index(source) + 1]))


def file() -> Path:
    return progress.own_folder(progress.WORK) / "progress.json"


def test_every_exercise_of_every_lesson_is_known_by_a_heading():
    pages = progress.pages(LESSONS)
    assert [page.number for page in pages] == [str(number) for number in range(len(pages))]
    for page in pages:
        assert page.checks, page.file
        heads = [head for head, _ in page.checks.values()]
        assert all(heads) and len(set(heads)) == len(heads), f"{page.file}: two exercises under one heading"
        sources = [source for _, source in page.checks.values()]
        assert len(set(sources)) == len(sources), f"{page.file}: two checks that read alike cannot be told apart"


def test_each_check_is_known_by_its_words_and_the_cells_run_before_it():
    pages = progress.pages(LESSONS)
    for page in pages:
        for cell, (_, source) in page.checks.items():
            assert progress.place(["", *page.cells, source], pages) == (page.number, cell)
    assert progress.place(["", "1 + 1"], pages) is None


def test_a_check_keeps_what_it_answers(lesson_four):
    assert lesson.safely(lambda: WRONG) is WRONG
    kept = progress.read()["4"]["bend-check"]
    assert kept == {"state": LOOK_AGAIN, "passed": False, "tries": 1, "told": repr(WRONG),
                    "faults": {"bends-wrong-way elbow": 1}}  # fmt: skip


def test_the_same_answer_again_is_no_new_try_and_what_is_passed_stays_passed(lesson_four):
    right = Told(RIGHT, "Nothing here needs mending.")
    for told in (WRONG, WRONG, right, right, WRONG):
        lesson.safely(lambda told=told: told)
    kept = progress.read()["4"]["bend-check"]
    assert (kept["tries"], kept["passed"], kept["state"]) == (3, True, LOOK_AGAIN)
    assert kept["faults"] == {"bends-wrong-way elbow": 2}


def test_a_hand_in_counts_as_passed_only_when_nothing_is_left_to_mend(tmp_path, monkeypatch):
    monkeypatch.setenv("RIGKIT_HANDINS", str(tmp_path / "hand-ins"))
    bench = lesson.open_bench("ebbas-arm", "unfinished", "12", ("side",), ("place", "names"))
    told = lesson.hand_in(bench, "wren")
    assert "6 things are still to mend, first at the shoulder" in told.found  # three places, and each name once
    progress.keep("12", "hand-in", told)
    (row,) = [line for line in repr(progress.checks()).splitlines() if "Exercise 4: hand in" in line]
    assert "✓" not in row and "handed in" in row
    bench.move("shoulder", out=8, up=30, forward=10)
    bench.move("elbow", out=4, up=14, forward=-27)
    bench.move("wrist", out=-12, up=-23, forward=11)
    bench.rename("shoulder", "right_shoulder")
    bench.rename("elbow", "right_elbow")
    assert "One thing is still to mend at the wrist." in lesson.hand_in(bench, "wren").found
    bench.rename("wrist", "right_wrist")
    told = lesson.hand_in(bench, "wren")
    assert "Nothing is left to mend." in told.found and not told.fault
    progress.keep("12", "hand-in", told)
    assert progress.read()["12"]["hand-in"]["passed"]


class Open:
    """A kernel in which cells are run as JupyterLab does, with their ids."""

    def __init__(self, folder: Path):
        env = os.environ | {"RIGKIT_WORK": str(folder / "work"), "RIGKIT_HANDINS": str(folder / "hand-ins")}
        self.manager, self.client = start_new_kernel(env=env, cwd=str(LESSONS))

    def run(self, cell: str, source: str) -> tuple[str, str]:
        """Whether the cell ran through, and all that it showed."""
        message = self.client.session.msg("execute_request", {"code": source, "silent": False, "store_history": True,
                                          "user_expressions": {}, "allow_stdin": False}, metadata={"cellId": cell})  # fmt: skip
        self.client.shell_channel.send(message)
        mine, shown, state = message["header"]["msg_id"], "", ""
        while state != "idle":
            one = self.client.get_iopub_msg(timeout=60)
            if one["parent_header"].get("msg_id") == mine:
                shown += "".join(one["content"].get("data", {}).get("text/plain", ""))
                shown += "".join(one["content"].get("traceback", []))
                state = one["content"].get("execution_state", state)
        while (answer := self.client.get_shell_msg(timeout=60))["parent_header"].get("msg_id") != mine:
            pass  # what the kernel said while it started
        return answer["content"]["status"], shown


@pytest.fixture
def opened(tmp_path):
    kernel = Open(tmp_path)
    yield kernel
    kernel.client.stop_channels()
    kernel.manager.shutdown_kernel(now=True)


def test_below_a_cell_that_stopped_a_check_waits_and_the_mistake_is_told_in_words(opened):
    page = next(one for one in progress.pages(LESSONS) if one.number == "12")
    handing = page.checks["hand-in"][1]
    assert page.answers["hand-in"] == {"hand-in-answer"}
    for number in (3, page.cells.index(handing) - 1):
        assert opened.run(f"cell-{number}", page.cells[number])[0] == "ok"
    opened.run("bench", "bench = lesson.open_bench('ebbas-arm', start='unfinished', lesson='12')")
    assert "Attempt 1" in opened.run("hand-in", 'student = "wren"\n' + handing)[1]  # as it once was
    state, shown = opened.run("hand-in-answer", "# my id\nstudent = dunlin")
    assert state == "error" and shown.endswith("This cell stopped here.") and "Traceback" not in shown
    assert '✗ look again: Line 2: Python does not know dunlin. Words stand in quotes: "dunlin"' in shown
    for _ in range(2):
        assert repr(progress.WAITS) in opened.run("hand-in", handing)[1]
    state, shown = opened.run("place-answer", 'bench.move("ellbow")')
    assert state == "error" and "Line 1: a joint: expected one of shoulder, elbow, wrist, got 'ellbow'." in shown
    assert repr(progress.WAITS) in opened.run("hand-in", handing)[1]
    opened.run("hand-in-answer", 'student = "dunlin"')
    assert "hand-ins/dunlin." in opened.run("hand-in", handing)[1]  # another exercise's mistake does not stop it
    assert "ZeroDivisionError" in opened.run("mine", "1 / 0")[1]  # a mistake in calculating is shown as ever


def test_an_answer_inside_an_answer_does_not_pass_a_check(lesson_four):
    """A check that asks another one first: what counts is what the student sees."""

    def outer() -> Told:
        assert lesson.safely(lambda: Told(RIGHT, "So far.")).state == RIGHT
        return WRONG

    lesson.safely(outer)
    kept = progress.read()["4"]["bend-check"]
    assert (kept["state"], kept["passed"], kept["tries"]) == (LOOK_AGAIN, False, 1)


@pytest.mark.parametrize("told", [Told(NOT_YET, "Nothing was moved."), "no answer of a check"])
def test_what_is_not_yet_an_answer_writes_nothing(lesson_four, told):
    lesson.safely(lambda: told)
    assert not file().exists()


def test_outside_a_check_cell_nothing_is_kept(monkeypatch):
    lesson.safely(lambda: WRONG)  # no kernel at all
    monkeypatch.setattr(progress, "get_ipython", lambda: Shell("from rigkit import lesson", "bench.flex(0)"))
    lesson.safely(lambda: WRONG)
    assert not file().exists()


def test_an_error_in_a_check_is_still_told_in_words_and_not_kept(lesson_four):
    told = lesson.safely(lambda: [][1])
    assert told.state == NOT_YET and "IndexError" in told.found
    assert not file().exists()


@pytest.mark.parametrize("broken", [b"", b"[]", b"\xff", b'{"checks": {"4": {"bend-check": {}}}}',
                                    b'{"checks": {"four": {}}}', b"[" * 100_000])  # fmt: skip
def test_a_damaged_file_is_put_aside_and_the_check_goes_on(lesson_four, broken):
    file().parent.mkdir()
    file().write_bytes(broken)
    assert lesson.safely(lambda: WRONG) is WRONG
    assert progress.read()["4"]["bend-check"]["tries"] == 1
    assert file().with_name("progress.json.damaged-1").read_bytes() == broken


def test_no_place_to_write_stops_no_check(lesson_four, monkeypatch):
    def full(*_given):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("pathlib.Path.replace", full)
    assert lesson.safely(lambda: WRONG) is WRONG
    assert progress.read() == {}


def test_a_page_that_cannot_be_read_is_left_out(tmp_path):
    (tmp_path / "00_a.ipynb").write_text("{", encoding="utf-8")
    (tmp_path / "01_b.ipynb").write_text('{"cells": []}', encoding="utf-8")
    (tmp_path / "02_c.ipynb").write_text(
        (LESSONS / "04_make_it_bend_the_right_way.ipynb").read_text(), encoding="utf-8"
    )
    assert [page.number for page in progress.pages(tmp_path)] == ["4"]


def test_before_anything_was_tried_the_page_says_so():
    assert "No exercise was tried yet" in repr(progress.checks())
    assert "No check has told a fault yet" in repr(progress.faults())


def test_the_page_tells_what_is_passed_by_lesson_and_exercise():
    progress.keep("4", "bend-check", WRONG)
    progress.keep("4", "enough-check", Told(RIGHT, "5 mm."))
    progress.keep("4", "hand-in", Told("handed in", "Attempt 1 lies in hand-ins/wren.left-arm.1.json."))
    text, html = repr(progress.checks()), progress.checks()._repr_html_()
    rows = [line for line in text.splitlines() if "✓" in line or "✗" in line]
    assert len(rows) == 3 and rows[0].startswith("4 · Make it bend the right way")
    assert ["✓ passed" in row for row in rows] == [True, False, True] and "✗ look again" in rows[1]
    total = sum(len(page.checks) for page in progress.pages(LESSONS))
    assert f"2 of {total} exercises passed." in text and "Not begun: lessons 0, 1, 2, 3, 5" in text
    assert '<a href="04_make_it_bend_the_right_way.ipynb">4 · Make it bend the right way</a>' in html


def test_the_page_tells_faults_that_came_back_and_where_to_practise():
    once = Told(LOOK_AGAIN, "The wrist lies off.", "Move it.", fault=("off-centre", "wrist"))
    progress.keep("2", "wrist-check", once)
    assert "No fault has come back" in repr(progress.faults())
    progress.keep("4", "bend-check", WRONG)
    progress.keep("4", "bend-check", Told(LOOK_AGAIN, "Now 5 mm in front.", "Move it back.", fault=FAULT))
    (row,) = repr(progress.faults()).splitlines()[1:]
    assert row.startswith("Bends the wrong way") and "elbow" in row and "2 times, in lesson 4" in row
    assert row.endswith("4 · Make it bend the right way")
    assert 'href="04_make_it_bend_the_right_way.ipynb"' in progress.faults()._repr_html_()


def test_the_file_is_plain_json_that_says_what_it_is():
    progress.keep("4", "bend-check", WRONG)
    table = json.loads(file().read_text(encoding="utf-8"))
    assert (table["format"], table["version"]) == ("rigkit-progress", 1)
