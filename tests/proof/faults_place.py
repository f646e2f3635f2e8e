"""Faults of place put into right layouts: one joint off its middle, its stretch or its bend, by a sized amount."""

from collections.abc import Callable, Iterator
from dataclasses import replace

import numpy as np

from tests.proof.case import CLEAR, GROSS, JUST, TRIES, Case, moved, pick
from tests.proof.ground import RING, STANDARD, STATION, Ground, any_way, unit


def square_way(g: Ground, role: str, chance) -> np.ndarray:
    """A direction in which a joint can leave its middle: in its measuring plane, and across its fold if it has one."""
    if g.rows[role]["place"] == "region":
        return any_way(chance)
    plane = np.array(g.rows[role]["plane"])
    if role in g.folds:
        return pick(chance, [1.0, -1.0]) * unit(np.cross(plane, g.folds[role]["away"]))
    way = any_way(chance)
    return unit(way - way @ plane * plane)


def off_centre(g: Ground, chance) -> Iterator[Case]:
    allowed = STANDARD["centring"]["allowed"]
    for size, share in ((JUST, 1.03 * allowed), (CLEAR, 0.5), (GROSS, 0.85)):
        for _ in range(TRIES):
            role = pick(chance, g.roles)
            way, far = square_way(g, role, chance), share * g.radius(role)
            to = g.middle(role) + far * way
            if g.rows[role]["place"] == "flesh":
                inside = far < 0.97 * g.slice(role, 0.5).skin(way)[0]
            else:
                inside = role in g.ends() or bool(g.mesh.contains([to])[0])
            if role in g.folds:  # beyond its plane's room it is called, and charged, by the bend
                places = g.places.copy()
                places[g.number[role]] = to
                _, sideways, line, _, _ = g.bend(role, places)
                inside = inside and abs(sideways) < 0.97 * g.limits(role, line)[3]
            if inside:
                yield Case("off-centre", size, (role,), g.layout(moved(g, role, to)))
                break


def outside_flesh(g: Ground, chance) -> Iterator[Case]:
    for size, more in ((JUST, 0.0), (CLEAR, 0.3), (GROSS, 1.0)):  # of the local radius, beyond the skin
        for _ in range(TRIES):
            role = pick(chance, [role for role in g.roles if role not in g.ends() or g.rows[role]["place"] == "flesh"])
            radius = g.radius(role)
            if g.rows[role]["place"] == "flesh":
                way = any_way(chance)
                plane = np.array(g.rows[role]["plane"])
                way = unit(way - way @ plane * plane)
                to = g.middle(role) + (g.slice(role, 0.5).skin(way)[1] + 0.0005 + more * radius) * way
            else:
                way = any_way(chance)
                line = g.middle(role) + np.linspace(0, 4, 161)[:, None] * radius * way
                inside = np.flatnonzero(g.mesh.contains(line))
                to = line[min(inside.max() + 1, 160)] + more * radius * way
                if g.mesh.contains([to])[0] or np.linalg.norm(to - g.middle(role)) > 2.5 * radius:
                    continue
            yield Case("outside-flesh", size, (role,), g.layout(moved(g, role, to)))
            break


def along_the_limb(g: Ground, chance, finding: str, shares) -> Iterator[Case]:
    """Beyond an end of the stretch, by shares of the local radius there, short of the neighbours."""
    for size, share in shares:
        for _ in range(TRIES):
            role, end = pick(chance, g.flesh()), pick(chance, [0.0, 1.0])
            last = g.slice(role, end)
            way = g.along(role) * (2 * end - 1)
            joint = g.number[role]
            near = [i for i in (g.parents[joint], *g.below(joint)) if i is not None]
            room = min([(g.places[i] - last.centre) @ way for i in near if (g.places[i] - last.centre) @ way > 0],
                       default=np.inf)  # fmt: skip
            if share * last.radius < 0.7 * room:
                to = last.centre + share * last.radius * way
                yield Case(finding, size, (role,), g.layout(moved(g, role, to)))
                break


def off_station(g: Ground, chance) -> Iterator[Case]:
    shares = ((JUST, 1.1 * STATION), (CLEAR, 0.4), (GROSS, 0.95 * STANDARD["fold"]["failing"]))
    yield from along_the_limb(g, chance, "off-station", shares)


def elsewhere(g: Ground, chance) -> Iterator[Case]:
    failing = STANDARD["fold"]["failing"]
    yield from along_the_limb(g, chance, "elsewhere", ((JUST, 1.03 * failing), (CLEAR, 1.3), (GROSS, 2.0)))


# bends: the joint alone is moved along its fold, or sideways of it


def bent(g: Ground, chance, finding: str, amounts: Callable) -> Iterator[Case]:
    """amounts(straight, least, most, sideways) gives for each size how far along the fold, or sideways, it lies."""
    for size in (JUST, CLEAR, GROSS):
        made = [
            one for role in chance.permutation(list(g.folds)) if (one := _bent(g, chance, finding, role, size, amounts))
        ]
        if made:  # a joint that this leaves in the flesh, if there is one
            yield min(made, key=lambda one: one[0] > 0.95)[1]


def _bent(g: Ground, chance, finding: str, role: str, size: str, amounts: Callable) -> tuple[float, Case] | None:
    """One joint's bend set to an amount by a shift in its measuring plane, so that it stays where it is along the limb;
    with how much of the way to the skin that goes."""
    along, sideways, line, away, side = g.bend(role, g.places)
    goal = amounts(*g.limits(role, line)).get(size)
    if goal is None:  # no room for that on this limb
        return None
    need = [goal - along, 0.0]
    if finding == "bend-sideways":
        need = [0.0, pick(chance, [1.0, -1.0]) * goal - sideways]
    to = g.places[g.number[role]] + in_plane(g, role, away, side, need)
    off = to - (g.spot(role, to)[2].centre if "plane" in g.rows[role] else g.middle(role))
    far = float(np.linalg.norm(off))
    skin = g.slice(role, 0.5).skin(unit(off))[0] if "plane" in g.rows[role] else g.radius(role)
    case = Case(finding, size, (role,), g.layout(moved(g, role, to)))
    straight, least, most, _ = g.limits(role, line)
    paid = max(least - goal, goal - most, 0.0) if finding != "bend-sideways" else 0.0  # by the bend itself
    if far < 0.95 * skin and far - paid < 1.05 * RING * g.radius(role):
        case = replace(
            case, spared=frozenset({"centring"})
        )  # its bend mended, it lies in its ring or at the edge of it
    return far / skin, case


def in_plane(g: Ground, role: str, away: np.ndarray, side: np.ndarray, need: list[float]) -> np.ndarray:
    """The shift (3,) in a joint's measuring plane that goes so far along its fold and sideways."""
    if "plane" not in g.rows[role]:
        return need[0] * away + need[1] * side
    plane = np.array(g.rows[role]["plane"])
    flat = np.array([unit(away - away @ plane * plane), unit(np.cross(plane, away))])
    return np.linalg.solve(np.array([flat @ away, flat @ side]), need) @ flat


HAIR = 0.0002  # metres: just beyond an edge


def bends_wrong_way(g: Ground, chance) -> Iterator[Case]:
    yield from bent(g, chance, "bends-wrong-way", lambda straight, least, most, sideways: {
        JUST: -straight - HAIR, CLEAR: -0.5 * (straight + least), GROSS: -most})  # fmt: skip


def too_straight(g: Ground, chance) -> Iterator[Case]:
    yield from bent(g, chance, "too-straight", lambda straight, least, most, sideways: {
        JUST: straight - min(HAIR, 0.1 * straight), CLEAR: 0.0, GROSS: -straight + min(HAIR, 0.1 * straight)})  # fmt: skip


def bend_slight(g: Ground, chance) -> Iterator[Case]:
    def amounts(straight, least, most, sideways):
        room = least - straight
        return {JUST: least - 0.05 * room, CLEAR: least - 0.5 * room, GROSS: straight + 0.05 * room} if room > 0 else {}

    yield from bent(g, chance, "bend-slight", amounts)


def bend_much(g: Ground, chance) -> Iterator[Case]:
    yield from bent(g, chance, "bend-much", lambda straight, least, most, sideways: {
        JUST: most + HAIR, CLEAR: 1.3 * most, GROSS: 1.9 * most})  # fmt: skip


def bend_sideways(g: Ground, chance) -> Iterator[Case]:
    more = STANDARD["bend"]["sideways_failing"] / STANDARD["bend"]["sideways_allowed"]
    yield from bent(g, chance, "bend-sideways", lambda straight, least, most, sideways: {
        JUST: sideways + HAIR, CLEAR: 0.5 * (1 + more) * sideways, GROSS: 1.1 * more * sideways})  # fmt: skip
