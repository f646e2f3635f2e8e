"""One finger as a close-up: a piece of the hand, knuckle, two joints and a tip with its nail, about life size (Made).

It points down, its back faces out and its pad in, as in an arm that hangs; metres.
"""

import numpy as np

from rigkit.limbs.arm import digit_marks
from rigkit.limbs.base import Made, Shape
from rigkit.limbs.digits import digit_rings, digit_rows
from rigkit.limbs.hand import HUMAN, Digit
from rigkit.limbs.loft import GRID, Draws, Patchwork

AROUND = 28
KNUCKLE = np.array([0.36, 0.74, 0.03])
BEHIND = 0.026
"""Metres of the hand behind the knuckle that belong to the piece."""
MOST_BEND = 0.55  # of the shorter bone: a joint bent further folds its flesh into itself (measured)
# Before a digit's rows: stations -1 (the cut end) to 0 (the knuckle); extents to the back, front, pad and hind side as
# shares of the half breadth; two squarenesses.
STUMP = np.array([
    (-1.0, 1.10, 1.04, 1.34, 1.02, 2.3, 2.4),
    (-0.5, 1.13, 1.08, 1.36, 1.05, 2.3, 2.4),
    (0.0, 1.24, 1.14, 1.22, 1.10, 2.2, 2.3),
    (0.28, 1.04, 1.06, 1.16, 1.04, 2.1, 2.2),
])  # fmt: skip
NAIL = (2.45, 2.92, 58.0, 0.0011)
"""From and to (stations of the finger), half its breadth in degrees around it, and its height in metres."""


def finger(seed: int, shape: Shape) -> Made:
    """An index finger with its knuckle."""
    draws, form = Draws(seed), HUMAN.fingers[0]
    close, thick = draws.between(0.9, 1.2), draws.between(0.95, 1.06) * shape.thickness
    factors = shape.length_of(form.roles[:3])
    bones = np.array(form.bones) * factors * [draws.between(0.97, 1.03) for _ in range(3)]
    curl = (0.0, form.curl[1] * close, form.curl[2] * close)
    if shape.bend is not None:
        off = shape.bent(0.0, bones[:2] / 1000, MOST_BEND)
        curl = (0.0, bend_angle(bones[0] / 1000, bones[1] / 1000, off), curl[2])
    digit = Digit(form.name, (0, 0), (bones[0], bones[1], bones[2]), form.radius * thick, 0, 0, curl)
    out, forward, down = np.array([1.0, 0, 0]), np.array([0, 0, 1.0]), np.array([0, -1.0, 0])
    joints, back = digit.joints(KNUCKLE, np.array([out, forward, down]), 0.001, [1.0, 1.0, 1.0], 1.0)
    joints = np.round(joints / GRID) * GRID
    path = np.concatenate([KNUCKLE[None] - BEHIND * down, joints])
    rows = digit_rows(3, 0.8, 0.11, 0.2)
    rows = np.concatenate([STUMP, rows[rows[:, 0] > 0.3]]) + [1, 0, 0, 0, 0, 0, 0]
    turn = 2 * np.pi * np.arange(AROUND) / AROUND
    radius = digit.radius / 1000
    circle = path[0] + radius * (np.cos(turn)[:, None] * out + np.sin(turn)[:, None] * forward)
    rings = digit_rings(circle, path, back, radius, rows, 2.1 * shape.density)
    work = Patchwork()
    numbers = work.add(_with_nail(rings, joints))
    work.tube(numbers)
    work.close(numbers[0][::-1], rings[0].mean(axis=0))
    work.close(numbers[-1], joints[-1])
    mesh = work.mesh()
    places, landmarks, regions, stretch, away = digit_marks(mesh, digit, joints, back)
    base, tip = digit.roles[0], digit.roles[3]
    regions = {tip: regions[tip]}
    landmarks = {mark: landmarks[mark] for mark in regions[tip][0]}
    return Made(mesh, digit.roles, (None, 0, 1, 2), places, away, landmarks, regions, stretch | {base: 0.005}, (tip,))


def _with_nail(rings: np.ndarray, joints: np.ndarray) -> np.ndarray:
    """Rings (r, k, 3) with the nail's plate raised in its bed; the first column lies in the back's middle."""
    start, end, half, height = NAIL
    tail = joints[3] - joints[2]
    station = 2 + (rings.mean(axis=1) - joints[2]) @ tail / (tail @ tail)
    angle = np.abs((360.0 * np.arange(rings.shape[1]) / rings.shape[1] + 180) % 360 - 180)
    plate = np.outer((station > start) & (station < end), angle < half)
    hollow = np.outer((station > start - 0.1) & (station < end), angle < half + 14) & ~plate
    outward = rings - rings.mean(axis=1, keepdims=True)
    outward = outward / np.sqrt(np.sum(outward**2, axis=2, keepdims=True))
    lift = np.clip((station - start) / (end - start), 0, 1)[:, None]  # the plate stands off more towards its edge
    return rings + height * (plate * (0.3 + 0.7 * lift) - hollow * 0.4)[..., None] * outward


def bend_angle(first: float, second: float, off: float) -> float:
    """The turn, degrees, at which the joint between two bones lies `off` its neighbours' line (all in metres)."""
    turns = np.linspace(0, np.pi / 2, 9001)
    line = np.sqrt(first**2 + second**2 + 2 * first * second * np.cos(turns))
    offs = first * second * np.sin(turns) / line
    return float(np.degrees(np.interp(off, offs, turns)))
