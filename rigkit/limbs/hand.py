"""Hands in numbers: a palm's rings and, for each digit, root, bones, breadth and turns -> its true joints (4, 3).

Tables are in mm and degrees, for a left hand whose fingers hang down, palm in, thumb forward; along counts from the
wrist towards the fingers, across from the hand's middle line to the front, where the thumb is.
"""

from dataclasses import dataclass

import numpy as np

from rigkit.vectors import unit

WRIST = 564.4
"""Station of the wrist in an arm's tables, mm from the shoulder."""


@dataclass(frozen=True)
class Digit:
    """One digit. root: along and across of its first joint. bones: three lengths, the last one's soft tip included.
    radius: half its breadth at the root. fan: how far it points to the front. roll: how far its back is turned to
    the front. rise: how far it points to the back of the hand. curl: how far each joint is closed at rest."""

    name: str
    root: tuple[float, float]
    bones: tuple[float, float, float]
    radius: float
    fan: float
    roll: float
    curl: tuple[float, float, float]
    rise: float = 0.0

    @property
    def roles(self) -> tuple[str, ...]:
        """Its joints' roles, from the root to the tip."""
        return tuple(f"{self.name} {part}" for part in (1, 2, 3, "tip"))

    def joints(self, first: np.ndarray, axes: np.ndarray, scale: float, stretch: list[float], close: float):
        """Its joints (4, 3), the last at the tip of its flesh, and the unit vector (3,) to its back.

        first: the first joint. axes: rows back, forward and along of the hand there. scale: metres to a mm.
        stretch: factors of the bones. close: factor of the curl.
        """
        out, forward, along = axes
        fan, roll, rise = np.radians([self.fan, self.roll, self.rise])
        way = np.cos(fan) * along + np.sin(fan) * forward
        way = np.cos(rise) * way + np.sin(rise) * out
        back = np.cos(roll) * out + np.sin(roll) * forward
        back = unit(back - way * (way @ back))
        turns = np.radians(close * np.cumsum(self.curl))[:, None]
        steps = np.cos(turns) * way - np.sin(turns) * back
        lengths = scale * np.array(self.bones) * stretch
        places = first + np.concatenate([np.zeros((1, 3)), np.cumsum(lengths[:, None] * steps, axis=0)])
        return places, unit(np.cos(turns[0]) * back + np.sin(turns[0]) * way)


@dataclass(frozen=True)
class HandForm:
    """A hand: rows of its palm and its bumps (as an arm's tables have them), stations of loops beyond the elbow, its
    thumb and fingers (front one first), the webs between them, how far the end of the palm is drawn back at places
    across it (across, mm), and the window of (stations), (columns) that the thumb grows from."""

    rows: tuple
    bumps: tuple
    stations: tuple
    thumb: Digit
    fingers: tuple[Digit, ...]
    webs: tuple[tuple[int, int], ...]
    drawn_back: tuple[tuple[float, float], ...]
    window: tuple[tuple[float, float], tuple[int, int]]

    @property
    def digits(self) -> tuple[Digit, ...]:
        """The thumb and the fingers, front one first."""
        return (self.thumb, *self.fingers)

    @property
    def roles(self) -> tuple[str, ...]:
        """The roles of all digits' joints."""
        return tuple(role for digit in self.digits for role in digit.roles)

    @property
    def end(self) -> float:
        """Station of the palm's last ring, where the webs are."""
        return self.stations[-1]

    @property
    def knuckles(self) -> float:
        """Station of the farthest knuckle."""
        return WRIST + max(digit.root[0] for digit in self.fingers)

    def columns(self, around: int) -> np.ndarray:
        """Angles (around,), degrees, of the last ring's columns, spread so that each finger has its own breadth."""
        quarter = around // 4
        front, hind = self.rows[-1][2], self.rows[-1][4]
        ends = [90.0]
        for digit, side in [(d, s) for d in self.fingers for s in (1, -1)][1:-1]:
            across = digit.root[1] + (self.end - WRIST - digit.root[0]) * np.tan(np.radians(digit.fan))
            share = (across + side * digit.radius) / (front if across + side * digit.radius > 0 else hind)
            ends.append(np.degrees(np.arcsin(np.sign(share) * min(abs(share), 1.0) ** (self.rows[-1][5] / 2))))
        ends.append(-90.0)
        marks = [quarter, *(column for web in self.webs for column in web), -quarter]
        back = np.interp(np.arange(-quarter, quarter + 1), marks[::-1], ends[::-1])
        return np.concatenate([back[quarter:], 180.0 - back[::-1][1:], 360.0 + back[1:quarter]])


# Bones: Buryanov & Kotiuk 2010, Int J Morphol 28(3):755-758 (66 adults, radiographs), each last one with its soft tip;
# metacarpals 68.1, 64.6, 58.0, 53.7 mm from the wrist bones on. Breadths, turns and fans: common practice.
HUMAN = HandForm(
    rows=(
        (585, 18, 32, 19, 31, 2.5, 2.5), (602, 16.5, 35.5, 19.5, 35, 2.5, 2.5),
        (620, 14.5, 36.5, 18, 38.5, 2.5, 2.5), (640, 13, 37.5, 15.5, 40, 2.5, 2.5),
        (654, 12, 38.5, 14, 40.5, 2.5, 2.5), (664, 10.5, 38, 12.5, 41, 2.7, 2.6),
        (671, 9.2, 37.5, 11, 41, 2.9, 2.8),
    ),
    bumps=(
        (600, 20, 128, 26, 7),  # ball of the thumb
        (612, 24, 232, 26, 4),  # ball of the little finger
        (632, 16, 182, 22, -4),  # hollow of the palm
        (652, 7, 37, 9, 2.6),  # knuckles
        (653, 7, 6, 9, 3.0),
        (648, 7, 346, 9, 2.6),
        (641, 7, 318, 10, 2.6),
        (660, 8, 180, 60, 2.0),  # cushion before the fingers
    ),
    stations=(
        *(325.5, 335, 346, 359, 374, 391, 409, 428, 448, 468, 488, 507, 524, 538, 549, 557.5, WRIST, 571.5),
        *(580, 589, 598, 606, 614, 622, 630, 638, 645, 651, 656.5, 661.5, 666.5, 671),
    ),
    thumb=Digit("thumb", (19, 20), (46.2, 31.6, 27.4), 11.4, 47, 66, (0, 18, 16), -15),
    fingers=(
        Digit("index", (90, 26), (39.8, 22.4, 19.6), 9.9, 3, 6, (10, 18, 13)),
        Digit("middle", (91.3, 6), (44.6, 26.3, 21.4), 10.0, 0.5, 0, (13, 20, 14)),
        Digit("ring", (84.5, -13.5), (41.4, 25.7, 21.3), 9.4, -3, -6, (16, 22, 15)),
        Digit("little", (76.5, -30.5), (32.7, 18.1, 19.7), 8.3, -7, -12, (17, 23, 15)),
    ),
    webs=((4, 3), (1, 0), (-2, -3)),
    drawn_back=((-42, 20), (-24, 10.5), (-4, 1), (8, 0), (17, 1), (38, 7)),
    window=((580, 614), (5, 9)),
)  # fmt: skip

# Invented: Brassfoot's folk.
MARSH = HandForm(
    rows=(
        (585, 20, 30, 21, 29, 2.4, 2.4), (610, 19, 33, 22, 32, 2.4, 2.4), (635, 16, 36, 19, 36, 2.4, 2.4),
        (650, 14, 38, 16, 39, 2.5, 2.5), (660, 12, 38, 14, 39.5, 2.6, 2.6), (667, 10.5, 37, 12, 38.5, 2.8, 2.8),
    ),
    bumps=(
        (600, 20, 128, 26, 7), (632, 16, 182, 22, -5), (646, 8, 42, 11, 4.0), (650, 8, 0, 11, 4.0),
        (644, 8, 318, 11, 4.0), (658, 9, 180, 60, 2.5),
    ),
    stations=(
        *(321.8, 327.6, 334.3, 342, 351, 361.5, 372.5, 384, 396, 408, 420, 432, 444.5, 457, 469, 481, 493.5, 506, 518),
        *(529.5, 540, 548.5, 555, 560, WRIST, 571.5),
        *(580, 589, 598, 606, 614, 622, 630, 637, 643.5, 649.5, 654.5, 659, 663, 667),
    ),
    thumb=Digit("thumb", (22, 19), (52, 44, 40), 12.5, 42, 60, (0, 12, 18), -16),
    fingers=(
        Digit("index", (84, 26), (56, 42, 38), 12.6, 7, 8, (8, 18, 12)),
        Digit("middle", (88, 0), (62, 48, 42), 12.8, 0, 0, (10, 20, 14)),
        Digit("ring", (82, -26), (54, 41, 37), 12.4, -7, -8, (12, 20, 14)),
    ),
    webs=((3, 2), (-2, -3)),
    drawn_back=((-40, 9), (-14, 3), (0, 0), (14, 3), (40, 9)),
    window=((589, 630), (5, 9)),
)  # fmt: skip
