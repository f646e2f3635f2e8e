"""Two-bone solves: a million at once beside a bare closed form, and one by one beside other libraries' solvers."""

import time
import warnings
from collections.abc import Callable

import ikpy.chain
import ikpy.link
import modern_robotics as mr
import numpy as np
from scipy.optimize import least_squares
from scipy.spatial.transform import Rotation

from rigkit.two_bone import solve_two_bone, solve_two_bones

MANY, FEW = 1_000_000, 200
UPPER, LOWER = 0.30, 0.25
SHOULDER, BACK = np.array([0.17, 1.43, 0.0]), np.array([0.0, 0.0, -1.0])


def goals(count: int, seed: int = 1) -> np.ndarray:
    """Targets all over the arm's reach, in the shoulder's frame."""
    rng = np.random.default_rng(seed)
    ways = rng.normal(size=(count, 3))
    return ways * (rng.uniform(0.06, 0.54, count) / np.sqrt(np.einsum("ij,ij->i", ways, ways)))[:, None]


def bare(root: np.ndarray, targets: np.ndarray, toward: np.ndarray) -> np.ndarray:
    """The closed form and nothing else: no checks, no limits, one side for all. Middles (n, 3)."""
    arrow = targets - root
    gap = np.sqrt(np.einsum("ij,ij->i", arrow, arrow))
    line = arrow / gap[:, None]
    side = toward - (line @ toward)[:, None] * line
    side /= np.sqrt(np.einsum("ij,ij->i", side, side))[:, None]
    along = (gap * gap + (UPPER**2 - LOWER**2)) / (2 * gap)
    height = np.sqrt(UPPER**2 - along * along)
    return root + along[:, None] * line + height[:, None] * side


def bare_in_blocks(root: np.ndarray, targets: np.ndarray, toward: np.ndarray, size: int = 16384) -> np.ndarray:
    """The same bare form on columns that fit the cache: what can be had from numpy without any check."""
    middles = np.empty_like(targets)
    (a, b, c), (i, j, k) = root, toward
    for first in range(0, len(targets), size):
        x, y, z = np.subtract(targets[first : first + size].T, root[:, None], order="C")
        gap = x * x + y * y + z * z
        share = (i * x + j * y + k * z) / gap
        u, v, w = i - share * x, j - share * y, k - share * z
        along = 0.5 + (0.5 * (UPPER**2 - LOWER**2)) / gap
        high = np.sqrt((UPPER**2 - along * along * gap) / (u * u + v * v + w * w))
        out = middles[first : first + size].T
        out[0], out[1], out[2] = a + along * x + high * u, b + along * y + high * v, c + along * z + high * w
    return middles


def worst(middles: np.ndarray, ends: np.ndarray, targets: np.ndarray) -> float:
    """The largest error of a bone's length or an end's place, in limb lengths."""
    off = (np.linalg.norm(middles - SHOULDER, axis=1) - UPPER, np.linalg.norm(ends - middles, axis=1) - LOWER,
           np.linalg.norm(ends - targets, axis=1))  # fmt: skip
    return max(float(np.abs(one).max()) for one in off) / (UPPER + LOWER)


def laid(root: np.ndarray, middles: np.ndarray, ends: np.ndarray) -> np.ndarray:
    """Where the ends (n, 3) come to when bones of their true lengths are laid the way that solved limbs point."""
    upper, lower = middles - root, ends - middles
    upper *= UPPER / np.linalg.norm(upper, axis=1, keepdims=True)
    return root + upper + lower * (LOWER / np.linalg.norm(lower, axis=1, keepdims=True))


def best(work: Callable[[], object], times: int) -> float:
    """Seconds that the quickest of some runs took."""
    spent = []
    for _ in range(times):
        start = time.perf_counter()
        work()
        spent.append(time.perf_counter() - start)
    return min(spent)


def single_solvers() -> dict[str, tuple[Callable[[np.ndarray], np.ndarray], int]]:
    """Name -> a solve of one target in the shoulder's frame that gives the end (3,), and on how many targets to run it."""
    start = np.radians(10)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        link = ikpy.link.URDFLink
        chain = ikpy.chain.Chain(
            [ikpy.link.OriginLink()]
            + [link(name, [0, 0, 0], [0, 0, 0], axis) for name, axis in zip("zxy", np.eye(3)[[2, 0, 1]], strict=True)]
            + [link("elbow", [0, -UPPER, 0], [0] * 3, [-1, 0, 0]), link("wrist", [0, -LOWER, 0], [0] * 3, [0, 0, 0])],
            active_links_mask=[False, True, True, True, True, False],
        )

    def with_ikpy(goal: np.ndarray) -> np.ndarray:
        return chain.forward_kinematics(chain.inverse_kinematics(goal, initial_position=[0, 0, 0, 0, start, 0]))[:3, 3]

    def hand(turns: np.ndarray) -> np.ndarray:
        lower = LOWER * np.array([0, -np.cos(turns[3]), np.sin(turns[3])])
        return Rotation.from_rotvec(turns[:3]).apply(lower - [0, UPPER, 0])

    def with_scipy(goal: np.ndarray) -> np.ndarray:
        return hand(least_squares(lambda turns: hand(turns) - goal, [0, 0, 0, start]).x)

    screws = np.array([[0, 0, 1, 0, 0, 0], [1, 0, 0, 0, 0, 0], [0, 1, 0, 0, 0, 0],
                       [-1, 0, 0, *-np.cross([-1, 0, 0], [0, -UPPER, 0])]], dtype=float).T  # fmt: skip
    home = np.eye(4)
    home[:3, 3] = [0, -UPPER - LOWER, 0]

    def with_modern_robotics(goal: np.ndarray) -> np.ndarray:
        # It wants a whole pose: scipy's answer, untimed, tells the hand's turn; started 0.1 rad off in each joint.
        angles = np.array(poses[goal.tobytes()])
        return mr.FKinSpace(
            home, screws, mr.IKinSpace(screws, home, mr.FKinSpace(home, screws, angles), angles + 0.1, 1e-6, 1e-6)[0]
        )[:3, 3]

    poses = {}
    for goal in goals(FEW):
        turns = least_squares(
            lambda turns, goal=goal: hand(turns) - goal, [0, 0, 0, start], xtol=1e-12, ftol=1e-12, gtol=1e-12
        ).x
        poses[goal.tobytes()] = (*Rotation.from_rotvec(turns[:3]).as_euler("ZXY"), turns[3])
    return {
        "ikpy": (with_ikpy, FEW),
        "scipy least_squares": (with_scipy, FEW),
        "modern-robotics IKinSpace": (with_modern_robotics, FEW),
    }


def rows() -> list[tuple[str, ...]]:
    """Rows: what, rigkit, beside it, ratio, worst error."""
    targets = goals(MANY) + SHOULDER
    mine, table = (lambda: solve_two_bones(SHOULDER, (UPPER, LOWER), targets, BACK)), []
    peers = {"bare closed form": bare, "bare, in blocks": bare_in_blocks}
    spent = {name: np.inf for name in ("mine", *peers)}
    for _ in range(7):  # in turn, so that all meet the same neighbours on the machine
        spent["mine"] = min(spent["mine"], best(mine, 1))
        for name, peer in peers.items():
            spent[name] = min(spent[name], best(lambda peer=peer: peer(SHOULDER, targets, BACK), 1))
    poses = mine()
    rate = MANY / spent["mine"] / 1e6
    for name, peer in peers.items():
        off = worst(peer(SHOULDER, targets, BACK), targets, targets)
        table.append(("two-bone, a million at once", f"{rate:.1f} M solves/s", f"{name} {MANY / spent[name] / 1e6:.1f} M solves/s",
                      f"{spent[name] / spent['mine']:.2f} of its speed",
                      f"{worst(poses.middles, poses.ends, targets):.0e} limb lengths at worst (bare {off:.0e})"))  # fmt: skip
    few = goals(FEW)
    alone = best(lambda: [solve_two_bone(np.zeros(3), (UPPER, LOWER), goal, BACK) for goal in few], 5) / FEW
    solved = [solve_two_bone(np.zeros(3), (UPPER, LOWER), goal, BACK) for goal in few]
    # The solve hands back the target as the end that it reached, so its bones are laid anew, as the others' are.
    ends = laid(np.zeros(3), np.array([one.middle for one in solved]), np.array([one.end for one in solved]))
    for name, (solve, count) in single_solvers().items():
        start = time.perf_counter()
        theirs = np.array([solve(goal) for goal in few[:count]])
        spent[name] = (time.perf_counter() - start) / count
        missed = (np.linalg.norm(x - few[:count], axis=1) for x in (ends[:count], theirs))
        table.append(("two-bone, one by one", f"{1 / alone / 1e3:.0f} k solves/s", f"{name} {1 / spent[name]:.0f} solves/s",
                      f"{spent[name] / alone:.0f} times as fast", "{:.0e} m and {:.0e} m off at worst".format(*(x.max() for x in missed))))  # fmt: skip
    return table
