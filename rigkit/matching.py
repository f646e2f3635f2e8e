"""Which handed-in joint is which: roles to joint numbers, by place and tree together; names only break near-ties.

What is looked for is the assignment of least doubt: for each role the square of its joint's distance, in lengths of the
way to the nearest other role; a price for each link of the tree that does not hold; a price for each role left empty.
A tree and an assignment at once have no quick exact answer, so several beginnings (by place, by tree, by name) are each
improved by linear assignments (Kuhn 1955, in scipy) until none helps, and the best one counts.
"""

import fnmatch
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from rigkit.files.exercise import Exercise
from rigkit.frames import mirror_matrix
from rigkit.skeleton import Skeleton

REACH = 1.1  # of the way to the nearest other role: so far a joint is looked for by place, beyond it by the tree alone
IN_PLACE = 0.12  # the same, for a joint whose name says that it was not asked for: 40 mm at an arm's shoulder
AT_HOME = 0.5  # the same: where each role's name lies so near, and all hang rightly, there is nothing to look for
FARTHEST = 1.5  # no distance is doubted more than this: which of two far joints is meant, the tree says
FARTHER = 1e-6  # but by this, by the distance: so that of two alike it is not the first in the file
BROKEN = 0.6  # a link that does not hold; two joints in each other's places break three and are 2.0 off
NAMED = 0.15  # a name that is not the role's
EMPTY = 2.0  # a role without a joint, while a joint is left without a role
ELSEWHERE = 0.35  # of the limb: where all joints lie further off than this, no role was found
OTHER_SIDE = 0.5  # nearer to the mirrored places than to the asked ones, by half
ROUNDS = 8  # of improving; two or three are common
NEVER = 1e6


@dataclass(frozen=True)
class Match:
    """`joints` gives each role its joint's number (roles that were not found are left out); `others` are the rest.

    `ignored` are those of the others whose name fits one of the exercise's patterns.
    """

    joints: Mapping[str, int]
    others: tuple[int, ...]
    ignored: frozenset[int]


def match(skeleton: Skeleton, exercise: Exercise) -> Match:
    """Match the joints of a hand-in to the roles of an exercise.

    Joints that fit an `ignored` pattern by name stand aside, but where one lies in a role's place and none does better,
    it is that joint under a wrong name. A limb laid in the other side's place, or elsewhere, is none here.
    """
    search = _Search(skeleton, exercise)
    best = search.best()
    found = {role: int(joint) for role, joint in zip(search.roles, best, strict=True) if joint >= 0}
    if search.elsewhere(best):
        found = {}
    others = tuple(sorted({*range(len(skeleton))} - {*found.values()}))
    return Match(found, others, frozenset(i for i in others if search.aside[i]))


class _Asked:
    """What a search takes from the exercise alone. Of each role: the number of the role above it, those below it, its
    middle and where the other side's would be, the way to the nearest other one, and its right name; how long the limb
    is; what names stand aside."""

    def __init__(self, exercise: Exercise):
        asked = [joint for joint in exercise.joints if joint.need != "ignored"]
        self.roles = [joint.role for joint in asked]
        number = {role: i for i, role in enumerate(self.roles)}
        self.above = [number.get(joint.parent or "", -1) for joint in asked]
        self.below = [[k for k, above in enumerate(self.above) if above == i] for i in range(len(asked))]
        self.middles = np.array([joint.middle for joint in asked])
        self.other_side = None if exercise.side == "middle" else self.middles @ mirror_matrix(exercise.body[0])
        gaps = np.linalg.norm(self.middles[:, None] - self.middles[None], axis=2)
        self.limb = max(float(gaps.max()), 1e-6) if len(asked) > 1 else max(4 * (asked[0].radius or 0.05), 1e-6)
        nearest = np.where(gaps > 0, gaps, np.inf).min(axis=1)
        self.near = np.where(np.isfinite(nearest), nearest, self.limb)[:, None]
        self.right = [exercise.naming.name_for(role, exercise.side_of(role)) for role in self.roles]
        self.ignored = re.compile("|".join(fnmatch.translate(one.lower()) for one in exercise.ignored) or "(?!)")


_asked = lru_cache(maxsize=8)(_Asked)  # no hand-in goes in


class _Search:
    """One hand-in and the roles of its exercise; an assignment is an array (roles,) of joint numbers, -1 for none."""

    def __init__(self, skeleton: Skeleton, exercise: Exercise):
        asked = self.asked = _asked(exercise)
        self.positions = skeleton.positions
        self.roles, self.above, self.below, self.limb = asked.roles, asked.above, asked.below, asked.limb
        self.parents = [-1 if parent is None else parent for parent in skeleton.parents]
        self.children: list[list[int]] = [[] for _ in (*self.parents, -1)]  # the last: of none, the topmost
        for i, parent in enumerate(self.parents):
            self.children[parent].append(i)
        self.aside = np.array([bool(asked.ignored.match(name.lower())) for name in skeleton.names])
        self.away = np.linalg.norm(asked.middles[:, None] - self.positions[None], axis=2)
        share = self.away / asked.near
        self.within = share <= np.where(self.aside, IN_PLACE, REACH)
        self.named = np.array([[name == one for name in skeleton.names] for one in asked.right])
        self.place = np.minimum(share**2, FARTHEST + FARTHER * share) + NAMED * ~self.named
        self.place[:, self.aside] += NAMED
        self.place[:, self.aside & ~self.within.any(axis=0)] = NEVER
        self.place[(share > IN_PLACE) & self.aside] = NEVER

    def best(self) -> np.ndarray:
        """The assignment of least doubt."""
        named = np.where(self.named.sum(axis=1) == 1, self.named.argmax(axis=1), -1)
        places = self.place[np.arange(len(named)), named]
        if np.all(named >= 0) and np.all(places <= AT_HOME**2) and not any(self._broken(named)):
            return named
        nearest, least = self.place.argmin(axis=1), self.place.min(axis=1, keepdims=True)
        alone = len({*nearest.tolist()}) == len(nearest) == np.count_nonzero(self.place == least)
        if alone and np.all(self.within[np.arange(len(nearest)), nearest]) and not any(self._broken(nearest)):
            return nearest  # each role's least, links and all: nothing leaves less doubt
        starts = [np.full(len(self.roles), -1), named]
        if self.place.size <= 4000:  # a figure of 180 joints, of which a hand is asked
            starts.append(self._by_tree())
        different = {tuple(start.tolist()): start for start in starts}.values()
        return min((self._improved(start) for start in different), key=self.doubt)

    def doubt(self, taken: np.ndarray) -> float:
        """How much speaks against an assignment."""
        filled = np.flatnonzero(taken >= 0)
        away = float(self.place[filled, taken[filled]].sum())
        return away + EMPTY * (len(taken) - len(filled)) + BROKEN * sum(self._broken(taken))

    def _broken(self, taken: np.ndarray) -> list[bool]:
        """For each role that has a joint, whether that does not hang on the joint of the role above it."""
        joints = taken.tolist()
        others = {*joints}
        return [self._asked_above(joints, role) != self._taken_above(others, joint)
                for role, joint in enumerate(joints) if joint >= 0]  # fmt: skip

    def _asked_above(self, taken: Sequence[int], role: int) -> int:
        """The joint of the nearest role above that was found; -1 at the top."""
        above = self.above[role]
        while above >= 0 and taken[above] < 0:
            above = self.above[above]
        return taken[above] if above >= 0 else -1

    def _taken_above(self, taken: set[int], joint: int) -> int:
        """The nearest joint above one that has a role; -1 at the top."""
        joint = self.parents[joint]
        while joint >= 0 and joint not in taken:
            joint = self.parents[joint]
        return joint

    def _improved(self, taken: np.ndarray) -> np.ndarray:
        """Assign anew, links counted as they are now, as long as that leaves less doubt."""
        from scipy.optimize import linear_sum_assignment

        best, least = taken, self.doubt(taken)
        nobody = np.where(np.eye(len(taken), dtype=bool), EMPTY, NEVER)
        for _ in range(ROUNDS):
            kept = best[:, None] == np.arange(self.place.shape[1])  # found by the tree, or by name, and not by place
            against = self._against(best)
            hangs = (against <= 0) & np.array([[self._asked_above(best.tolist(), i) >= 0] for i in range(len(best))])
            cost = np.where(self.within | kept | hangs, self.place + BROKEN * against, NEVER)
            rows, columns = linear_sum_assignment(np.hstack([cost, nobody]))
            new = np.where(columns < cost.shape[1], columns, -1)
            if (doubt := self.doubt(new)) >= least:
                break
            best, least = new, doubt
        return best

    def _against(self, taken: np.ndarray) -> np.ndarray:
        """For each role and joint (roles, joints) how many links would not hold, all other roles as they are."""
        against = np.zeros(self.place.shape)
        for role in range(len(taken)):
            others = {*taken.tolist()} - {int(taken[role]), -1}
            asked = self._asked_above(taken.tolist(), role)
            against[role] += [self._taken_above(others, joint) != asked for joint in range(len(self.parents))]
            for child in self.below[role]:
                if taken[child] >= 0:
                    against[role] += 1
                    joint = self.parents[taken[child]]
                    while joint >= 0 and joint not in others:
                        against[role, joint] -= 1
                        joint = self.parents[joint]
        return against

    def _by_tree(self) -> np.ndarray:
        """The assignment in which each role's joint hangs somewhere below the joint of the role above it."""
        count = len(self.parents)
        order = self._branch(-1)[::-1]
        sizes, costs = [1] * len(self.roles), self.place.copy()
        choices: list[dict[int, dict[int, int]]] = [{} for _ in self.roles]
        best = np.full((len(self.roles), count), np.inf)  # of each role, in the branch of each joint
        where = np.full((len(self.roles), count), -1)
        for role in reversed(range(len(self.roles))):  # what is below comes later
            sizes[role] += sum(sizes[child] for child in self.below[role])
            for joint in order:
                if self.below[role] and costs[role, joint] < NEVER:
                    price, choices[role][joint] = self._below(role, joint, best, where, costs, sizes)
                    costs[role, joint] += price
                spots = [(costs[role, joint], joint), *((best[role, k], where[role, k]) for k in self.children[joint])]
                best[role, joint], where[role, joint] = min(spots)
        taken = np.full(len(self.roles), -1)
        tops = [role for role in range(len(self.roles)) if self.above[role] < 0]
        pending = _chosen(tops, range(count), costs[tops], [sizes[role] * EMPTY for role in tops])
        while pending:
            role, joint = pending.popitem()
            taken[role] = joint
            pending |= choices[role].get(joint, {})
        return taken

    def _below(self, role, joint, best, where, costs, sizes) -> tuple[float, dict[int, int]]:
        """What the roles below one cost when it is this joint, and which joints they are then."""
        roles, prices = self.below[role], [EMPTY * sizes[child] for child in self.below[role]]
        if len(roles) == 1:
            (child,) = roles
            spots = [(best[child, k], where[child, k]) for k in self.children[joint]]
            price, spot = min(spots, default=(np.inf, -1))
            return (float(price), {child: int(spot)}) if price < prices[0] else (prices[0], {})
        down = self._branch(joint)
        found = _chosen(roles, down, costs[np.ix_(roles, down)], prices)
        gone = [price for child, price in zip(roles, prices, strict=True) if child not in found]
        return float(sum(costs[child, k] for child, k in found.items()) + sum(gone)), found

    def _branch(self, joint: int) -> list[int]:
        """All joints below one, each after the one above it; below -1 all of them."""
        found = list(self.children[joint])
        for one in found:
            found += self.children[one]
        return found

    def elsewhere(self, taken: np.ndarray) -> bool:
        """Whether no joint that has a role lies anywhere near it, or they lie, on the whole, where the other side's
        would: a limb laid in the wrong one is none here."""
        roles = np.flatnonzero(taken >= 0)
        joints, other = taken[roles], self.asked.other_side
        away = self.away[roles, joints]
        if len(self.roles) > 1 and np.all(away > ELSEWHERE * self.limb):
            return True
        if other is None or len(roles) < 2:
            return False
        return bool(np.linalg.norm(self.positions[joints] - other[roles], axis=1).sum() < OTHER_SIDE * away.sum())


def _chosen(roles: list[int], spots, costs: np.ndarray, prices: list[float]) -> dict[int, int]:
    """The cheapest spots for some roles, each spot once; a role stays empty where that costs its price."""
    from scipy.optimize import linear_sum_assignment

    nobody = np.where(np.eye(len(roles), dtype=bool), np.array(prices)[:, None], NEVER)
    spots = list(spots)
    rows, columns = linear_sum_assignment(np.hstack([np.minimum(costs, NEVER), nobody]))
    return {roles[row]: spots[column] for row, column in zip(rows, columns, strict=True) if column < len(spots)}
