"""Enough to mend: a student who starts from a random wrong layout and does what the mends' words say, and no more.

The student knows English, the naming rule and which joint bears which name. Of the marks only the words are read.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from rigkit.files.layout import Layout
from rigkit.marking import Result, mark
from tests.proof.case import pick
from tests.proof.ground import OTHER, Ground, any_way, ground, numbers

ROUNDS = 3
WAYS = {"out": (0, 1), "in": (0, -1), "up": (1, 1), "down": (1, -1), "forward": (2, 1), "back": (2, -1)}
STEP = r"(?:out|in|up|down|forward|back) [\d.]+ mm"
STEPS = rf"{STEP}(?:(?:, | and ){STEP})*"
MOVE = re.compile(rf"(?:Move|Slide) the (?:joint )?([\w ]+?)(?: (?:(?:up|down) along the limb|(?:along|onto) its bone):)? "
                  rf"({STEPS})\. ?")  # fmt: skip
HANG = re.compile(r"Make the ([\w ]+) the ([\w ]+)'s parent\. ?")
AGAIN = re.compile(r", only once: the same move mends this|\s*The move of the [\w ]+ told above is needed too\."
                   r"|What mends its neighbours mends this too\.")  # fmt: skip
"""Words that ask for nothing more than what is told beside them."""
ADD = re.compile(rf"Add a joint for the ([\w ]+?)(?:, ({STEPS}|nowhere) from the place of the ([\w ]+?))?; name it (\w+)"
                 r"(?:, and make the ([\w ]+) its parent)?\.(?: Make it the parent of the ([\w ]+)\.)?")  # fmt: skip


@dataclass
class Desk:
    """The student's joints: [name, parent (another such list or None), place (3,), what it was meant to be] each."""

    g: Ground
    joints: list[list]

    def hand_in(self) -> Layout:
        number = {id(joint): i for i, joint in enumerate(self.joints)}
        parents = [None if parent is None else number[id(parent)] for _, parent, *_ in self.joints]
        return self.g.layout(
            np.array([joint[2] for joint in self.joints]), [joint[0] for joint in self.joints], parents
        )

    def arrow(self, words: str) -> np.ndarray:
        """ "back 26 mm and up 3 mm" as an arrow (3,), metres."""
        arrow = np.zeros(3)
        for way, size in re.findall(r"(\w+) ([\d.]+) mm", words or ""):
            axis, sign = WAYS[way]
            arrow[axis] += sign * float(size) / 1000 * (-1 if axis == 0 and self.g.side == "right" else 1)
        return arrow

    def obey(self, result: Result) -> list[str]:
        """Do what each mend says; what could not be understood comes back."""
        said = {one.joint: one.measured for one in result.findings if one.criterion == "names"}
        good = dict(zip(self.g.roles, self.g.names, strict=True))
        labels: dict[str, list] = {}
        for number, joint in enumerate(self.joints):
            labels.setdefault(joint[0] or f"joint {number}", joint)
            labels[f"{joint[0]} (joint {number})"] = joint
        puzzled: list[str] = []

        def which(role: str) -> list:
            """The joint that the marks call so: the one whose name they quote, or that bears the right name; where
            several bear it, the one that was meant so; a joint that was not asked for by its own name."""
            if role not in good:
                return labels[role]
            named = [joint for joint in self.joints if joint[0] == said.get(role, good[role])]
            return next((joint for joint in named if joint[3] == role), named[0])

        renames, moves, hangs, outs, adds = [], {}, [], [], []
        for one in result.findings:
            rest = AGAIN.sub("", one.mend)
            if found := re.fullmatch(r"Name it (\w+)\.", rest):
                renames.append((which(one.joint), found[1]))
            elif rest and not HANG.sub("", rest):
                hangs += [(which(found[2]), which(found[1])) for found in HANG.finditer(rest)]
            elif found := re.fullmatch(r"Take the ([\w ]+) off its parent\.", rest):
                hangs.append((which(found[1]), None))
            elif found := re.fullmatch(r"Take out (?:the joint )?(.+)\.", rest):
                outs += found[1].split(", ")
            elif found := ADD.fullmatch(rest):
                adds.append(found.groups())
            elif rest or not one.mend:
                moves |= {(found[1], found[2]): self.arrow(found[2]) for found in MOVE.finditer(rest)}
                if MOVE.sub("", rest).strip() or not rest:
                    puzzled.append(f"{one.finding}: {one.mend!r}")
        for (role, _), arrow in moves.items():  # first of all: new joints are put beside those that are in place
            joint = which(role)
            joint[2] = joint[2] + arrow
        for role, way, anchor, name, above, carried in adds:
            if anchor is None:
                puzzled.append(f"no place said for the {role}")
                continue
            new = [name, which(above) if above else None, which(anchor)[2] + self.arrow(way), role]
            self.joints.append(new)
            hangs += [(which(one), new) for one in (carried or "").split(" and the ") if one]
        for joint, name in renames:
            joint[0] = name
        for joint, parent in hangs:
            joint[1] = parent
        for label in outs:
            self.take_out(labels[label])
        return puzzled

    def take_out(self, gone: list) -> None:
        """Taken out, what hung on it hangs on the joint above."""
        for joint in self.joints:
            if joint[1] is gone:
                joint[1] = gone[1]
        self.joints = [joint for joint in self.joints if joint is not gone]


def beginning(g: Ground, chance) -> Desk:
    """A wrong layout: joints within two local radii of their places, all or some; names wrong or right; now and then a
    joint missing, one too many, or one under another parent."""
    some = pick(chance, [1.0, 0.3, 0.1])
    places = [place + (chance.uniform() < some) * 2 * g.radius(role) * np.cbrt(chance.uniform()) * any_way(chance)
              for role, place in zip(g.roles, g.places, strict=True)]  # fmt: skip
    joints = [[name, None, place, role] for name, place, role in zip(g.names, places, g.roles, strict=True)]
    for joint, parent in zip(joints, g.parents, strict=True):
        joint[1] = None if parent is None else joints[parent]
    wrongly = pick(chance, [0.0, 0.2, 1.0])
    for number, joint in enumerate(joints):
        if chance.uniform() < wrongly:
            joint[0] = _misnamed(g, number, chance)
    desk = Desk(g, joints)
    match pick(chance, ["whole", "whole", "missing", "more", "fin", "parent"]):
        case "missing" if len(joints) > 3:
            desk.take_out(pick(chance, joints))
        case "more":
            child = pick(chance, joints[1:])
            spare = ["spare", child[1], (child[2] + child[1][2]) / 2, ""]
            child[1] = spare
            joints.append(spare)
        case "fin":
            on = pick(chance, joints)
            joints.append(["fin", on, on[2] + 0.05 * chance.normal(size=3), ""])
        case "parent":
            child = int(chance.integers(1, len(joints)))
            others = [joint for i, joint in enumerate(joints) if i not in g.branch(child)]
            joints[child][1] = pick(chance, [None, *others])
    _with_twist(desk, chance.spawn(1)[0])
    return desk


def _with_twist(desk: Desk, chance) -> None:
    """Now and then a twist joint anywhere on a long bone, about its line, and a joint more that hangs on it."""
    long = [joint for joint in desk.joints if joint[1] is not None and joint[3] and joint[1][3]
            and np.linalg.norm(joint[2] - joint[1][2]) > 0.08]  # fmt: skip
    if not long or chance.uniform() < 0.6:
        return
    child = pick(chance, long)
    place = child[1][2] + chance.uniform(0.1, 0.9) * (child[2] - child[1][2]) + 0.008 * chance.normal(size=3)
    name = dict(zip(desk.g.roles, desk.g.names, strict=True))[child[3]]
    desk.joints.append([f"{name}_twist", child[1], place, ""])
    if chance.uniform() < 0.5:
        desk.joints.append(["cuff", desk.joints[-1], place + 0.01 * chance.normal(size=3), ""])


def _misnamed(g: Ground, number: int, chance) -> str:
    """A name with any fault of the naming findings."""
    words = g.roles[number].split()
    name, plain = g.names[number], "_".join(words)
    letter = int(chance.integers(1, len(words[0]) - 1))
    slip = "_".join((g.side, words[0][:letter] + words[0][letter + 1 :], *words[1:]))
    return pick(chance, [plain, f"{OTHER[g.side]}_{plain}", f"{g.side[0]}_{plain}", f"joint{number}", slip, name.upper(),
                         name.replace("_", "-"), f"{plain}_{g.side}", f"{name}_{words[0]}", f"{name}_joint",
                         pick(chance, g.names)])  # fmt: skip


def examine(kind: str, seed: int, count: int | Iterable[int]) -> list[dict]:
    """So many students on one limb: the mark after each round, and what the last marks still say."""
    g, rows = ground(kind, seed), []
    for number in numbers(count):
        desk = beginning(g, np.random.default_rng([seed, number, 6]))
        result, marks, puzzled = mark(desk.hand_in(), g.exercise), [], []
        for _ in range(ROUNDS):
            marks.append(result.mark)
            if not result.findings:
                break
            puzzled += desk.obey(result)
            result = mark(desk.hand_in(), g.exercise)
        else:
            marks.append(result.mark)
        rows.append({"kind": kind, "seed": seed, "number": number, "marks": marks, "puzzled": puzzled,
                     "left": [f"{one.joint}: {one.message} {one.mend}" for one in result.findings]})  # fmt: skip
    return rows


def unmended(rows: list[dict]) -> list[str]:
    """Students who are not at full marks within the rounds, or were puzzled by a mend."""
    return [f"{row['kind']} {row['seed']} student {row['number']}: {row['marks']} {row['puzzled']} {row['left'][:3]}"
            for row in rows if row["marks"][-1] != 100.0 or row["left"] or row["puzzled"]]  # fmt: skip


def lowered(rows: list[dict]) -> list[str]:
    """Students for whom doing as told lowered the mark in some round."""
    return [f"{row['kind']} {row['seed']} student {row['number']}: {row['marks']}" for row in rows
            if any(two < one for one, two in zip(row["marks"], row["marks"][1:], strict=False))]  # fmt: skip
