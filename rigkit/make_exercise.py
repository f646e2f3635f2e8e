"""Making an exercise folder from a practice limb of any kind: exercise.toml, mesh.glb, key.json, start layouts.

Only bytes of these files are written, the same ones for the same limb, on every machine.
"""

import hashlib
import json
from fnmatch import fnmatchcase
from pathlib import Path

import numpy as np

from rigkit import require
from rigkit.files.gltf_write import write_glb
from rigkit.kinematics import rest_bend
from rigkit.limbs import PracticeLimb
from rigkit.limbs.base import named
from rigkit.skeleton import Skeleton

START_FORWARD = 0.015
"""Metres in front of the shoulder-wrist line: as far the wrong way as a healthy rest bend goes the right way."""

STRAIGHT_LIMB = (0.004, 0.02, 0.05)
"""Rest bend of elbow and knee, shares of the neighbours' line: too straight, least, most (common practice)."""
FOLDED = (0.05, 0.3, 1.9)
"""The same for any other fold, as shares of the bend that the limb was built with (common practice)."""
ARM = ("shoulder", "elbow", "wrist")
IGNORED = ("*_end", "*_tip", "root", "pelvis", "*spine*", "*clavicle*")

_WORDS = {  # kind: whose limb it is, how it rests
    "arm": ("A ferryman's {} arm", "the arm hangs about 35 degrees out from the body, the palm faces the thigh"),
    "shoulder_arm": ("A ferryman's {} arm and clavicle", "the arm hangs 35 degrees out, the palm faces the thigh"),
    "finger": ("A ferryman's {} index finger", "the finger points down, its back faces out; it is closed a little"),
    "creature_arm": ("A marsh walker's {} arm", "the arm hangs about 35 degrees out, the palm faces the thigh"),
    "leg": ("A ferryman's {} leg", "the leg stands, the foot points forward; the knee is bent a little"),
    "toe_walker": ("A marsh walker's {} leg", "the leg stands on its toes, its ankle high above the ground"),
    "bird_leg": ("A wading bird's {} leg", "the leg stands on its toes, its ankle high above the ground"),
    "hips": ("A ferryman's hips and {} leg", "he stands, his feet point forward; the knee is bent a little"),
}
_HEAD = """\
format = "rigkit-exercise"
version = 1
id = "{id}"
title = "{title}"
side = "{side}"
rest_pose = "{pose}"
units = "m"
up = "+y"
facing = "+z"
frame_convention = "not-judged"
naming = "plain"
rubric = "standard"
mesh_sha256 = "{sha256}"
# Extra joints that are good practice, by name pattern.
ignored = {ignored}

[helps]
snap = true
gauges = true
hints = true

# Named points on or in the mesh, metres, world frame.
[landmarks]
{landmarks}
"""
_NOTES = {
    "region": "A section here would run on into other flesh, or into none: the middle of the landmarks decides.",
    "flesh": "plane: normal of the measuring plane. stretch: the piece of limb that may be cut, upper and lower end.",
    "fold": "fold: the way the joint lies off the line of its neighbours; limits as shares of that line's length.",
}


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


def exercise_id(limb: PracticeLimb) -> str:
    """The id of a practice limb's exercise: "left-arm"."""
    return f"{limb.side}-{limb.kind.replace('_', '-')}"


def key_of(limb: PracticeLimb, roles: tuple[str, ...]) -> Skeleton:
    """The true joints of some of a limb's roles; each hangs on the nearest of them above it."""
    numbers = [i for i, role in enumerate(limb.roles) if role in roles]

    def above(joint: int | None) -> int | None:
        return numbers.index(joint) if joint in numbers else None if joint is None else above(limb.key.parents[joint])

    parents = [above(limb.key.parents[i]) for i in numbers]
    return Skeleton(tuple(limb.key.names[i] for i in numbers), tuple(parents), limb.key.positions[numbers])


def exercise_text(
    limb: PracticeLimb, mesh_bytes: bytes, roles: tuple[str, ...] = (), name: str = "", title: str = ""
) -> str:
    """The text of exercise.toml for a practice limb whose mesh file holds these bytes.

    roles: what is asked, and all of it required; by default all there is, fingers and the like optional. name, title:
    the exercise's own, by default those of its kind.
    """
    asked = tuple(role for role in limb.roles if role in (roles or limb.roles))
    key = key_of(limb, asked)
    used = {mark for role in limb.roles if role in limb.regions and role not in asked for mark in limb.regions[role][0]}
    words, pose = _WORDS[limb.kind]
    text = _HEAD.format(
        id=name or exercise_id(limb), title=title or words.format(limb.side), side=limb.side, pose=pose,
        sha256=hashlib.sha256(mesh_bytes).hexdigest(),
        ignored=json.dumps([one for one in IGNORED if not any(fnmatchcase(name, one) for name in key.names)]),
        landmarks="\n".join(f"{one} = {_plain(place, 5)}" for one, place in limb.landmarks.items() if one not in used),
    )  # fmt: skip
    told: set[str] = set()
    for i, role in enumerate(asked):
        above, region = key.parents[i], limb.regions.get(role)
        row: dict[str, object] = {"role": role}
        row |= {} if above is None else {"parent": asked[above]}
        row["need"] = "optional" if role in limb.optional and not roles else "required"
        if region is not None:
            row |= {"place": "region", "landmarks": list(region[0]), "radius": round(region[1], 5)}
        else:
            row |= {"place": "flesh", "plane": _plain(limb.planes[role], 6), "stretch": _plain(limb.stretches[role], 5)}
        rows = [f"{name} = {json.dumps(value)}" for name, value in row.items()]
        rows += _fold_row(limb, key, i, asked)
        here = [str(row["place"]), *(["fold"] if rows[-1].startswith("fold") else [])]
        notes = [f"# {_NOTES[name]}" for name in here if name not in told]
        told.update(here)
        text += "\n" + "\n".join([*notes, "[[joints]]", *rows]) + "\n"
    return text


def _fold_row(limb: PracticeLimb, key: Skeleton, joint: int, asked: tuple[str, ...]) -> list[str]:
    """The row `fold` of a joint that folds between two asked neighbours, or none."""
    role, above, below = asked[joint], key.parents[joint], key.children(joint)
    if role not in limb.away or above is None or not below:
        return []
    bend = rest_bend(key.positions[above], key.positions[joint], key.positions[below[0]], limb.away[role])
    share = bend.along / bend.line
    straight, least, most = STRAIGHT_LIMB
    if role not in ("elbow", "knee") or share > most:
        straight, least, most = (round(share * one, 4) for one in FOLDED)
    between = json.dumps([asked[above], asked[below[0]]])
    return [f"fold = {{away = {_plain(limb.away[role], 6)}, between = {between}, "
            f"straight = {straight}, least = {least}, most = {most}}}"]  # fmt: skip


def scattered_start(limb: PracticeLimb, key: Skeleton) -> Skeleton:
    """Joints named right and placed wrong: the shoulder in the skin, the elbow before the arm, the wrist in the
    thumb's base."""
    shoulder, elbow, wrist = key.positions
    down = limb.planes["wrist"]
    out = np.array([1.0 if limb.side == "left" else -1.0, 0.0, 0.0])
    forward = np.array([0.0, 0.0, 1.0])
    top = 0.4 * shoulder + 0.6 * limb.landmarks["shoulder_top"]
    return key.at(
        np.array([
            top + 0.012 * out,
            elbow + 0.062 * forward - 0.02 * limb.planes["elbow"],
            wrist + 0.03 * down + 0.026 * forward,
        ])
    )  # fmt: skip


def strewn_start(key: Skeleton) -> Skeleton:
    """Joints named right and each a quarter of its bone off its place, one after the other up, out, back and down."""
    ways = np.array([[0.0, 1.0, 0.0], [1.0, 0.0, 0.0], [0.0, 0.0, -1.0], [0.0, -1.0, 0.0]])
    bones = np.array([
        key.positions[joint] - key.positions[key.children(joint)[0] if parent is None else parent]
        for joint, parent in enumerate(key.parents)
    ])  # fmt: skip
    return key.at(key.positions + 0.25 * np.linalg.norm(bones, axis=1)[:, None] * ways[np.arange(len(key)) % 4])


def forward_start(limb: PracticeLimb, key: Skeleton) -> Skeleton:
    """The true joints, but for the elbow, moved along its fold direction until it lies START_FORWARD before the
    line of its neighbours; names that say nothing."""
    shoulder, elbow, wrist = key.positions
    away, line = limb.away["elbow"], wrist - shoulder
    foot = shoulder + line * ((elbow - shoulder) @ line) / (line @ line)
    moved = elbow - away * ((elbow - foot) @ away + START_FORWARD)
    joints = key.moved(1, moved)
    return Skeleton(tuple(f"joint_{n + 1}" for n in range(len(joints))), joints.parents, joints.positions)


def resting_start(limb: PracticeLimb, key: Skeleton) -> Skeleton:
    """An arm that folds the right way though nothing in it is quite in the middle: to look at, not to copy."""
    outward = np.array([1.0 if limb.side == "left" else -1.0, 0.0, 0.0])
    shift = np.array([0.012 * outward, 0.008 * limb.away["elbow"] + 0.006 * outward, 0.008 * outward])
    return key.at(key.positions + shift)


def make_exercise(
    folder: Path | str,
    limb: PracticeLimb,
    roles: tuple[str, ...] = (),
    name: str = "",
    title: str = "",
    with_key: bool = True,
) -> Path:
    """Write the exercise folder of a practice limb; files of the same names are replaced.

    folder: where to write; made if missing. roles: what is asked; by default all there is. name, title: the exercise's
    own, by default those of its kind. with_key: write key.json too, the instructor's copy. An arm that is asked for
    shoulder, elbow and wrist alone gets all layouts that lessons start with, any other limb start-scattered.
    Returns the folder. Raises RigError for a role that the limb has not, or a folder that cannot be written.
    """
    folder = Path(folder)
    for role in roles:
        require.choice(role, "a role of the exercise", limb.roles)
    mesh_bytes, name = write_glb(limb.mesh), name or exercise_id(limb)
    key = key_of(limb, roles or limb.roles)
    layouts = {"key": key} if with_key else {}
    if key.names == tuple(named(role, limb.side) for role in ARM):
        layouts |= {"start-scattered": scattered_start(limb, key), "start-resting": resting_start(limb, key),
                    "start-forward": forward_start(limb, key)}  # fmt: skip
    else:
        layouts["start-scattered"] = strewn_start(key)
    files = {"mesh.glb": mesh_bytes, "exercise.toml": exercise_text(limb, mesh_bytes, roles, name, title).encode()}
    files |= {f"{one}.json": layout_text(one, name, joints).encode() for one, joints in layouts.items()}
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for file, content in files.items():
            (folder / file).write_bytes(content)
    except OSError as problem:
        raise require.RigError(
            "a folder that can be written", str(problem.strerror or problem),
            next_step="Choose another folder", where=str(folder),
        ) from None  # fmt: skip
    return folder
