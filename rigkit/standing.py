"""Standing: in which unit and axes a hand-in's numbers fit its exercise; a Layout gives one in metres, and notices.

Tried are m, cm, mm and in (not feet: no layout can say them), each with +y or +z up, or -z, where a figure with y up
ends when it is turned once too often (common practice), and facing any of the four ways square to it. What fits as
written is never touched. Only proper turns are tried, and each is weighed against the other side's limb read in the
same way, so that a mirrored limb is not taken for a turned one.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import cache, lru_cache

import numpy as np

from rigkit import require
from rigkit.files.exercise import Exercise
from rigkit.files.layout import FACING, METRES, UNITS, UP, Axes, Layout
from rigkit.frames import Frame, mirror_matrix
from rigkit.mesh import Mesh
from rigkit.namewords import take_apart

AS_WRITTEN = 0.5  # mean miss of a layout that stays as written: its joints lie nearer to their places than to others
FITS = 0.3  # mean miss of a reading that fits: 75 mm at an arm; keys of all practice limbs miss by 0.05 at most
CLEARLY, NEAR = 2.0, 0.01  # a reading fits clearly better where another misses by more than twice as much, and 0.01
CLOSE, BY_NAME = 0.05, 1.5  # a reading fits so closely, and so many times better than the other side's, that names tell
ROOM, WIDE = 0.5, 0.3  # of the mesh's size: places that fit nothing else lie in the widened mesh, and are no heap
USUAL = (("+y", "+z"), ("+z", "-y"), ("-z", "+y"))  # axes in which a file comes (common practice), up and facing
SAME_BOX = 0.02  # of the mesh's size: bounds that differ by more are not of the same mesh
SAME_FLESH = 0.002  # the same: a point that lies further from all vertices is none of them; float32 comes far nearer
SHARED = 0.9  # of the points lie so near: a part that the exercise does not have spoils nothing
FAR = 10.0  # metres: no figure that stands at the origin reaches so far, so the units are in doubt (common practice)
FIGURE = (0.2, 4.0)  # metres: a figure's height, from a river child to a marsh walker (common practice)


@cache
def _readings() -> tuple[tuple[Axes, ...], np.ndarray]:
    """All readings, and their matrices (k, 3, 3): metres, world, from the file's numbers."""
    found = tuple(Axes(unit, up, facing) for unit in METRES for up in UP for facing in FACING if up[1] != facing[1])
    return found, np.array([METRES[one.units] * one.turn for one in found])


def recognised(layout: Layout, exercise: Exercise) -> tuple[Layout, tuple[str, ...]]:
    """A layout as its numbers are to be read for an exercise, and what to tell.

    The file's own mesh decides where it is the exercise's, else the asked joints' middles. One reading that fits
    clearly better than all others is taken; where several fit about as well, the layout stays as written and the notice
    asks. What the file says is believed unless no such reading fits.

    Example: `recognised(exercise.key, exercise)` is `(exercise.key, ())`.
    """
    misses = _Misses(layout, exercise)
    if layout.flesh is None and misses.stay():
        return layout, ()
    readings, matrices = _readings()
    written = readings.index(replace(layout.axes, said=()))
    turns = matrices @ matrices[written].T / METRES[layout.axes.units] ** 2  # from the places as written
    same = _by_flesh(layout.flesh, exercise.mesh, turns)
    if written in same:
        return layout, ()
    if not same and misses.stay():
        return layout, ()
    alike, other = same, np.zeros(len(readings), dtype=bool)
    if len(same) != 1 and misses.count > 1:
        miss = misses.of(turns)
        other = miss[:, 1] < miss[:, 0]
        rare = [not _plain(one, layout.axes) and (one.up, one.facing) not in USUAL for one in readings]
        miss[rare, 1] = CLEARLY * miss[rare, 1] + NEAR  # both the other side and odd axes: only where it fits better
        believed = [n for n, one in enumerate(readings) if not _unlike(layout.axes, one)]
        pools = [same] if same else [believed, list(range(len(readings)))]
        alike = next((found for pool in pools if (found := _fitting(miss, pool, layout.axes))), same)
        if not same and misses.named() == {exercise.side} and len(here := [n for n in alike if not other[n]]) == 1:
            fits, beside = miss[here[0], 0], miss[alike, 1][other[alike]].min(initial=1.0)
            alike = here if fits <= CLOSE and BY_NAME * fits < beside else alike
        if not alike and written not in (roomy := misses.roomy(turns)):
            best = miss[roomy, 0].min(initial=1.0)
            alike = [n for n in roomy if miss[n, 0] <= best and _plain(readings[n], layout.axes)]
    if not alike or alike == [written]:
        return layout, ()
    words = [in_words(readings[n], layout.axes) + ", on the other side of the body" * bool(other[n]) for n in alike]
    if len(alike) > 1:
        return layout, (f"The numbers fit about as well in {len(alike)} ways: {'; '.join(words)}. They were taken as "
                        "written. Say which is right, by units, up and facing in the layout, or to rigkit by --units, "
                        "--up and --facing.",)  # fmt: skip
    (one,) = alike
    if other[one] and not _plain(readings[one], layout.axes):
        return layout, ()  # a limb of the other side in other axes: no mark hangs on which
    unlike = " and ".join(_unlike(layout.axes, readings[one]))
    why = f", though they were said to be {unlike}" if unlike else ""
    told = f"The numbers fit the mesh only {words[0]}{why}; they were taken so and converted."
    return _read_as(layout, replace(readings[one], said=layout.axes.said)), (told,)


def checked_answers(units: str | None = None, up: str | None = None, facing: str | None = None) -> dict[str, str]:
    """What is said of units and axes for files that do not say so, checked; None where nothing is.

    Raises RigError for what no layout may say.

    >>> checked_answers("cm", facing="-z")
    {'units': 'cm', 'facing': '-z'}
    """
    facing = "-y" if up in ("+z", "-z") and facing is None else facing  # +z cannot be both
    rows = (("units", units, METRES), ("up", up, UP), ("facing", facing, FACING))
    given = {key: require.choice(value, f"--{key}", known) for key, value, known in rows if value is not None}
    _ = Axes("m", given.get("up", Axes.up), given.get("facing", Axes.facing)).turn
    return given


def answered(layout: Layout, answers: Mapping[str, str]) -> Layout:
    """A layout read as `answers` (of units, up and facing) say, but for what its own file says.

    Raises RigError where facing is then not square to up.

    >>> from rigkit.skeleton import Skeleton
    >>> wren = Layout("wren", "", 1, Skeleton(["left_elbow"], [None], [[37.5, 112.8, -1.8]]))
    >>> answered(wren, {"units": "cm"}).skeleton.positions.round(3).tolist()
    [[0.375, 1.128, -0.018]]
    """
    answers = {key: value for key, value in answers.items() if value and key not in layout.axes.said}
    if not answers:
        return layout
    axes = replace(layout.axes, **answers, said=(*layout.axes.said, *answers))
    told = f"The numbers were read {in_words(axes)}, as rigkit was told to."
    return replace(_read_as(layout, axes), notices=(*layout.notices, told))


def doubts(layout: Layout) -> tuple[str, ...]:
    """Without an exercise a figure's size alone speaks: places too far out for metres are asked about."""
    places = np.abs(layout.skeleton.positions).max(axis=1)
    far, name = max(zip(places.tolist(), layout.skeleton.names, strict=True))
    if far <= FAR:
        return ()
    likely = [f"in {words} (--units {unit})" for unit, words in UNITS.items()
              if FIGURE[0] <= far * METRES[unit] / METRES[layout.axes.units] <= FIGURE[1]]  # fmt: skip
    ask = f" Are the numbers {' or '.join(likely)}?" if likely else ""
    return (f"The joint {name or 'without a name'} lies {far:,.0f} m from the origin. A figure is a few metres tall: "
            f"check the units of the export.{ask}",)  # fmt: skip


def _read_as(layout: Layout, axes: Axes) -> Layout:
    """The same numbers of the file, read in another way; turns of the joints turn with them."""
    factor, turn = METRES[axes.units] / METRES[layout.axes.units], axes.turn @ layout.axes.turn.T
    skeleton = layout.skeleton.at(layout.skeleton.positions * factor)
    if np.any(turn != np.eye(3)):
        skeleton = skeleton.transformed(Frame(turn, np.zeros(3)))
    flesh = None if layout.flesh is None else factor * layout.flesh @ turn.T
    return replace(layout, skeleton=skeleton, axes=axes, flesh=flesh)


def _plain(axes: Axes, written: Axes) -> bool:
    """Whether a reading turns nothing, and differs in its unit at most."""
    return (axes.up, axes.facing) == (written.up, written.facing)


def _unlike(said: Axes, axes: Axes) -> list[str]:
    """In words what was said and is not so in a reading."""
    words = {"units": f"in {UNITS[said.units]}", "up": f"{said.up} up", "facing": f"facing {said.facing}"}
    return [words[key] for key in words if key in said.said and getattr(said, key) != getattr(axes, key)]


def in_words(axes: Axes, written: Axes | None = None) -> str:
    """A reading in words, or what differs in it from the one written.

    >>> in_words(Axes("cm", "+z", "-y")), in_words(Axes("cm"), Axes())
    ('in centimetres with +z up, facing -y', 'in centimetres')
    """
    turned = "" if written and _plain(axes, written) else f"with {axes.up} up, facing {axes.facing}"
    unit = f"in {UNITS[axes.units]}" if written is None or axes.units != written.units or not turned else ""
    return f"{unit} {turned}".strip()


def _by_flesh(points: np.ndarray | None, mesh: Mesh, turns: np.ndarray) -> list[int]:
    """The numbers of those turns (k, 3, 3) that bring points of a mesh (n, 3) onto the exercise's; none where they are
    of another mesh."""
    if points is None:
        return []
    size = float(np.sqrt(np.sum((mesh.bounds[1] - mesh.bounds[0]) ** 2)))
    put = points @ turns.transpose(0, 2, 1)
    boxes = np.stack([put.min(axis=1), put.max(axis=1)], axis=1)

    def off(number: int) -> float:
        gaps = [np.sum((mesh.vertices - point) ** 2, axis=1).min() for point in put[number]]
        return float(np.sqrt(np.quantile(gaps, SHARED)))

    found = np.flatnonzero(np.abs(boxes - mesh.bounds).max(axis=(1, 2)) <= SAME_BOX * size)
    return [number for number in found.tolist() if off(number) <= SAME_FLESH * size]


class _Misses:
    """How far places miss the middles of required joints, in shares of the way to the nearest other one, at most 1.
    count: how many there are to go by, the best where some are missing; 0 where nothing can be told."""

    def __init__(self, layout: Layout, exercise: Exercise):
        self.layout, self.exercise, self.places = layout, exercise, layout.skeleton.positions
        self.middles, self.ways = _required(exercise)
        self.count = min(len(self.middles), len(self.places)) if np.all(np.isfinite(self.ways)) else 0

    def of(self, turns: np.ndarray) -> np.ndarray:
        """Roots of mean squares (k, 2) under turns (k, 3, 3): of the places, and of their mirror images."""
        both = np.stack([turns, mirror_matrix(self.exercise.body[0]) @ turns], axis=1)
        put = self.places @ both.swapaxes(-1, -2)
        miss = self._mean(np.stack([np.sum((put - one) ** 2, axis=-1).min(axis=-1) for one in self.middles], axis=-1))
        return miss if self.exercise.side != "middle" else np.where([True, False], miss, np.inf)

    def _mean(self, squares: np.ndarray) -> np.ndarray:
        """The root of the mean square (...,), from squares (..., m) of how far middles lie from the nearest joint."""
        shares = np.sort(np.minimum(np.sqrt(squares) / self.ways, 1.0), axis=-1)[..., : self.count]
        return np.sqrt(np.mean(shares**2, axis=-1))

    def roomy(self, turns: np.ndarray) -> list[int]:
        """The numbers of those turns (k, 3, 3) under which all places lie in and about the mesh, and not in a heap."""
        low, high = self.exercise.mesh.bounds
        put, room = self.places @ turns.transpose(0, 2, 1), ROOM * (high - low)
        wide = np.ptp(put, axis=1).max(axis=1) > WIDE * np.max(high - low)
        return np.flatnonzero(np.all((put >= low - room) & (put <= high + room), axis=(1, 2)) & wide).tolist()

    def stay(self) -> bool:
        """Whether the places are to be left as they are: one joint tells nothing; all fit, and are not, by their names,
        the other side's joints of a figure that faces the other way."""
        if self.count < 2:
            return True
        squares = np.sum((self.places - self.middles[:, None]) ** 2, axis=2)
        if self._mean(squares.min(axis=1)) > AS_WRITTEN:
            return False
        names = [self.layout.skeleton.names[n] for n in squares.argmin(axis=1)]
        return self.named(names) != {"left", "right"} - {self.exercise.side} or self.exercise.side == "middle"

    def named(self, names: Sequence[str] = ()) -> set[str]:
        """The sides that names say, all of the layout's where none are given."""
        marks = self.exercise.naming.marks
        return {side for name in set(names or self.layout.skeleton.names)
                for _, side in take_apart(name, marks, frozenset()).sides}  # fmt: skip


@lru_cache(maxsize=8)
def _required(exercise: Exercise) -> tuple[np.ndarray, np.ndarray]:
    """The middles (m, 3) of required joints, and the way (m,) from each to the nearest other one."""
    middles = np.array([joint.middle for joint in exercise.joints if joint.need == "required"]).reshape(-1, 3)
    gaps = np.sqrt(np.sum((middles[:, None] - middles) ** 2, axis=2))
    return middles, np.where(gaps > 0, gaps, np.inf).min(axis=1, initial=np.inf)


def _fitting(miss: np.ndarray, pool: list[int], written: Axes) -> list[int]:
    """Those readings of a pool that fit about as well as the best one; of those that leave the axes as written and the
    limb on its side, the best alone; none where none fits."""
    readings, least = _readings()[0], miss[pool].min(initial=1.0)
    if least > FITS:
        return []
    ties = miss <= CLEARLY * least + NEAR
    plain = [n for n in pool if ties[n, 0] and _plain(readings[n], written)]
    return [min(plain, key=lambda n: miss[n, 0])] if plain else [n for n in pool if ties[n].any()]
