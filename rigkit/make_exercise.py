"""Making an exercise folder from a practice limb: seed and side -> exercise.toml, mesh.glb, key.json, start layouts.

Only bytes of these files are written, the same ones for the same seed and side, on every machine.
"""

import hashlib
import json
from pathlib import Path

import numpy as np

from rigkit import require
from rigkit.files.gltf_write import write_glb
from rigkit.limbs import PracticeLimb, practice_arm
from rigkit.skeleton import Skeleton

START_FORWARD = 0.015
"""Metres in front of the shoulder-wrist line: as far the wrong way as a healthy rest bend goes the right way."""

_TOML = """\
format = "rigkit-exercise"
version = 1
id = "{side}-arm"
title = "Orlo's {side} arm"
side = "{side}"
rest_pose = "the arm hangs about 35 degrees out from the body, the palm faces the thigh"
units = "m"
up = "+y"
facing = "+z"
frame_convention = "not-judged"
naming = "plain"
rubric = "standard"
mesh_sha256 = "{sha256}"
# Extra joints that are good practice, by name pattern.
ignored = ["*_end", "*_tip", "root", "pelvis", "*spine*", "*clavicle*"]

[helps]
snap = true
gauges = true
hints = true

# Named points on or in the mesh, metres, world frame.
[landmarks]
{landmarks}

# A section through the shoulder would run into the trunk: the middle of the landmarks decides.
[[joints]]
role = "shoulder"
need = "required"
place = "region"
landmarks = ["shoulder_top", "armpit", "shoulder_front", "shoulder_back"]
radius = 0.05

# plane: normal of the measuring plane. stretch: the piece of limb that may be cut, upper end and lower end.
# fold: the way the joint lies off the line of its neighbours; limits as shares of that line's length.
[[joints]]
role = "elbow"
parent = "shoulder"
need = "required"
place = "flesh"
plane = {elbow_plane}
stretch = {elbow_stretch}
fold = {{away = {elbow_away}, between = ["shoulder", "wrist"], straight = 0.004, least = 0.02, most = 0.05}}

[[joints]]
role = "wrist"
parent = "elbow"
need = "required"
place = "flesh"
plane = {wrist_plane}
stretch = {wrist_stretch}
"""


def _plain(value: np.ndarray, digits: int) -> list:
    """Rounded numbers as Python lists, without negative zeros."""
    return (np.round(np.asarray(value, dtype=float), digits) + 0.0).tolist()


def layout_text(layout_id: str, exercise: str, joints: Skeleton) -> str:
    """A layout of the joints as the text of a layout file; places to a hundredth of a millimetre, turns not told.

    >>> arm = Skeleton(["left_elbow"], [None], [[0.1, 1.2, 0.0]])
    >>> json.loads(layout_text("key", "left-arm", arm))["joints"][0]["position"]
    [0.1, 1.2, 0.0]
    """
    rows = [
        {"name": name, "parent": parent, "position": _plain(place, 5), "rotation": None}
        for name, parent, place in zip(joints.names, joints.parents, joints.positions, strict=True)
    ]
    head = {"format": "rigkit-layout", "version": 1, "id": layout_id, "exercise": exercise, "attempt": 1}
    head |= {"units": "m", "up": "+y", "facing": "+z"}
    lines = [f"  {json.dumps(key)}: {json.dumps(value)}," for key, value in head.items()]
    body = ",\n".join("    " + json.dumps(row) for row in rows)
    return "\n".join(["{", *lines, '  "joints": [', body, "  ]", "}"]) + "\n"


def exercise_text(limb: PracticeLimb, mesh_bytes: bytes) -> str:
    """The text of exercise.toml for a practice arm whose mesh file holds these bytes."""
    return _TOML.format(
        side=limb.side,
        sha256=hashlib.sha256(mesh_bytes).hexdigest(),
        landmarks="\n".join(f"{name} = {_plain(place, 5)}" for name, place in limb.landmarks.items()),
        elbow_plane=_plain(limb.planes["elbow"], 6),
        elbow_stretch=_plain(limb.stretches["elbow"], 5),
        elbow_away=_plain(limb.away["elbow"], 6),
        wrist_plane=_plain(limb.planes["wrist"], 6),
        wrist_stretch=_plain(limb.stretches["wrist"], 5),
    )


def scattered_start(limb: PracticeLimb) -> Skeleton:
    """Joints named right and placed wrong: the shoulder in the skin, the elbow before the arm, the wrist in the
    thumb's base."""
    shoulder, elbow, wrist = limb.key.positions
    down = limb.planes["wrist"]
    out = np.array([1.0 if limb.side == "left" else -1.0, 0.0, 0.0])
    forward = np.array([0.0, 0.0, 1.0])
    top = 0.4 * shoulder + 0.6 * limb.landmarks["shoulder_top"]
    return limb.key.at(
        np.array([
            top + 0.012 * out,
            elbow + 0.062 * forward - 0.02 * limb.planes["elbow"],
            wrist + 0.03 * down + 0.026 * forward,
        ])
    )  # fmt: skip


def forward_start(limb: PracticeLimb) -> Skeleton:
    """The true joints, but for the elbow, moved along its fold direction until it lies START_FORWARD before the
    line of its neighbours; names that say nothing."""
    shoulder, elbow, wrist = limb.key.positions
    away, line = limb.away["elbow"], wrist - shoulder
    foot = shoulder + line * ((elbow - shoulder) @ line) / (line @ line)
    moved = elbow - away * ((elbow - foot) @ away + START_FORWARD)
    joints = limb.key.moved(1, moved)
    return Skeleton(tuple(f"joint_{n + 1}" for n in range(len(joints))), joints.parents, joints.positions)


def resting_start(limb: PracticeLimb) -> Skeleton:
    """An arm that folds the right way though nothing in it is quite in the middle: to look at, not to copy."""
    outward = np.array([1.0 if limb.side == "left" else -1.0, 0.0, 0.0])
    shift = np.array([0.012 * outward, 0.008 * limb.away["elbow"] + 0.006 * outward, 0.008 * outward])
    return limb.key.at(limb.key.positions + shift)


def make_arm_exercise(folder: Path | str, seed: int, side: str = "left") -> Path:
    """Write the exercise folder of a practice arm; files of the same names are replaced.

    folder: where to write; made if missing. seed, side: as for `practice_arm`.
    Returns the folder. Raises RigError for a seed or side that cannot be used, or a folder that cannot be written.
    """
    limb, folder = practice_arm(seed, side), Path(folder)
    exercise = f"{side}-arm"
    mesh_bytes = write_glb(limb.mesh)
    files = {
        "mesh.glb": mesh_bytes,
        "exercise.toml": exercise_text(limb, mesh_bytes).encode(),
        "key.json": layout_text("key", exercise, limb.key).encode(),
        "start-scattered.json": layout_text("start-scattered", exercise, scattered_start(limb)).encode(),
        "start-resting.json": layout_text("start-resting", exercise, resting_start(limb)).encode(),
        "start-forward.json": layout_text("start-forward", exercise, forward_start(limb)).encode(),
    }
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, content in files.items():
            (folder / name).write_bytes(content)
    except OSError as problem:
        raise require.RigError(
            "a folder that can be written", str(problem.strerror or problem),
            next_step="Choose another folder", where=str(folder),
        ) from None  # fmt: skip
    return folder
