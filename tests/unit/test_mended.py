"""Mended layouts: the mark told after a mend is the mark that marking the mended layout gives."""

from dataclasses import replace

import numpy as np
import pytest

from rigkit.edits import inserted, removed
from rigkit.files.exercise import read_exercise
from rigkit.files.layout import Layout
from rigkit.limbs import KINDS, practice_limb
from rigkit.make_exercise import make_exercise
from rigkit.marking import mark
from rigkit.mended import mended
from tests.proof import faults
from tests.proof.ground import ground


def wrong(exercise, seed):
    """A hand-in with joints astray, names and a parent wrong, one joint missing or one too many."""
    chance = np.random.default_rng(seed)
    key = exercise.key.skeleton
    skeleton = key.at(key.positions + chance.normal(size=(len(key), 3)) * 0.012)
    names = [name if chance.integers(3) else name.upper() for name in skeleton.names]
    skeleton = replace(skeleton, names=tuple(names))
    if seed % 3 == 0:
        skeleton = removed(skeleton, int(chance.integers(1, len(skeleton))))
    if seed % 3 == 1:
        skeleton = inserted(skeleton, int(chance.integers(1, len(skeleton))), "bump", 0.5)
        skeleton = skeleton.moved(len(skeleton) - 1, skeleton.positions[-1] + [0.0, 0.0, 0.15])
    if seed % 3 == 2:
        parents = list(skeleton.parents)
        parents[-1] = 0 if parents[-1] != 0 else None
        skeleton = replace(skeleton, parents=tuple(parents))
    return Layout("wren", exercise.id, 1, skeleton)


@pytest.mark.parametrize("kind", KINDS)
def test_the_mark_told_after_a_mend_is_the_mark_of_the_mended_layout(kind, tmp_path):
    exercise = read_exercise(make_exercise(tmp_path / "limb", practice_limb(kind, 11, "right")))
    told = 0
    for seed in range(3):
        layout = wrong(exercise, seed)
        result = mark(layout, exercise, after=True)
        for one in result.findings[:20]:
            if one.mark_after is not None:
                told += 1
                assert mark(mended(layout, exercise, [one]), exercise).mark == one.mark_after, one
        assert result.findings and mark(layout, exercise).findings[0].mark_after is None
    assert told >= 3


@pytest.mark.parametrize("kind", KINDS)
def test_three_rounds_of_all_mends_give_full_marks(kind, tmp_path):
    exercise = read_exercise(make_exercise(tmp_path / "limb", practice_limb(kind, 12)))
    for seed in range(6):
        layout = wrong(exercise, seed)
        before = mark(layout, exercise)
        marks = [before.mark]
        for _ in range(3):
            layout = mended(layout, exercise, mark(layout, exercise).findings)
            marks.append(mark(layout, exercise).mark)
        assert marks == sorted(marks) and marks[0] < marks[-1] == 100.0, (seed, marks)


def test_each_kind_of_mend_does_what_its_words_say(tmp_path):
    exercise = read_exercise(make_exercise(tmp_path / "limb", practice_limb("leg", 3)))
    key = exercise.key.skeleton
    ball = list(key.names).index("left_ball")

    def after(skeleton):
        layout = Layout("wren", exercise.id, 1, skeleton)
        (finding,) = mark(layout, exercise).findings
        return finding.mend, mended(layout, exercise, [finding]).skeleton

    words, done = after(key.renamed(ball, "left_bal"))
    assert words == "Name it left_ball." and done.names == key.names
    words, done = after(replace(key, parents=tuple(0 if i == ball else p for i, p in enumerate(key.parents))))
    assert words == "Make the ankle the ball's parent." and done.parents == key.parents
    words, done = after(removed(key, ball))
    assert (
        words.startswith("Add a joint for the ball, ") and "name it left_ball, and make the ankle its parent" in words
    )
    assert words.endswith("Make it the parent of the toe tip.")
    here = list(done.names).index("left_ball")
    assert np.linalg.norm(done.positions[here] - key.positions[ball]) < 0.002
    assert done.names[done.parents[here]] == "left_ankle"
    assert done.names[done.parents.index(here)] == "left_toe_tip"
    fin = inserted(key, 1, "fin", 0.5)
    words, done = after(fin.moved(len(fin) - 1, fin.positions[-1] + [0, 0, 0.3]))
    assert words == "Take out the joint fin." and done.names == key.names and done.parents == key.parents


FRAMES = ("axis-other", "axis-off-bone", "frame-twisted", "hinge-off", "frame-scaled",
          "pair-missing", "pair-place", "pair-name", "pair-frames")  # fmt: skip


@pytest.mark.parametrize("kind", ["arm", "leg", "toe_walker", "finger"])
@pytest.mark.parametrize("finding", FRAMES)
def test_what_mends_a_frame_or_a_partner_is_done_and_its_mark_told(kind, finding):
    """Faults by the proof's own mutators, which share no code with the measures or the mends."""
    g = ground(kind, 104)
    told = 0
    for case in faults.cases(finding, g, np.random.default_rng(7)):
        exercise = case.exercise if case.exercise is not None else g.exercise
        result = mark(case.layout, exercise, after=True)
        for one in result.findings:
            if one.finding != finding or one.joint not in case.joints:
                continue
            done = mended(case.layout, exercise, [one])
            again = mark(done, exercise)
            assert (one.finding, one.joint) not in {(found.finding, found.joint) for found in again.findings}, one
            assert one.mark_after == again.mark >= result.mark
            told += 1
    assert told
