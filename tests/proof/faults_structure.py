"""Faults of structure put into right layouts: joints missing, too many, twice, elsewhere, or under another parent."""

from collections.abc import Iterator

import numpy as np

from tests.proof.case import ANY, CLEAR, GROSS, JUST, TRIES, Case, moved, pick, with_one_more, without
from tests.proof.ground import STANDARD, Ground, any_way, unit


def joint_missing(g: Ground, chance) -> Iterator[Case]:
    role = pick(chance, [role for role in g.roles if g.rows[role]["need"] == "required"])
    yield Case("joint-missing", ANY, (role,), without(g, g.number[role]))


def joint_doubled(g: Ground, chance) -> Iterator[Case]:
    """A second joint within the distance at which it is a double, or under the name of another."""
    near = STANDARD["structure"]["doubled_mm"] / 1000
    for size, far in ((JUST, 0.95 * near), (CLEAR, 0.5 * near), (GROSS, 0.0)):
        joint = int(chance.integers(len(g.roles)))
        place = g.places[joint] + far * any_way(chance)
        yield Case("joint-doubled", size, ("spare",), with_one_more(g, "spare", joint, place))
    joint = int(chance.integers(len(g.roles)))
    place = g.places[joint] + 2 * near * any_way(chance)
    name = f"{g.names[joint]} (joint {len(g.roles)})"
    yield Case("joint-doubled", ANY, (name,), with_one_more(g, g.names[joint], joint, place))


def off_bones(g: Ground, place: np.ndarray) -> float:
    """How far a place lies off the nearest bone, in the local radius beside it."""
    least = np.inf
    for joint, parent in enumerate(g.parents):
        if parent is not None:
            start, bone = g.places[parent], g.places[joint] - g.places[parent]
            share = float(np.clip((place - start) @ bone / (bone @ bone), 0, 1))
            radius = (1 - share) * g.radius(g.roles[parent]) + share * g.radius(g.roles[joint])
            least = min(least, float(np.linalg.norm(place - start - share * bone)) / radius)
    return least


def joint_extra(g: Ground, chance) -> Iterator[Case]:
    """A joint in the limb's own chain and away from its bones: a spur beside a bone, or a bump in it."""
    beside, near = STANDARD["structure"]["beside_bone"], STANDARD["structure"]["doubled_mm"] / 1000
    for size, goal in ((JUST, 1.1), (CLEAR, 1.6), (GROSS, 3.0)):
        for _ in range(TRIES):
            child = pick(chance, [i for i, parent in enumerate(g.parents) if parent is not None])
            start, bone = g.places[g.parents[child]], g.places[child] - g.places[g.parents[child]]
            way = any_way(chance)
            way = unit(way - way @ bone / (bone @ bone) * bone)
            places = [start + 0.5 * bone + far * way for far in np.linspace(0, 6 * g.radius(g.roles[child]), 200)]
            place = next((one for one in places if off_bones(g, one) > goal * beside), None)
            if place is not None and np.linalg.norm(g.places - place, axis=1).min() > 1.2 * near:
                break
        else:
            continue
        spur = with_one_more(g, "fin", g.parents[child], place)
        bump = g.layout(spur.skeleton.positions, spur.skeleton.names,
                        [len(g.roles) if i == child else p for i, p in enumerate(spur.skeleton.parents)])  # fmt: skip
        yield Case("joint-extra", size, ("fin",), pick(chance, [spur, bump]))


def wrong_parent(g: Ground, chance) -> Iterator[Case]:
    """One joint on no other, on another one, or parent and child in each other's place in the tree."""
    joint = int(chance.integers(1, len(g.roles)))
    others = [i for i in range(len(g.roles)) if i != g.parents[joint] and i not in g.branch(joint)]
    for parent in (None, *([pick(chance, others)] if others else [])):
        parents = [parent if i == joint else p for i, p in enumerate(g.parents)]
        yield Case("wrong-parent", ANY, (g.roles[joint],), g.layout(parents=parents))
    above = g.parents[joint]
    parents = [g.parents[above] if i == joint else joint if i == above else p for i, p in enumerate(g.parents)]
    yield Case("wrong-parent", ANY, (g.roles[joint], g.roles[above]), g.layout(parents=parents))


def joints_coincide(g: Ground, chance) -> Iterator[Case]:
    least = STANDARD["structure"]["coincide_mm"] / 1000
    for size, far in ((JUST, 0.95 * least), (CLEAR, 0.5 * least), (GROSS, 0.0)):
        joint = int(chance.integers(1, len(g.roles)))
        to = g.places[g.parents[joint]] + far * any_way(chance)
        yield Case("joints-coincide", size, (g.roles[joint],), g.layout(moved(g, g.roles[joint], to)))


def limb_elsewhere(g: Ground, chance) -> Iterator[Case]:
    """The whole limb beside itself, by shares of its length, or on the other side of the body."""
    long = np.linalg.norm(g.places[:, None] - g.places[None], axis=2).max()
    out = -1.0 if g.side == "right" else 1.0
    for size, share in ((JUST, 0.6), (CLEAR, 1.0), (GROSS, 3.0)):
        way = unit([out * chance.uniform(0.2, 1), 0.0, chance.uniform(-1, 1)])
        yield Case("limb-elsewhere", size, ("limb",), g.layout(g.places + share * long * way))
    if np.abs(g.places[:, 0]).min() > 0.1:  # all of it lies clear of the middle
        yield Case("limb-elsewhere", ANY, ("limb",), g.layout(g.places * [-1, 1, 1]))
