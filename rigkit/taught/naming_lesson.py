"""Lesson 3: what a mirror makes of a skeleton's names; naming rules as tables; names written by some house's rule."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from rigkit import require
from rigkit.bench import Bench
from rigkit.lesson import safely
from rigkit.limbs.arm import to_the_middle
from rigkit.mesh import Mesh
from rigkit.mirror import mirror_side, side_of
from rigkit.naming import CASE_WORDS, MIDLINE, NameProblem, NamingRule, read_rule
from rigkit.openings import open_exercise
from rigkit.outline import Edges
from rigkit.picture import LIGHT, View, fit_views, standard_view
from rigkit.plates import bones, flesh, svg, words
from rigkit.section import Plane
from rigkit.skeleton import Skeleton
from rigkit.stills import Picture
from rigkit.told import LOOK_AGAIN, NOT_YET, RIGHT, Table, Told
from rigkit.tolerance import STORED

EXERCISE, START = "left-arm-names", "three-hands"
SIZE, NARROW = (460, 320), (400, 320)  # px
BELOW, BESIDE = (0.0, 68.0), (-26.0, 4.0)  # px off a joint, for its name and for a letter
CLOSE = 1500.0  # px a metre, of a plate that shows a hand
NUMBER_FIRST = "the number belongs to the part; the side stands after both"
MIDDLE = Plane(np.zeros(3), np.array([1.0, 0.0, 0.0]))
HALYARD = NamingRule("halyard", "Halyard House", ("part", "side"), "-", "title", ("L", "R"), read_rule("plain").parts)
"""Another studio's rule (our own invention): the part first, capitals, hyphens: Elbow-L."""
ORDERS: dict[tuple[str, ...], str] = {
    ("side", "part"): "the side, then the part",
    ("part", "side"): "the part, then the side",
}


def _skeleton(what: Bench | None) -> Skeleton:
    """The joints of a bench, else as the lesson found them."""
    if what is None:
        return open_exercise(EXERCISE).start(START).skeleton
    if not isinstance(what, Bench):
        raise require.RigError("the bench of this lesson", require.kind(what), next_step="Run the cell that opens it")
    return what.skeleton


def partners(skeleton: Skeleton, rule: NamingRule) -> dict[int, str]:
    """For each joint the name of the one partner that a mirror from left to right makes, or the reason for none.

    >>> arm = Skeleton(["left_elbow", "wrist"], [None, 0], [[0.3, 1, 0], [0.5, 1, 0]])
    >>> partners(arm, read_rule("plain"))
    {0: 'right_elbow', 1: 'none: it says no side'}
    """
    told = {}
    for joint, name in enumerate(skeleton.names):
        side = side_of(name, rule)
        if side is None:
            told[joint] = "none: it says no side"
        elif side == "right":
            told[joint] = "none: it says right, so it counts as a joint of the other arm"
        elif skeleton.names.count(name) > 1:
            told[joint] = f"in doubt: two joints would be {rule.swap_side(name)}"
        else:
            told[joint] = rule.swap_side(name)
    return told


def paired(skeleton: Skeleton, rule: NamingRule) -> int:
    """How many joints get a partner of their own."""
    return sum(": " not in told for told in partners(skeleton, rule).values())


def partner_table(what: Bench | None = None) -> Table:
    """Each joint's name beside the partner that the mirror makes."""
    skeleton, rule = _skeleton(what), read_rule("plain")
    rows = [(skeleton.names[joint], told) for joint, told in partners(skeleton, rule).items()]
    return Table(("on the left", "its partner on the right"), rows,
                 [f"{paired(skeleton, rule)} of {len(rows)} joints have a partner of their own."])  # fmt: skip


def _chest() -> Mesh:
    """Both arms and the chest between them: the practice arm and its mirror image."""
    left = to_the_middle(open_exercise(EXERCISE).mesh)
    right, many = left.mirrored(MIDDLE.origin, MIDDLE.normal), len(left.vertices)
    shared = np.abs(left.vertices[:, 0]) < STORED
    number = np.where(shared, np.arange(many), np.arange(many) + many)  # both halves meet in the same vertices
    faces = [mesh.triangles[~shared[mesh.triangles].all(axis=1)] for mesh in (left, right)]
    return Mesh(np.concatenate([left.vertices, right.vertices]), np.concatenate([faces[0], number[faces[1]]]))


def _plate(
    view: View,
    mesh: Mesh,
    skeleton: Skeleton,
    named: Mapping[int, str],
    sentence: str,
    off: tuple[float, float] = BELOW,
) -> tuple[str, str]:
    """Both arms from one side, the joints and some of their names, so many px off them."""
    flat = view.project(skeleton.positions)
    drawn = [flesh(view, mesh.vertices, mesh.triangles, Edges.of(mesh.triangles), LIGHT),
             words(14, 23, view.title, LIGHT, weight="bold"), bones(flat, skeleton.parents, LIGHT.ink)]  # fmt: skip
    drawn += [f'<circle cx="{x:.1f}" cy="{y:.1f}" r="3.2" fill="{LIGHT.paper}" stroke="{LIGHT.ink}" '
              'stroke-width="1.5"/>' for x, y in flat]  # fmt: skip
    for joint, name in named.items():
        x, y = flat[joint]
        drawn.append(
            words(min(max(x + off[0], 52), view.size[0] - 52), y + off[1], name, LIGHT, anchor="middle", weight="bold")
        )
    arrow = {"front": "the character's left →", "side": "the back of the left hand"}.get(
        view.name, "← the character's left"
    )
    drawn.append(words(view.size[0] - 12, 23, arrow, LIGHT, anchor="end"))
    return svg(view.size, sentence, drawn, LIGHT.paper), sentence


def mirrored(what: Bench | None = None) -> Picture:
    """Both arms, the right one's joints made by a mirror that goes by the names of the left one's."""
    skeleton, rule, mesh = _skeleton(what), read_rule("plain"), _chest()
    both = mirror_side(skeleton, MIDDLE, rule)
    made = range(len(skeleton), len(both))
    across = [both.names[j] for j in made if (above := both.parents[j]) is not None and above < len(skeleton)]
    sentence = f"Front view. On the left arm {len(skeleton)} joints; the mirror made {len(made)} on the right arm."
    sentence += f" On joints of the left arm hang: {', '.join(across)}." if across else ""
    view = fit_views(mesh, {"front": SIZE})["front"]
    return Picture([_plate(view, mesh, both, {}, sentence)])


def turned_round() -> Picture:
    """The same two arms from the front and from behind, with the wrists' names."""
    exercise, mesh = open_exercise(EXERCISE), _chest()
    rule, roles = exercise.naming, ("shoulder", "elbow", "wrist")
    places = np.array([exercise.asked(role).middle for role in roles])
    arm = Skeleton(tuple(rule.name_for(role, "left") for role in roles), (None, 0, 1), places)
    both = mirror_side(arm, MIDDLE, rule)
    front = fit_views(mesh, {"front": NARROW})["front"]
    back = replace(front, name="back", title="Back", right=(-1.0, 0.0, 0.0))
    at = {joint: name for joint, name in enumerate(both.names) if name.endswith("wrist")}
    said = "view. left_wrist lies on the {} of the picture, right_wrist on the other side."
    return Picture([_plate(front, mesh, both, at, f"Front {said.format('right')}"),
                    _plate(back, mesh, both, at, f"Back {said.format('left')}")])  # fmt: skip


def lettered() -> Picture:
    """Two joints with letters: A on one of both arms, from the front; B on the left hand, among its other joints."""
    exercise, mesh = open_exercise(EXERCISE), _chest()
    places = {joint.role: np.array(joint.middle) for joint in exercise.joints}
    front = fit_views(mesh, {"front": NARROW})["front"]
    arm = np.array([places[role] for role in ("shoulder", "elbow", "wrist")])
    hand = np.array([places[f"{digit} {number}"] for digit in ("thumb", "index") for number in (1, 2, 3)])
    blank, chains = tuple(f"joint {one}" for one in range(6)), (None, 0, 1, None, 3, 4)
    arms = Skeleton(blank, chains, np.concatenate([arm, arm * (-1.0, 1.0, 1.0)]))
    chain = Skeleton(blank, chains, hand)
    side = replace(standard_view("side", "left"), centre=tuple(hand.mean(axis=0).tolist()), scale=CLOSE, size=NARROW)
    said = (
        "Front view of both arms. A is the elbow on the left of the picture.",
        "Side view of the left hand, its back to you. B is the middle one of the index finger's three joints.",
    )
    return Picture([_plate(front, mesh, arms, {4: "A"}, said[0], BESIDE),
                    _plate(side, mesh, chain, {4: "B"}, said[1], BESIDE)])  # fmt: skip


def rule(which: str | NamingRule = "plain", roles: Sequence[str] = ("elbow", "wrist", "index 2", "pelvis")) -> Table:
    """A naming rule, piece by piece, with names for some roles that follow it."""
    told = which if isinstance(which, NamingRule) else read_rule(which)
    rows = [
        ("what comes first", ORDERS[told.order]),
        ("between the words", told.separator or "nothing"),
        ("letters", CASE_WORDS[told.case]),
        ("the sides", " and ".join(told.marks)),
        *(
            (f"the {role}, in the middle", told.name_for(role, None))
            if role in MIDLINE
            else (f"the left {role}", told.name_for(role, "left"))
            for role in roles
        ),
    ]
    return Table((told.title, "so it says"), rows)


def judged(*given: str, role: str = "elbow", side: str = "left") -> Table:
    """Names for one joint: what the check says of each, what a mirror makes of it, and whether a program that looks the
    name up letter by letter finds it."""
    plain = read_rule("plain")
    right, rows = plain.name_for(role, side), []
    for name in given:
        problems = plain.check(name, role, side)
        swapped = plain.swap_side(name)
        rows.append((name, problems[0].message if problems else "nothing", "no partner" if swapped == name else swapped,
                     "yes" if name == right else "no"))  # fmt: skip
    return Table(("name", "what the check says", "the mirror makes", f"found as {right}"), rows)


class Sheet:
    """Names that a student writes by some rule. asked: word -> the role and side that it stands for."""

    def __init__(self, by: NamingRule, asked: Mapping[str, tuple[str, str | None]]):
        self._by, self._asked, self._said = by, dict(asked), dict.fromkeys(asked, "")

    def say(self, **said: str) -> None:
        """Write names down, by word; writing again replaces them."""
        for word, name in said.items():
            require.choice(word, "a joint of this sheet", self._asked)
            self._said[word] = require.text(name, f"the name of {word}")

    def rule(self) -> Table:
        """The rule that the names must follow, piece by piece, with two names that are not asked for."""
        return rule(self._by, ("wrist", "thumb 3"))

    def check(self) -> Told:
        """Whether each name is as the rule has it; the first that is not, and what is wrong with it."""
        return safely(self._check)

    def _check(self) -> Told:
        if missing := [word for word, name in self._said.items() if not name.strip()]:
            return Told(NOT_YET, f"No name is written for {', '.join(missing)}.", "Write it in the cell above.")
        for word, (role, side) in self._asked.items():
            if problems := self._by.check(self._said[word], role, side):
                told = "; ".join(self._words(problem, word) for problem in problems)
                wanted = ORDERS[self._by.order]
                like = self._by.name_for("shoulder", "left")
                return Told(LOOK_AGAIN, f"{self._said[word]}: {told}.", f"This rule wants {wanted}, as in {like}.")
        return Told(RIGHT, "Every name is as the rule has it.", "Go on.")

    def _words(self, problem: NameProblem, word: str) -> str:
        """What is wrong with a name, without telling which joint a letter stands for."""
        role, name = self._asked[word][0], self._said[word]
        begins = self._by.order[0] == "part" and name.lower().startswith(self._by.words_for(role)[0])
        if problem.kind == "order" and begins:
            return NUMBER_FIRST
        if problem.kind in ("part-other", "part-unknown") and len(word) == 1:
            return f"{re.split(', and|;', problem.message)[0]}: look at {word} once more"
        if problem.kind == "part-misspelt" and not any(sign.isdigit() for sign in name) and len(role.split()) > 1:
            return "it does not say which of the joints it is: count from the palm outwards"
        return problem.message


def halyard() -> Sheet:
    """Three names to be written by the rule of Halyard House."""
    return Sheet(HALYARD, {"A": ("elbow", "right"), "B": ("index 2", "left"), "pelvis": ("pelvis", None)})


def hanim() -> Sheet:
    """Four names to be written by H-Anim's rule."""
    left = {"elbow": "elbow", "wrist": "wrist", "thumb": "thumb 1", "knuckle": "index 1"}
    return Sheet(read_rule("hanim"), {word: (role, "left") for word, role in left.items()})
