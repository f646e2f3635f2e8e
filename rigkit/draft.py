"""A draft exercise from a character of one's own: its mesh and skeleton, what they seem to be, and answers -> files.

What is guessed can be changed, what is in doubt is asked (`open_questions`), and the key is checked as a hand-in is.
"""

import glob
import shutil
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path

import numpy as np

from rigkit import require
from rigkit.exercise_text import IGNORED, Heading
from rigkit.files.exercise import CONVENTIONS, Exercise, read_exercise
from rigkit.files.layout import Layout
from rigkit.files.rubrics import read_rubric
from rigkit.limbs import PracticeLimb, limb_seed
from rigkit.limbs.starts import drawn_scatter, draws_of
from rigkit.make_exercise import write_exercise
from rigkit.marking import Result, mark
from rigkit.meant import DIGITS, Meant, meant_by
from rigkit.mesh import Mesh
from rigkit.naming import MIDLINE, read_rule
from rigkit.require import RigError
from rigkit.skeleton import Skeleton
from rigkit.understood import ASKED_FOLD, Lie, answer_about, fold_of, lie_of, second_opinion
from rigkit.vectors import length

SAID = ("id", "title", "rest_pose", "side", "naming", "rubric", "frame_convention")
SPARED = (*IGNORED, "*twist*", "*heel*")


@dataclass(frozen=True, eq=False)
class DraftJoint:
    """One joint of the character as the draft takes it. number: in the skeleton. parent: the nearest asked joint above
    it. lie, away: None where it is ignored, or folds no way. doubts: what must be asked."""

    number: int
    name: str
    role: str
    need: str
    parent: int | None = None
    lie: Lie | None = None
    away: np.ndarray | None = None
    between: tuple[int, int] | None = None
    names: tuple[str, ...] = ()
    doubts: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class Draft:
    """A draft. figure: all joints of the character, metres, world frame; the asked ones are the key. answers: for each
    joint's number what was said of it (see `with_joint`). notices: what was noticed in the file."""

    mesh: Mesh
    figure: Skeleton
    id: str
    title: str
    side: str
    rest_pose: str = ""
    naming: str = "plain"
    rubric: str = "standard"
    frame_convention: str = "not-judged"
    answers: Mapping[int, Mapping] = field(default_factory=dict)
    notices: tuple[str, ...] = ()
    doubts: tuple[str, ...] = ()

    @cached_property
    def joints(self) -> tuple[DraftJoint, ...]:
        """What each joint of the figure is taken for, topmost first."""
        order = [i for top, parent in enumerate(self.figure.parents) if parent is None for i in self.figure.branch(top)]
        meant = self._meant(order)
        asked = [i for i in order if meant[i].need != "ignored"]
        above = {i: self._above(i, asked) for i in order}
        return tuple(self._joint(i, meant[i], above, asked) for i in order)

    def _meant(self, order: list[int]) -> dict[int, Meant]:
        """Role, side and need of each joint, from its name and the answers; no role twice among the asked."""
        found: dict[int, Meant] = {}
        for i in order:
            one, said = meant_by(self.figure.names[i]), self.answers.get(i, {})
            if "role" in said or "need" in said:
                need = said.get("need") or ("required" if one.need == "ignored" else one.need)
                one = Meant(said.get("role", one.role), one.side, need)
            elif one.side not in (None, self.side):
                one = replace(one, need="ignored", doubt="")
            found[i] = one
        roles = [found[i].role for i in order if found[i].need != "ignored"]
        limb = any(role.split()[0] not in DIGITS for role in roles)
        taken: set[str] = set()
        for i in order:
            one, said = found[i], self.answers.get(i, {})
            if one.role in taken and one.need != "ignored":
                doubt = f"another joint is the {one.role} already. Which joint is this, or is it ignored?"
                found[i] = Meant(f"{one.role} {i}", one.side, "ignored", doubt)
            elif one.need == "required" and limb and one.role.split()[0] in DIGITS and "need" not in said:
                found[i] = replace(one, need="optional")
            taken |= {found[i].role} if found[i].need != "ignored" else set()
        return found

    def _above(self, joint: int, asked: list[int]) -> int | None:
        parent = self.figure.parents[joint]
        while parent is not None and parent not in asked:
            parent = self.figure.parents[parent]
        return parent

    def _joint(self, i: int, meant: Meant, above: dict, asked: list[int]) -> DraftJoint:
        name, said, places = self.figure.names[i], self.answers.get(i, {}), self.figure.positions
        if meant.need == "ignored":
            return DraftJoint(i, name, meant.role, meant.need, doubts=(meant.doubt,) if meant.doubt else ())
        below = [n for n in asked if above[n] == i]
        parent = self.figure.parents[i] if above[i] is None else above[i]  # a bone from a joint that is not asked, too
        around = None if parent is None else places[parent], [places[n] for n in below]
        wishes = {key: said[key] for key in ("place", "middle", "plane", "stretch") if key in said}
        lie = lie_of(self.mesh, meant.role, places[i], *around, **wishes)
        away, doubt, between = None, "", None
        if above[i] is not None and len(below) == 1:
            between = (above[i], below[0])
            away, doubt = fold_of(meant.role, self.side, places[above[i]], places[i], places[below[0]])
            if "fold" in said:
                away, doubt = said["fold"], ""
        doubts = tuple(one for one in (meant.doubt, lie.doubt, doubt) if one)
        return DraftJoint(i, name, meant.role, meant.need, above[i], lie, away, between, said.get("names", ()), doubts)

    @property
    def asked(self) -> tuple[DraftJoint, ...]:
        """The joints that are asked for, required or optional."""
        return tuple(one for one in self.joints if one.need != "ignored")

    def joint(self, name: str) -> DraftJoint:
        """A joint by its role or its name; the asked ones first. Raises RigError with the roles there are."""
        for one in (*self.asked, *self.joints):
            if name in (one.role, one.name):
                return one
        return self.joint(require.choice(name, "a joint", dict.fromkeys(one.role for one in self.joints)))

    def open_questions(self) -> tuple[str, ...]:
        """What must be settled before anybody is marked by this, each as "what: the question"."""
        pose = "rest_pose: how does the figure rest? Say it in words, for those who cannot see it."
        none = "joints: which are asked for? None was recognised."
        found = [*self.doubts, *([] if self.rest_pose.strip() else [pose]), *([] if self.asked else [none])]
        return (*found, *(f"{one.name or one.role}: {doubt}" for one in self.joints for doubt in one.doubts))

    def with_joint(self, name: str, **answers) -> "Draft":
        """A copy with answers about one joint, by role or name.

        role: another role, in words. need: "required", "optional" or "ignored". place: "flesh" or "region". middle:
        what decides a region, "sight" or "key". plane: "between", "upper" or "lower" (bone). stretch: share of the
        shorter bone that may be cut on either side. fold: the way it lies off its neighbours' line, one of WAYS, "none"
        or a vector (3,). names: other words that its name may say. Raises RigError for anything else.
        """
        one = self.joint(name)
        given: dict = {key: answer_about(key, value, self.side, name) for key, value in answers.items()}
        if given.get("fold") is not None and one.between is not None:
            line = self.figure.positions[one.between[1]] - self.figure.positions[one.between[0]]
            if length(np.cross(given["fold"], line)) < 0.2 * length(line):
                raise RigError("a way across the limb", f"{require.shown(answers['fold'])}, which runs along it",
                               next_step="Choose another way", where=name)  # fmt: skip
        return replace(self, answers={**self.answers, one.number: {**self.answers.get(one.number, {}), **given}})

    def with_said(self, **said: str) -> "Draft":
        """A copy with other words for the whole: id, title, rest_pose, side, frame_convention, naming and rubric (a
        bundled one's name, or a .toml file of one's own, which is copied into the exercise's folder)."""
        for key, value in said.items():
            require.choice(key, "what is said", SAID)
            require.text(value, key, 64 if key == "id" else 1000 if key == "rest_pose" else 200)
        if "side" in said:
            require.choice(said["side"], "side", ("left", "right", "middle"))
        require.choice(said.get("frame_convention", self.frame_convention), "frame_convention", CONVENTIONS)
        read_rule(said.get("naming", self.naming))
        read_rubric(said.get("rubric", self.rubric))
        doubts = tuple(one for one in self.doubts if one.partition(":")[0] not in said)  # "side: is it left?"
        return replace(self, **said, doubts=doubts)  # type: ignore[arg-type]

    def changed(self, name: str, to: np.ndarray | None = None, called: str = "") -> "Draft":
        """A copy with one joint of the key at another place (3,), metres (the joints below it stay), or renamed."""
        number, figure = self.joint(name).number, self.figure
        figure = figure if to is None else figure.moved(number, to)
        return replace(self, figure=figure.renamed(number, called) if called else figure)

    @cached_property
    def key(self) -> Skeleton:
        """The asked joints alone, under their own names: the instructor's key."""
        numbers = [one.number for one in self.asked]
        parents = tuple(None if one.parent is None else numbers.index(one.parent) for one in self.asked)
        return Skeleton(tuple(one.name for one in self.asked), parents, self.figure.positions[numbers])

    def limb(self) -> PracticeLimb:
        """The draft in the form of a practice limb, its joints named by the rule."""
        rule, asked = read_rule(self.naming), self.asked
        if not asked:
            raise RigError("at least one joint that is asked for", "none", where=self.id)
        lies = {one.role: one.lie for one in asked if one.lie is not None}
        names = tuple(rule.name_for(one.role, self.side_of(one.role)) for one in asked)
        marks = {name: place for lie in lies.values() for name, place in lie.landmarks.items()}
        top = self.figure.parents[asked[0].number]
        return PracticeLimb(
            "own", self.side, limb_seed(self.id, "own"), self.mesh, replace(self.key, names=names),
            tuple(one.role for one in asked),
            marks | ({} if top is None else {"trunk_middle": self.figure.positions[top]}),
            {role: (tuple(lie.landmarks), lie.radius) for role, lie in lies.items() if lie.place == "region"},
            {role: lie.plane for role, lie in lies.items() if lie.plane is not None},
            {role: lie.stretch for role, lie in lies.items() if lie.stretch is not None},
            {one.role: one.away for one in asked if one.away is not None},
            tuple(one.role for one in asked if one.need == "optional"),
        )  # fmt: skip

    def side_of(self, role: str) -> str | None:
        """The side that a role's name has to say, or None (as `Exercise.side_of`)."""
        return None if self.side == "middle" or role in MIDLINE else self.side

    def write(self, folder: Path | str, final: bool = False) -> Path:
        """Write the exercise folder: mesh alone, key, a start, and exercise.toml with what is still open.

        final: leave the open questions out. Returns the folder. Raises RigError where it cannot be written.
        """
        limb, asked = self.limb(), () if final else self.asked
        own = (glob.escape(one.name) for one in self.joints if one.need == "ignored" and one.name)
        heading = Heading(
            self.id, self.title, self.rest_pose, tuple(dict.fromkeys((*SPARED, *own))),
            Path(self.naming).name, Path(self.rubric).name,
            self.frame_convention, () if final else self.open_questions(),
            {one.role: one.names for one in self.asked},
            tuple(one.role for one in asked if one.away is None and ASKED_FOLD in " ".join(one.doubts)),
        )  # fmt: skip
        start = drawn_scatter(limb, limb.key, limb.roles, draws_of(limb))
        folder = write_exercise(folder, limb, heading, {"key": self.key, "start-scattered": start})
        for own_file in (Path(one) for one in (self.naming, self.rubric) if one.endswith(".toml")):
            if own_file.resolve().parent != folder.resolve():
                shutil.copyfile(own_file, folder / own_file.name)
        return folder

    @cached_property
    def exercise(self) -> Exercise:
        """The exercise as it would be, open questions left out; written and read as a student's, but not kept."""
        with tempfile.TemporaryDirectory() as folder:
            return read_exercise(self.write(Path(folder) / self.id, final=True))

    def checked(self) -> tuple[Result, tuple[str, ...]]:
        """The key marked by its own exercise, and what else was noticed: where anatomy, lines of sight or the mesh's
        own bend loops say otherwise."""
        result = mark(Layout(self.id, "", 1, self.key), self.exercise)
        places = self.figure.positions
        said = (second_opinion(self.mesh, one.role, self.side, [places[n] for n in (one.number, *(one.between or ()))],
                               one.lie, one.away) for one in self.asked if one.lie is not None)  # fmt: skip
        return result, tuple(one for one in said if one)
