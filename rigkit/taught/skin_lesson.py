"""Lesson 12: what a misplaced elbow does to the skin, in pictures, curves and a table; a trip to another desk."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from rigkit.bench import Bench
from rigkit.bench_parts import nearest_way
from rigkit.bulk import Bulk
from rigkit.carry import brought_back, came_back, carry_out
from rigkit.charts import curves
from rigkit.lesson import Shown, safely
from rigkit.require import RigError
from rigkit.slices import MM
from rigkit.stills import Picture
from rigkit.taught.skin_panel import lay_by_hand
from rigkit.taught.skin_plates import bent_picture
from rigkit.taught.skin_ways import Hung, hung
from rigkit.told import LOOK_AGAIN, NOT_YET, RIGHT, Table, Told
from rigkit.work import HAND_INS, own_folder

IN_PLACE = {"forward": -33.0}
"""mm from the start of lesson 4 to the middle of Orlo's elbow."""
SHIFT, FAR, SLID = 12.0, 25.0, 30.0  # mm: 0.3 of Orlo's local radius, twice that, and along the limb
ANGLES = tuple(range(0, 136, 15))  # degrees
SAID = {"volume": "flesh", "overlap": "overlap", "folded": "folds", "stretched": "stretch"}
DESK = "back-from-lighting.glb"
NUDGED = 12.0  # mm that the other desk moves the elbow
CLOSE = 1.0  # mm within which a student's reading of it is right
NO_BENCH = Told(NOT_YET, "The bench is not open.", "Run the cell that opens it, then this one.")


def orlo() -> Hung:
    """Orlo's left arm, its elbow in the middle, as lesson 4 left it."""
    return hung("left-arm", "forward").moved(**IN_PLACE)


def slid(limb: Hung, mm: float) -> Hung:
    """The elbow laid so many mm down the limb, along the line of its neighbours."""
    line = limb.joints[2] - limb.joints[0]
    out, up, forward = mm * (limb.limb.body @ (line / np.linalg.norm(line)))
    return limb.moved(out, up, forward)


def visitor() -> Picture:
    """Orlo's arm with the elbow where the visitor wanted it, bent thrice; how much flesh it keeps is not told."""
    laid = orlo().moved(forward=-FAR)
    return bent_picture([("The visitor's elbow", laid, degrees) for degrees in (45, 90, 120)], with_kept=False)


def by_hand(bench: Bench | None = None) -> Shown:
    """A panel to lay an elbow back and forward and see it bent, Orlo's or that on a bench, see `lay_by_hand`."""
    return lay_by_hand(orlo(), "In the middle") if bench is None else lay_by_hand(hung(bench), "As you laid it")


def along() -> Picture:
    """Orlo's elbow bent: in place, laid too far up the limb, laid too far down."""
    arm = orlo()
    return bent_picture([("In place", arm, 90), ("30 mm up the limb", slid(arm, -SLID), 90),
                         ("30 mm down the limb", slid(arm, SLID), 90)])  # fmt: skip


def own_fold(bench: Bench) -> Picture | Told:
    """A student's own elbow bent a little, much, and far; or in words why it cannot be shown."""
    if not isinstance(bench, Bench):
        return NO_BENCH
    try:
        laid = hung(bench)
        return bent_picture([("A little", laid, 45), ("Square", laid, 90), ("Far", laid, 120)])
    except RigError as error:
        return Told(NOT_YET, str(error), "Lay the elbow in the flesh first.")


def carried() -> Picture:
    """How much of Orlo's skin follows the forearm, along the arm: by heat, and by nearness alone."""
    arm, stations = orlo(), np.linspace(-0.15, 0.15, 41)
    shares = {"by heat": arm.lower_share(stations, True), "by nearness": arm.lower_share(stations, False)}
    heat, near = (float(np.ptp(stations[(share > 0.1) & (share < 0.9)])) * MM for share in shares.values())
    sentence = ("The share of the skin that follows the forearm rises from none above the elbow to all below it. By "
                f"heat it takes {heat:.0f} mm from a tenth to nine tenths, by nearness {near:.0f} mm.")  # fmt: skip
    ys = {name: (100 * share).tolist() for name, share in shares.items()}
    across = "mm along the arm, from the elbow towards the hand"
    return curves((MM * stations).tolist(), ys, across, "per cent carried by the forearm", sentence, {"elbow": 0.0})


def volume() -> Picture:
    """How much of its own flesh Orlo's elbow keeps as it bends: in place, and shifted to either side of the fold."""
    arm = orlo()
    radius = arm.radius
    placed = {"in place": arm, "12 mm back": arm.moved(forward=-SHIFT), "12 mm forward": arm.moved(forward=SHIFT)}
    ys = {name: [100 * one.kept for one in laid.measured(list(ANGLES), radius)] for name, laid in placed.items()}
    said = ", ".join(f"{name} {values[-4]:.0f} per cent" for name, values in ys.items())
    sentence = f"The share of flesh that the elbow keeps as it bends; at 90 degrees: {said}."
    return curves(ANGLES, ys, "degrees of bending", "per cent of the elbow's flesh kept", sentence)


def eight(degrees: float = 120, bench: Bench | None = None) -> Table:
    """What laying the elbow 0.3 of its radius aside does in eight directions, of Orlo's arm or that on a bench."""
    laid = orlo() if bench is None else hung(bench)
    found, limb = laid.eight(degrees), laid.limb
    four = [nearest_way(limb, found.each[number].toward) for number in (0, 2, 4, 6)]
    rows = [("not at all", *_cells(found.unshifted), "-", "-")]
    for number, one in enumerate(found.each):
        between = f"{four[0 if number in (1, 7) else 2]} and {four[1 if number < 4 else 3]}"
        name = four[number // 2] if number % 2 == 0 else between
        name += {0: ", the outer side", 4: ", the inner side"}.get(number, "")
        rows.append((name, *_cells(one.bulk), _said(one.better), _said(one.worse)))
    return Table(("moved", "flesh kept", "stretch", "folds", "overlap", "better in", "worse in"), rows)


def _said(harms: Sequence[str]) -> str:
    return ", ".join(SAID[harm] for harm in harms) or "-"


def _cells(bulk: Bulk) -> tuple[str, str, str, str]:
    kept, stretched = f"{100 * bulk.kept:.0f} %", f"{100 * bulk.stretched:.0f} %"
    return kept, stretched, f"{100 * bulk.folded:.1f} %", f"{100 * bulk.overlap:.1f} %"


def another_desk(bench: Bench) -> Told:
    """Carry the work to another desk, where two things happen to it, and back; the file lies beside the hand-ins."""

    def answer() -> Told:
        layout, limb = bench.layout, bench.limb
        root, middle, end = limb.triple
        elbow = layout.skeleton.positions[middle] + NUDGED / MM * limb.body[2]
        skeleton = layout.skeleton.moved(middle, elbow).renamed(end, limb.fold.between[1])
        path = carry_out(replace(layout, skeleton=skeleton), bench.exercise, own_folder(HAND_INS) / Path(DESK))
        return Told("at the other desk", f"{path.parent.name}/{path.name} came back.", "Compare before you trust it.")

    return safely(answer)


def side_by_side(bench: Bench) -> Table | Told:
    """The joints as they lie on a bench, and as they came back from the other desk: names, and places in mm."""
    if not isinstance(bench, Bench):
        return NO_BENCH
    body, mine = bench.limb.body, bench.skeleton
    try:
        back = came_back(own_folder(HAND_INS) / DESK, bench.exercise)[0].skeleton
    except RigError as error:
        return Told(NOT_YET, str(error))
    rows = [(mine.names[joint], *_mm(body @ mine.positions[joint]),
             back.names[joint], *_mm(body @ back.positions[joint])) for joint in range(len(mine))]  # fmt: skip
    ways = ("out", "up", "forward")
    under = "Millimetres from the scene's zero point, on the ground."
    return Table(("on your bench", *ways, "came back", *ways), rows, (under,))


def _mm(place: np.ndarray) -> list[str]:
    return [f"{mm:.0f}" for mm in np.floor(np.round(MM * place, 3) + 0.5)]


def check_back(bench: Bench, moved: str, mm: float, renamed: str) -> Told:
    """Whether a student read rightly what happened at the other desk: who moved, how far, who was renamed."""

    def answer() -> Told:
        if not moved and not mm and not renamed:
            return Told(NOT_YET, "Nothing is written yet.", "Compare the two halves of the table, then write.")
        _, middle, end = bench.limb.triple
        names = bench.skeleton.names
        if moved not in (names[middle], bench.limb.fold_role):
            return Told(LOOK_AGAIN, f"{moved!r} did not move.", "In which row do the numbers differ?")
        if not isinstance(mm, (int, float)):
            return Told(NOT_YET, f"{mm!r} is no number.", "Write the number alone, without quotes.")
        if not abs(abs(mm) - NUDGED) <= CLOSE:
            return Told(LOOK_AGAIN, f"It did not move by {mm} mm.", "Take the one number from the other.")
        if renamed not in (names[end], bench.limb.fold.between[1]):
            return Told(LOOK_AGAIN, f"{renamed!r} kept its name.", "In which row do the names differ?")
        told = brought_back(bench.layout, own_folder(HAND_INS) / DESK, bench.exercise)
        return Told(RIGHT, " ".join(told), "Your own layout is the good one.")

    return safely(answer)
