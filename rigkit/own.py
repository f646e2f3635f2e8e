"""What the notebook for an exercise of one's own imports: a character opened, asked about, checked, written, tried out.

Every answer is words, a table or a picture; what cannot be done is told with the next step, never a traceback.
"""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from pathlib import Path

import ipywidgets as widgets
import numpy as np

from rigkit.bench_hints import first_to_mend
from rigkit.bench_parts import Limb
from rigkit.draft import Draft, DraftJoint
from rigkit.files.exercise import read_exercise
from rigkit.files.gltf_write import skinned_glb
from rigkit.files.layout import Layout
from rigkit.lesson import Shown, safely
from rigkit.limbs import Shape, practice_limb
from rigkit.marking import mark
from rigkit.openings import hand_out, read_draft
from rigkit.require import RigError, number
from rigkit.skeleton import Skeleton
from rigkit.slices import MM
from rigkit.stills import Picture, picture
from rigkit.told import LOOK_AGAIN, NOT_YET, RIGHT, Table, Told
from rigkit.understood import WAYS
from rigkit.work import WORK, own_folder

DEMO_SEED, DEMO_SLIP = 5, (0.021, 0.003, 0.0)  # metres that the demo's ball lies off its place, on purpose
NEEDS, PLACES = ("required", "optional", "ignored"), ("flesh", "region")
TOPICS = {"joints": ("Which joint", "joints:"), "places": ("(middle)",), "folds": ("(fold)",),
          "words": ("rest_pose:", "naming:")}  # fmt: skip
"""Which open questions belong together, by words in them."""


class Character:
    """A character while it becomes an exercise: the draft as it is now, and as it was opened."""

    def __init__(self, draft: Draft):
        self.opened = self.draft = draft

    def joint(self, name: str, **answers) -> Table:
        """Answer about a joint, by its role or name: role, need, place, middle, plane, stretch, fold, names."""
        number = self.draft.joint(name).number
        self.draft = self.draft.with_joint(name, **answers)
        return _lines([one for one in self.draft.joints if one.number == number], self.draft)

    def say(self, **words: str) -> Table:
        """Say of the whole: title, rest_pose, side, naming, rubric, frame_convention, id."""
        self.draft = self.draft.with_said(**words)
        return Table(("what", "as it is now"), [(key, str(getattr(self.draft, key))) for key in words])

    def mend(self, name: str, out: float = 0, up: float = 0, forward: float = 0, called: str = "") -> Table:
        """Put a joint of the key so many mm from where the file has it, or call it otherwise."""
        number = self.draft.joint(name).number
        to = self.opened.figure.positions[number] + self.arrow(out, up, forward)
        self.draft = self.draft.changed(name, to, called)
        return _lines([one for one in self.draft.joints if one.number == number], self.draft)

    def arrow(self, out: float, up: float, forward: float) -> np.ndarray:
        """Millimetres out, up and forward as an arrow (3,), metres, world."""
        way = [number(one, what, -1000, 1000) for what, one in (("out", out), ("up", up), ("forward", forward))]
        return np.array(way) / MM * [-1.0 if self.draft.side == "right" else 1.0, 1.0, 1.0]

    @property
    def folder(self) -> Path:
        """Where the exercise is written: beside the notebook's other work."""
        return own_folder(WORK) / "exercises" / self.draft.id

    @property
    def for_students(self) -> Path:
        """Where the students' copy is written."""
        return self.folder.with_name(f"{self.draft.id}-for-students")


def demo_character() -> str:
    """Write Minnow's left leg as her modeller left it, mesh and joints in one .glb file; returns the file's place.

    A knee modelled straight, a helper without a name, and a ball of the foot in the wrong place.
    """
    leg = practice_limb("leg", DEMO_SEED, "left", Shape(bend=0.0, thickness=0.86))
    hip, knee, ankle, ball, tip = leg.key.positions
    places = [hip * [0, 1, 1] + [0, 0.06, 0], hip, knee, (knee + ankle) / 2, ankle, ball + DEMO_SLIP, tip]
    names = ("pelvis", "left_hip", "left_knee", "joint_4", "left_ankle", "left_ball", "left_toe_tip")
    path = own_folder(WORK) / "minnow_leg.glb"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(skinned_glb(leg.mesh, Skeleton(names, (None, 0, 1, 2, 2, 4, 5), np.array(places))))
    return str(path)


def open_character(file: str, **which) -> Character:
    """Open a .glb or .gltf file; skin, meshes, side, units, up, facing: as in `read_draft`."""
    return Character(read_draft(file, **which))


def understood(character: Character) -> Table:
    """What each joint of the file is taken for, and what was noticed."""
    return _lines(character.draft.joints, character.draft)


def _lines(joints: Sequence[DraftJoint], draft: Draft) -> Table:
    rows = []
    for one in joints:
        lie, fold = one.lie, "" if one.away is None else _way(one.away, draft.side)
        asked = any("(fold)" in doubt for doubt in one.doubts)
        rows.append((one.name, one.role, one.need, lie.place if lie else "", "asked" if asked else fold,
                     lie.said if lie else ""))  # fmt: skip
    under = draft.notices if len(joints) == len(draft.joints) else ()
    return Table(("joint in the file", "taken for", "need", "judged by", "off its line", "why"), rows, under)


def _way(away: np.ndarray, side: str) -> str:
    flip = np.array([-1.0 if side == "right" else 1.0, 1.0, 1.0])
    return max(WAYS, key=lambda word: float(np.dot(np.array(WAYS[word]) * flip, away)))


def picture_of(character: Character, views: Sequence[str] = ("front", "side"), joints: Sequence[str] = (),
               pulled: float = 0) -> Picture:  # fmt: skip
    """The key in its mesh, and a slice through each of `joints` where "slice" is among the views."""
    draft, pull = character.draft, number(pulled, "pulled", 0, 100) / 100
    folding = next((one.role for one in draft.asked if one.away is not None), "")
    pull = pull if not joints or folding in joints else 0.0  # what is pulled folds at the first joint that folds
    return picture(draft.exercise, draft.key, views, joints, pull, pull > 0)


def choose(character: Character) -> Shown:
    """A table to choose in: for each joint its need and what judges it; below it the lines that keep the choice."""
    lines = widgets.HTML()
    given: dict[str, dict[str, str]] = {}
    rows: list[widgets.Widget] = []

    def pick(one: DraftJoint, key: str, options: Sequence[str], value: str) -> widgets.Dropdown:
        label, wide = (one.name, 190) if key == "need" else ("judged by", 90)
        box = widgets.Dropdown(
            options=options,
            value=value,
            description=label,
            style={"description_width": f"{wide}px"},
            layout=widgets.Layout(width=f"{wide + 130}px"),
        )

        def chosen(change) -> None:
            given.setdefault(one.name, {})[key] = change["new"]
            try:
                character.draft = character.draft.with_joint(one.name, **{key: change["new"]})
                said = [f"character.joint({name!r}, " + ", ".join(f"{k}={v!r}" for k, v in told.items()) + ")"
                        for name, told in given.items()]  # fmt: skip
                lines.value = "To keep this for the next time, write:<pre>" + escape("\n".join(said)) + "</pre>"
            except RigError as error:
                lines.value = escape(str(error))

        box.observe(chosen, "value")
        return box

    for one in character.draft.joints:
        boxes = [pick(one, "need", NEEDS, one.need)]
        boxes += [pick(one, "place", PLACES, one.lie.place)] if one.lie is not None else []
        rows.append(widgets.HBox(boxes))
    return Shown(widgets.VBox([*rows, lines]), "A table to choose in. Run this cell (Shift+Enter) to open it.")


def questions(character: Character, topic: str = "") -> Told:
    """What is still open: all, or of one topic (joints, places, folds, words)."""
    words = TOPICS.get(topic, ("",))
    left = [one for one in character.draft.open_questions() if any(word in one for word in words)]
    if left:
        return Told(NOT_YET, "  ".join(left), "Answer in the cell above.")
    against = [one for one in character.draft.checked()[1] if topic == "folds" and "anatomy" in one]
    if against:
        return Told(LOOK_AGAIN, against[0], "Choose the other way, unless your creature is made so.")
    return Told(RIGHT, "No question is left here.", "Go on.")


def found_in_key(character: Character) -> Table:
    """What the marks find in the instructor's own key, and where flesh, mesh or anatomy say otherwise."""
    result, notes = character.draft.checked()
    rows = [(one.joint, one.message, one.mend) for one in result.findings]
    left = character.draft.open_questions()
    under = [f"{_count(left)} above; what is left out was not checked."] if left else []
    return Table(("joint", "found", "what mends it"), rows, [f"The key gets {result.mark:g} of 100.", *notes, *under])


def check_key(character: Character) -> Told:
    """The instructor's own key by the measures that students will meet; what to mend first."""

    def answer() -> Told:
        draft = character.draft
        if left := draft.open_questions():
            return Told(NOT_YET, f"{_count(left)} above.", "Answer them first.")
        result, notes = draft.checked()
        first = first_to_mend(result.findings, Limb.of(draft.exercise, draft.key))
        if first is None:
            return Told(RIGHT, " ".join([f"The key gets {result.mark:g} of 100.", *notes]), "Go on.")
        return Told(LOOK_AGAIN, f"The key gets {result.mark:g} of 100. {first.message}", first.mend,
                    fault=(first.finding, first.joint))  # fmt: skip

    return safely(answer)


def _count(left: Sequence[str]) -> str:
    return f"{len(left)} questions are open" if len(left) > 1 else "1 question is open"


def finish(character: Character) -> Told:
    """Write the exercise: a draft while questions are open, else complete."""

    def answer() -> Told:
        left = character.draft.open_questions()
        place = f"{own_folder(WORK).name}/exercises/{character.draft.id}"
        character.draft.write(character.folder)
        if left:
            return Told(
                NOT_YET, f"A draft was written to {place}. {_count(left)}, so it marks nobody.", "Answer first."
            )
        return Told(RIGHT, f"The exercise is complete and lies in {place}.", "Go on.")

    return safely(answer)


def give_out(character: Character) -> Told:
    """Write the students' copy."""

    def answer() -> Told:
        if left := character.draft.open_questions():
            return Told(NOT_YET, f"It is a draft still: {_count(left)}.", "Answer first, and write it again.")
        names = sorted(path.name for path in hand_out(character.folder, character.for_students).iterdir())
        return Told(RIGHT, f"Theirs are {', '.join(names)}: no key, and no joint in the mesh.", "Go on.")

    return safely(answer)


def try_out(character: Character, joint: str, out: float = 0, up: float = 0, forward: float = 0) -> Told:
    """Mark a sample hand-in by the students' copy: the key with one joint so many mm off."""

    def answer() -> Told:
        if not character.for_students.is_dir():
            return Told(NOT_YET, "Nothing was handed out yet.", "Hand it out in the cell above first.")
        exercise, key = read_exercise(character.for_students), character.draft.key
        number = [one.role for one in character.draft.asked].index(character.draft.joint(joint).role)
        moved = key.moved(number, key.positions[number] + character.arrow(out, up, forward))
        whole, result = (mark(Layout("sample", "", 1, one), exercise) for one in (key, moved))
        said = " ".join(f"{one.message} {one.mend}" for one in result.findings) or "Nothing was found."
        gets = f"the key itself gets {whole.mark:g}, this hand-in {result.mark:g} of 100"
        return Told(RIGHT, f"Both were marked: {gets}. {said}")

    return safely(answer)
