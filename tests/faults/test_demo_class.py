"""The demo class: each hand-in's fault is named and no other; the same bytes each time, with any number of jobs."""

import json

import pytest

from rigkit.__main__ import main
from tests.make_demo_class import EXERCISE, FAULTS, FOLDER, UNREADABLE, demo_class


@pytest.fixture(scope="module")
def out(tmp_path_factory):
    folder = tmp_path_factory.mktemp("out")
    assert main(["mark", str(FOLDER), "--exercise", str(EXERCISE), "--out", str(folder)]) == 0
    return folder


@pytest.fixture(scope="module")
def handins(out):
    return {one["file"]: one for one in json.loads((out / "results.json").read_text("utf-8"))["handins"]}


def test_what_is_stored_is_what_is_made():
    stored = {path.name: path.read_text("utf-8") for path in FOLDER.iterdir()}
    assert stored == demo_class()


def test_everyone_is_there(handins):
    assert list(handins) == sorted([*FAULTS, UNREADABLE])


@pytest.mark.parametrize("name", sorted(FAULTS))
def test_the_fault_and_no_other(handins, name):
    one = handins[name]
    assert one["status"] == "marked"
    assert [(found["joint"], found["finding"]) for found in one["findings"]] == FAULTS[name]
    assert (one["mark"] == 100.0) == (not FAULTS[name])
    assert len(one["notices"]) == (name in ("bulrush.json", "reedmace.json"))  # other units; one style of their own


def test_the_marks_follow_from_the_scores(handins):
    for one in handins.values():
        if one["status"] == "marked":
            judged = [score for score in one["criteria"].values() if score["judged"]]
            mark = 100 * sum(s["weight"] * s["score"] for s in judged) / sum(s["weight"] for s in judged)
            mark = min([mark, *(cap["cap"] for cap in one["caps"])])
            assert one["mark"] == pytest.approx(mark, abs=0.0501)  # half a step of 0.1, and scores of six digits
            for found in one["findings"]:
                assert found["message"].endswith(".")
                assert found["mend"].endswith(".")
                assert found["cost"] > 0


def test_the_one_that_is_not_even_json(handins):
    one = handins[UNREADABLE]
    assert (one["status"], one["mark"]) == ("unreadable", None)
    assert "expected JSON" in one["reason"]


def everything(folder) -> dict[str, bytes]:
    return {
        path.relative_to(folder).as_posix(): path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()
    }


@pytest.mark.parametrize("jobs", ["1", "2"])
def test_the_same_bytes_again(out, tmp_path, jobs):
    assert main(["mark", str(FOLDER), "--exercise", str(EXERCISE), "--out", str(tmp_path), "--jobs", jobs]) == 0
    again = everything(tmp_path)
    assert set(again) == {"results.json", "gradebook.csv", "class.html"} | {
        f"students/{name.replace('.json', '.html')}" for name in (*FAULTS, UNREADABLE)
    }
    assert again == everything(out)
    for text in again.values():
        assert str(FOLDER).encode() not in text
