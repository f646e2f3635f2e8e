"""Right layouts: joints anywhere inside what is allowed, by the proof's own arithmetic, give no finding at all."""

from collections.abc import Iterable

import numpy as np

from rigkit.files.layout import Layout
from rigkit.marking import mark
from tests.proof.case import pick
from tests.proof.ground import RING, STANDARD, STATION, Ground, any_way, ground, numbers, unit

STATIONS = (0.0, 0.25, 0.5, 0.75, 1.0)  # of the stretch; at its ends a joint may also lie a little beyond
EDGE = 0.995  # of what is allowed: so far out lies every second joint; the rest is spread over the whole of it
TRIES = 400
TWIST = STANDARD["structure"]


def jittered(g: Ground, chance) -> tuple[np.ndarray, int]:
    """Places inside every ring, stretch and bend, and how many joints were drawn again because they spoilt a bend."""
    places, again = np.array([_place(g, role, chance) for role in g.roles]), 0
    for count in range(TRIES):
        wrong = [role for role in g.folds if not bends_rightly(g, role, places)]
        if not wrong:
            return places, again
        role = pick(chance, wrong)
        for one in {role, *g.folds[role]["between"]}:
            again += 1
            places[g.number[one]] = _place(g, one, chance, 1.0 if count < TRIES / 2 else 0.3)
    return g.places, again


def _place(g: Ground, role: str, chance, share: float = 1.0) -> np.ndarray:
    """Anywhere within a share of a joint's ring, at any of the stations."""
    far = share * (EDGE if chance.uniform() < 0.5 else EDGE * np.sqrt(chance.uniform()))
    if g.rows[role]["place"] == "region":
        return g.middle(role) + far * RING * g.radius(role) * any_way(chance)
    station, plane, way = pick(chance, STATIONS), np.array(g.rows[role]["plane"]), any_way(chance)
    here = g.slice(role, station)
    beyond = {0.0: -1.0, 1.0: 1.0}.get(station, 0.0) * chance.uniform(0, EDGE * STATION) * here.radius
    return here.centre + far * RING * here.radius * unit(way - way @ plane * plane) + beyond * g.along(role)


def bends_rightly(g: Ground, role: str, places: np.ndarray) -> bool:
    """Whether a bend is allowed, and clear of every edge by a micrometre."""
    along, sideways, line, _, _ = g.bend(role, places)
    straight, least, most, askew = g.limits(role, line)
    return max(least, straight) + 1e-6 < along < most - 1e-6 and abs(sideways) < askew - 1e-6


def untouched(g: Ground, places: np.ndarray) -> set[str]:
    """The criteria by which the proof's own arithmetic finds nothing wrong with such places, clear of every edge."""
    whole = {"bend"} if all(bends_rightly(g, role, places) for role in g.folds) else set()
    off, beyond = zip(*(_off(g, role, places[g.number[role]]) for role in g.roles), strict=True)
    whole |= {"centring"} if max(off) < EDGE * RING else set()
    return whole | ({"fold"} if max(beyond) < EDGE * STATION else set())


def _off(g: Ground, role: str, place: np.ndarray) -> tuple[float, float]:
    """How far a place lies off its middle, and beyond its stretch, in local radii; out in the air it is off by much."""
    if g.rows[role]["place"] == "region":
        return float(np.linalg.norm(place - g.middle(role))) / g.radius(role), 0.0
    _, beyond, here = g.spot(role, place)
    plane, off = np.array(g.rows[role]["plane"]), place - here.centre - beyond * g.along(role)
    return float(np.linalg.norm(off - off @ plane * plane)) / here.radius, abs(beyond) / here.radius


def extras(g: Ground, places: np.ndarray, chance) -> Layout:
    """Now and then with a joint more that is good practice: on a bone's line, beyond a tip, or above the top."""
    choice, names, parents = chance.integers(4), list(g.names), list(g.parents)
    if choice == 1:  # about the line of a bone, evenly, beside it or between its ends, nothing else below
        child = pick(chance, [i for i, parent in enumerate(parents) if parent is not None])
        start, first, chained = parents[child], len(names), bool(chance.integers(2))
        bone = places[child] - places[start]
        if (long := np.linalg.norm(bone)) > 0.05:
            many = 1 if long < 0.08 else int(chance.integers(1, 4))
            radii = [g.radius(g.roles[i]) for i in (start, child)]
            for number in range(many):
                station = (number + 1) / (many + 1) + pick(chance, [-EDGE, 0.0, EDGE]) * TWIST["twist_allowed"]
                way = any_way(chance)
                way = unit(way - way @ bone / long**2 * bone)
                off = (
                    pick(chance, [0.0, EDGE])
                    * TWIST["twist_off_allowed"]
                    * (radii[0] + station * (radii[1] - radii[0]))
                )
                places = np.vstack([places, places[start] + station * bone + off * way])
                parents.append(first + number - 1 if chained and number else start)
                names.append(f"{names[child]}_twist_{number}")
            parents[child] = len(names) - 1 if chained else start
    elif choice == 2:
        end = g.number[pick(chance, g.ends())]
        bone = places[end] - places[parents[end]]
        places, names, parents = np.vstack([places, places[end] + 0.6 * bone]), [*names, "last_end"], [*parents, end]
    elif choice == 3:
        above = g.places[0] * [0.3, 1.0, 1.0] + [0, 0.12, 0]
        parents = [len(names) if parent is None else parent for parent in parents]
        places, names, parents = np.vstack([places, above]), [*names, "root"], [*parents, None]
    return g.layout(places, names, parents)


def examine(kind: str, seed: int, count: int | Iterable[int]) -> list[dict]:
    """Right layouts of one limb: what was found in each."""
    g, rows = ground(kind, seed), []
    for number in numbers(count):
        chance = np.random.default_rng([seed, number])
        places, again = jittered(g, chance)
        result = mark(extras(g, places, chance), g.exercise)
        rows.append({"kind": kind, "seed": seed, "number": number, "mark": result.mark, "again": again,
                     "still": bool(np.all(places == g.places)),
                     "found": [f"{one.finding} at {one.joint}: {one.message}" for one in result.findings]})  # fmt: skip
    return rows


def wrong(rows: list[dict]) -> list[str]:
    """What was found in right layouts."""
    return [f"{row['kind']} {row['seed']} layout {row['number']}: {'; '.join(row['found'])} (mark {row['mark']})"
            for row in rows if row["found"] or row["mark"] != 100.0]  # fmt: skip
