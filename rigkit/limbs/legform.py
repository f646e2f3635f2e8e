"""How legs are lofted: a chain of joints (n, 3) and tables of sections in mm -> a grid of vertices (rings, around, 3).

A ring's u axis points to the front (over a foot: up), v inward; angles run front (0), in (90), back (180), out (270).
The left leg is built, metres, +Y up, facing +Z, left is +X; what would reach over the middle plane is cut flat there.
"""

from dataclasses import dataclass

import numpy as np

from rigkit.limbs.base import Made, Shape, surface_point
from rigkit.limbs.digits import digit_rows, grow_digit, split_end
from rigkit.limbs.loft import GRID, Bump, Draws, Patchwork, area_centroids, dense, ovals, smooth_through
from rigkit.mesh import Mesh
from rigkit.vectors import off_line

CUT = 1e-3  # metres: flesh nearer to the middle plane than this lies on it
UP, FORWARD, INWARD = np.array([0.0, 1.0, 0.0]), np.array([0.0, 0.0, 1.0]), np.array([-1.0, 0.0, 0.0])
MOST_BULK = 1.16
"""A strongly folded leg is no thicker than this for the length of its bones: more would fill its folds (measured)."""
MOST_BEND = 0.15, 0.68  # the same for a knee, shares of the shorter bone: of a leg that stands on its sole, of others
ROLES = ("hip", "knee", "ankle", "ball", "toe tip")
TOE_REGION = 0.05  # metres, radius of a toe tip's region: a fifth of it, 10 mm, is allowed (common practice)


@dataclass(frozen=True)
class Form:
    """The tables of one kind of leg, in mm of the reference leg; stations are counted from the hip down the bones.

    bones: lengths of thigh, shank and what else lies above the foot. line: from the hip to the ankle (3,). off: how
    far the knee lies in front of that line, least and most. lean: degrees by which the foot is turned out, or the
    bone below the ankle leans forward, least and most. stand: how high the last of these joints stands, how far the
    hip lies from the middle plane. top: how far above the hip the trunk is cut. turns: for hip, knee ..., over how
    much station the rings turn from bone to bone, half of it above. rows: station, extents front, back, out, in,
    squareness of the front and back half, share by which a ring's centroid is brought onto the bone. foot: station
    beyond the last joint; points in front (above) and behind (below), each forward and up from it; half breadth out
    and in; squareness of both halves; degrees by which the inner side is turned forward. bumps: station, reach, angle
    and width (degrees), height, and 1 for muscle or 0 for bone. loops, foot_loops: stations of the edge loops, closer
    where the leg folds; the foot's begin beyond its joint. toes, the inner one first: length, half breadth, angle
    outward (degrees), height of the middle joint and of the tip above the root. webs: columns between them, as
    `split_end` has them. around: vertices in a ring. ball: the station in the foot where its knuckles lie.
    crowd: factor on the edge loops of its toes.
    """

    bones: tuple[float, ...]
    line: tuple[float, float, float]
    off: tuple[float, float]
    lean: tuple[float, float]
    stand: tuple[float, float]
    top: float
    turns: tuple[float, ...]
    rows: np.ndarray
    foot: np.ndarray
    bumps: tuple[tuple[float, ...], ...]
    loops: tuple[float, ...]
    foot_loops: tuple[float, ...]
    toes: tuple[tuple[float, ...], ...]
    webs: tuple[tuple[int, int], ...]
    around: int = 32
    ball: float = 0.0
    crowd: float = 1.0

    @property
    def ends(self) -> np.ndarray:
        """Stations of the top of the trunk's stub and of the joints, down to the one that the foot hangs from."""
        return np.array([-self.top, 0.0, *np.cumsum(self.bones)])

    def stations(self, density: float) -> tuple[np.ndarray, np.ndarray]:
        """Stations of the edge loops down to the last of these joints, and from there on, where none is thinned."""
        foot = dense((0.0, *self.foot_loops), (0.0, self.ball), max(density, 1.0))
        return dense(self.loops, self.ends[2:], density), foot


@dataclass(frozen=True)
class Build:
    """One seed's leg. chain: (n, 3) the top of the stub, then the joints down to the one that the foot hangs from.
    facing: unit vector (3,), level, along the foot. Factors: bulk on sections, size on the foot, long on its toes,
    muscle on swellings; density on the number of edge loops."""

    chain: np.ndarray
    facing: np.ndarray
    bulk: float
    size: float
    long: float
    muscle: float
    density: float


def build_of(form: Form, seed: int, shape: Shape) -> Build:
    """One seed's leg: a little longer, thicker or stronger than the tables, never by much; then as the shape asks."""
    draws = Draws(seed)
    factors = [factor * draws.between(0.98, 1.02) for factor in shape.length_of(ROLES[:4])]
    bulk, muscle = shape.thickness * draws.between(0.95, 1.05), draws.between(0.7, 1.3)
    off, lean = draws.between(*form.off) / 1000, np.radians(draws.between(*form.lean))
    first, second, *further = np.array(form.bones) * factors[: len(form.bones)] / 1000
    size, long = (*factors[len(form.bones) :], 1.0)[:2]
    bulk = min(bulk, MOST_BULK * min(factors[:2])) if further else bulk
    off = shape.bent(off * min(factors[:2]), (first, second), MOST_BEND[bool(further)])
    line = units(np.array(form.line))
    along = np.sqrt(first**2 - off**2), np.sqrt(second**2 - off**2)
    knee = along[0] * line + off * units(FORWARD - line * (line @ FORWARD))
    steps = [form.top * bulk / 1000 * UP, np.zeros(3), knee, sum(along) * line]
    steps += [steps[3] + bone * (np.sin(lean) * FORWARD - np.cos(lean) * UP) for bone in further]
    height, hip_out = np.array(form.stand) / 1000
    chain = np.array(steps) + [hip_out * max(bulk, 1.0), height * size - steps[-1][1], 0.0]
    facing = FORWARD if further else np.sin(lean) * -INWARD + np.cos(lean) * FORWARD
    return Build(np.round(chain / GRID) * GRID, facing, bulk, size, long, muscle, shape.density)


def units(arrows: np.ndarray) -> np.ndarray:
    """Vectors (..., 3) at length one."""
    return arrows / np.sqrt(np.sum(arrows**2, axis=-1, keepdims=True))


def _spine(form: Form, chain: np.ndarray, wanted: np.ndarray) -> np.ndarray:
    """Centres and axes u, v (w, 9) at stations along a chain of joints; a joint's ring halves its turn."""
    bones = units(np.diff(chain, axis=0))
    along = np.repeat(bones[:1], len(wanted), axis=0)
    for joint, reach in enumerate(form.turns, start=1):
        t = np.clip(0.5 + (wanted - form.ends[joint]) / reach, 0, 1)[:, None]
        along = along + t * t * (3 - 2 * t) * (bones[joint] - bones[joint - 1])
    along = units(along)
    centre = np.stack([np.interp(wanted, form.ends, column) for column in chain.T], axis=1)
    for joint, reach in enumerate(form.turns, start=1):  # round off the corner, still through the joint
        away, radius = np.abs(wanted - form.ends[joint]), 0.1 * reach
        rounded = (np.hypot(away, radius) - radius - away) * np.exp(-((away / (3 * radius)) ** 2)) / 1000
        centre += rounded[:, None] * (bones[joint] - bones[joint - 1]) / 2
    v = units(INWARD - along * (along @ INWARD)[:, None])
    return np.concatenate([centre, np.cross(v, along), v], axis=1)


def _outlines(form: Form, build: Build, stations: np.ndarray, shapes: np.ndarray, even: np.ndarray) -> np.ndarray:
    """Outlines (r, around, 2) in (u, v) with their swellings. shapes: front, back, out, in, two squarenesses. even:
    (r,) from 0, columns at even angles, to 1, columns evenly spread from side to side, where toes are to grow."""
    column = np.arange(form.around) / form.around
    across = 1 - np.abs((4 * column + 1) % 4 - 2)  # 0 in front, 1 at the inner side, 0 behind, -1 at the outer side
    above = np.cos(2 * np.pi * column) >= -1e-9
    power = np.where(above, shapes[:, 4:5], shapes[:, 5:]) / 2
    spread = np.arcsin(np.sign(across) * np.abs(across) ** power)
    spread = np.where(above, spread, np.pi - spread) % (2 * np.pi)
    turn = 2 * np.pi * column + even[:, None] * ((spread - 2 * np.pi * column + np.pi) % (2 * np.pi) - np.pi)
    outline = ovals(shapes[:, [0, 3, 1, 2]], shapes[:, 4:], turn)
    swell = np.zeros(turn.shape)
    for station, reach, angle, width, height, strong in form.bumps:
        high = build.bulk * (build.muscle if strong else 1) * height / 1000
        swell += Bump(station, reach, angle, width, high).over(stations, np.degrees(turn))
    return outline + swell[..., None] * np.stack([np.cos(turn), np.sin(turn)], axis=2)


def leg_rings(form: Form, build: Build) -> np.ndarray:
    """The grid of vertices (rings, around, 3) of a leg, foot included; nothing reaches over the middle plane."""
    wanted, below = form.stations(build.density)
    axes = _spine(form, build.chain, wanted)
    rows = smooth_through(form.rows[:, 0], form.rows[:, 1:], wanted)
    shapes = np.concatenate([build.bulk * rows[:, :4] / 1000, rows[:, 4:6]], axis=1)
    shift = area_centroids(_outlines(form, build, wanted, shapes, np.zeros(len(wanted)))) * rows[:, 6:]
    axes[:, :3] -= shift[:, :1] * axes[:, 3:6] + shift[:, 1:] * axes[:, 6:]
    # the foot, from the last ring on: its front and back points, inward axis, breadths, squareness
    start, end = axes[-1], shapes[-1]
    first = [*(start[:3] + end[0] * start[3:6]), *(start[:3] - end[1] * start[3:6]), *start[6:], *end[2:]]
    thick = build.bulk + (1 - build.bulk) * form.foot[:, :1] / form.foot[-1, 0]  # as the shank, fading to the toes
    front, back = (
        build.chain[-1] + build.size / 1000 * (thick * form.foot[:, [k]] * build.facing + form.foot[:, [k + 1]] * UP)
        for k in (1, 3)
    )
    turn = np.radians(form.foot[:, 9:])
    side = np.cos(turn) * np.cross(build.facing, UP) + np.sin(turn) * build.facing
    breadths = np.sqrt(build.bulk) * build.size / 1000 * form.foot[:, 5:7]
    controls = np.concatenate([front, back, side, breadths, form.foot[:, 7:9]], axis=1)
    foot = smooth_through(np.array([0.0, *form.foot[:, 0]]), np.vstack([first, controls]), below)[1:]
    front, back, side, breadths = np.split(foot, [3, 6, 9], axis=1)
    half = np.sqrt(np.sum((front - back) ** 2, axis=1, keepdims=True)) / 2
    u = units(front - back)
    v = units(side - u * np.sum(side * u, axis=1, keepdims=True))
    axes = np.vstack([axes, np.concatenate([(front + back) / 2, u, v], axis=1)])
    shapes = np.vstack([shapes, np.concatenate([half, half, breadths], axis=1)])
    stations = np.concatenate([wanted, form.ends[-1] + below[1:]])
    outline = _outlines(form, build, stations, shapes, np.clip((stations - form.ends[-1]) / below[-1], 0, 1) ** 2)
    grid = axes[:, None, :3] + outline[..., :1] * axes[:, None, 3:6] + outline[..., 1:] * axes[:, None, 6:]
    return _cut_flat(grid)


def _cut_flat(grid: np.ndarray) -> np.ndarray:
    """The grid with all that reaches over the middle plane brought onto it; its rim is where edges cross the plane."""
    over = grid[..., 0] < CUT
    alone = over & ~np.roll(over, 1, axis=1) & ~np.roll(over, -1, axis=1)  # would pinch a pair of mirror images
    over &= ~alone
    grid = np.where(alone[..., None], [CUT, 0.0, 0.0] + grid * [0.0, 1.0, 1.0], grid)
    total, count = np.zeros(grid.shape), np.zeros(over.shape)
    for axis, step in ((1, 1), (1, -1), (0, 1), (0, -1)):
        beside = np.roll(grid, step, axis)
        rim = over & ~np.roll(over, step, axis)
        rim[0], rim[-1] = rim[0] & (axis == 1), rim[-1] & (axis == 1)
        gap = beside[..., 0] - grid[..., 0]
        share = np.clip(beside[..., 0] / np.where(rim, gap, 1.0), 0, 1) * rim
        total += rim[..., None] * (beside + share[..., None] * (grid - beside))
        count += rim
    flat = np.where(count[..., None] > 0, total / np.maximum(count, 1)[..., None], grid) * [0.0, 1.0, 1.0]
    return np.where(over[..., None], flat, grid)


def tube_of(form: Form, build: Build, hole: tuple[slice, slice] | None = None) -> tuple[Patchwork, np.ndarray]:
    """The patchwork of a leg with its toes, its tube first, and the toes' tips (k, 3); a window may be left open."""
    work, grid = Patchwork(), leg_rings(form, build)
    numbers = work.add(grid)
    work.tube(numbers, hole)
    work.close(numbers[0][::-1], grid[0].mean(axis=0))
    tips, outward = [], np.cross(UP, build.facing)
    rims = split_end(work, numbers[-1], form.webs, 4, 0.003 * build.facing)
    for rim, (length, radius, fan, arch, drop) in zip(rims, build.size / 1000 * np.array(form.toes), strict=True):
        fan = np.radians(fan * 1000 / build.size)
        step = build.long * length * (np.cos(fan) * build.facing + np.sin(fan) * outward)
        root = work.points[rim].mean(axis=0)
        across = (work.points[rim] - root) @ outward
        root = root + (across.min() + across.max()) / 2 * outward
        joints = np.array([root, root + 0.52 * step + arch * UP, root + step + drop * UP])
        rows = digit_rows(2, taper=0.9, knuckle=0.06, pad=0.1)
        grow_digit(work, rim, joints, UP, np.sqrt(build.bulk) * radius, rows, form.crowd * max(build.density, 1.0))
        tips.append(joints[-1])
    return work, np.array(tips)


def finished_leg(
    mesh: Mesh, build: Build, ball: np.ndarray, tip: np.ndarray, hip_radius: float, stretch: dict[str, float]
) -> Made:
    """What every leg has. hip_radius: of the hip's region, metres. The toe's tip need not be placed.

    The hip's region: the crotch, lowest on the cut by the middle plane, where rays from the hip leave the flesh in
    front, behind and away from the crotch, and a point within that brings the middle of all to the true hip. Fold
    directions: the knee's cap in front, the ankle towards the heel, and the ball down, for toes bend up.
    """
    hip, knee, ankle = build.chain[1:4]
    joints = np.round(np.array([hip, knee, ankle, ball, tip - 0.002 * build.facing]) / GRID) * GRID
    cut = mesh.vertices[(mesh.vertices[:, 0] == 0.0) & (mesh.vertices[:, 1] > ankle[1])]
    crotch = cut[np.argmin(cut[:, 1])]
    rays = {"hip_outer": units(hip - crotch), "hip_front": FORWARD, "hip_back": -FORWARD}
    hip_marks = {"crotch": crotch, **{name: surface_point(mesh, hip, way) for name, way in rays.items()}}
    hip_marks["hip_deep"] = 5 * hip - np.sum(list(hip_marks.values()), axis=0)
    ankle_away, ball_away = (units(off_line(*joints[[i, i - 1, i + 1]])) for i in (2, 3))
    return Made(
        mesh=mesh,
        roles=ROLES,
        parents=(None, 0, 1, 2, 3),
        joints=joints,
        away={"knee": FORWARD, "ankle": ankle_away, "ball": ball_away},
        landmarks={**hip_marks, "trunk_middle": hip + np.array([-0.3, 0.5, -0.1]) * hip_radius, "toe_end": joints[4]},
        regions={"hip": (tuple(hip_marks), hip_radius), "toe tip": (("toe_end",), TOE_REGION)},
        stretch=stretch,
        optional=("toe tip",),
    )
