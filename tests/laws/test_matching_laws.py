"""Laws of matching: joints are known by place and tree together, whatever they are called and in whatever order."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from rigkit.edits import inserted, removed
from rigkit.files.exercise import read_exercise
from rigkit.limbs import KINDS, practice_limb
from rigkit.make_exercise import make_exercise
from rigkit.matching import _Search, match

SEEDS = range(12)
ASTRAY = 1.0
"""Of the way to the nearest other joint: about two local radii in a hand, where strays pass their neighbours."""


@pytest.fixture(scope="module")
def limbs(tmp_path_factory):
    @cache
    def made(kind):
        return read_exercise(make_exercise(tmp_path_factory.mktemp(kind) / "limb", practice_limb(kind, 77)))

    return made


def astray(key, seed, share=ASTRAY):
    """All joints anywhere within a share of the way to the nearest other joint."""
    chance = np.random.default_rng(seed)
    gaps = np.linalg.norm(key.positions[:, None] - key.positions[None], axis=2)
    near = np.where(gaps > 0, gaps, np.inf).min(axis=1)
    way = chance.normal(size=(len(key), 3))
    way *= share * near[:, None] * chance.uniform(size=(len(key), 1)) / np.linalg.norm(way, axis=1)[:, None]
    return key.at(key.positions + way), chance


def roles(exercise):
    return [joint.role for joint in exercise.joints if joint.need != "ignored"]


@pytest.mark.parametrize("kind", KINDS)
def test_the_tree_tells_joints_apart_whatever_they_are_called(kind, limbs):
    exercise = limbs(kind)
    for seed in SEEDS:
        skeleton, chance = astray(exercise.key.skeleton, seed)
        names = tuple(f"joint{n}" for n in chance.permutation(len(skeleton)))
        found = match(replace(skeleton, names=names), exercise)
        assert [found.joints[role] for role in roles(exercise)] == list(range(len(skeleton))), seed


@pytest.mark.parametrize("kind", KINDS)
def test_where_each_is_nearest_to_its_own_the_whole_search_finds_no_better(kind, limbs):
    exercise, short = limbs(kind), 0
    for seed in SEEDS:
        skeleton, chance = astray(exercise.key.skeleton, seed, seed / len(SEEDS))
        if seed % 3 == 0:  # one joint and its parent nearly in each other's places
            pair = [joint := int(chance.integers(1, len(skeleton))), skeleton.parents[joint]]
            places = skeleton.positions.copy()
            places[pair] += 0.6 * (places[pair[::-1]] - places[pair])
            skeleton = skeleton.at(places)
        names = tuple(chance.permutation(skeleton.names).tolist()) if seed % 2 else ("",) * len(skeleton)
        search = _Search(replace(skeleton, names=names), exercise)
        starts = (np.full(len(search.roles), -1), search._by_tree())
        whole = min((search._improved(start) for start in starts), key=search.doubt)
        short += search.place.min(axis=1).sum() == search.doubt(whole)
        assert search.best().tolist() == whole.tolist(), seed
    assert short > 0


@pytest.mark.parametrize("kind", KINDS)
def test_one_joint_under_a_wrong_parent_is_still_itself(kind, limbs):
    exercise = limbs(kind)
    for seed in SEEDS:
        skeleton, chance = astray(exercise.key.skeleton, seed, 0.3)
        joint = int(chance.integers(1, len(skeleton)))
        others = [i for i in range(len(skeleton)) if i != skeleton.parents[joint] and i not in skeleton.branch(joint)]
        if others:
            parents = list(skeleton.parents)
            parents[joint] = int(chance.choice(others))
            found = match(replace(skeleton, parents=tuple(parents)), exercise)
            assert [found.joints[role] for role in roles(exercise)] == list(range(len(skeleton))), seed


@pytest.mark.parametrize("kind", KINDS)
def test_one_joint_missing_or_too_many_leaves_all_others_themselves(kind, limbs):
    exercise = limbs(kind)
    for seed in SEEDS:
        skeleton, chance = astray(exercise.key.skeleton, seed, 0.2)
        gone = int(chance.integers(0, len(skeleton)))
        found = match(removed(skeleton, gone), exercise)
        asked = roles(exercise)
        assert dict(found.joints) == {role: n - (n > gone) for n, role in enumerate(asked) if n != gone}, seed
        more = inserted(skeleton, max(gone, 1), "helper", 0.5)
        found = match(more, exercise)
        assert [found.joints[role] for role in asked] == list(range(len(skeleton))), seed
        assert found.others == (len(skeleton),)


def test_joints_laid_in_each_others_places_are_known_by_place(limbs):
    """Their tree says otherwise and so is what is charged; the names are charged apart."""
    exercise = limbs("leg")
    key = exercise.key.skeleton
    knee, ankle = (roles(exercise).index(role) for role in ("knee", "ankle"))
    places = key.positions.copy()
    places[[knee, ankle]] = places[[ankle, knee]]
    found = match(key.at(places), exercise)
    assert (found.joints["knee"], found.joints["ankle"]) == (ankle, knee)
