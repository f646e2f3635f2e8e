"""What the notebook for an exercise of one's own imports: a character opened, asked about, checked, written, tried out.

Every answer is words, a table or a picture; what cannot be done is told with the next step, never a traceback.
"""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from pathlib import Path

import ipywidgets as widgets

from rigkit.bench_hints import first_to_mend
from rigkit.bench_parts import Limb
from rigkit.draft import DraftJoint
from rigkit.files.exercise import read_exercise
from rigkit.files.layout import Layout
from rigkit.lesson import Shown, safely
from rigkit.marking import mark
from rigkit.openings import hand_out, read_draft
from rigkit.require import RigError, choice, number
from rigkit.stills import Picture, picture
from rigkit.taught.own_character import ASKED, DEMO, Character, demo_character, lines, taken
from rigkit.told import LOOK_AGAIN, NOT_YET, RIGHT, Table, Told
from rigkit.work import WORK, own_folder

__all__ = [
    "Character", "check_key", "choose", "demo_character", "finish", "found_in_key", "give_out", "joints_in",
    "open_character", "picture_of", "questions", "try_out", "understood",
]  # fmt: skip

NEEDS = ("required", "optional", "ignored")
TOPICS = {"joints": ("Which joint", "joints:"), "places": ("(middle)",), "folds": ("(fold)",),
          "words": ("rest_pose:", "title:", "naming:")}  # fmt: skip
"""Which open questions belong together, by words in them."""


def open_character(file: str, **which) -> Character:
    """Open a .glb or .gltf file; skin, meshes, side, units, up, facing: as in `read_draft`."""
    return Character(read_draft(file, **which), demo=Path(file) == own_folder(WORK) / DEMO)


def joints_in(character: Character) -> Table:
    """What each joint of the file is taken for, whether it is asked for, and what was noticed."""
    draft = character.draft
    return Table(("joint in the file", "taken for", "need"), [taken(one) for one in draft.joints], draft.notices)


def understood(character: Character) -> Table:
    """The same, with what judges each joint and which way it lies off its line."""
    return lines(character.draft.joints, character.draft)


def picture_of(character: Character, views: Sequence[str] = ("front", "side"), joints: Sequence[str] = (),
               pulled: float = 0) -> Picture:  # fmt: skip
    """The key in its mesh, and a slice through each of `joints` where "slice" is among the views."""
    draft, pull = character.draft, number(pulled, "pulled", 0, 100) / 100
    folding = next((one.role for one in draft.asked if one.away is not None), "")
    pull = pull if not joints or folding in joints else 0.0  # what is pulled folds at the first joint that folds
    return picture(draft.exercise, draft.key, views, joints, pull, pull > 0)


def choose(character: Character) -> Shown:
    """A table to choose each joint's need in; below it the lines that keep the choice."""
    kept = widgets.HTML()
    given: dict[str, str] = {}

    def pick(one: DraftJoint) -> widgets.Dropdown:
        need = taken(one)[2]
        box = widgets.Dropdown(
            options=NEEDS if need in NEEDS else (need, *NEEDS),
            value=need,
            description=one.name,
            style={"description_width": "190px"},
            layout=widgets.Layout(width="320px"),
        )

        def chosen(change) -> None:
            if change["new"] == ASKED:
                return
            try:
                character.joint(one.name, need=change["new"])
                given[one.name] = f"character.joint({one.name!r}, need={change['new']!r})"
                said = escape("\n".join(given.values()))
                kept.value = f"To keep this for the next time, write:<pre>{said}</pre>"
            except RigError as error:
                kept.value = escape(str(error))

        box.observe(chosen, "value")
        return box

    rows = [pick(one) for one in character.draft.joints]
    return Shown(widgets.VBox([*rows, kept]), "A table to choose in. Run this cell (Shift+Enter) to open it.")


def questions(character: Character, topic: str = "") -> Told:
    """What is still open: all, or of one topic (joints, places, folds, words)."""

    def answer() -> Told:
        words = TOPICS.get(topic, ("",))
        left = [one for one in character.asking.open_questions() if any(word in one for word in words)]
        if left:
            return Told(NOT_YET, "  ".join(left), "Answer in the cell above.")
        if odd := character.odd(topic):
            return Told(LOOK_AGAIN, *odd)
        return Told(RIGHT, "No question is left here.", "Go on.")

    return safely(answer)


def _found(character: Character) -> tuple[Table, Told]:
    """What the marks find in the key, all of it and what to mend first. Where the key contradicts its own rubric there
    is no mark, and what lies off its slice's middle is told."""
    draft = character.draft
    head = ("joint", "found", "what mends it")
    try:
        result, notes = draft.checked()
    except RigError as error:
        if rows := character.astray():
            return Table(head, rows, ["The key gets no mark as it is."]), Told(LOOK_AGAIN, *rows[0][1:])
        return Table(head, [], [str(error)]), Told(LOOK_AGAIN, "The rubric does not fit this key.", str(error))
    gets, left = f"The key gets {result.mark:g} of 100.", character.asking.open_questions()
    tried = character.mended or not character.demo  # the demo's own millimetres are an exercise
    rows = [(one.joint, one.message, one.mend if tried else "") for one in result.findings]
    under = [gets, *notes, *([f"{_count(left)} above; what is left out was not checked."] if left else [])]
    first = first_to_mend(result.findings, Limb.of(draft.exercise, draft.key))
    if first is None:
        return Table(head, rows, under), Told(RIGHT, " ".join([gets, *notes]), "Go on.")
    told = Told(LOOK_AGAIN, f"{gets} {first.message}", first.mend, fault=(first.finding, first.joint))
    return Table(head, rows, under), told


def found_in_key(character: Character) -> Table:
    """What the marks find in the instructor's own key, and where flesh, mesh or anatomy say otherwise."""
    return _found(character)[0]


def check_key(character: Character) -> Told:
    """The instructor's own key by the measures that students will meet; what to mend first."""

    def answer() -> Told:
        if left := character.asking.open_questions():
            return Told(NOT_YET, f"{_count(left)} above.", "Answer them first.")
        told = _found(character)[1]
        if character.demo and not character.mended:
            return Told(NOT_YET, f"It is as the file has it. {told.found}", "Read the millimetres in the pictures.")
        return told

    return safely(answer)


def _count(left: Sequence[str]) -> str:
    return f"{len(left)} questions are open" if len(left) > 1 else "1 question is open"


def _unless_wrong(character: Character, told: str) -> Told:
    """That something was done; right only where neither the answers nor the key hold a fault."""
    if odd := character.odd():
        return Told(LOOK_AGAIN, f"{told} But: {odd[0]}", f"{odd[1]} Then write it again.")
    key = _found(character)[1]
    if key.state != RIGHT:
        return Told(LOOK_AGAIN, f"{told} But: {key.found}", "Mend the key, and write it again.", fault=key.fault)
    return Told(RIGHT, told, "Go on.")


def finish(character: Character) -> Told:
    """Write the exercise: a draft while questions are open, else complete."""

    def answer() -> Told:
        draft, place = character.asking, f"{own_folder(WORK).name}/exercises/{character.draft.id}"
        draft.write(character.folder)
        if left := draft.open_questions():
            return Told(
                NOT_YET, f"A draft was written to {place}. {_count(left)}, so it marks nobody.", "Answer first."
            )
        return _unless_wrong(character, f"The exercise is complete and lies in {place}.")

    return safely(answer)


def give_out(character: Character) -> Told:
    """Write the students' copy."""

    def answer() -> Told:
        if left := character.asking.open_questions():
            return Told(NOT_YET, f"It is a draft still: {_count(left)}.", "Answer first, and write it again.")
        names = sorted(path.name for path in hand_out(character.folder, character.for_students).iterdir())
        return _unless_wrong(character, f"Theirs are {', '.join(names)}: no key, and no joint in the mesh.")

    return safely(answer)


def try_out(character: Character, joint: str, out: float = 0, up: float = 0, forward: float = 0) -> Told:
    """Mark a sample hand-in by the students' copy: the key with one joint so many mm off."""

    def answer() -> Told:
        if not character.for_students.is_dir() or character.asking.open_questions():
            return Told(NOT_YET, "Nothing was handed out yet.", "Hand it out in the cell above first.")
        exercise, key = read_exercise(character.for_students), character.draft.key
        roles = [one.role for one in character.draft.asked]
        number = roles.index(choice(character.one(joint).role, "a joint that is asked for", roles))
        moved = key.moved(number, key.positions[number] + character.arrow(out, up, forward))
        whole, result = (mark(Layout("sample", "", 1, one), exercise) for one in (key, moved))
        said = " ".join(f"{one.message} {one.mend}" for one in result.findings) or "Nothing was found."
        gets = f"the key itself gets {whole.mark:g}, this hand-in {result.mark:g} of 100"
        return _unless_wrong(character, f"Both were marked: {gets}. {said}")

    return safely(answer)
