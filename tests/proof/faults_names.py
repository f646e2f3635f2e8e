"""Faults of names put into right layouts, each from the plain rule's good one: "left_index_2"."""

import tomllib
from collections.abc import Callable, Iterator
from dataclasses import replace

from tests.proof.case import ANY, Case, pick
from tests.proof.ground import OTHER, PROJECT, Ground


def renamed(change: Callable, sided: bool = True, which: Callable | None = None) -> Callable:
    """A mutator of one name: change(side, words, chance) gives each wrong name; sided: only names that say a side."""

    def mutator(finding: str, g: Ground, chance) -> Iterator[Case]:
        able = [i for i, name in enumerate(g.names) if not sided or name.startswith(g.side)]
        able = [i for i in able if which is None or which(g.roles[i])]
        if not able:
            return
        joint = pick(chance, able)
        for name in change(g.side, g.roles[joint].split(), chance):
            names = [name if i == joint else old for i, old in enumerate(g.names)]
            yield Case(finding, ANY, (g.roles[joint],), g.layout(names=names))

    return mutator


def slips(side: str, words: list[str], chance) -> list[str]:
    """One letter of the longest word doubled; in a long word also two letters swapped, one left out."""
    word, i = words[0], int(chance.integers(1, len(words[0]) - 1))
    made = [word[:i] + word[i] + word[i:]]
    if len(word) > 4:
        made += [word[:i] + word[i + 1] + word[i] + word[i + 2 :], word[:i] + word[i + 1 :]]
    return ["_".join((side, one, *words[1:])) for one in made if one != word]


def other_part(finding: str, g: Ground, chance) -> Iterator[Case]:
    """The word for a part that the limb has not, and two joints under each other's names."""
    joint = pick(chance, [i for i, name in enumerate(g.names) if name.startswith(g.side)])
    foreign = "knee" if "elbow" in g.roles or "index 2" in g.roles else "elbow"
    names = [f"{g.side}_{foreign}" if i == joint else name for i, name in enumerate(g.names)]
    yield Case(finding, ANY, (g.roles[joint],), g.layout(names=names))
    other = pick(chance, [i for i, name in enumerate(g.names) if name.startswith(g.side) and i != joint])
    names = list(g.names)
    names[joint], names[other] = names[other], names[joint]
    yield Case(finding, ANY, (g.roles[joint], g.roles[other]), g.layout(names=names))


def other_rule(finding: str, g: Ground, chance) -> Iterator[Case]:
    """All names by H-Anim's rule; the joint at fault is each whose name differs."""
    rule = tomllib.loads((PROJECT / "data" / "naming" / "hanim.toml").read_text("utf-8"))
    side = rule["sides"][g.side]
    words = [rule["parts"].get(role, role).replace(" ", "_") for role in g.roles]
    names = [word if role == "pelvis" else f"{side}_{word}" for role, word in zip(g.roles, words, strict=True)]
    wrong = tuple(role for role, name, good in zip(g.roles, names, g.names, strict=True) if name != good)
    yield Case(finding, ANY, wrong, g.layout(names=names))


def no_kind(finding: str, g: Ground, chance) -> Iterator[Case]:
    """By a rule that asks for "joint" at the end or at the start: one name without it, and with another such word."""
    last = bool(chance.integers(2))
    rule = replace(
        g.exercise.naming, order=("side", "part", "kind") if last else ("kind", "side", "part"), kind="joint"
    )
    good = [f"{name}_joint" if last else f"joint_{name}" for name in g.names]
    joint = int(chance.integers(len(g.names)))
    for name in (g.names[joint], good[joint].replace("joint", "bone")):
        names = [name if i == joint else old for i, old in enumerate(good)]
        yield Case(finding, ANY, (g.roles[joint],), g.layout(names=names), replace(g.exercise, naming=rule))


NAMES = {
    "side-missing": renamed(lambda side, words, chance: ["_".join(words)]),
    "side-wrong": renamed(lambda side, words, chance: ["_".join((OTHER[side], *words))]),
    "side-mark": renamed(lambda side, words, chance: ["_".join((side[0], *words))]),
    "part-unknown": renamed(lambda side, words, chance: [f"{side}_zqx", f"{side}_joint"]),
    "part-other": other_part,
    "part-misspelt": renamed(slips),
    "name-order": renamed(lambda side, words, chance: ["_".join((*words, side))]),
    "name-case": renamed(lambda side, words, chance: ["_".join((side, *words)).upper(), "_".join((side, *words)).title()]),
    "name-separator": renamed(lambda side, words, chance: ["-".join((side, *words)), ".".join((side, *words))]),
    "name-doubled": renamed(lambda side, words, chance: ["_".join((side, side, *words)), "_".join((side, words[0], *words))]),
    "name-extra-word": renamed(lambda side, words, chance: ["_".join((side, *words, "joint"))]),
    "name-kind": no_kind,
    "name-other-rule": other_rule,
}  # fmt: skip
