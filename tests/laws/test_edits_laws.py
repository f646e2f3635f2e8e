"""Laws of edits: what undoes what, what stays in place, and that nothing is ever changed where it stands."""

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from rigkit.edits import LEAST_LEFT, History, branched, extended, inserted, removed, reparented, slid
from rigkit.frames import quaternion_from_rotation, rotation_about
from rigkit.require import RigError
from rigkit.skeleton import Skeleton

CLOSE = 1e-11  # metres: a few products of numbers up to 30
number = st.floats(-10, 10, allow_nan=False, width=32)
arrow = st.tuples(number, number, number).map(np.array)


@st.composite
def skeletons(draw, least=2):
    """A tree whose joints stand in any order, some with rotations, and no two joints in one place."""
    count = draw(st.integers(least, 8))
    order = draw(st.permutations(range(count)))
    parents: list[int | None] = [None] * count
    for step in range(1, count):
        above = draw(st.integers(-1, step - 1))
        parents[order[step]] = None if above < 0 else order[above]
    parents[order[1]] = order[0]
    places = np.array([draw(arrow) for _ in range(count)])
    gaps = np.linalg.norm(places[:, None] - places, axis=2)[np.triu_indices(count, 1)]
    assume(gaps.min() > 1e-3)
    turn = quaternion_from_rotation(rotation_about([1.0, 2, 3], draw(st.floats(0, 3))))
    known = draw(st.lists(st.booleans(), min_size=count, max_size=count))
    return Skeleton([f"j{i}" for i in range(count)], parents, places, [turn if k else None for k in known])


def same(a: Skeleton, b: Skeleton) -> bool:
    return (
        a.names == b.names
        and a.parents == b.parents
        and np.array_equal(a.positions, b.positions)
        and all(
            (p is None) == (q is None) and (p is None or np.array_equal(p, q))
            for p, q in zip(a.rotations, b.rotations, strict=True)
        )
    )


def copy(skeleton: Skeleton) -> Skeleton:
    return Skeleton(skeleton.names, skeleton.parents, skeleton.positions.copy(), skeleton.rotations)


@settings(max_examples=50)
@given(skeletons(), st.data(), st.floats(LEAST_LEFT, 1 - LEAST_LEFT))
def test_insert_then_remove_is_nothing(skeleton, data, share):
    child = data.draw(st.sampled_from([i for i, p in enumerate(skeleton.parents) if p is not None]))
    finer = inserted(skeleton, child, "new", share)
    new = len(skeleton)
    assert finer.parents[child] == new and finer.parents[new] == skeleton.parents[child]
    start, end = finer.positions[skeleton.parents[child]], finer.positions[child]
    assert np.allclose(finer.positions[new], (1 - share) * start + share * end, atol=CLOSE)
    assert same(removed(finer, new), skeleton)


@settings(max_examples=50)
@given(skeletons(), st.data())
def test_remove_takes_one_joint_and_keeps_every_other_with_the_nearest_ancestor_left(skeleton, data):
    gone = data.draw(st.integers(0, len(skeleton) - 1))
    less = removed(skeleton, gone)
    for i in (i for i in range(len(skeleton)) if i != gone):
        here = less.index(skeleton.names[i])
        assert here == i - (i > gone)
        assert np.array_equal(less.positions[here], skeleton.positions[i])
        above = skeleton.parents[i]
        above = skeleton.parents[gone] if above == gone else above
        found = less.parents[here]
        assert (found is None and above is None) or less.names[found] == skeleton.names[above]


@settings(max_examples=80)
@given(skeletons(), st.data(), st.floats(-30, 30), st.booleans(), st.booleans())
def test_a_slide_stays_on_its_line_goes_the_right_way_and_never_passes_a_joint(skeleton, data, by, share, branch):
    bones = [i for i, p in enumerate(skeleton.parents) if p is not None]
    joint = data.draw(st.sampled_from([*bones, *{skeleton.parents[i] for i in bones}]))
    down, up = skeleton.children(joint)[:1], skeleton.parents[joint]
    result = slid(skeleton, joint, by, share=share, branch=branch)
    here, there = skeleton.positions[joint], result.skeleton.positions[joint]
    ahead = (down[0] if down else None) if by >= 0 else up
    goal = ahead if ahead is not None else up if by >= 0 else down[0]
    arrow = skeleton.positions[goal] - here
    bone = np.linalg.norm(arrow)
    way = arrow / bone * (1 if goal == ahead else -1)
    went = (there - here) @ way
    assert np.allclose(there, here + went * way, atol=CLOSE)
    assert went == pytest.approx(abs(result.went), abs=CLOSE) and went >= -CLOSE
    assert result.went == 0 or np.sign(result.went) == np.sign(by)
    wanted = abs(by) * (bone if share else 1)
    if goal == ahead and wanted > bone * (1 - LEAST_LEFT):
        assert result.stopped_by == goal and went == pytest.approx(bone * (1 - LEAST_LEFT), abs=CLOSE)
    else:
        assert result.stopped_by is None and went == pytest.approx(wanted, abs=CLOSE)
    moving = set(skeleton.branch(joint)) if branch else {joint}
    for i in range(len(skeleton)):
        shift = there - here if i in moving else 0.0
        assert np.allclose(result.skeleton.positions[i], skeleton.positions[i] + shift, atol=CLOSE)


def test_a_slide_follows_the_child_that_is_named():
    fork = Skeleton(["a", "b", "c"], [None, 0, 0], [[0, 0, 0], [1, 0, 0], [0, 1, 0]])
    assert slid(fork, 0, 0.5).skeleton.positions[0].tolist() == [0.5, 0, 0]
    assert slid(fork, 0, 0.5, child=2).skeleton.positions[0].tolist() == [0, 0.5, 0]
    with pytest.raises(RigError, match="one of the joint's children"):
        slid(fork, 1, 0.5, child=2)


@settings(max_examples=50)
@given(skeletons(), st.data())
def test_reparent_keeps_all_places_and_refuses_circles_in_words(skeleton, data):
    joint = data.draw(st.integers(0, len(skeleton) - 1))
    parent = data.draw(st.one_of(st.none(), st.integers(0, len(skeleton) - 1)))
    if parent in skeleton.branch(joint):
        with pytest.raises(RigError, match=f"a parent that does not hang on j{joint} itself"):
            reparented(skeleton, joint, parent)
        return
    hung = reparented(skeleton, joint, parent)
    assert hung.parents[joint] == parent and np.array_equal(hung.positions, skeleton.positions)
    assert same(reparented(hung, joint, skeleton.parents[joint]), skeleton)


@settings(max_examples=50)
@given(skeletons(), st.data())
def test_a_tip_extends_along_its_bone_as_far_again(skeleton, data):
    tips = [i for i, p in enumerate(skeleton.parents) if p is not None and not skeleton.children(i)]
    tip = data.draw(st.sampled_from(tips))
    longer = extended(skeleton, tip, "end")
    middle = (skeleton.positions[skeleton.parents[tip]] + longer.positions[-1]) / 2
    assert np.allclose(middle, skeleton.positions[tip], atol=CLOSE) and longer.parents[-1] == tip
    assert np.array_equal(longer.positions[:-1], skeleton.positions)
    assert same(removed(longer, len(skeleton)), skeleton)
    aside = extended(skeleton, tip, "end", far=2.0, along=[0, 0, 5.0])
    assert np.allclose(aside.positions[-1], skeleton.positions[tip] + [0, 0, 2], atol=CLOSE)


def test_a_new_joint_hangs_where_it_is_put_and_turns_as_its_parent():
    turn = quaternion_from_rotation(rotation_about([0, 0, 1.0], 0.4))
    palm = Skeleton(["palm", "index"], [None, 0], [[0, 0, 0], [0.1, 0, 0]], [turn, None])
    thumb = branched(palm, 0, "thumb", [0.03, 0.02, 0.01])
    assert thumb.children(0) == (1, 2) and thumb.positions[2].tolist() == [0.03, 0.02, 0.01]
    assert np.array_equal(thumb.rotations[2], turn) and inserted(palm, 1, "x").rotations[2] is not None
    assert extended(palm, 1, "end").rotations[2] is None


@pytest.mark.parametrize(
    "edit, words",
    [
        (lambda s: slid(s, 2, 0.1), "one that stands alone"),
        (lambda s: slid(s, 0, float("nan")), "number"),
        (lambda s: slid(s, 7, 0.1), "from 0 to 2, got 7"),
        (lambda s: slid(s, -1, 0.1), "from 0 to 2, got -1"),
        (lambda s: slid(s, 3.0, 0.1), "from 0 to 2"),
        (lambda s: inserted(s, 0, "x"), "a topmost joint"),
        (lambda s: inserted(s, 1, "x", 0.0), "from 0.01 to 0.99"),
        (lambda s: inserted(s, 1, 5), "text"),
        (lambda s: extended(s, 0, "x"), "Branch off it instead"),
        (lambda s: extended(s, 2, "x"), "a joint without a bone"),
        *(
            (lambda s, edit=edit, joint=joint: edit(s, joint), f"whole number from 0 to 2, got {got}")
            for joint, got in ((-1, "-1"), (9, "9"), (True, "true"), (None, "nothing"))
            for edit in (
                lambda s, joint: s.moved(joint, [0, 0, 1]),
                lambda s, joint: s.moved_branch(joint, [0, 0, 1]),
                lambda s, joint: s.renamed(joint, "x"),
                lambda s, joint: s.children(joint),
                lambda s, joint: s.branch(joint),
                lambda s, joint: s.depth(joint),
                lambda s, joint: removed(s, joint),
                lambda s, joint: branched(s, joint, "x", [0, 0, 1]),
            )
        ),
        (lambda s: History(s).do(None), "expected a skeleton, got nothing"),
        (lambda s: History(None), "expected a skeleton, got nothing"),
        (lambda s: History(s, depth=0), "from 1 to 1000000, got 0"),
        (lambda s: History(s, depth=-1), "from 1 to 1000000, got -1"),
        (lambda s: branched(s, 0, "x", [0, 0, np.inf]), "finite"),
        (lambda s: branched(s, 0, "x", [0, 0, 1e6]), "within"),
    ],
)
def test_what_cannot_be_done_is_refused_in_words(edit, words):
    with pytest.raises(RigError, match=words):
        edit(Skeleton(["a", "b", "alone"], [None, 0, None], [[0, 0, 0], [1, 0, 0], [2, 0, 0]]))


def test_a_slide_between_two_joints_in_one_place_is_refused():
    with pytest.raises(RigError, match="the same place twice"):
        slid(Skeleton(["a", "b"], [None, 0], [[0, 0, 0], [0, 0, 0]]), 0, 0.1)


def edited(now: Skeleton, kind: int, joint: int, other: int, much: float) -> Skeleton:
    return [
        lambda: now.moved(joint, [much, 0, 1]),
        lambda: now.moved_branch(joint, [much, 0, 1]),
        lambda: slid(now, joint, much).skeleton,
        lambda: inserted(now, joint, f"n{len(now)}"),
        lambda: removed(now, joint),
        lambda: reparented(now, joint, other % len(now)),
        lambda: extended(now, joint, f"n{len(now)}", far=1.0, along=[0, 1, 0]),
    ][kind]()


@settings(max_examples=50)
@given(skeletons(), st.lists(st.tuples(st.integers(0, 6), st.integers(0, 99), number), min_size=1, max_size=8))
def test_any_run_of_edits_gives_skeletons_leaves_the_old_ones_alone_and_can_be_taken_back(skeleton, steps):
    history, seen = History(skeleton), [(skeleton, copy(skeleton))]
    for kind, pick, much in steps:
        now = history.now
        joint = pick % len(now)
        try:
            after = edited(now, kind, joint, pick // 2, much)
        except RigError:
            continue
        if not len(after):
            continue
        history = history.do(after)
        seen.append((after, copy(after)))  # copying runs every check of Skeleton again
    for original, kept in seen:
        assert same(original, kept)
    done = history
    for original, _ in reversed(seen[:-1]):
        history = history.take_back()
        assert history.now is original
    assert history.take_back() is history
    for original, _ in seen[1:]:
        history = history.redo()
        assert history.now is original
    assert history == done and history.redo() is history


def test_a_new_edit_drops_what_was_taken_back_and_old_steps_go_first():
    places = [Skeleton(["a"], [None], [[x, 0, 0]]) for x in range(6)]
    history = History(places[0], depth=3)
    for one in places[1:]:
        history = history.do(one)
    assert history.past == tuple(places[2:5])
    other = history.take_back().take_back().do(places[0])
    assert other.redo() is other and other.take_back().now is places[3]
    assert history.do(history.now) is history
