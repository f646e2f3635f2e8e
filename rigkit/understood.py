"""How a character's own joints lie: places (3,) in a mesh -> flesh or region, stretch, fold direction; metres, world.

Guesses, each with the doubt that remains: what cannot be told is asked, never made up.
"""

import re
from dataclasses import dataclass, field, replace
from functools import lru_cache

import numpy as np

from rigkit import require
from rigkit.anatomy import folds
from rigkit.centre import FleshAt, flesh_at, usual_radius
from rigkit.kinematics import bend_side
from rigkit.loops import FOUND, bend_loops
from rigkit.meant import DIGITS
from rigkit.mesh import Mesh
from rigkit.naming import MIDLINE
from rigkit.require import RigError
from rigkit.section import INSIDE, OUTSIDE
from rigkit.sight import line_of_sight, middle_of_sight
from rigkit.tolerance import STORED, STRAIGHT_SHARE
from rigkit.vectors import any_square_to, length, unit

ROOTS = ("shoulder", "hip", "clavicle", *MIDLINE, *(f"{digit} 1" for digit in DIGITS))
"""Where a limb or a finger begins: what lies above is other flesh, so that no slice is the limb's own."""
FREE = (*ROOTS, "wrist")
"""Roles of joints that turn every way, so that no side is theirs (standard anatomy; a fan of fingers is no fold)."""
ALIKE = 0.5  # cosine: a fold direction within 60 degrees of what anatomy says agrees with it (our choice)
STRETCH = 0.08
"""Share of the shorter bone that may be cut above and below: 20 mm at an elbow (common practice)."""
AGREE = 0.2
"""In radii of the region: nearer than this, key and lines of sight agree (what marks allow, too)."""
LESS = 0.95
"""A slice square to one bone is taken where it is smaller by this than the one half-way between, which cuts heel and
instep at a foot's ankle (measured on practice limbs: 0.87 and 0.92 there, above 0.97 elsewhere)."""
WIDEST = 3.0  # usual radii: a longer line of sight runs into other flesh (the limb's own is 2; our choice)
ASKED_FOLD = "Which way must it lie off the line of its neighbours (fold): out, in, up, down, forward, back or none?"
WAYS = {"out": (1.0, 0, 0), "in": (-1.0, 0, 0), "up": (0, 1.0, 0), "down": (0, -1.0, 0),
        "forward": (0, 0, 1.0), "back": (0, 0, -1.0)}  # fmt: skip
"""Body directions of the left side."""
LOOPS_WITHIN = 0.008  # metres: bend loops are found within 5 mm, 7 at worst (see `bend_loops`)
TOUCHING, SIGHTS = 1e-4, 8  # metres: joints nearer have no bone between them; lines of sight over half a turn


@dataclass(frozen=True, eq=False)
class Lie:
    """How a joint lies in the flesh, as an exercise says it (see `AskedJoint`). landmarks: named points (3,) of a
    region. middle: where the flesh itself has its middle (3,), or None. doubt: what must be asked. said: why so."""

    place: str
    plane: np.ndarray | None = None
    stretch: np.ndarray | None = None
    landmarks: dict[str, np.ndarray] = field(default_factory=dict)
    radius: float = 0.0
    middle: np.ndarray | None = None
    doubt: str = ""
    said: str = ""


def lie_of(mesh: Mesh, role: str, here: np.ndarray, above: np.ndarray | None, below: list[np.ndarray],
           place: str = "", middle: str = "", plane: str = "", stretch: float = STRETCH) -> Lie:  # fmt: skip
    """How a joint at `here` (3,) lies in a mesh, with the joint above it (3,) and those below it; kept for next time.

    place: "flesh" or "region", else as the flesh says. middle: what decides a region, "sight" or "key". plane:
    "between", "upper" or "lower" (half-way between the bones, square to one), else that in which the flesh is the
    limb's own and smallest. stretch: share of the shorter bone that may be cut on either side.
    """
    places = [None if one is None else tuple(one.tolist()) for one in (here, above, *below)]
    return _lie(mesh, role, *places[:2], tuple(places[2:]), place, middle, plane, stretch)


@lru_cache(maxsize=1024)
def _lie(mesh, role, here, above, below, place, middle, plane, stretch) -> Lie:
    here, above, below = np.array(here), None if above is None else np.array(above), [np.array(one) for one in below]
    bones = [here - one for one in (above,) if one is not None] + [one - here for one in below]
    bones = [bone for bone in bones if length(bone) > TOUCHING]
    if not bones:
        return _by_key(
            role, here, 0.05 * float(np.ptp(mesh.vertices, axis=0).max()), "it has no bone to its neighbours"
        )
    hangs = above is not None and length(here - above) > TOUCHING
    up = unit(bones[0])
    down = unit(bones[-1]) if len(bones) == 1 + hangs or not hangs else up
    root = role in ROOTS and len(bones) > hangs  # then the flesh of the bones below is its own
    widths = [usual_radius(mesh, here - bone if n == 0 and hangs else here, here if n == 0 and hangs else here + bone)
              for n, bone in enumerate(bones) if not (root and hangs and n == 0)]  # fmt: skip
    usual = max((one for one in widths if one is not None), default=None)
    if not below and hangs and role.endswith("tip"):
        return _tip(mesh, role, here, bones[0])
    ways = {"between": unit(up + down) if length(up + down) > STORED else up, "upper": up, "lower": down}
    wanted = [plane] if plane in ways else list(ways)
    cuts = {name: flesh_at(mesh, here, ways[name], usual) for name in wanted}
    sizes = {name: one.radius or 0.0 for name, one in cuts.items() if _own(one) and role not in ROOTS}
    fit = min(sizes, key=lambda name: sizes[name] * (LESS if name == "between" else 1.0), default=None)
    if place != "region" and (fit or place == "flesh"):
        normal = ways[fit or wanted[0]]
        reach = min(float(length(bone)) for bone in bones) * np.array([-normal, normal])
        for _ in range(3):
            ends = here + stretch * reach
            if all(_own(flesh_at(mesh, end, normal, usual)) for end in ends):
                break
            stretch /= 2
        found = flesh_at(mesh, here, normal, usual, trusted=True)
        return Lie("flesh", normal, ends, radius=found.radius or 0.0,
                   middle=None if found.offset is None else here - found.offset)  # fmt: skip
    said = (
        "so it was chosen"
        if fit
        else "a slice here runs into other flesh"
        if root
        else f"a slice here {cuts[wanted[0]].state}"
    )
    return _by_sight(mesh, role, here, ways["lower" if root else "between"], usual, middle, said)


def _own(found: FleshAt) -> bool:
    return found.state in (INSIDE, OUTSIDE)


def _unknown(mesh: Mesh) -> float:
    """A radius where nothing tells one: a twentieth of the figure."""
    return 0.05 * float(np.ptp(mesh.vertices, axis=0).max())


def _by_key(role: str, here: np.ndarray, radius: float, said: str) -> Lie:
    return Lie("region", landmarks={f"{role.replace(' ', '_')}_middle": here}, radius=radius, said=said)


def _tip(mesh: Mesh, role: str, here: np.ndarray, bone: np.ndarray) -> Lie:
    """An end joint: where the bone, prolonged, leaves the flesh."""
    size = float(length(bone))
    left = line_of_sight(mesh, here, bone / size)
    left = left[left > -size / 2]
    usual = usual_radius(mesh, here - bone, here)
    skin = here + (left[np.argmin(abs(left))] if len(left) else 0.0) * bone / size
    return Lie("region", landmarks={f"{role.replace(' ', '_')}_skin": skin}, middle=skin,
               radius=size if usual is None else min(size, WIDEST * usual),
               said="it ends where the last bone leaves the flesh")  # fmt: skip


def _chord(mesh: Mesh, point: np.ndarray, way: np.ndarray) -> np.ndarray | None:
    """Where the line of sight through a point inside the flesh enters and leaves it (2, 3), or None."""
    if middle_of_sight(mesh, point, way).state != INSIDE:
        return None
    heights = line_of_sight(mesh, point, way)
    before, after = heights[heights <= 0], heights[heights > 0]
    return np.array([point + before[-1] * way, point + after[0] * way])


def _by_sight(mesh: Mesh, role: str, here: np.ndarray, along: np.ndarray, usual: float | None, middle: str,
              said: str) -> Lie:  # fmt: skip
    """A region. Two lines of sight square to the limb tell its middle, the shortest and the one square to it, each
    through the middle of the other. Where the key agrees, it decides; else the points where they leave the flesh."""
    most = np.inf if usual is None else WIDEST * usual
    side = any_square_to(along)
    turns = np.pi * np.arange(SIGHTS) / SIGHTS
    ways = [np.cos(turn) * side + np.sin(turn) * np.cross(along, side) for turn in turns]
    seen = [(float(length(ends[1] - ends[0])), n, ends) for n, way in enumerate(ways)
            if (ends := _chord(mesh, here, way)) is not None]  # fmt: skip
    size, n, ends = min(seen, key=lambda one: one[0], default=(np.inf, 0, np.zeros((2, 3))))
    if size > most:
        alone = _by_key(role, here, usual or _unknown(mesh), f"{said}; no line of sight tells more")
        ask = "neither slice nor line of sight finds flesh around it. If the key is right, say so (middle): key"
        return alone if middle == "key" else replace(alone, doubt=ask)
    other = _chord(mesh, ends.mean(axis=0), np.cross(along, ways[n]))
    points = ends
    if other is not None and length(other[1] - other[0]) <= most:
        again = _chord(mesh, other.mean(axis=0), ways[n])
        points = other if again is None else np.concatenate([other, again])
    centre, radius = points.mean(axis=0), max(size, float(length(points[1] - points[0]))) / 2
    off, marks = (
        float(length(here - centre)),
        {f"{role.replace(' ', '_')}_{n + 1}": one for n, one in enumerate(points)},
    )
    if middle == "key" or (middle != "sight" and off <= AGREE * radius):
        told = f"{said}; the key decides, lines of sight lie {1000 * off:.0f} mm off"
        return replace(_by_key(role, here, radius, told), middle=centre)
    doubt = (f"lines of sight put the middle {1000 * off:.0f} mm from the key, which has it at "
             f"{np.round(here, 4).tolist()}. Which is right (middle): sight or key?")  # fmt: skip
    return Lie("region", None, None, marks, radius, centre, "" if middle else doubt, f"{said}; lines of sight decide")


def fold_of(role: str, side: str, root: np.ndarray, here: np.ndarray, end: np.ndarray) -> tuple[np.ndarray | None, str]:
    """The fold direction (3,) of a joint from its own rest bend, and the doubt: too straight to tell, or against what
    anatomy says of an elbow, a knee or an ankle. None also for a joint that turns every way, and between joints that
    coincide."""
    if role in FREE or min(length(here - root), length(end - here), length(end - root)) < TOUCHING:
        return None, ""
    away = bend_side(root, here, end, STRAIGHT_SHARE)
    if away is None:
        return None, f"the key is too straight there to tell. {ASKED_FOLD}"
    if against := _against(role, side, away):
        return away, f"the key does not bend as anatomy has it, {against}. {ASKED_FOLD}"
    return away, ""


def answer_about(key: str, value: object, side: str, joint: str) -> object:
    """One answer about a joint, checked."""
    where = f"{joint}, {key}"
    options = {"need": ("required", "optional", "ignored"), "place": ("flesh", "region"), "middle": ("sight", "key"),
               "plane": ("between", "upper", "lower")}  # fmt: skip
    if key in options:
        return require.choice(value, where, options[key])
    if key == "role":
        role = " ".join(require.text(value, where, 64).lower().replace("_", " ").split())
        if not re.fullmatch(r"[a-z0-9]+( [a-z0-9]+)*", role):
            raise RigError("a role in small letters and digits, as in index 2", require.shown(value), where=where)
        return role
    if key == "stretch":
        return require.number(value, where, 0.005, 0.5)
    if key == "names" and isinstance(value, (str, list, tuple)):
        return tuple(require.text(one, where, 64) for one in ([value] if isinstance(value, str) else value))
    require.choice(key, f"an answer about the {joint}", (*options, "role", "stretch", "names", "fold"))
    if value is None or value == "none":
        return None
    if isinstance(value, str):
        way = np.array(WAYS[require.choice(value, where, (*WAYS, "none"))])
        return way * ([-1.0, 1.0, 1.0] if side == "right" else 1.0)
    return require.direction(value, where)


def second_opinion(
    mesh: Mesh, role: str, side: str, places: list[np.ndarray], lie: Lie, away: np.ndarray | None
) -> str:
    """Where anatomy, lines of sight or the mesh's own bend loops say otherwise than the key: a sentence, or "".

    places: of the joint, and where it has them of its neighbours above and below, (3,) each.
    """
    if away is not None and (against := _against(role, side, away)):
        return f"{role}: anatomy has it {against} of its line, and this exercise asks for the other way."
    if lie.place == "region":
        off = 0.0 if lie.middle is None else float(length(places[0] - lie.middle))
        told = f"{role}: lines of sight put the middle {1000 * off:.0f} mm from the key."
        return told if off > AGREE * lie.radius else ""
    if away is None or role == "ankle" or lie.stretch is None:
        return ""
    there, reach = bend_loops(mesh, places[1], places[0], places[2]), float(length(lie.stretch[1] - lie.stretch[0])) / 2
    if there.state != FOUND or abs(off := there.station or 0.0) <= max(reach, LOOPS_WITHIN):
        return ""
    size = f"{1000 * abs(off):.0f} mm further {'down' if off > 0 else 'up'}"
    return f"{role}: the mesh is made to bend {size} the limb, where its loops lie close together."


def _against(role: str, side: str, away: np.ndarray) -> str:
    """Where anatomy has an elbow, a knee or an ankle, if `away` leads elsewhere: "back", "forward" or ""."""
    known = folds(role, side if side == "right" else "left") if role in ("elbow", "knee", "ankle") else None
    return known.about[2] if known is not None and np.dot(away, known.numbers) < ALIKE else ""
