"""Layout files: what is written is read back; units and axes are converted and told; the rest is refused in words."""

import json

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigkit.files.layout import Layout, read_layout, write_layout
from rigkit.frames import rotation_from_quaternion
from rigkit.require import RigError
from rigkit.skeleton import Skeleton

STORED_TEXT = 1e-12  # metres: one multiplication by a unit's factor on numbers below ten


def table(**changes) -> dict:
    joints = [
        {"name": "left_shoulder", "parent": None, "position": [0.2, 1.4, 0.0], "rotation": None},
        {"name": "left_elbow", "parent": 0, "position": [0.3, 1.1, -0.02], "rotation": [0.0, 0.0, 0.6, 0.8]},
    ]
    head = {"format": "rigkit-layout", "version": 1, "id": "wren", "exercise": "left-arm", "attempt": 2}
    return {**head, "joints": joints} | changes


def read(value) -> Layout:
    return read_layout(value if isinstance(value, bytes) else json.dumps(value).encode(), "class/teasel.json")


def test_a_plain_layout():
    layout = read(table())
    assert (layout.id, layout.exercise, layout.attempt, layout.notices) == ("wren", "left-arm", 2, ())
    assert layout.skeleton.names == ("left_shoulder", "left_elbow")
    assert layout.skeleton.parents == (None, 0)
    assert layout.skeleton.positions.tolist() == [[0.2, 1.4, 0.0], [0.3, 1.1, -0.02]]
    assert layout.skeleton.rotations[0] is None
    assert layout.skeleton.rotations[1].tolist() == [0.0, 0.0, 0.6, 0.8]


coordinate = st.floats(-1e5, 1e5)
names = st.text(st.characters(categories=("L", "N", "P", "S", "Zs")), max_size=64)


@given(st.lists(st.tuples(names, coordinate, coordinate, coordinate), min_size=1, max_size=6), st.data())
def test_written_and_read_back(rows, data):
    parents = [None if i == 0 else data.draw(st.sampled_from([None, *range(i)])) for i in range(len(rows))]
    skeleton = Skeleton(tuple(row[0] for row in rows), tuple(parents), np.array([row[1:] for row in rows]))
    back = read_layout(write_layout(Layout("wren", "left-arm", 3, skeleton)).encode(), "wren.json")
    assert (back.id, back.exercise, back.attempt, back.notices) == ("wren", "left-arm", 3, ())
    assert (back.skeleton.names, back.skeleton.parents) == (skeleton.names, skeleton.parents)
    assert back.skeleton.positions.tolist() == skeleton.positions.tolist()


@pytest.mark.parametrize(("units", "metres"), [("m", 1.0), ("cm", 0.01), ("mm", 0.001), ("in", 0.0254)])
def test_units(units, metres):
    joint = {"name": "a", "parent": None, "position": [1.0, 2.0, 3.0]}
    layout = read(table(units=units, joints=[joint]))
    np.testing.assert_allclose(layout.skeleton.positions, [[metres, 2 * metres, 3 * metres]], atol=STORED_TEXT)
    words = {"cm": "centimetres", "mm": "millimetres", "in": "inches"}
    assert layout.notices == (() if units == "m" else (f"The file is in {words[units]}; it was converted to metres.",))


# A point 1 to the character's left, 2 up and 3 forward, written in each frame by hand.
@pytest.mark.parametrize(
    ("up", "facing", "written"),
    [
        ("+y", "+z", [1, 2, 3]), ("+y", "-z", [-1, 2, -3]), ("+y", "+x", [3, 2, -1]),
        ("+z", "-y", [1, -3, 2]), ("+z", "+x", [3, 1, 2]),
    ],
)  # fmt: skip
def test_axes(up, facing, written):
    joint = {"name": "a", "parent": None, "position": written, "rotation": [0.0, 0.0, 0.0, 1.0]}
    layout = read(table(up=up, facing=facing, joints=[joint]))
    np.testing.assert_allclose(layout.skeleton.positions, [[1, 2, 3]], atol=STORED_TEXT)
    # the joint's own axes were the file's: they must point where the file's axes point in the world
    world_from_joint = rotation_from_quaternion(layout.skeleton.rotations[0])
    np.testing.assert_allclose(world_from_joint @ written, [1, 2, 3], atol=1e-9)
    assert len(layout.notices) == ((up, facing) != ("+y", "+z"))


def test_defaults_and_what_is_only_noticed():
    bare = {"format": "rigkit-layout", "version": 1, "joints": [{"name": "a", "position": [0, 0, 0]}]}
    layout = read(bare)
    assert (layout.id, layout.exercise, layout.attempt, layout.notices) == ("teasel", "", 1, ())
    assert read(b"\xef\xbb\xbf" + json.dumps(table()).encode()).id == "wren"
    assert read(table(id=4711)).id == "4711"
    whole = [{"name": "a", "parent": None, "position": [0, 0, 0]}, {"name": "b", "parent": 0.0, "position": [0, 1, 0]}]
    assert read(table(joints=whole, attempt=2.0)).skeleton.parents == (None, 0), "1.0 is a whole number in JSON"
    slip = read(table(joints=[{"name": "a", "position": [0, 0, 0], "rotaton": [0, 0, 0, 1]}]))
    assert slip.notices == ("Not used from joint 0 (a): rotaton (rotation was perhaps meant).",)
    assert read(table(mark=100, colour="x")).notices == ("Not used from the file: mark, colour.",)
    twice = json.dumps(table()).replace('"id"', '"id": "heron", "id"', 1).encode()
    assert read(twice).id == "wren"
    assert "stands in the file twice" in read(twice).notices[0]
    odd = read(table(joints=[{"name": "a\u202eb\n" + "c" * 80, "position": [0, 0, 0]}]))
    assert odd.skeleton.names == (("ab" + "c" * 80)[:64],)
    assert len(odd.notices) == 2


def test_quaternions_are_brought_to_length_one():
    joint = {"name": "a", "position": [0, 0, 0], "rotation": [0, 0, 3, 4]}
    layout = read(table(joints=[joint]))
    np.testing.assert_allclose(layout.skeleton.rotations[0], [0, 0, 0.6, 0.8], atol=STORED_TEXT)
    assert "length one" in layout.notices[0]


def joint(**changes) -> dict:
    return table(joints=[{"name": "a", "parent": None, "position": [0, 0, 0], "rotation": None} | changes])


@pytest.mark.parametrize(
    ("value", "said"),
    [
        (b"", "got an empty file"),
        (b"   \n", "got an empty file"),
        (b"\x89PNG\r\n", "text saved as UTF-8"),
        (b"elbow, 1, 2", "expected JSON, got something else at line 1"),
        (b"[" * 200_000, "lists within lists"),
        (b"[]", "got a list"),
        (json.dumps(table()).replace("1.4", "NaN").encode(), "expected numbers, got NaN"),
        (json.dumps(table()).replace("1.4", "Infinity").encode(), "expected numbers, got Infinity"),
        (json.dumps(table()).replace("1.4", "1e999").encode(), "expected a finite number, got "),
        (json.dumps(table()).replace("1.4", "9" * 5000).encode(), "thousands of digits"),
        (json.dumps(table()).replace("1.4", "9" * 400).encode(), "expected a finite number, got "),
        (b" " * 1_000_001, "at most 1000 kB"),
        (table(format="other"), "expected a layout"),
        (table(version=2), "expected version 1, got version 2. Probably written by a newer rigkit"),
        (table(version="1"), "expected version 1, got version '1'. Take"),
        (table(version=True), "expected version 1"),
        (table(units="furlong"), "units: expected one of m, cm, mm, in"),
        (table(units="CM"), "units: expected one of m, cm, mm, in, got 'CM'. Probably cm was meant"),
        (table(units=["m"]), "units: expected one of m, cm, mm, in"),
        (table(up="+x"), "up: expected one of"),
        (table(up="+z", facing="+z"), "facing: expected facing square to up"),
        (table(attempt=1.5), "attempt: expected a whole number from 0 to 1000000000, got 1.5"),
        (table(id=["wren"]), "id: expected text"),
        (table(joints=[]), "joints: expected a list of 1 to 512 joints, got []"),
        (table(joints={"a": 1}), "joints: expected a list of 1 to 512 joints, got a table"),
        (table(joints=[7]), "joint 0: expected a joint"),
        (table(joints=[{"name": "a", "position": [0, 0, 0]}] * 513), "at most 512 joints, got 513"),
        (joint(name=None), "joint 0, name: expected text, got nothing"),
        (
            table(joints=[{"name": "a", "postion": [0, 0, 0]}]),
            "joint 0 (a): expected the key position, got the key 'postion'",
        ),
        (
            table(joints=[{"name": "a"}]),
            "joint 0 (a): expected the key position, got no such key. Where the joint lies",
        ),
        (joint(parent=0), "circle"),
        (joint(parent=1), "expected a parent from 0 to 0"),
        (joint(parent=-1), "joint 0 (a), parent: expected the parent's number in the list, or null, got -1"),
        (joint(parent=True), "joint 0 (a), parent: expected the parent's number in the list, or null, got true"),
        (joint(parent=0.5), "parent: expected the parent's number in the list, or null, got 0.5"),
        (joint(parent="b"), "the parent's name was written"),
        (joint(position=[0, 0]), "position: expected 3 numbers"),
        (
            joint(position=[0, 0, "1"]),
            "position, item 3: expected a number, got '1'. Probably the number stands in quotes",
        ),
        (joint(position=[0, 0, True]), "position, item 3: expected a number, got true"),
        (joint(position=[0, 0, 1e308]), "coordinates within 100,000 m"),
        (joint(position=[0, 0, -1e5 - 1]), "coordinates within 100,000 m, got 100,001 m"),
        (joint(rotation=[0, 0, 0, 0]), "rotation: expected a quaternion of length one"),
        (joint(rotation=[0, 0, 1]), "rotation: expected 4 numbers"),
    ],
)
def test_what_is_refused_and_in_which_words(value, said):
    with pytest.raises(RigError) as error:
        read(value)
    words = str(error.value)
    assert said in words
    assert words.startswith("class/teasel.json")
    assert "\n" not in words
    assert len(words) < 400


def test_a_circle_of_three_parents():
    ring = [{"name": "a", "parent": (i + 1) % 3, "position": [0, 0, i]} for i in range(3)]
    with pytest.raises(RigError, match="circle"):
        read(table(joints=ring))


def test_a_flood_of_notices_is_counted():
    noisy = [{"name": "a", "position": [0, 0, 0], "x": 1} for _ in range(100)]
    notices = read(table(joints=noisy)).notices
    assert len(notices) == 21
    assert notices[-1] == "And 80 more like these."


def test_lists_within_lists_are_refused_at_any_depth():
    """Also where the parser still takes them and only the words about them would go too deep."""
    for depth in range(700, 1100):
        with pytest.raises(RigError):
            read(json.dumps(joint(position="?")).replace('"?"', "[" * depth + "]" * depth).encode())
