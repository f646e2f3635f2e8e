"""Lesson 8: an arm raised with and without its clavicle, hips tilted with legs that hang on them or not; metres."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np

from rigkit.bulk import overlap_volume
from rigkit.exercise_text import key_of, layout_text
from rigkit.frames import IDENTITY, rotation_about
from rigkit.heat import heat_weights
from rigkit.limbs import PracticeLimb, practice_limb
from rigkit.make_exercise import make_exercise
from rigkit.mesh import Mesh
from rigkit.outline import Edges, front_facing
from rigkit.picture import LIGHT, View, standard_view
from rigkit.plates import flesh_path
from rigkit.require import choice, number
from rigkit.skin import bend_skin, bone_frame
from rigkit.stills import Picture
from rigkit.tables import data_folder
from rigkit.taught.posed_plates import Pose, close_up, plates
from rigkit.told import Table

SEED = 7  # of the bundled arm, Orlo's
UP = 145.0
"""Degrees that take Orlo's arm from where it hangs, 35 degrees out, straight up."""
FRONT = np.array([0.0, 0.0, 1.0])
"""The axis, through the body from back to front, about which a positive turn raises a left arm."""
CHAIN = (None, 0, 1, 2)
ASKED = ("clavicle", "shoulder", "elbow", "wrist")
DEEP, IN = np.array([0.006, 0.012, -0.01]), np.array([-0.032, 0.006, 0.0])
NEAR = np.array([[0.003, 0.0, -0.004], [0.003, 0.0, 0.0]])
"""Metres: in the start "deep" the clavicle lies off the middle plane by DEEP, at its own height or a little above; the
shoulder lies off its place by IN; elbow and wrist by NEAR, which is right."""
AROUND = 0.06
"""Metres, the local radius at the shoulder by which skin through skin is looked for around it."""


@dataclass(frozen=True, eq=False)
class Raised:
    """An arm raised: skin, places (4, 3) of clavicle, shoulder, elbow and wrist, where the fingertips are, what the
    flesh has gained or lost in volume, and how much of it lies in other flesh (cubic metres); stretched: the share by
    which the twentieth of the edges around the shoulder that is stretched most has grown at least."""

    mesh: Mesh
    places: np.ndarray
    tip: np.ndarray
    gained: float
    overlap: float
    stretched: float


@cache
def _limb(kind: str) -> PracticeLimb:
    return practice_limb(kind, SEED)


@cache
def _arm_skin() -> tuple[np.ndarray, np.ndarray]:
    """Where the fingertips are (3,); heat weights (n, 6): clavicle, upper arm, forearm, hand, two for the trunk."""
    limb = _limb("shoulder_arm")
    clavicle, shoulder, elbow, wrist = limb.key.positions[:4]
    down = (wrist - elbow) / np.linalg.norm(wrist - elbow)
    tip = wrist + 0.95 * float(((limb.mesh.vertices - wrist) @ down).max()) * down
    trunk = [[[0.02, 1.17, 0], [0.02, 1.44, 0]], [[0.02, 1.25, 0], [0.11, 1.22, 0.0]]]
    bones = [[clavicle, shoulder], [shoulder, elbow], [elbow, wrist], [wrist, tip], *trunk]
    return tip, heat_weights(limb.mesh, np.array(bones)).weights


def raised(degrees: float, lift: float = 0.0) -> Raised:
    """Orlo's arm raised sideways by so many degrees from rest; of them `lift` come from the clavicle.

    >>> round(float(raised(145, 30).places[1][1] - raised(145).places[1][1]), 3)
    0.084
    """
    limb, (tip, weights) = _limb("shoulder_arm"), _arm_skin()
    degrees, lift = number(degrees, "degrees", -40, 180), number(lift, "the clavicle's lift", -40, 60)
    rest = limb.key.positions[:4]
    clavicle = bone_frame(rest[0], rest[0], rotation_about(FRONT, np.radians(lift)))
    arm = bone_frame(rest[1], clavicle @ rest[1], rotation_about(FRONT, np.radians(degrees)))
    mesh = bend_skin(limb.mesh, weights, [clavicle, arm, arm, arm, IDENTITY, IDENTITY])
    places = np.array([rest[0], clavicle @ rest[1], arm @ rest[2], arm @ rest[3]])
    pairs = ((limb.mesh, rest[1]), (mesh, places[1]))
    before, now = (overlap_volume(skin, at, np.eye(3), AROUND) for skin, at in pairs)
    gained, stretched = mesh.volume - limb.mesh.volume, _stretched(limb.mesh, mesh, rest[1])
    return Raised(mesh, places, arm @ tip, gained, now - before, stretched)


def _stretched(rest: Mesh, now: Mesh, place: np.ndarray) -> float:
    """By what share the most stretched twentieth of the edges around a place at rest has grown at least."""
    edges = np.concatenate([rest.triangles[:, [0, 1]], rest.triangles[:, [1, 2]], rest.triangles[:, [2, 0]]])
    near = np.linalg.norm(rest.vertices[edges].mean(axis=1) - place, axis=1) < 2 * AROUND
    one, other = edges[near].T
    was, is_now = (np.linalg.norm(skin.vertices[one] - skin.vertices[other], axis=1) for skin in (rest, now))
    return float(np.quantile(is_now / was, 0.95)) - 1.0


def _won(gained: float) -> str:
    """Flesh won or lost (cubic metres) as people read it: to ten millilitres, which is what the skin's weights are
    good for."""
    return f"{round(1e6 * gained, -1) + 0.0:+.0f} ml"


def _outlined(plate: str, view: View, other: Mesh) -> str:
    """A plate with the rim of other flesh dashed upon its own, under the bones."""
    flat = view.project(other.vertices)
    rim = flesh_path(flat, other.triangles, Edges.of(other.triangles), front_facing(flat, other.triangles))
    path = f'<path transform="scale(.1)" d="{rim}" fill="none" stroke="{LIGHT.contour}" stroke-dasharray="60 50" '
    skin, over = plate.split("</g>", 1)
    return f'{skin}</g>{path}stroke-width="14"/>{over}'


def raised_picture(lift: float = 0.0) -> Picture:
    """The shoulder from the front: without a lift at rest and raised by the shoulder alone; with one, raised by the
    shoulder alone and with the clavicle lifting so many degrees. Joints and outline at rest are dashed."""
    rest, poses, said = _limb("shoulder_arm").key.positions[:4], [], []
    shown = [(UP, 0.0, "The shoulder alone"), (UP, lift, f"The clavicle lifts by {lift:g}°")]
    shown = shown if lift else [(0.0, 0.0, "At rest"), shown[0]]
    view = close_up(standard_view("front"), np.array([0.22, 1.42, 0.0]), 0.52)
    for degrees, up, title in shown:
        arm = raised(degrees, up)
        note = f"shoulder {1000 * (arm.places[1] - rest[1])[1]:.0f} mm higher, flesh {_won(arm.gained)}"
        note = note if degrees else ""
        ghost = rest if degrees else None
        names = {0: "clavicle", 1: "shoulder"}
        poses.append((title, "front", Pose(arm.mesh, arm.places, CHAIN, {}, names, note, ghost)))
        told = f"raised by {degrees:g} degrees. {title}: {note}" if degrees else "as it hangs at rest"
        said.append(f"Front view of the shoulder, the arm {told}.")
    drawn = plates(poses, said, views={"front": view}).plates
    hanging = _limb("shoulder_arm").mesh
    return Picture([(_outlined(plate, view, hanging) if degrees else plate, words)
                    for (plate, words), (degrees, _, _) in zip(drawn, shown, strict=True)])  # fmt: skip


def lifts(*degrees: float) -> Table:
    """What the flesh does with the arm straight up, by how far the clavicle lifts."""
    rows, rest = [], _limb("shoulder_arm").key.positions[1]
    for lift in degrees:
        arm = raised(UP, lift)
        higher = f"{1000 * (arm.places[1] - rest)[1]:.0f} mm"
        flesh, within = _won(arm.gained), f"{1e6 * arm.overlap:.0f} ml"
        rows.append((f"{lift:g}°", higher, flesh, within, f"{100 * arm.stretched:.0f} %"))
    head = ("clavicle lifts", "shoulder higher by", "flesh won or lost", "flesh inside flesh", "skin stretched by")
    return Table(head, rows)


@dataclass(frozen=True, eq=False)
class Tilted:
    """Hips with the pelvis tilted sideways: skin and places (6, 3) of pelvis, hip, knee, ankle, ball and toe tip."""

    mesh: Mesh
    places: np.ndarray
    gained: float


@cache
def _hip_skin() -> np.ndarray:
    """Heat weights (n, 6) of the hips: two for the pelvis, thigh, shank, foot, the stub of the other thigh."""
    limb = _limb("hips")
    pelvis, hip, knee, ankle, ball, tip = limb.key.positions
    over = np.array([-1.0, 1.0, 1.0])
    stub = hip + 0.17 * (knee - hip) / np.linalg.norm(knee - hip)
    bones = [[pelvis, pelvis + [0, 0.10, 0]], [hip * over, hip], [hip, knee], [knee, ankle], [ankle, tip],
             [hip * over, stub * over]]  # fmt: skip
    return heat_weights(limb.mesh, np.array(bones)).weights


def tilted(degrees: float, legs_on: str = "pelvis") -> Tilted:
    """The pelvis tilted sideways about its own place; the legs hang on it, or on the root, which stays."""
    limb, turn = _limb("hips"), rotation_about(FRONT, np.radians(number(degrees, "degrees", -45, 45)))
    pelvis = limb.key.positions[0]
    up = bone_frame(pelvis, pelvis, turn)
    leg = up if choice(legs_on, "a joint", ("pelvis", "root")) == "pelvis" else IDENTITY
    mesh = bend_skin(limb.mesh, _hip_skin(), [up, up, leg, leg, leg, leg])
    places = np.vstack([pelvis, leg @ limb.key.positions[1:]])
    return Tilted(mesh, places, mesh.volume - limb.mesh.volume)


def hip_view(degrees: float) -> View:
    """A close view of the hip from the front, as it lies with the pelvis tilted and the leg hung on it."""
    return close_up(standard_view("front"), tilted(degrees).places[1] + [0.0, -0.06, 0.0], 0.40)


def tilted_picture(degrees: float) -> Picture:
    """The hip from the front, the pelvis tilted: the legs hung on it, and the legs hung on the root. Dashed is where
    joints and flesh would be if all went along with the pelvis."""
    poses, said, along, view = [], [], tilted(degrees), hip_view(degrees)
    for legs_on in ("pelvis", "root"):
        hips = tilted(degrees, legs_on)
        title, note = f"The legs hang on the {legs_on}", f"flesh {_won(hips.gained)}"
        chain = (None, 0, 1, 2, 3, 4)
        poses.append(
            (title, "front", Pose(hips.mesh, hips.places, chain, {}, {0: "pelvis", 1: "hip"}, note, along.places))
        )
        said.append(f"Front view of the hip, the pelvis tilted by {degrees:g} degrees. {title}: {note}.")
    drawn = plates(poses, said, views={"front": view}).plates
    return Picture([(_outlined(plate, view, along.mesh), words) for plate, words in drawn])


def write_clavicle(folder: Path | str) -> Path:
    """Write the exercise "left-shoulder-arm", Orlo's arm with his clavicle, into a folder; returns it. The start "deep"
    has the clavicle in the middle of the neck's root, and the shoulder too far in."""
    limb = _limb("shoulder_arm")
    made = make_exercise(folder, limb, ASKED, "left-shoulder-arm", "Orlo's left arm and clavicle")
    key = key_of(limb, ASKED)
    clavicle, shoulder, elbow, wrist = key.positions
    places = np.array([clavicle * [0.0, 1.0, 0.0] + DEEP, shoulder + IN, elbow + NEAR[0], wrist + NEAR[1]])
    text = layout_text("start-deep", "left-shoulder-arm", key.at(np.round(places, 5)))
    (made / "start-deep.json").write_bytes(text.encode())
    return made


if __name__ == "__main__":
    write_clavicle(data_folder() / "exercises" / "left-shoulder-arm")
