"""The form of an arm in numbers: tables in mm, one seed's proportions -> true joints and rings down to the fingers.

The left arm, in metres, +Y up, facing +Z, left is +X; it hangs about 35 degrees out, the palm faces the thigh.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from rigkit import require
from rigkit.limbs.base import Shape
from rigkit.limbs.hand import HUMAN, WRIST, HandForm
from rigkit.limbs.loft import GRID, Bump, Draws, area_centroids, ovals, smooth_through

STATURE = 1.70
UPPER_ARM, FOREARM, HAND, SHOULDER_HEIGHT = 0.186, 0.146, 0.108, 0.818
"""Shares of stature: Drillis & Contini 1966, as reproduced in Winter 2009, Fig. 4.1."""
SHOULDER_OUT = 0.19
"""Metres from the middle plane: near H-Anim's default left shoulder (0.203 m for a slightly taller figure)."""
AROUND = 28
DROOP = np.radians(10)
"""How far the end of the palm leans with the fingers at rest."""
MOST_TRUNK = 1.09
"""A thick or short arm hangs from a trunk no thicker than this for its upper arm: more would fill the armpit."""
MOST_BEND = 0.26  # of the shorter bone: an elbow bent further folds its flesh into itself (measured)
MOST_BROAD = 1.42
"""A palm broader than this for its length leaves the thumb no room."""
CURL = 0.11
"""Share of the hand's length by which its tips hang towards the palm, as a resting hand does."""

# The trunk and shoulder, in mm from the true shoulder: station, top (x, y), bottom (x, y) seen from the front,
# half depth to the front and to the back, squareness of the outer (upper) and inner (lower) half.
SHOULDER_ROWS = np.array([
    (-250, -135, 84, -135, -190, 100, 100, 2.3, 4.5),
    (-225, -106, 77, -110, -190, 101, 101, 2.3, 4.5),
    (-195, -80, 70, -80, -190, 99, 99, 2.3, 4.5),
    (-165, -58, 65, -50, -189, 95, 95, 2.3, 4.2),
    (-140, -42, 62, -31, -178, 89, 89, 2.3, 3.4),
    (-115, -30, 60, -25, -150, 82, 82, 2.3, 2.9),
    (-90, -19, 58, -22, -118, 75, 75, 2.3, 2.6),
    (-65, -8, 57, -20, -90, 69, 69, 2.3, 2.4),
    (-40, 4, 56, -17, -72, 64, 64, 2.3, 2.2),
    (-15, 19, 53, -12, -66, 61, 61, 2.2, 2.2),
    (10, 35, 46, -6, -73, 59, 59, 2.1, 2.1),
    (35, 53, 34, 0, -85, 57, 57, 2.1, 2.0),
    (60, 70, 11, 9, -98, 56, 56, 2.0, 2.0),
    (85, 85, -18, 19, -110, 55, 55, 2.0, 2.0),
])  # fmt: skip

# The arm, in mm: station from the shoulder along the bones of the reference arm, extents out, front, in, back,
# squareness of the outer and inner half.
ARM_ROWS = np.array([
    (120, 51, 52, 44, 53, 2.0, 2.0),
    (165, 45, 51, 43, 51, 2.0, 2.0),
    (205, 43, 49, 41, 47, 2.0, 2.0),
    (255, 40, 42, 38, 40, 2.0, 2.0),
    (295, 41, 37, 38, 37, 2.1, 2.1),
    (316.2, 42, 36, 39, 38, 2.2, 2.2),
    (337, 43, 38, 39, 36, 2.2, 2.1),
    (375, 43, 42, 38, 36, 2.1, 2.0),
    (425, 38, 40, 34, 35, 2.1, 2.0),
    (480, 29, 34, 28, 30, 2.2, 2.1),
    (530, 22, 30, 22, 28, 2.4, 2.3),
    (564.4, 20, 29, 20, 28, 2.5, 2.5),
])  # fmt: skip

# Swellings and hollows: station (mm), reach (mm), angle and width (degrees), height (mm).
MUSCLES = (
    (-165, 42, 112, 26, 7),  # chest
    (-172, 45, 262, 28, 6),  # shoulder blade
    (-62, 26, 135, 20, 6),  # fold before the armpit
    (-62, 26, 227, 20, 6),  # fold behind it
    (58, 42, 10, 60, 5),  # deltoid
    (185, 46, 92, 38, 6),  # biceps, in front
    (150, 52, 285, 45, 5),  # triceps, behind
    (360, 36, 48, 38, 6),  # forearm muscle at the thumb's side
    (385, 45, 200, 45, 4),  # forearm muscle at the inner side
)
BONES = (
    (-15, 36, 180, 26, -9),  # hollow of the armpit
    (142, 20, 20, 40, -2.5),  # where the deltoid ends
    (318, 14, 268, 22, 8),  # tip of the elbow, at the back
    (306, 14, 4, 24, 2.5),  # bony points beside the elbow
    (306, 14, 178, 24, 3.5),
    (543, 11, 315, 28, 3),  # bony point of the wrist at the little finger's side
)

STATIONS = (
    *(-250, -225, -195, -168, -148, -128, -108, -88, -68, -50, -33, -16, 0, 16, 32, 48, 64, 80, 97, 115),
    *(133, 151, 169, 187, 205, 223, 241, 258, 273, 286, 297, 307, 316.2),
)
"""Where the edge loops lie (mm) down to the elbow, closer together where the limb folds; below it the hand's form has
them, for a creature's forearm may be longer."""
PALM = 571.5  # from here on a ring's columns gather for the fingers


@dataclass(frozen=True)
class ArmBuild:
    """One seed's proportions: lengths in metres, thickness and muscle as factors, the axes of the hanging arm; its
    hand's form, the size of its digits, how far they close and spread (factors), and factors of each one's bones."""

    upper: float
    fore: float
    hand: float
    thick: float
    muscle: float
    back: float
    slope: np.ndarray  # unit, along the straight line from shoulder to wrist
    out: np.ndarray  # unit, across it in the frontal plane, away from the body
    form: HandForm
    reach: float
    close: float
    bones: np.ndarray  # (digits, 3)
    density: float

    @property
    def joints(self) -> np.ndarray:
        """True shoulder, elbow and wrist (3, 3): two bones of known length, the elbow `back` behind their line."""
        shoulder = np.array([SHOULDER_OUT, SHOULDER_HEIGHT * STATURE, 0.0])
        first, second = (np.sqrt(length**2 - self.back**2) for length in (self.upper, self.fore))
        elbow = shoulder + first * self.slope - [0, 0, self.back]
        return np.round(np.array([shoulder, elbow, shoulder + (first + second) * self.slope]) / GRID) * GRID

    def stations(self, mm: ArrayLike) -> Any:
        """Stations of the reference arm (mm), one or many, as metres along this one."""
        reference = 1000 * STATURE * np.array([-UPPER_ARM, 0, UPPER_ARM, UPPER_ARM + FOREARM, 1])
        ends = self.upper + self.fore
        rest = 1000 * self.palm * (STATURE - (UPPER_ARM + FOREARM) * STATURE)
        own = [-0.3162, 0.0, self.upper, ends, ends + rest]
        return np.interp(np.asarray(mm, dtype=float), reference, own)

    @property
    def palm(self) -> float:
        """Metres of this palm to a mm of the tables."""
        return self.hand / (HAND * STATURE) / 1000

    @property
    def armpit(self) -> np.ndarray:
        """The highest point (3,) of the fold under the arm."""
        mm = np.array([station for station in STATIONS if -100 < station < 60])
        fold = np.round(arm_rings(self, mm)[:, AROUND // 2] / GRID) * GRID
        return fold[np.argmax(fold[:, 1])]


def arm_build(seed: int, shape: Shape, form: HandForm = HUMAN, factors: tuple[float, ...] = (1, 1, 1, 1)) -> ArmBuild:
    """The proportions that a seed gives: a little longer, thicker or stronger than the tables, never by much.

    factors: of another creature's upper arm, forearm, hand and thickness.
    """
    draws = Draws(seed)
    tilt = np.radians(draws.between(34.0, 36.0))
    slope, out = np.array([np.sin(tilt), -np.cos(tilt), 0.0]), np.array([np.cos(tilt), np.sin(tilt), 0.0])
    upper, fore, hand = (share * STATURE * draws.between(0.98, 1.02) for share in (UPPER_ARM, FOREARM, HAND))
    thick, muscle, back = draws.between(0.95, 1.06), draws.between(0.7, 1.3), draws.between(0.018, 0.019)
    close, own = draws.between(0.85, 1.15), [draws.between(0.975, 1.025) for _ in form.digits]
    roles = tuple(role for role in form.roles if not role.endswith("tip"))
    first, second, third, *rest = shape.length_of(("shoulder", "elbow", "wrist", *roles))
    reach = hand * factors[2]
    upper, fore, hand = upper * first * factors[0], fore * second * factors[1], reach * third
    thick *= shape.thickness * factors[3]
    broad = thick / factors[3] * factors[2] * HAND * STATURE / hand
    if broad > MOST_BROAD:
        told = f"one {broad:.2f} times as broad as usual"
        raise require.RigError("a palm less broad for its length", told, "", "Lessen the thickness", "shape")
    back = shape.bent(back * factors[1], (upper, fore), MOST_BEND)
    bones = np.array(rest).reshape(-1, 3) * np.array(own)[:, None]
    return ArmBuild(upper, fore, hand, thick, muscle, back, slope, out, form, reach, close, bones, shape.density)


def _controls(build: ArmBuild) -> tuple[np.ndarray, np.ndarray]:
    """Control rings: stations (k,) and rows (k, 15) of centre, u, v (3 each), four extents, two exponents."""
    shoulder, elbow, wrist = build.joints
    down_upper, down_fore = (elbow - shoulder) / build.upper, (wrist - elbow) / build.fore
    stations, rows = [], []
    trunk = min(build.thick, MOST_TRUNK * build.upper / (UPPER_ARM * STATURE))
    for station, tx, ty, bx, by, front, back, *power in SHOULDER_ROWS:
        top, bottom = np.array([tx, ty, 0.0]), np.array([bx, by, 0.0])
        half = trunk * np.sqrt(np.sum((top - bottom) ** 2)) / 2000
        u = (top - bottom) * trunk / 2000 / half
        centre = shoulder + trunk * (top + bottom) / 2000
        depth = trunk * np.array([front, back]) / 1000
        rows.append([*centre, *u, 0, 0, 1, half, depth[0], half, depth[1], *power])
        stations.append(build.stations(station))
    for mm, *extents, outer, inner in (*ARM_ROWS, *build.form.rows):
        station = build.stations(mm)
        beyond = max(station - build.upper - build.fore, 0.0)
        past = np.clip((mm - build.form.knuckles) / 24 + 0.5, 0, 1)  # the palm's end follows the fingers
        fall = np.tan(DROOP) * (12 * past**2 + max(mm - build.form.knuckles - 12, 0)) * build.palm
        curl = CURL * beyond**2 / build.hand + fall
        lean = np.arctan(2 * CURL * beyond / build.hand) + DROOP * past
        along = down_upper if station < build.upper - GRID else down_fore
        if abs(station - build.upper) < GRID:
            along = (down_upper + down_fore) / np.sqrt(np.sum((down_upper + down_fore) ** 2))
        centre = shoulder + min(station, build.upper) * down_upper + max(station - build.upper, 0) * down_fore
        u = np.cos(lean) * build.out + np.sin(lean) * along
        forward = np.cross(along, build.out)
        rows.append([*(centre - curl * build.out), *u, *forward, *(build.thick * np.array(extents) / 1000),
                     outer, inner])  # fmt: skip
        stations.append(station)
    return np.array(stations), np.array(rows)


def _centred(mm: np.ndarray) -> np.ndarray:
    """How far each ring's area centroid is brought onto the curve, 0 to 1: not in the trunk, not in the palm."""
    rise, fall = np.clip((mm - 70) / 60, 0, 1), np.clip((612 - mm) / 30, 0, 1)
    return rise**2 * (3 - 2 * rise) * fall**2 * (3 - 2 * fall)


def ring_axes(build: ArmBuild, mm: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Centres, u and v (r, 3), extents (r, 4) and exponents (r, 2) of the rings at stations of the reference arm."""
    centre, u, v, extents, power = np.split(
        smooth_through(*_controls(build), build.stations(mm)), [3, 6, 9, 13], axis=1
    )
    u = u / np.sqrt(np.sum(u**2, axis=1, keepdims=True))
    v = v - u * np.sum(u * v, axis=1, keepdims=True)
    return centre, u, v / np.sqrt(np.sum(v**2, axis=1, keepdims=True)), extents, power


def arm_rings(build: ArmBuild, mm: np.ndarray) -> np.ndarray:
    """The arm's grid of vertices (rings, AROUND, 3), down to where the fingers part."""
    wanted = build.stations(mm)
    centre, u, v, extents, power = ring_axes(build, mm)
    angles = 360.0 * np.arange(AROUND) / AROUND
    part = np.clip((mm - PALM) / (0.8 * (build.form.end - PALM)), 0, 1)[:, None]
    angles = angles + part**2 * (3 - 2 * part) * (build.form.columns(AROUND) - angles)
    outline = ovals(extents, power, np.radians(angles))
    swell = np.zeros(outline.shape[:2])
    for table, factor in ((MUSCLES, build.muscle), (BONES, 1.0), (build.form.bumps, 1.0)):
        for station, reach, angle, width, height in table:
            bump = Bump(build.stations(station), reach / 1000, angle, width, factor * build.thick * height / 1000)
            swell += bump.over(wanted, angles)
    turn = np.radians(angles)
    outline = outline + swell[..., None] * np.stack([np.cos(turn), np.sin(turn)], axis=2)
    outline = outline - (_centred(mm)[:, None] * area_centroids(outline))[:, None]
    rings = centre[:, None] + outline[..., :1] * u[:, None] + outline[..., 1:] * v[:, None]
    across, drawn = np.transpose(build.form.drawn_back)
    rest = np.clip((mm - WRIST - 35) / (build.form.end - WRIST - 35), 0, 1)[:, None]
    drawn = rest**1.5 * np.interp(outline[..., 1] / build.thick, across / 1000, drawn) * build.palm
    return rings - drawn[..., None] * np.cross(u, v)[:, None]
