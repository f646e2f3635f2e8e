"""Lesson 9: Orlo's forearm, its hand turned over, with twist joints that share the turn; what the skin keeps of it.

Stations are metres from the elbow along the forearm, thickness is the local radius of a section as a share of its rest.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache

import numpy as np

from rigkit import charts
from rigkit.frames import IDENTITY, rotation_about
from rigkit.heat import heat_weights
from rigkit.limbs.armform import AROUND
from rigkit.mesh import Mesh
from rigkit.openings import open_exercise
from rigkit.picture import standard_view
from rigkit.require import number, whole
from rigkit.section import Plane, cut
from rigkit.skin import bend_skin, bone_frame
from rigkit.stills import Picture
from rigkit.taught.posed_plates import Pose, close_up, plates
from rigkit.told import Table
from rigkit.twist import twist_joints

SLICES = np.linspace(0.12, 1.1, 99)
"""Stations, as shares of the forearm, at which its thickness is measured: from below the elbow into the hand."""


COUNTS = {0: "none", 1: "one", 2: "two", 3: "three"}
RINGS = 60
"""The mesh begins with the arm's rings, AROUND vertices each; so many end before the fingers."""


@cache
def orlos_arm() -> tuple[Mesh, np.ndarray]:
    """Orlo's arm and the places (3, 3) of shoulder, elbow and wrist."""
    exercise = open_exercise("left-arm")
    return exercise.mesh, np.array([exercise.asked(role).middle for role in ("shoulder", "elbow", "wrist")])


def length_mm() -> int:
    """How long Orlo's forearm is, from elbow to wrist, in whole millimetres."""
    _, (_, elbow, wrist) = orlos_arm()
    return round(1000 * float(np.linalg.norm(wrist - elbow)))


@cache
def _turned(degrees: float, stations: tuple[float, ...], turns: tuple[float, ...]) -> Mesh:
    """The skin with its hand turned by so many degrees; twist joints at stations (shares) turned by turns (degrees)."""
    mesh, (shoulder, elbow, wrist) = orlos_arm()
    down = (wrist - elbow) / np.linalg.norm(wrist - elbow)
    tip = wrist + 0.9 * float(((mesh.vertices - wrist) @ down).max()) * down
    starts = [elbow, *(elbow + station * (wrist - elbow) for station in stations), wrist]
    bones = [[shoulder, elbow], *([a, b] for a, b in zip(starts, [*starts[1:], tip], strict=True))]
    angles = np.radians([0.0, *turns, degrees])
    turned = zip(starts, angles, strict=True)
    frames = [bone_frame(place, place, rotation_about(down, angle)) for place, angle in turned]
    return bend_skin(mesh, heat_weights(mesh, np.array(bones)).weights, [IDENTITY, *frames])


def _even(degrees: float, count: int) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Stations (shares of the forearm) and turns (degrees) of so many twist joints, as `rigkit.twist` makes them."""
    count = whole(count, "how many twist joints", 0, 12)
    if not count:
        return (), ()
    _, (_, elbow, wrist) = orlos_arm()
    places, _ = twist_joints(elbow, wrist, count)
    shares = np.linalg.norm(places - elbow, axis=1) / np.linalg.norm(wrist - elbow)
    return tuple(shares.tolist()), tuple((degrees * shares).tolist())


def _thickness(mesh: Mesh) -> np.ndarray:
    """The local radius (metres) of the sections at SLICES."""
    _, (_, elbow, wrist) = orlos_arm()
    found = []
    for share in SLICES:
        place = elbow + share * (wrist - elbow)
        loop = cut(mesh, Plane(place, (wrist - elbow) / np.linalg.norm(wrist - elbow))).holding(place).loop
        found.append(np.nan if loop is None else loop.radius)
    return np.array(found)


@cache
def _kept(degrees: float, stations: tuple[float, ...], turns: tuple[float, ...]) -> np.ndarray:
    """Per cent of its thickness that the forearm keeps at each of SLICES."""
    return 100 * _thickness(_turned(degrees, stations, turns)) / _thickness(orlos_arm()[0])


def thinnest(degrees: float, twist_joints: int = 0) -> int:
    """Per cent of its thickness that the forearm keeps at its thinnest place, the hand turned by so many degrees.

    >>> thinnest(150, 0), thinnest(150, 1)
    (26, 79)
    """
    degrees = number(degrees, "degrees", -180, 180)
    return round(float(np.nanmin(_kept(degrees, *_even(degrees, twist_joints)))))


def table(*degrees: float) -> Table:
    """For each turn and for 0 to 3 twist joints: the step between neighbours, what cos(step / 2) says of it, and what
    the skin keeps at the wrist and at its thinnest place, in per cent of the thickness."""
    rows = []
    for turn in degrees:
        for count in range(4):
            step, kept = turn / (count + 1), _kept(turn, *_even(turn, count))
            shares = 100 * np.cos(np.radians(step / 2)), np.interp(1.0, SLICES, kept), thinnest(turn, count)
            rows.append((f"{turn:g}°", str(count), f"{step:g}°", *(f"{share:.0f} %" for share in shares)))
    head = ("hand turned", "twist joints", "each step", "by the rule", "kept at the wrist", "at the thinnest place")
    return Table(head, rows)


def chart(degrees: float, counts: Sequence[int] = (0, 1, 2, 3)) -> Picture:
    """Bars: what the thinnest place keeps with so many twist joints, beside all of it, at rest."""
    kept = {"at rest": 100.0} | {COUNTS.get(count, str(count)): float(thinnest(degrees, count)) for count in counts}
    told = ", ".join(f"{name} {value:.0f}" for name, value in kept.items())
    up = f"Per cent of the thickness kept at the thinnest place, hand turned {degrees:g}°, by twist joints"
    return charts.bars(kept, up, f"Bars, by number of twist joints, in per cent of the thickness kept: {told}.")


def along(degrees: float, counts: Sequence[int] = (0, 1, 2, 3)) -> Picture:
    """Curves: what each place of the forearm keeps of its thickness, with so many twist joints."""
    return curves(degrees, {COUNTS.get(n, str(n)): _even(degrees, n) for n in counts})


def curves(degrees: float, shown: Mapping[str, tuple[tuple[float, ...], tuple[float, ...]]]) -> Picture:
    """The same for twist joints at stations (shares of the forearm, rising), turned by degrees: by name both."""
    ys = {name: _kept(degrees, *joints).tolist() for name, joints in shown.items()}
    place = (SLICES * length_mm()).tolist()
    least = ", ".join(f"{name} {min(kept):.0f} at {place[int(np.argmin(kept))]:.0f} mm" for name, kept in ys.items())
    sentence = f"Curves of the thickness kept along the forearm, the hand turned {degrees:g} degrees. Least, by "
    sentence += f"twist joints, in per cent, with its place from the elbow: {least}."
    return charts.curves(place, ys, "mm from the elbow", "Per cent of the thickness kept, by twist joints", sentence,
                         {"wrist": length_mm()})  # fmt: skip


def picture(degrees: float, twist_joints: int = 0) -> Picture:
    """The forearm at rest and with the hand turned, from the side; two threads lie along its skin."""
    return picture_with(degrees, *_even(degrees, twist_joints))


def picture_with(degrees: float, stations: Sequence[float], turns: Sequence[float]) -> Picture:
    """The same with twist joints at stations (shares of the forearm, rising), turned by `turns` (degrees)."""
    stations, turns = tuple(stations), tuple(turns)
    mesh, (_, elbow, wrist) = orlos_arm()
    places = np.array([elbow, *(elbow + share * (wrist - elbow) for share in stations), wrist])
    parents = (None, *range(len(places) - 1))
    names = {0: "elbow", len(places) - 1: "wrist"}
    kept = _kept(degrees, stations, turns)
    worst = float(np.nanmin(kept))
    note = f"thinnest: {worst:.0f} %, {SLICES[int(np.nanargmin(kept))] * length_mm():.0f} mm from the elbow"
    view = close_up(standard_view("side"), elbow + 0.72 * (wrist - elbow), 0.40)
    rest = Pose(mesh, places, parents, names=names, threads=_threads())
    after = Pose(_turned(degrees, stations, turns), places, parents, names=names, note=note, threads=_threads())
    joints = f"{len(stations)} twist joint{'' if len(stations) == 1 else 's'}"
    said = ["Side view of the forearm at rest, with threads along its skin.",
            f"Side view with the hand turned by {degrees:g} degrees and {joints}; {note}."]  # fmt: skip
    return plates([("At rest", "side", rest), (f"Turned by {degrees:g}°, {joints}", "side", after)], said,
                  views={"side": view})  # fmt: skip


@cache
def _threads() -> tuple[tuple[int, ...], ...]:
    """Vertices along four lines down the forearm's skin: its rings lie in the mesh one after another."""
    mesh, (_, elbow, wrist) = orlos_arm()
    bone = wrist - elbow
    share = (mesh.vertices - elbow) @ bone / (bone @ bone)
    rings = np.flatnonzero((share > 0.1) & (share < 1.04))
    rings = rings[rings < AROUND * RINGS]
    return tuple(tuple(rings[rings % AROUND == column].tolist()) for column in range(3, AROUND, 7))
