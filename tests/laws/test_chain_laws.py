"""Laws of many limbs at once, of bend targets, of the verdict for any chain, and of hinges that stay hinges."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigkit.frames import Frame, rotation_about
from rigkit.kinematics import (
    RIGHT,
    STRAIGHT,
    WRONG,
    carried,
    chain_bends,
    chain_hinges,
    rest_bend,
    side_turns,
    toward_bend_target,
)
from rigkit.require import RigError
from rigkit.solvers import closed_form, cyclic_descent, damped_least_squares, fabrik, moved_by_attaching
from rigkit.two_bone import BLOCK, STATES, STUCK, TOO_FAR, TOO_NEAR, solve_two_bone, solve_two_bones

WORST = 1e-14  # limb lengths: a few dozen last digits of a double
SEEDS = st.integers(0, 10**6)


def some_limbs(seed: int, count: int):
    """Limbs of every kind: roots, lengths, targets, sides; a third at a limit of their reach, beyond it or in line."""
    rng = np.random.default_rng(seed)
    roots, ways = rng.normal(size=(2, count, 3))
    ways /= np.linalg.norm(ways, axis=1, keepdims=True)
    lengths = rng.uniform(0.05, 1.0, (count, 2))
    lengths[::7, 1] = lengths[::7, 0]
    far, near = lengths.sum(axis=1), np.abs(lengths[:, 0] - lengths[:, 1])
    kind = rng.integers(0, 12, count)
    share = np.where(kind == 0, 0.0, np.where(kind == 1, 1.0, rng.uniform(size=count)))
    gaps = near + (far - near) * share
    gaps = np.select([kind == 2, kind == 3, kind == 4], [1.5 * far, 0.5 * near, 0.0 * far], gaps)
    sides = rng.normal(size=(count, 3))
    sides[kind == 5] = ways[kind == 5]
    sides[kind == 6] = ways[kind == 6] + 1e-6 * sides[kind == 6]
    sides[kind == 7] = 0.0
    return roots, lengths, roots + gaps[:, None] * ways, sides


@given(SEEDS)
def test_many_limbs_are_each_as_one_alone(seed):
    roots, lengths, targets, sides = some_limbs(seed, 24)
    many = solve_two_bones(roots, lengths, targets, sides)
    for i in range(24):
        one = solve_two_bone(roots[i], lengths[i], targets[i], sides[i])
        assert one.state == STATES[many.states[i]]
        # A target at its limit leaves the middle free by the root of the last digit.
        assert np.allclose(one.middle, many.middles[i], rtol=0, atol=1e-7)
        assert np.allclose(one.end, many.ends[i], rtol=0, atol=1e-14)


@given(SEEDS)
def test_bones_keep_their_lengths_and_ends_meet_targets_to_the_last_digits(seed):
    roots, lengths, targets, sides = some_limbs(seed, 2000)
    poses = solve_two_bones(roots, lengths, targets, sides)
    far, near, gap = lengths.sum(axis=1), np.abs(np.subtract(*lengths.T)), np.linalg.norm(targets - roots, axis=1)
    upper, lower = poses.middles - roots, poses.ends - poses.middles
    size = far + np.abs(roots).max(axis=1)  # places are doubles too: their own last digit counts
    for bone, meant in ((upper, lengths[:, 0]), (lower, lengths[:, 1])):
        assert np.max(np.abs(np.linalg.norm(bone, axis=1) - meant) / size) < WORST
    stuck = poses.states == STATES.index(STUCK)
    short = np.where(stuck, far - gap, np.maximum(np.maximum(gap - far, near - gap), 0.0))
    assert np.max(np.abs(np.linalg.norm(poses.ends - targets, axis=1) - short) / np.maximum(size, gap)) < WORST
    assert np.array_equal(poses.states == STATES.index(TOO_FAR), gap > far * (1 + 1e-12))
    assert np.array_equal(poses.states == STATES.index(TOO_NEAR), gap < near - far * 1e-12)
    bent = ~stuck & (poses.states == 0) & (gap > near + 1e-6) & (gap < far - 1e-6)
    off = upper - (np.sum(upper * (targets - roots), axis=1) / np.where(gap > 0, gap, 1) ** 2)[:, None] * (
        targets - roots
    )
    assert np.all(np.sum(off * sides, axis=1)[bent] > 0)


def test_a_side_that_hardly_leaves_the_line_costs_no_digits():
    """Slanted by a microradian, a side taken off the line once would leave bones wrong by 1e-10."""
    rng = np.random.default_rng(4)
    targets = rng.normal(size=(500, 3))
    targets *= (rng.uniform(0.1, 0.5, 500) / np.linalg.norm(targets, axis=1))[:, None]
    for slant in (1e-2, 1e-4, 1e-6, 1e-7):
        poses = solve_two_bones([0, 0, 0], (0.3, 0.25), targets, targets + slant * rng.normal(size=(500, 3)))
        assert np.all(poses.states == 0)
        assert np.abs(np.linalg.norm(poses.middles, axis=1) - 0.3).max() < 0.55 * WORST
        assert np.abs(np.linalg.norm(poses.middles - targets, axis=1) - 0.25).max() < 0.55 * WORST


def test_shapes_broadcast_and_blocks_join_without_a_seam():
    count = BLOCK + 3
    roots, lengths, targets, sides = some_limbs(11, count)
    whole = solve_two_bones(roots, lengths, targets, sides)
    parts = [solve_two_bones(*(array[piece] for array in (roots, lengths, targets, sides)))
             for piece in (slice(0, BLOCK - 5), slice(BLOCK - 5, None))]  # fmt: skip
    for name in ("middles", "ends", "states"):
        assert np.array_equal(getattr(whole, name), np.concatenate([getattr(part, name) for part in parts]))
        assert not getattr(whole, name).flags.writeable
    grid = solve_two_bones(roots[:4, None], (0.3, 0.25), roots[None, :5] + [0.2, 0.2, 0.1], sides[0])
    assert grid.middles.shape == (4, 5, 3) and grid.states.shape == (4, 5)
    one = solve_two_bones(roots[2], (0.3, 0.25), roots[3] + [0.2, 0.2, 0.1], sides[0])
    assert np.array_equal(grid.middles[2, 3], one.middles) and one.states.shape == ()
    assert solve_two_bones([0, 0, 0], (1, 1), np.zeros((0, 3)), [0, 1, 0]).middles.shape == (0, 3)


@pytest.mark.parametrize(
    "given_, words",
    [
        (([0, 0, 0], (0.3, 0.0), [[1, 0, 0]], [0, 1, 0]), "two joints coincide"),
        (([0, 0, 0], (0.3, 0.25, 1), [[1, 0, 0]], [0, 1, 0]), "the lengths of two bones"),
        (([0, 0, 0], (0.3, 0.25), [[1, np.nan, 0]], [0, 1, 0]), "NaN"),
        (([0, 0, 0], (0.3, np.inf), [[1, 0, 0]], [0, 1, 0]), "infinity"),
        (([0, 0, 0], (0.3, 0.25), [[1, 0, 0], [0, 0, 2e5]], [0, 1, 0]), "within 100000 m"),
        (([0, 0, 0], (0.3, 0.25), [[1, 0], [0, 0]], [0, 1, 0]), "rows of 3 numbers"),
        (([[0, 0, 0]] * 3, (0.3, 0.25), [[1, 0, 0]] * 2, [0, 1, 0]), "go together"),
        (([0, 0, 0], (0.3, 0.25), "here", [0, 1, 0]), "rows of 3 numbers"),
    ],
)
def test_what_cannot_be_solved_is_refused_in_words(given_, words):
    with pytest.raises(RigError, match=words):
        solve_two_bones(*given_)


@given(SEEDS)
def test_a_bend_target_gives_a_side_in_its_plane_square_to_the_line(seed):
    rng = np.random.default_rng(seed)
    root, target, bend_target = rng.normal(size=(3, 3))
    side, line = toward_bend_target(root, target, bend_target), target - root
    assert np.linalg.norm(side) == pytest.approx(1.0, abs=1e-12) and abs(side @ line) < 1e-12 * np.linalg.norm(line)
    assert abs(np.linalg.det([side, line, bend_target - root])) < 1e-12 and side @ (bend_target - root) > 0
    assert np.array_equal(toward_bend_target(root, target, root + 0.7 * (target - root)), np.zeros(3))
    pose = solve_two_bone(root, (0.3, 0.25), root + 0.4 * line / np.linalg.norm(line), side)
    assert abs((pose.middle - root) @ np.cross(line, bend_target - root)) < 1e-12


def swing(past: float, steps: int) -> np.ndarray:
    """Targets 0.4 m from the origin that swing by in front of a bend target at [0, 0, -1], so many radians beside it."""
    turn = np.linspace(-0.6, 0.6, steps)
    return 0.4 * np.column_stack(
        [np.full(steps, np.sin(past)), np.sin(turn) * np.cos(past), -np.cos(turn) * np.cos(past)]
    )


def test_a_target_that_passes_the_line_of_sight_to_the_bend_target_flips_the_limb():
    root, bend_target = np.zeros(3), np.array([0.0, 0, -1])
    through = swing(0.0, 10)  # an even number: no target on the very line
    turns = side_turns(root, through, bend_target)
    assert turns[4] == pytest.approx(np.pi, abs=1e-9) and np.delete(turns, 4).max() < 1e-9
    middles = solve_two_bones(root, (0.3, 0.25), through, toward_bend_target(root, through, bend_target)).middles
    jumps = np.linalg.norm(np.diff(middles, axis=0), axis=1)
    assert jumps[4] > 2.5 * np.delete(jumps, 4).max()  # the elbow jumps across while the hand goes on evenly
    on_it = np.array([0.0, 0, -0.4])
    assert solve_two_bone(root, (0.3, 0.25), on_it, toward_bend_target(root, on_it, bend_target)).state == STUCK


@pytest.mark.parametrize("stay", [1, 2, 5])
def test_a_target_that_stops_on_the_line_of_sight_hides_no_half_turn(stay):
    """On the line nothing tells the side; the first step that tells it again is compared with the last that did."""
    root, bend_target = np.zeros(3), np.array([0.0, 0, -1])
    path = swing(0.0, 11)
    path[5] = [0, 0, -0.4]
    path = np.insert(path, [5] * (stay - 1), path[5], axis=0)
    turns = side_turns(root, path, bend_target)
    assert turns[4 + stay] == pytest.approx(np.pi, abs=1e-9) and np.delete(turns, 4 + stay).max() < 1e-9
    back = np.vstack([path[:6], path[4::-1]])  # back on the side that it came from: no half turn
    assert side_turns(root, back, bend_target).max() < 1e-9
    aside = np.vstack([path[:6], [[0.3, 0, -0.3]]])  # and off at a right angle: a quarter
    assert side_turns(root, aside, bend_target)[[-2, -1]] == pytest.approx([0, np.pi / 2], abs=1e-9)
    through_root = np.vstack([path[:5], np.zeros((2, 3)), path[4::-1]])
    assert side_turns(root, through_root, bend_target).max() < 1e-9
    through_root = np.vstack([path[:1], np.zeros((2, 3)), path[4:5]])  # and on along another line in the same plane
    assert side_turns(root, through_root, bend_target).max() < 1e-9
    untold = np.vstack([path[5], path[6:]])  # nothing before it to compare with
    assert side_turns(root, untold, bend_target).max() < 1e-9
    for few in (0, 1):
        assert side_turns(root, np.zeros((few, 3)), bend_target).shape == (0,)


def test_a_path_is_rows_of_numbers():
    for path in ([[0, np.nan, 1]] * 2, [0, 0, 1]):
        with pytest.raises(RigError, match="a moving target"):
            side_turns([0, 0, 0], path, [0, 0, -1])
    for bad in range(3):
        arrows = np.ones((3, 2, 3))
        arrows[bad, 1, 2] = np.nan
        with pytest.raises(RigError, match="arrows to be carried: expected finite numbers"):
            carried(*arrows)


@pytest.mark.parametrize("past", [0.3, 0.1, 0.01, -0.01])
def test_near_the_line_of_sight_the_limb_turns_as_far_only_not_at_once(past):
    """Beside the line of sight the same half turn is spread over some steps; the nearer, the quicker."""
    root, bend_target = np.zeros(3), np.array([0.0, 0, -1])
    turns = side_turns(root, swing(past, 20001), bend_target)
    at_once = np.degrees(turns.max())
    assert at_once == pytest.approx(np.degrees(0.6 / 10000 / abs(past)), rel=0.1)
    assert 2.0 * np.arctan(0.6 / abs(past)) - 0.3 < turns.sum() < np.pi
    assert np.degrees(side_turns(root, swing(1.2, 2001), bend_target).sum()) < 30  # far from it hardly at all


@given(SEEDS)
def test_carrying_keeps_lengths_and_takes_start_to_end_and_back(seed):
    rng = np.random.default_rng(seed)
    arrow, start, end = rng.normal(size=(3, 5, 3))
    start, end = (x / np.linalg.norm(x, axis=1, keepdims=True) for x in (start, end))
    end[0], end[1] = start[0], -start[1]
    there = carried(arrow, start, end)
    assert np.allclose(np.linalg.norm(there, axis=1), np.linalg.norm(arrow, axis=1), atol=1e-12)
    assert np.allclose(carried(start, start, end), end, atol=1e-12)
    assert np.allclose(carried(there, end, start), arrow, atol=1e-9)


def zigzag(*offsets: float) -> np.ndarray:
    """A chain down -y whose inner joints lie so far towards +z of the line of their neighbours, each 0.3 m on."""
    chain = [np.zeros(3), np.array([0.0, -0.3, offsets[0]])]
    for off in offsets:  # joint, then the place that leaves it `off` from the middle of its neighbours
        chain.append(2 * (chain[-1] - [0, 0, off]) - chain[-2])
    return np.array(chain)


BACK, FORWARD = [0.0, 0, -1], [0.0, 0, 1]


@pytest.mark.parametrize(
    "chain, aways, verdicts",
    [
        (zigzag(-0.02), BACK, [RIGHT]),  # an elbow
        (zigzag(0.02), [FORWARD], [RIGHT]),  # a knee
        (zigzag(0.03, -0.04), [FORWARD, BACK], [RIGHT, RIGHT]),  # toe-walker: knee forward, ankle back
        (zigzag(0.03, -0.04), [FORWARD, FORWARD], [RIGHT, WRONG]),  # the same taken for a backward knee
        (zigzag(-0.03, 0.0005, -0.04), [BACK, FORWARD, BACK], [RIGHT, STRAIGHT, RIGHT]),
        (0.1 * zigzag(-0.03, -0.02, -0.03), BACK, [RIGHT, RIGHT, RIGHT]),  # a finger: knuckles towards its back
        (0.1 * zigzag(-0.03, 0.02, -0.03), BACK, [RIGHT, WRONG, RIGHT]),
    ],
)
def test_the_verdict_for_any_chain(chain, aways, verdicts):
    assert [bend.verdict for bend in chain_bends(chain, aways)] == verdicts
    other = {RIGHT: WRONG, WRONG: RIGHT, STRAIGHT: STRAIGHT}
    mirrored = chain * [1, 1, -1]
    assert [bend.verdict for bend in chain_bends(mirrored, aways)] == [other[verdict] for verdict in verdicts]


@given(SEEDS, st.integers(3, 7))
def test_a_chain_is_judged_joint_by_joint_wherever_it_stands(seed, joints):
    rng = np.random.default_rng(seed)
    chain, aways = np.cumsum(rng.normal(size=(joints, 3)), axis=0), rng.normal(size=(joints - 2, 3))
    bends = chain_bends(chain, aways)
    assert bends == tuple(rest_bend(*chain[j : j + 3], away=aways[j]) for j in range(joints - 2))
    moved = Frame(rotation_about(rng.normal(size=3), rng.uniform(0, 3)), rng.uniform(-5, 5, 3))
    again = chain_bends(moved @ chain, aways @ moved.rotation.T)
    assert [b.along for b in again] == pytest.approx([b.along for b in bends], abs=1e-9)
    hinges = chain_hinges(chain, aways)
    assert not hinges[0].any() and np.allclose(np.linalg.norm(hinges[1:], axis=1), 1.0)
    bones = np.diff(chain, axis=0)
    for hinge, upper, lower, bend in zip(hinges[1:], bones[:-1], bones[1:], bends, strict=True):
        if bend.verdict != STRAIGHT:
            assert abs(hinge @ upper) < 1e-9 and abs(hinge @ lower) < 1e-9
            # A positive turn folds it further where it is bent the right way.
            assert (np.cross(upper, lower) @ hinge > 0) == (bend.verdict == RIGHT)


def test_a_chain_without_inner_joints_or_with_too_few_directions_is_refused():
    for chain, aways in ((zigzag(0.02)[:2], BACK), (zigzag(0.02, 0.02), [BACK]), (zigzag(0.02), [[BACK]])):
        with pytest.raises(RigError, match="a fold direction for each inner one"):
            chain_bends(chain, aways)


def a_finger(seed: int, joints: int = 4):
    """Rests (20, joints, 3) of chains with hinges of every kind, and targets within their reach."""
    rng = np.random.default_rng(seed)
    rests = np.cumsum(rng.uniform(-0.3, 0.3, (20, joints, 3)), axis=1)
    hinges = rng.normal(size=(20, joints - 1, 3))
    hinges /= np.linalg.norm(hinges, axis=2, keepdims=True)
    hinges[rng.uniform(size=(20, joints - 1)) < 0.3] = 0.0
    for i, rest in enumerate(rests[:10]):  # half of them as a rigger has them: square to their bones
        hinges[i] = chain_hinges(rest, rng.normal(size=(joints - 2, 3)))
    return rests, hinges, rests[:, 0] + rng.uniform(-0.3, 0.3, (20, 3))


def shape_of_links(places: np.ndarray, hinges: np.ndarray) -> np.ndarray:
    """What no hinge can change: lengths and angles among each bone, its upper and its lower hinge, and their turn."""
    bones = np.diff(places, axis=1)
    free = np.any(hinges != 0.0, axis=2)
    links = np.stack([bones[:, :-1], hinges[:, :-1], hinges[:, 1:]], axis=2)
    links[:, :, 1:] *= (free[:, :-1] & free[:, 1:])[:, :, None, None]
    grams = links @ np.swapaxes(links, -1, -2)
    own = np.sum(bones * hinges, axis=2)  # a hinge's angle to the bone below it
    above = np.sum(bones[:, :-1] * hinges[:, 1:], axis=2)
    return np.concatenate([x.reshape(len(places), -1) for x in (grams, np.linalg.det(links), own, above)], axis=1)


LIMITED = {  # a few steps each, for whether they arrive or not they must keep their hinges
    "cyclic descent": lambda p, t, h: cyclic_descent(p, t, h, most=12),
    "damped least squares": lambda p, t, h: damped_least_squares(p, t, h, most=12),
    "with limits": lambda p, t, h: damped_least_squares(p, t, h, (0.0, 2.5), most=12),
}


@pytest.mark.parametrize("solver", LIMITED.values(), ids=LIMITED)
@given(SEEDS)
def test_hinges_stay_hinges(solver, seed):
    """Every bone keeps its angles to the hinges at both its ends, and those their twist against each other."""
    rests, hinges, targets = a_finger(seed)
    solved = solver(rests, targets, hinges)
    before, after = shape_of_links(rests, hinges), shape_of_links(solved.positions, solved.hinges)
    assert np.abs(after - before).max() < 1e-11
    square = chain_hinges(rests[0], rests[0, 1:-1] - rests[0, :1])
    one = solver(rests[0], targets[0], square)
    bones = np.diff(one.positions, axis=0)
    assert np.abs(np.sum(bones[1:] * one.hinges[1:], axis=1)).max() < 1e-12
    assert np.abs(np.sum(bones[:-1] * one.hinges[1:], axis=1)).max() < 1e-12


@given(SEEDS)
def test_an_aimed_flat_chain_stays_flat_so_its_hinges_stay_hinges(seed):
    rng = np.random.default_rng(seed)
    flat = np.cumsum(rng.uniform(-0.3, 0.3, (5, 3)), axis=0) * [0, 1, 1]
    rest = flat @ rotation_about(rng.normal(size=3), rng.uniform(0, 3)).T
    solved = fabrik(rest, rest[0] + rng.uniform(-0.3, 0.3, 3), aimed=True)
    assert np.linalg.svd(solved.positions - solved.positions[0])[1][2] < 1e-11


@given(SEEDS, st.booleans())
def test_hinge_limits_are_kept_and_no_rest_can_fold_the_wrong_way(seed, wrong):
    rng = np.random.default_rng(seed)
    offsets = rng.uniform(0.002, 0.03, 3) * (1 if wrong else -1)
    finger = 0.1 * zigzag(*offsets)
    hinges = chain_hinges(finger, BACK)
    targets = finger[0] + rng.uniform(-0.1, 0.1, (12, 3)) + [0, -0.05, 0.03]
    solved = damped_least_squares(finger, targets, hinges, (0.0, 2.0), most=40)
    bones = np.diff(solved.positions, axis=1)
    upper, lower, axis = bones[:, :-1], bones[:, 1:], solved.hinges[:, 1:]
    flexion = np.arctan2(np.sum(np.cross(upper, lower) * axis, axis=2), np.sum(upper * lower, axis=2))
    assert flexion.min() > -1e-9 and flexion.max() < 2.0 + 1e-9


EVERY = {
    "closed form": (closed_form, 3),
    "FABRIK": (fabrik, 5),
    "aimed FABRIK": (lambda p, t: fabrik(p, t, aimed=True), 5),
    "cyclic descent": (cyclic_descent, 5),
    "damped least squares": (lambda p, t: damped_least_squares(p, t, chain_hinges(p, [0.3, 0.2, -1])), 4),
    "with limits": (lambda p, t: damped_least_squares(p, t, chain_hinges(p, [0.3, 0.2, -1]), (0.0, 2.0)), 4),
}
LAST_DIGIT = 2e-8  # limb lengths: on a straight limb the root of a double's last digit is free sideways


@pytest.mark.parametrize("solver, joints", EVERY.values(), ids=EVERY)
@given(SEEDS, st.sampled_from([0.0, 1e-12, 1e-9, 1e-6, 1e-3, 0.03, 0.3]))
def test_attaching_never_moves_the_rest(solver, joints, seed, bend):
    """Straight, bent either way by any amount, folded: with the target where the end is, nothing moves or turns."""
    rng = np.random.default_rng(seed)
    rest = np.arange(joints)[:, None] * np.array([0.0, -0.3, 0]) * rng.uniform(0.7, 1.3)
    rest = rest + bend * rng.normal(size=(joints, 3)) + rng.normal(size=3)
    metres, radians = moved_by_attaching(solver, rest)
    allowed = LAST_DIGIT if bend < 1e-3 else 1e-11
    assert 1000 * metres < 1000 * allowed and np.degrees(radians) < np.degrees(4 * allowed)


def test_attaching_is_measured_where_it_does_move():
    """A solver that knows no rest moves it: the measure must see that, in metres and radians."""

    def careless(positions, targets):
        return fabrik(np.asarray(positions) @ np.diag([1.0, 1, -1]), targets)

    metres, radians = moved_by_attaching(careless, zigzag(-0.03))
    assert metres == pytest.approx(0.06, abs=1e-4) and radians == pytest.approx(2 * np.arctan(0.1), abs=1e-3)


@given(SEEDS)
def test_a_bend_target_moves_the_rest_by_as_much_as_it_lies_out_of_its_plane(seed):
    """The middle swings about the line by the angle at which the bend target stands off the rest's plane: a chord."""
    rng = np.random.default_rng(seed)
    frame = Frame(rotation_about(rng.normal(size=3), rng.uniform(0, 3)), rng.uniform(-1, 1, 3))
    off, turn = rng.uniform(0.005, 0.1), rng.uniform(-3.1, 3.1)
    rest = frame @ np.array([[0, 0, 0], [0, -0.3, -off], [0, -0.55, 0]])
    pull = frame @ np.array([np.sin(turn), rng.uniform(-1, 1), -np.cos(turn)])
    metres, radians = moved_by_attaching(closed_form, rest, pull)
    chord = 2 * off * abs(np.sin(turn / 2))
    lower = 2 * np.arcsin(chord / 2 / np.hypot(0.25, off))  # the shorter bone turns the more
    assert metres == pytest.approx(chord, abs=1e-12) and radians == pytest.approx(lower, abs=1e-10)
    in_plane = frame @ np.array([0, rng.uniform(-1, 1), -1.0])
    assert moved_by_attaching(closed_form, [rest, rest], [in_plane, pull])[0] == pytest.approx([0, chord], abs=1e-12)


def test_a_bend_target_is_for_the_closed_form_alone():
    rests = [zigzag(-0.03)] * 3
    for solver, pulls, words in (
        (fabrik, [0, 0, -1], "the closed form, which alone takes a bend target"),
        (closed_form, [[0, 0, -1]] * 2, "one bend target, or one for each chain"),
        (closed_form, [0, 0, np.nan], "a bend target: expected finite numbers"),
    ):
        with pytest.raises(RigError, match=words):
            moved_by_attaching(solver, rests, pulls)
