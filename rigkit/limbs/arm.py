"""Arms as practice limbs: a form's surface and true joints -> what a marker needs to know of each (Made).

Shoulder, knuckles, thumb's base and tips are regions, for a section there runs on into other flesh or into nothing.
"""

import numpy as np

from rigkit.limbs.armform import AROUND, HAND, STATIONS, STATURE, ArmBuild, arm_build, arm_rings, ring_axes
from rigkit.limbs.base import Made, Shape, surface_point
from rigkit.limbs.digits import digit_rows, grow_digit, split_end
from rigkit.limbs.hand import MARSH, WRIST, Digit
from rigkit.limbs.loft import GRID, Patchwork, dense, window
from rigkit.mesh import Mesh
from rigkit.vectors import unit

UNDER_SKIN = 0.0025
"""Metres: how far a tip's place lies under the skin, so that an end joint on it or just inside is right."""
TIP_RADIUS = 0.03
"""Metres: a tip's region; a fifth of it, what a learner is allowed, is 6 mm: an end may lie in the flesh, on the
skin or a little beyond (common practice)."""
MOST_DIGIT = 1.12
"""Digits of a thicker arm are no thicker than this, lest they meet."""
SHOULDER_RADIUS = 0.05
CLAVICLE_RADIUS = 0.04
STERNAL_OUT = 0.025
"""Metres from the middle plane: the clavicle's inner end lies 20 to 30 mm out, on the breastbone (standard anatomy)."""
CHEST = 0.13
"""Metres from the middle plane: what lies further in is stretched to that plane where a clavicle is asked for."""
BACK = np.array([0.0, 0.0, -1.0])


def arm(seed: int, shape: Shape) -> Made:
    """A person's arm: shoulder, elbow, wrist, thumb and four fingers."""
    return _made(arm_build(seed, shape))


def shoulder_arm(seed: int, shape: Shape) -> Made:
    """The same arm with its half of the chest, below a clavicle, whose inner end lies in front beside the middle."""
    build = arm_build(seed, shape)
    made = _made(build)
    mesh = to_the_middle(made.mesh)
    inside = np.array([STERNAL_OUT, *(build.joints[0] + np.array([0.0, -0.045, 0.046]) * build.thick)[1:]])
    marks = {
        "chest_top": surface_point(mesh, inside, np.array([0.0, 1.0, 0.0])),
        "chest_front": surface_point(mesh, inside, -BACK),
    }
    clavicle = np.round(np.mean(list(marks.values()), axis=0) / GRID) * GRID
    return Made(
        mesh,
        ("clavicle", *made.roles),
        (None, *(0 if above is None else above + 1 for above in made.parents)),
        np.concatenate([clavicle[None], made.joints]),
        made.away,
        made.landmarks | marks,
        {"clavicle": (tuple(marks), CLAVICLE_RADIUS)} | made.regions,
        made.stretch,
        made.optional,
    )


def to_the_middle(mesh: Mesh) -> Mesh:
    """A left arm's mesh with the part of its trunk that lies within CHEST stretched until its cut end meets x = 0; the
    slope is one where the stretch begins, so that no edge shows."""
    x = mesh.vertices[:, 0]
    depth = np.maximum(CHEST - x, 0.0) / (CHEST - x.min())
    moved = np.column_stack([x - x.min() * depth**2, mesh.vertices[:, 1:]])
    return Mesh(np.round(moved / GRID) * GRID + 0.0, mesh.triangles)


def creature_arm(seed: int, shape: Shape) -> Made:
    """The arm of Brassfoot's folk, who walk the marsh: a long thin forearm, three long fingers and a thumb."""
    return _made(arm_build(seed, shape, MARSH, (0.86, 1.42, 1.12, 0.84)))


def arm_surface(build: ArmBuild) -> tuple[Mesh, np.ndarray, np.ndarray]:
    """Loft the arm, open a window in the palm's front edge, grow thumb and fingers, close all ends.

    Returns the mesh, the true joints of the digits (digits, 4, 3), the last of each at its tip, and unit vectors
    (digits, 3) to the back of the hand at the first joint of each.
    """
    form, scale = build.form, build.reach / (HAND * STATURE) / 1000
    mm = dense(STATIONS + form.stations, (0, STATIONS[-1], WRIST, *form.window[0], form.end), build.density)
    work = Patchwork()
    rings = work.add(arm_rings(build, mm))
    first_row, last_row = (int(np.argmin(np.abs(mm - edge))) for edge in form.window[0])
    rows = (first_row, last_row)
    work.tube(rings, (slice(*rows), slice(*form.window[1])))
    skin = work.mesh()
    (left, right), (top, bottom) = form.window[1], rows
    soft = [rings[-3:].ravel(), rings[top - 1 : bottom + 2, left - 1 : right + 2].ravel()]
    roots = np.array([WRIST + digit.root[0] for digit in form.digits])
    centre, u, v, *_ = ring_axes(build, roots)
    joints = []
    rims = [window(rows, form.window[1], AROUND), *split_end(work, rings[-1], form.webs, 4, np.zeros(3))]
    for i, digit in enumerate(form.digits):
        axes = np.array([u[i], v[i], np.cross(u[i], v[i])])
        place = centre[i] + build.thick * digit.root[1] / 1000 * v[i]
        first = (surface_point(skin, place, u[i]) + surface_point(skin, place, -u[i])) / 2
        places, back = digit.joints(first, axes, scale, build.bones[i], build.close)
        joints.append(np.round(places / GRID) * GRID)
        radius = min(build.thick, MOST_DIGIT) * digit.radius / 1000
        tube = grow_digit(work, rims[i], joints[i], back, radius, digit_rows(3), build.density)
        soft += [rims[i], tube[0]]
    work.close(rings[0][::-1], work.points[rings[0]].mean(axis=0))
    work.soften(np.unique(np.concatenate(soft)), times=3)
    return work.mesh(), np.array(joints), u


def _made(build: ArmBuild) -> Made:
    """The arm of a build: joints from shoulder to fingertips, and all that a marker asks of them."""
    mesh, digits, backs = arm_surface(build)
    roles, parents = ["shoulder", "elbow", "wrist"], [None, 0, 1]
    places = list(build.joints)
    landmarks = shoulder_landmarks(mesh, build)
    regions: dict[str, tuple[tuple[str, ...], float]] = {}
    regions["shoulder"] = (("shoulder_top", "armpit", "shoulder_front", "shoulder_back"), SHOULDER_RADIUS)
    stretch, away = {"elbow": 0.025, "wrist": 0.015}, {"elbow": BACK}
    for digit, joints, back in zip(build.form.digits, digits, backs, strict=True):
        first = len(places)
        parents += [2, first, first + 1, first + 2]
        roles += digit.roles
        own, marks, areas, reaches, folds = digit_marks(mesh, digit, joints, back)
        places += list(own)
        landmarks, regions, stretch, away = landmarks | marks, regions | areas, stretch | reaches, away | folds
    optional = tuple(roles[3:])
    return Made(mesh, tuple(roles), tuple(parents), np.array(places), away, landmarks, regions, stretch, optional)


def digit_marks(mesh: Mesh, digit: Digit, joints: np.ndarray, back: np.ndarray) -> tuple:
    """What is asked of a digit's joints (4, 3): their places, the first brought half-way between back and pad, the last
    under the skin; landmarks, regions, stretches and fold directions by role. back: unit vector to the hand's back."""
    base, second, third, tip = digit.roles
    name, end_mark = base.replace(" ", "_"), tip.replace(" ", "_")
    skin = {f"{name}_back": surface_point(mesh, joints[0], back), f"{name}_pad": surface_point(mesh, joints[0], -back)}
    end = joints[3] + UNDER_SKIN * unit(joints[2] - joints[3])
    places = np.round(np.array([np.mean(list(skin.values()), axis=0), *joints[1:3], end]) / GRID) * GRID
    half = float(np.sqrt(np.sum((skin[f"{name}_back"] - skin[f"{name}_pad"]) ** 2))) / 2
    regions = {base: (tuple(skin), round(half, 4)), tip: ((end_mark,), TIP_RADIUS)}
    away = {}
    for middle, role in ((1, second), (2, third)):
        line = unit(joints[middle + 1] - joints[middle - 1])
        off = joints[middle] - joints[middle - 1]
        off = off - line * (off @ line)
        away[role] = unit(off) if off @ back > 1e-4 else unit(back - line * (back @ line))
    reach = 0.4 * float(np.sqrt(np.sum((joints[2] - joints[1]) ** 2)))
    stretch = {second: min(reach, 0.005), third: min(reach, 0.004)}
    return places, skin | {end_mark: places[3]}, regions, stretch, away


def shoulder_landmarks(mesh: Mesh, build: ArmBuild) -> dict[str, np.ndarray]:
    """The highest point of the armpit, where rays from the true shoulder leave the flesh in front, behind and opposite
    the armpit, and a point deep in the trunk."""
    shoulder = build.joints[0]
    armpit = build.armpit
    rays = {"shoulder_top": unit(shoulder - armpit), "shoulder_front": -BACK, "shoulder_back": BACK}
    marks = {name: surface_point(mesh, shoulder, ray) for name, ray in rays.items()}
    middle = shoulder + np.array([-0.09, -0.06, 0.0]) * build.thick
    return {**marks, "armpit": armpit, "trunk_middle": middle}
