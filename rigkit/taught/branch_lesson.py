"""Lesson 6: a joint of Hob's arm moved alone, or with all below; places (5, 3) in the world, or from the parent."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from rigkit.bench import Bench
from rigkit.bench_parts import Limb, counted, placed_joint
from rigkit.edits import inserted, reparented, slid
from rigkit.exercise_text import key_of, layout_text
from rigkit.lesson import safely
from rigkit.limbs import Shape, practice_limb
from rigkit.make_exercise import make_exercise
from rigkit.openings import open_exercise
from rigkit.require import RigError, choice, number
from rigkit.skeleton import Skeleton
from rigkit.stills import Picture
from rigkit.tables import data_folder
from rigkit.taught.posed_plates import Pose, plates
from rigkit.taught.posing import looked_at
from rigkit.told import NOT_YET, Table, Told
from rigkit.vectors import angle_between, length

EXERCISE, MM = "hobs-arm", 1000.0
ROLES = ("shoulder", "elbow", "wrist", "thumb 1", "index 1")
FOUND = np.array([-0.030, 0.010, 0.0])
"""Metres (out, up, forward): by so much the shoulder lies off in the start "shoulder-off", alone."""
SHIFTED = np.array([0.0, 0.0, -0.022])
"""The same of all joints in the start "all-off": the figure was stood up anew, its joints were not."""
OFF = {"shoulder-off": FOUND, "all-off": SHIFTED}
HAND_OFF, LOW = np.array([0.0, 0.0, 0.020]), 0.042
"""In the start "two-faults" the wrist is off by HAND_OFF with all below, the elbow LOW (metres) along its bone."""


def _places() -> Skeleton:
    """Hob's joints where they belong, from what the exercise says of each."""
    exercise = open_exercise(EXERCISE)
    middles = np.array([exercise.asked(role).middle for role in ROLES])
    return Skeleton(ROLES, (None, 0, 1, 2, 2), middles)


def _in_place(skeleton: Skeleton) -> int:
    """How many joints lie in their rings, as the marks have it."""
    exercise = open_exercise(EXERCISE)
    limb, right = Limb.of(exercise, skeleton), 0
    for role in limb.roles:
        where = placed_joint(limb, skeleton, role)
        off = counted(limb, where, role)
        ring = exercise.rubric["centring.allowed"] * (where.radius or 0.0)
        right += off is not None and float(length(off)) <= ring and float(length(where.beyond)) < ring
    return right


def _mended(start: str, below: bool) -> tuple[Skeleton, Skeleton]:
    """A start layout, and the same with its shoulder put right, alone or with all below."""
    found = open_exercise(EXERCISE).start(start).skeleton
    to = found.positions[0] - OFF[start]
    return found, found.moved_branch(0, to) if below else found.moved(0, to)


def found() -> Picture:
    """Hob's arm as it was found: the shoulder off its place, all else right; from the front and the side."""
    skeleton = open_exercise(EXERCISE).start("shoulder-off").skeleton
    mesh, named = open_exercise(EXERCISE).mesh, dict(enumerate(ROLES[:3]))
    pose = Pose(mesh, skeleton.positions, skeleton.parents, {}, named)
    said = f"view. The shoulder lies {-MM * FOUND[0]:.0f} mm too far in and {MM * FOUND[1]:.0f} mm too high."
    return plates([("Front", "front", pose), ("Side", "side", pose)], [f"Front {said}", f"Side {said}"])


def two_tools() -> Picture:
    """The shoulder put right twice: by a tool that takes along what hangs below, and by one that leaves it."""
    exercise, poses, said = open_exercise(EXERCISE), [], []
    for title, below in (("The first tool", True), ("The second tool", False)):
        before, now = _mended("shoulder-off", below)
        right = _in_place(now)
        note = f"{right} of {len(ROLES)} joints in place; dashed: as found"
        named = {n: ROLES[n] for n in range(3)}
        pose = Pose(exercise.mesh, now.positions, now.parents, {}, named, note, before.positions)
        poses.append((title, "front", pose))
        what = "elbow, wrist and fingers went along" if below else "all other joints stayed"
        said.append(f"Front view. {title}: the shoulder was put right, {what}; {note}.")
    return plates(poses, said)


def two_numbers(joint: str = "elbow") -> Table:
    """A joint's place in the world and its arrow from the parent, mm (out, up, forward), before and after the shoulder
    was put right either way."""
    place = ROLES.index(choice(joint, "a joint below the shoulder", ROLES[1:]))
    before, along = _mended("shoulder-off", True)
    stayed = _mended("shoulder-off", False)[1]
    rows = []
    for words, arm in (("before", before), (f"the {joint} went along", along), (f"the {joint} stayed", stayed)):
        above = arm.positions[int(arm.parents[place] or 0)]
        rows.append((words, *(_mm(arrow) for arrow in (arm.positions[place], arm.positions[place] - above))))
    return Table((f"the {joint}", "its place in the world", "its arrow from the parent"), rows)


def _mm(arrow: np.ndarray) -> str:
    """An arrow (3,) of metres as whole millimetres."""
    return ", ".join(f"{MM * part + 0.0:.0f}" for part in np.round(arrow, 3) + 0.0)


def both_arms() -> Table:
    """Two arms mended at the shoulder by either tool: how many of the joints are in place then."""
    rows = []
    for start, words in (("shoulder-off", "the shoulder alone"), ("all-off", "all joints, by one arrow")):
        counts = [_in_place(one) for one in (_mended(start, True)[0], *(_mended(start, b)[1] for b in (True, False)))]
        rows.append((words, *(f"{count} of {len(ROLES)}" for count in counts)))
    return Table(("what lay off", "in place before", "moved with all below", "moved alone"), rows)


def bones(by: float = 20.0) -> Table:
    """What four edits of a well laid elbow, each by so many mm, do to the bones: lengths in mm, turns in degrees."""
    arm, step = _places(), number(by, "how far, mm", -100, 100) / MM
    back = arm.positions[1] - [0.0, 0.0, step]
    edits = {
        "back, alone": arm.moved(1, back),
        "back, with all below": arm.moved_branch(1, back),
        "along its bone, alone": slid(arm, 1, step).skeleton,
        "along its bone, with all below": slid(arm, 1, step, branch=True).skeleton,
    }
    rows = []
    for words, edited in edits.items():
        told = []
        for start, end in ((0, 1), (1, 2)):
            was, now = (one.positions[end] - one.positions[start] for one in (arm, edited))
            longer, turned = MM * float(length(now) - length(was)), np.degrees(float(angle_between(was, now)))
            told += [f"{longer + 0.0:+.0f} mm" if abs(longer) >= 0.5 else "same", f"{turned:.1f}°"]
        rows.append((f"{words}", *told))
    return Table(("the elbow moves", "upper arm", "its line turns", "forearm", "its line turns"), rows)


# If you want more ----------------------------------------------------------------------------------


def put_between(
    what: Bench | str = EXERCISE, above: str = "wrist", share: float = 0.5, start: str = "two-faults"
) -> Told:
    """A new joint on the bone above a joint, and what that moved."""

    def answer() -> Told:
        exercise, arm = looked_at(what, start)
        child = Limb.of(exercise, arm).roles[choice(above, "a joint with a parent", ROLES[1:])]
        longer = inserted(arm, child, "new", share)
        far = MM * float(length(longer.positions[: len(arm)] - arm.positions).max())
        return Told("put in", f"A new joint lies {100 * share:.0f} per cent down the bone to the {above}, "
                    f"which hangs on it now. All other joints moved by {far:.0f} mm.")  # fmt: skip

    return safely(answer)


def hang(joint: str, on: str, what: Bench | str = EXERCISE, start: str = "two-faults") -> Table | Told:
    """A joint hung on another one, with its place kept and with its arrow from the parent kept."""
    try:
        exercise, arm = looked_at(what, start)
        roles = Limb.of(exercise, arm).roles
        child, above = (roles[choice(one, "a joint", ROLES)] for one in (joint, on))
        hung = reparented(arm, child, above)
    except RigError as error:
        return Told(NOT_YET, str(error))
    was = arm.parents[child]
    arrow = arm.positions[child] - (0.0 if was is None else arm.positions[was])
    rows = []
    for words, to in (("its place", arm.positions[child]), ("its arrow", arm.positions[above] + arrow)):
        gone = MM * float(length(to - hung.positions[child]))
        rows.append((words, f"{gone:.0f} mm", _mm(to - arm.positions[above])))
    return Table((f"{joint} on the {on}, and the tool keeps", "it moves by", "its arrow from the parent then"), rows)


def write_exercise(folder: Path | str) -> Path:
    """Write the exercise "hobs-arm" with its three starts into a folder; returns it."""
    limb = practice_limb("arm", 31, shape=Shape(thickness=0.9, lengths={"shoulder": 0.93, "elbow": 0.95}))
    made = make_exercise(folder, limb, ROLES, EXERCISE, "Hob's left arm")
    key = key_of(limb, ROLES)
    low = key.positions[1] - key.positions[0]
    faults = key.moved_branch(2, key.positions[2] + HAND_OFF)
    faults = faults.moved(1, key.positions[1] + LOW * low / float(length(low)))
    starts = {"shoulder-off": key.moved(0, key.positions[0] + FOUND), "two-faults": faults,
              "all-off": key.at(key.positions + SHIFTED)}  # fmt: skip
    for name, start in starts.items():
        text = layout_text(f"start-{name}", EXERCISE, start.at(np.round(start.positions, 5)))
        (made / f"start-{name}.json").write_bytes(text.encode())
    return made


if __name__ == "__main__":
    write_exercise(data_folder() / "exercises" / EXERCISE)
