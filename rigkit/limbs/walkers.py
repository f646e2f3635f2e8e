"""Legs that are not ours: a walker on its toes and a wading bird; tables in mm and a seed -> surface and true joints.

In both, what looks like a knee that bends backward is the ankle. The left leg, in metres, +Y up, facing +Z, left +X.
Proportions: our own invention, by the order of bones in such animals (common practice).
"""

from dataclasses import replace

import numpy as np

from rigkit.limbs.base import Made, Shape, surface_point
from rigkit.limbs.legform import FORWARD, INWARD, UP, Build, Form, build_of, finished_leg, tube_of
from rigkit.limbs.loft import Patchwork, side_tube, window

TOE_WALKER = Form(
    bones=(300, 330, 270),
    line=(0, -0.968, -0.252),
    off=(180, 190),
    lean=(7, 9),
    stand=(49.5, 90),
    top=110,
    turns=(120, 170, 110),
    rows=np.array([
        (-110, 88, 105, 40, 160, 2.6, 2.6, 0), (-60, 100, 122, 56, 160, 2.5, 2.4, 0),
        (0, 108, 120, 68, 150, 2.3, 2.2, 0),
        (60, 94, 118, 67, 102, 2.2, 2.1, 0), (120, 80, 106, 61, 72, 2.1, 2, 0.1), (190, 68, 88, 53, 55, 2, 2, 0.5),
        (250, 58, 68, 46, 48, 2, 2, 1), (300, 52, 56, 41, 43, 2, 2, 1), (350, 43, 50, 38, 38, 2, 1.9, 1),
        (420, 33, 46, 33, 31, 2, 1.9, 0.8), (500, 25, 36, 25, 24, 2, 1.9, 0.8), (570, 21, 29, 19, 19, 2, 1.9, 1),
        (610, 22, 32, 19, 19, 2, 1.9, 1), (630, 23, 33, 21, 21, 2.1, 1.9, 1), (655, 22, 28, 20, 20, 2.1, 2, 1),
        (700, 20, 23, 19, 19, 2.1, 2.1, 1), (800, 19, 21, 19, 19, 2.1, 2.1, 1), (870, 21, 22, 23, 23, 2.1, 2, 1),
        (900, 25, 25, 27, 27, 2.1, 2, 1),
    ]),
    foot=np.array([
        (10, 30, 0, -22, -12, 28, 28, 2, 2, 0), (21, 37, -3, -15, -25, 29, 29, 2, 2, 0),
        (33, 45, -6, -2, -37, 32, 32, 2, 2, 0), (47, 54, -9, 17, -46, 37, 37, 2, 2, 0),
        (60, 62, -13, 40, -48, 42, 42, 2.1, 2.1, 0), (72, 68, -17, 61, -44, 45, 45, 2.1, 2.1, 0),
    ]),
    bumps=(
        (40, 50, 190, 40, 10, 1), (130, 60, 350, 34, 9, 1), (215, 40, 180, 30, -6, 0), (288, 18, 0, 24, 9, 0),
        (330, 16, 0, 18, 3, 0), (400, 45, 180, 34, 8, 1), (606, 15, 180, 26, 13, 0), (560, 30, 140, 18, -4, 0),
        (560, 30, 220, 18, -4, 0), (628, 14, 90, 24, 4, 0), (628, 14, 270, 24, 4, 0), (955, 14, 180, 30, 3, 0),
    ),
    loops=(-110, -85, -60, -36, -14, 8, 30, 52, 74, 96, 118, 140, 162, 184, 205, 224, 241, 256, 269, 280, 290, 300, 310,
           320, 331, 344, 360, 379, 400, 424, 450, 477, 504, 530, 553, 572, 587, 599, 610, 620, 630, 640, 651, 664,
           680, 700, 724, 750, 778, 807, 835, 864, 884, 894, 900),
    foot_loops=(7, 15, 24, 34, 45, 56, 65, 72),
    toes=((42, 9.6, -8, 3, -15), (54, 9.6, -2.5, 4, -16), (54, 9.6, 2.5, 4, -16), (42, 9.6, 8, 3, -15)),
    webs=((4, 4), (0, 0), (-4, -4)),
)  # fmt: skip

BIRD = Form(
    bones=(110, 260, 240),
    line=(0, -1, 0),
    off=(72, 76),
    lean=(7, 9),
    stand=(18.5, 58),
    top=70,
    turns=(96, 120, 36),
    rows=np.array([
        (-70, 42, 92, 18, 110, 2.6, 2.4, 0), (-30, 48, 92, 34, 100, 2.4, 2.2, 0), (8, 51, 82, 41, 66, 2.2, 2, 0),
        (45, 52, 68, 41, 45, 2, 2, 0.2), (80, 51, 55, 36, 38, 2, 2, 0.7), (110, 44, 46, 33, 34, 2, 2, 1),
        (150, 37, 41, 28, 28, 2, 2, 1), (190, 28, 32, 22, 22, 2, 2, 1), (225, 18, 22, 15, 15, 2, 2, 1),
        (250, 10, 12, 9.5, 9.5, 2, 2, 1), (275, 8, 9, 7.5, 7.5, 2, 2, 1), (335, 7.5, 8.5, 7, 7, 2, 2, 1),
        (358, 9.5, 11, 9.5, 9.5, 2.1, 2, 1), (370, 11, 12.5, 11.5, 11.5, 2.1, 2, 1),
        (383, 9.5, 10.5, 10, 10, 2.1, 2, 1),
        (405, 7.5, 8, 7.3, 7.3, 2, 2, 1), (500, 6.8, 7, 6.5, 6.5, 2, 2, 1), (580, 7.3, 7.5, 7.8, 7.8, 2, 2, 1),
        (610, 8.5, 9, 9.5, 9.5, 2, 2, 1),
    ]),
    foot=np.array([
        (5, 10, -2, -8, -8, 10, 10, 2, 2, 0), (11, 13.5, -3.5, -7, -15, 11, 11, 2, 2.1, 0),
        (17, 17, -5, 2, -18, 12.5, 12.5, 2, 2.2, 0), (24, 20, -7, 17, -18, 14.5, 14.5, 2.1, 2.2, 0),
    ]),
    bumps=(
        (30, 26, 270, 50, 5, 1), (100, 22, 0, 40, 3, 1), (165, 30, 200, 30, 3, 1), (205, 16, 330, 18, 3, 0),
        (215, 14, 110, 16, 3, 0), (210, 16, 200, 16, 3.5, 0), (364, 7, 180, 30, 2.5, 0), (371, 6, 90, 26, 2, 0),
        (371, 6, 270, 26, 2, 0),
    ),
    loops=(-70, -54, -38, -22, -7, 7, 20, 34, 48, 62, 75.5, 86.5, 95.5, 103, 110, 117, 124.5, 133.5, 144.5, 158, 174,
           190, 206, 222, 238, 254, 270, 286, 302, 317, 330, 341, 350, 357.5, 364, 370, 376, 382.5, 390, 399, 410, 423,
           438, 454, 470, 486, 502, 518, 533, 548, 563, 579, 590.5, 598.5, 604.5, 610),
    foot_loops=(5, 10.7, 17.4, 24),
    toes=((88, 4.1, -28, 3, -5.5), (108, 4.4, 0, 4, -5.5), (90, 4.1, 28, 3, -5.5)),
    webs=((3, 3), (-3, -3)),
    crowd=0.28,
)  # fmt: skip
# The hind toe, mm from the middle of its root: backward, up; half breadth across and along the leg.
HIND_TOE = np.array([
    (4, -2, 4.6, 5), (10, -5, 4.4, 4.4), (20, -8, 4.2, 4), (31, -10.5, 4, 3.7), (41, -11.5, 3.7, 3.4),
    (48, -11.8, 2.8, 2.6), (51.5, -12, 1.4, 1.3),
])  # fmt: skip
HIND_STATIONS, HIND_COLUMNS = (595, 611), (BIRD.around // 2 - 2, BIRD.around // 2 + 2)


def _made(work: Patchwork, build: Build, tip: np.ndarray, radii: tuple[float, float], knee: float) -> Made:
    """The leg of a patchwork. At the ball the foot turns and no section is square: the middle of its sides decides."""
    mesh, ball = work.mesh(), build.chain[4]
    hip_radius, ball_radius = radii
    made = finished_leg(mesh, build, ball, tip, hip_radius, {"knee": knee, "ankle": knee / 2})
    sides = {"ball_outer": surface_point(mesh, ball, -INWARD), "ball_inner": surface_point(mesh, ball, INWARD)}
    regions = {**made.regions, "ball": (tuple(sides), ball_radius)}
    return replace(made, landmarks={**made.landmarks, **sides}, regions=regions)


def toe_walker(seed: int, shape: Shape) -> Made:
    """The hind leg of a walker on its toes, with its half of the trunk: the ankle stands high, behind; a paw below."""
    build = build_of(TOE_WALKER, seed, shape)
    work, tips = tube_of(TOE_WALKER, build)
    return _made(work, build, tips[2], (0.09 * build.bulk, 0.025 * build.bulk), 0.018)


def bird_leg(seed: int, shape: Shape) -> Made:
    """The leg of a wading bird: hip and knee under the feathers of its thigh, the ankle half-way down a thin shank."""
    build = build_of(BIRD, seed, shape)
    top, bottom = (int(row) for row in np.searchsorted(BIRD.stations(build.density)[0], HIND_STATIONS))
    work, tips = tube_of(BIRD, build, (slice(top, bottom), slice(*HIND_COLUMNS)))
    rim = window((top, bottom), HIND_COLUMNS, BIRD.around)
    toe = build.size / 1000 * HIND_TOE
    hind = side_tube(work.points[rim], toe[:, :2] @ np.stack([-FORWARD, UP]), toe[:, 2:], -INWARD, -FORWARD)
    numbers = work.add(hind)
    work.tube(np.concatenate([rim[None], numbers]))
    work.close(numbers[-1], hind[-1].mean(axis=0))
    return _made(work, build, tips[1], (0.06 * build.bulk, 0.009 * build.bulk), 0.01)
