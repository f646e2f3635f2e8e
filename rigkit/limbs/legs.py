"""Human legs: tables in mm and a seed's proportions -> a closed surface, the true joints from hip to toe tip.

The left leg, in metres, +Y up, facing +Z, left is +X; it stands on the ground, the knee a little bent.
"""

from dataclasses import replace

import numpy as np

from rigkit.limbs.base import Made, Shape, surface_point
from rigkit.limbs.legform import FORWARD, INWARD, Form, build_of, finished_leg, tube_of, units
from rigkit.limbs.loft import GRID
from rigkit.mesh import Mesh

STATURE = 1700
"""Millimetres."""
THIGH, SHANK, ANKLE_HEIGHT = 0.245, 0.246, 0.039
"""Shares of stature, as those that the tables keep to: foot length 0.152, breadth 0.055. Drillis & Contini 1966, as
reproduced in Winter 2009, Fig. 4.1."""
HIP_OUT, ANKLE_OUT = 94, 80
"""Millimetres from the middle plane: the hip near H-Anim's default (96 mm), the ankle a little further in."""
KNEE = 25
"""Millimetres that the knee lies in front of the hip-ankle line: a rest bend of 7 degrees; H-Anim's figure has 67.6 mm
and 18 degrees, much for a leg one stands on (our choice)."""
HUMAN = Form(
    bones=(THIGH * STATURE, SHANK * STATURE),
    line=(ANKLE_OUT - HIP_OUT, -(THIGH + SHANK) * STATURE, 0),
    off=(KNEE - 1, KNEE + 1),
    lean=(3, 7),
    stand=(ANKLE_HEIGHT * STATURE, HIP_OUT),
    top=170,
    turns=(120, 60),
    rows=np.array([
    (-170, 92, 78, 48, 150, 3.4, 3, 0), (-125, 97, 88, 60, 150, 3.4, 2.7, 0), (-80, 97, 103, 70, 150, 3.2, 2.4, 0),
        (-40, 102, 109, 77, 150, 2.9, 2.2, 0), (0, 103, 114, 80, 146, 2.6, 2.2, 0), (40, 96, 113, 82, 124, 2.1, 2.1, 0),
        (75, 91, 108, 82, 104, 2.1, 2.1, 0), (105, 88, 100, 81, 86, 2, 2, 0), (155, 86, 88, 79, 79, 2, 2, 0.2),
        (230, 80, 78, 74, 72, 2, 2, 0.6), (310, 69, 66, 64, 62, 2, 2, 1), (370, 60, 58, 56, 57, 2.1, 2.2, 1),
        (416.5, 57, 56, 52, 54, 2.1, 2.3, 1), (450, 52, 55, 49, 51, 2.1, 2.1, 1), (500, 48, 62, 51, 53, 2, 2, 0.6),
        (550, 45, 67, 53, 51, 1.9, 2, 0.4), (610, 42, 60, 49, 45, 1.9, 2, 0.4), (680, 38, 47, 40, 37, 1.9, 2, 0.7),
        (750, 34, 40, 33, 32, 2, 1.9, 1), (800, 37, 41, 31, 31, 2, 1.9, 1), (834.7, 43, 45, 33, 33, 2, 2, 1),
    ]),
    foot=np.array([
    (8, 45, -8, -47, -11, 34, 34, 2, 2, 0), (17, 50, -11, -53, -23, 34, 34, 2, 2.1, 0),
        (29, 58, -14, -58, -38, 34, 33, 2, 2.3, 0), (42, 65, -17, -56, -53, 34, 33, 2, 2.6, 0),
        (56, 73, -20, -44, -63, 34, 33, 2, 2.8, 0), (74, 82, -23, -20, -66, 34, 33, 2, 2.8, 2),
        (94, 92, -26, 10, -65, 34, 36, 1.9, 2.8, 4), (116, 102, -29, 44, -64, 36, 40, 1.9, 2.8, 6),
        (138, 112, -32, 78, -64, 39, 45, 1.9, 2.8, 8), (158, 122, -35, 108, -66, 41.5, 48.5, 2, 2.8, 9),
        (174, 131, -38, 127, -66.5, 40.5, 48.5, 2.1, 2.6, 11), (192, 145, -42.5, 145, -65, 39.5, 47.5, 2.2, 2.3, 14),
    ]),
    bumps=(
        (-150, 25, 300, 30, 5, 0), (35, 45, 205, 45, 10, 1), (95, 13, 190, 45, -3, 0),  # hip bone, buttock, its fold
        (5, 16, 325, 18, -4, 0), (30, 16, 350, 18, -4, 0), (55, 16, 18, 18, -3, 0),  # groin, slanting down and in
        (230, 70, 350, 40, 6, 1), (360, 22, 60, 28, 6, 1), (345, 25, 310, 26, 4, 1),  # thigh, its heads at the knee
        (406, 15, 0, 24, 8, 0), (440, 12, 0, 20, 3, 0),  # knee cap, where its sinew is rooted
        (416, 20, 90, 26, 3, 0), (416, 20, 270, 26, 3, 0),  # bony points beside the knee
        (418, 22, 180, 18, -7, 0), (416, 30, 140, 16, 4, 0), (416, 30, 220, 16, 4, 0),  # its hollow, sinews beside it
        (540, 45, 150, 32, 7, 1), (520, 45, 212, 30, 6, 1),  # calf, the inner head lower
        (770, 45, 180, 18, 5, 0), (770, 45, 142, 16, -4, 0), (770, 45, 218, 16, -4, 0),  # sinew of the heel
        (828, 13, 88, 24, 5, 0), (838, 13, 266, 24, 5, 0),  # ankle bones, the outer one lower
        (940, 32, 118, 36, -7, 0), (1000, 14, 86, 26, 3, 0),  # arch of the foot, ball of the big toe
    ),
    loops=(-170, -140, -110, -80, -52, -26, 0, 22, 42, 60, 76, 92, 108, 128, 150, 175, 202, 230, 258, 285, 310, 332,
           351, 367, 381, 393, 404, 416.5, 428, 439, 451, 465, 482, 502, 524, 548, 574, 602, 632, 662, 693, 727, 766,
           802, 815, 824.5, 831, 834.7),
    foot_loops=(4, 10, 20, 31, 43, 57, 72, 88, 104, 118, 131, 142, 150.5, 157, 162, 166, 171, 178, 186, 192),
    toes=((43, 13.2, 0, 0.5, -5), (42, 6.8, 3, 1, -6), (37, 6.7, 5, 1, -6), (31, 6.6, 7, 1, -6), (25, 6.5, 9, 1, -6)),
    webs=((3, 3), (0, 0), (-3, -3), (-6, -6)),
    around=36,
    ball=162,
)  # fmt: skip
STUB = 150
"""Station (mm) at which the other thigh is cut off."""
HIP_REGION = 0.09
"""Metres, the radius of the hip's region: about half the breadth of the flesh there."""


def leg(seed: int, shape: Shape) -> Made:
    """A human leg with its half of the pelvis, cut at the middle plane, and a foot of five toes.

    The ankle's measuring plane is square to the shank: the one that halves its turn would cut heel and instep. The
    ball's lies along its row of knuckles. The tip is the second toe's, the foot's axis (common practice).
    """
    build = build_of(HUMAN, seed, shape)
    work, tips = tube_of(HUMAN, build)
    loops, foot_loops = HUMAN.stations(build.density)
    row = len(loops) - 1 + int(np.argmin(np.abs(foot_loops - HUMAN.ball)))
    ring = work.points[row * HUMAN.around : (row + 1) * HUMAN.around]
    spokes = ring - ring.mean(axis=0)
    areas = np.cross(spokes, np.roll(spokes, -1, axis=0))
    normal = units(areas.sum(axis=0))
    share = areas @ normal
    ball = ring.mean(axis=0) + share @ (spokes + np.roll(spokes, -1, axis=0)) / (3 * share.sum())
    stretch = {"knee": 0.025, "ankle": 0.008, "ball": 0.006}
    made = finished_leg(work.mesh(), build, ball, tips[1], HIP_REGION * build.bulk, stretch)
    return replace(made, planes={"ankle": units(build.chain[3] - build.chain[2]), "ball": normal})


def hips(seed: int, shape: Shape) -> Made:
    """The same leg with the whole pelvis and the stub of the other thigh, mirrored over the middle plane."""
    made = leg(seed, shape)
    around = HUMAN.around
    own, count = made.mesh.vertices, len(made.mesh.vertices)
    loops, foot_loops = HUMAN.stations(shape.density)
    stub = around * int(np.searchsorted(loops, STUB))  # the first vertex of the ring at which the other thigh ends
    trunk_cap = around * (len(loops) + len(foot_loops) - 1)
    wall = np.all(own[made.mesh.triangles][..., 0] == 0.0, axis=1)
    mine = made.mesh.triangles[~wall]
    theirs = mine[np.all((mine < stub + around) | (mine == trunk_cap), axis=1)]
    twin = np.where(own[:, 0] == 0.0, np.arange(count), count + np.arange(count))
    rim = twin[stub : stub + around][::-1]
    end = np.stack([rim, np.roll(rim, -1), np.full(around, 2 * count)], axis=1)
    mirrored = own * [-1.0, 1.0, 1.0]
    cap = np.round(mirrored[stub : stub + around].mean(axis=0) / GRID) * GRID
    used, triangles = np.unique(np.concatenate([mine, twin[theirs][:, ::-1], end]), return_inverse=True)
    mesh = Mesh(np.vstack([own, mirrored, cap])[used], triangles.reshape(-1, 3))
    bulk = made.regions["hip"][1] / HIP_REGION
    pelvis = np.round((made.joints[0] * [0, 1, 1] + np.array([0, 0.05, -0.005]) * bulk) / GRID) * GRID
    rays = {"pelvis_front": FORWARD, "pelvis_back": -FORWARD, "pelvis_left": -INWARD, "pelvis_right": INWARD}
    marks = {name: surface_point(mesh, pelvis, way) for name, way in rays.items()}
    return replace(
        made,
        mesh=mesh,
        roles=("pelvis", *made.roles),
        parents=(None, 0, 1, 2, 3, 4),
        joints=np.vstack([pelvis, made.joints]),
        landmarks={**made.landmarks, **marks, "trunk_middle": pelvis},
        regions={**made.regions, "pelvis": (tuple(marks), 0.1 * bulk)},
    )
