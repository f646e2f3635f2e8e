"""Student work: kept whole, found again, damaged files put aside, hand-ins counted."""

from dataclasses import replace

import numpy as np
import pytest

from rigkit import work
from rigkit.files.layout import Layout, read_layout
from rigkit.require import RigError
from rigkit.skeleton import Skeleton
from rigkit.work import Store, guesses, remember, write_hand_in

LAYOUT = Layout("left-arm", "left-arm", 1, Skeleton(["a", "b"], [None, 0], [[0.1, 1 / 3, 0], [0.2, 1.0, -0.1]]))


@pytest.fixture(autouse=True)
def own_folders(tmp_path, monkeypatch):
    monkeypatch.setenv("RIGKIT_WORK", str(tmp_path / "work"))
    monkeypatch.setenv("RIGKIT_HANDINS", str(tmp_path / "hand-ins"))


def test_what_was_kept_comes_back_bit_for_bit():
    store = Store.beside("left-arm", "04")
    assert store.load(2) == (None, "")
    store.save(LAYOUT)
    layout, said = store.load(2)
    assert np.array_equal(layout.skeleton.positions, LAYOUT.skeleton.positions)
    assert layout.skeleton.names == ("a", "b") and "opened" in said


@pytest.mark.parametrize("damage", [b"", b"{", b"\xff\xfe", b'{"format": "rigkit-layout", "version": 1, "joints": []}'])
def test_a_damaged_file_is_kept_aside_and_told(damage):
    store = Store.beside("left-arm", "04")
    store.save(LAYOUT)
    for number in (1, 2):
        store.path.write_bytes(damage)
        layout, said = store.load(2)
        assert layout is None and "starts afresh" in said
        assert (store.folder / f"04-left-arm.json.damaged-{number}").read_bytes() == damage
    assert not store.path.exists()


def test_work_of_another_bench_is_put_aside():
    store = Store.beside("left-arm", "04")
    store.save(LAYOUT)
    assert store.load(3)[0] is None
    assert (store.folder / "04-left-arm.json.damaged-1").exists()


def test_a_crash_while_writing_leaves_the_old_file(monkeypatch):
    store = Store.beside("left-arm", "04")
    store.save(LAYOUT)
    before = store.path.read_bytes()

    def crash(*_given):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("pathlib.Path.replace", crash)
    with pytest.raises(RigError, match="no space left"):
        store.save(Layout("x", "x", 1, LAYOUT.skeleton.moved(0, [9, 9, 9])))
    assert store.path.read_bytes() == before


def test_attempts_count_up_and_read_back():
    assert write_hand_in(LAYOUT, "wren", "left-arm") == ("hand-ins/wren.left-arm.1.json", 1)
    assert write_hand_in(LAYOUT, "wren", "left-arm") == ("hand-ins/wren.left-arm.1.json", 1)  # the same again
    other = replace(LAYOUT, skeleton=LAYOUT.skeleton.renamed(0, "other"))
    assert write_hand_in(other, "wren", "left-arm") == ("hand-ins/wren.left-arm.2.json", 2)
    assert write_hand_in(LAYOUT, "wren", "left-arm") == ("hand-ins/wren.left-arm.3.json", 3)
    assert write_hand_in(LAYOUT, "heron", "left-arm")[1] == 1
    path = work.own_folder(work.HAND_INS) / "wren.left-arm.2.json"
    layout = read_layout(path.read_bytes(), path.name)
    assert (layout.id, layout.exercise, layout.attempt) == ("wren", "left-arm", 2)


@pytest.mark.parametrize("name", ["../../up", "/root", "a/b", "=1+1", "..", "x" * 500, "Zoë", "con\n"])
def test_no_name_leads_out_of_the_folder(name):
    place, _ = write_hand_in(LAYOUT, name, "left-arm")
    folder = work.own_folder(work.HAND_INS)
    assert [f"hand-ins/{path.name}" for path in folder.iterdir()] == [place]


@pytest.mark.parametrize("name", ["", "  ", "\n"])
def test_a_hand_in_needs_a_name(name):
    with pytest.raises(RigError, match="class id"):
        write_hand_in(LAYOUT, name, "left-arm")


def test_guesses_are_remembered_and_a_damaged_file_counts_as_none():
    assert guesses() == {}
    remember("way", "forward")
    remember("other", "back")
    assert guesses() == {"way": "forward", "other": "back"}
    path = work.own_folder(work.WORK) / "guesses.json"
    path.write_text("[")
    assert guesses() == {} and path.with_name("guesses.json.damaged-1").exists()
