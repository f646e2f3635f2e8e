"""Making an exercise folder from a practice limb of any kind: exercise.toml, mesh.glb, key.json, start layouts.

Only bytes of these files are written, the same ones for the same limb, on every machine.
"""

import hashlib
import json
import tomllib
from fnmatch import fnmatchcase
from pathlib import Path

import numpy as np

from rigkit import require
from rigkit.files.gltf_write import write_glb
from rigkit.kinematics import rest_bend
from rigkit.limbs import PracticeLimb
from rigkit.limbs.starts import DRAWN_FORWARD, bundled_scatter, drawn_scatter, draws_of, forward_start, resting_start
from rigkit.naming import MIDLINE
from rigkit.skeleton import Skeleton

STRAIGHT_LIMB = (0.004, 0.02, 0.05)
"""Rest bend of elbow and knee, shares of the neighbours' line: too straight, least, most (common practice)."""
FOLDED = (0.05, 0.3, 1.9)
"""The same for any other fold, as shares of the bend it was built with; never stricter than for a straight limb at the
lower end, since what is too straight to tell does not grow with the bend (common practice)."""
ARM = ("shoulder", "elbow", "wrist")
IGNORED = ("*_end", "*_tip", "root", "pelvis", "*spine*", "*clavicle*")
OTHERS = {"left": ("right_*", "*_right", "r_*", "*_r"), "right": ("left_*", "*_left", "l_*", "*_l")}
"""Names of the other side, spared beside a limb that reaches over the middle plane; beside any other they lie apart."""

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


def mark_of(limb: PracticeLimb) -> str:
    """Six signs that tell limbs of one kind apart, from the seed alone: "3f2a9c"."""
    return hashlib.sha256(str(limb.seed).encode()).hexdigest()[:6]


def exercise_id(limb: PracticeLimb) -> str:
    """The id of a practice limb's exercise: "left-leg-3f2a9c"."""
    return f"{limb.side}-{limb.kind.replace('_', '-')}-{mark_of(limb)}"


def key_of(limb: PracticeLimb, roles: tuple[str, ...]) -> Skeleton:
    """The true joints of some of a limb's roles; each hangs on the nearest of them above it."""
    numbers = [i for i, role in enumerate(limb.roles) if role in roles]

    def above(joint: int | None) -> int | None:
        return numbers.index(joint) if joint in numbers else None if joint is None else above(limb.key.parents[joint])

    parents = [above(limb.key.parents[i]) for i in numbers]
    return Skeleton(tuple(limb.key.names[i] for i in numbers), tuple(parents), limb.key.positions[numbers])


def exercise_text(
    limb: PracticeLimb,
    mesh_bytes: bytes,
    roles: tuple[str, ...] = (),
    name: str = "",
    title: str = "",
    ignored: tuple[str, ...] = IGNORED,
) -> str:
    """The text of exercise.toml for a practice limb whose mesh file holds these bytes.

    roles: what is asked, and all of it required; by default all there is, fingers and the like optional. name, title:
    the exercise's own, by default those of its kind and seed. ignored: extra joints that do no harm, name patterns.
    """
    asked = tuple(role for role in limb.roles if role in (roles or limb.roles))
    key = key_of(limb, asked)
    used = {mark for role in limb.roles if role in limb.regions and role not in asked for mark in limb.regions[role][0]}
    words, pose = _WORDS[limb.kind]
    text = _HEAD.format(
        id=name or exercise_id(limb), title=title or f"{words.format(limb.side)}, {mark_of(limb)}",
        side=limb.side, pose=pose,
        sha256=hashlib.sha256(mesh_bytes).hexdigest(),
        ignored=json.dumps([one for one in ignored if not any(fnmatchcase(name, one) for name in key.names)]),
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
        own = [round(share * one, 4) for one in FOLDED]
        straight, least, most = min(straight, own[0]), min(least, own[1]), own[2]
    between = json.dumps([asked[above], asked[below[0]]])
    return [f"fold = {{away = {_plain(limb.away[role], 6)}, between = {between}, "
            f"straight = {straight}, least = {least}, most = {most}}}"]  # fmt: skip


def make_exercise(
    folder: Path | str,
    limb: PracticeLimb,
    roles: tuple[str, ...] = (),
    name: str = "",
    title: str = "",
    with_key: bool = True,
    bundled: bool = False,
) -> Path:
    """Write the exercise folder of a practice limb; an earlier one of the same id is replaced.

    folder: where to write; made if missing. roles: what is asked; by default all there is. name, title: the exercise's
    own, by default those of its kind and seed. with_key: write key.json too, the instructor's copy. An arm that is
    asked for shoulder, elbow and wrist alone gets all layouts that lessons start with, any other limb start-scattered;
    they are drawn from the seed, but for the `bundled` arm, of whose starts lessons speak.
    Returns the folder. Raises RigError for a role that the limb has not, a folder that cannot be written or one that
    holds another exercise.
    """
    folder = Path(folder)
    for role in roles:
        require.choice(role, "a role of the exercise", limb.roles)
    mesh_bytes, name = write_glb(limb.mesh), name or exercise_id(limb)
    asked = tuple(role for role in limb.roles if role in (roles or limb.roles))
    key, draws, ignored = key_of(limb, asked), draws_of(limb), IGNORED
    if not bundled:
        ignored += ("*heel*", *(OTHERS[limb.side] if set(MIDLINE) & set(limb.roles) else ()))
    layouts = {"key": key} if with_key else {}
    layouts["start-scattered"] = bundled_scatter(limb, key) if bundled else drawn_scatter(limb, key, asked, draws)
    if asked == ARM:
        far = {} if bundled else {"forward": draws.between(*DRAWN_FORWARD)}
        layouts |= {"start-resting": resting_start(limb, key), "start-forward": forward_start(limb, key, **far)}
    files = {"mesh.glb": mesh_bytes}
    files["exercise.toml"] = exercise_text(limb, mesh_bytes, roles, name, title, ignored).encode()
    files |= {f"{one}.json": layout_text(one, name, joints).encode() for one, joints in layouts.items()}
    try:
        folder.mkdir(parents=True, exist_ok=True)
        _refuse_another(folder, name)
        for file, content in files.items():
            (folder / file).write_bytes(content)
    except OSError as problem:
        raise require.RigError(
            "a folder that can be written", str(problem.strerror or problem),
            next_step="Choose another folder", where=str(folder),
        ) from None  # fmt: skip
    return folder


def _refuse_another(folder: Path, name: str) -> None:
    """Raise RigError where a folder holds an exercise of another id, or one that cannot be read."""
    try:
        held = tomllib.loads((folder / "exercise.toml").read_text("utf-8")).get("id")
    except FileNotFoundError:
        return
    except ValueError:
        held = None
    if held != name:
        raise require.RigError(
            f"a folder of its own for {name}", f"one that holds {held or 'an exercise without an id'}",
            next_step="Choose another folder, or empty this one", where=folder.name,
        )  # fmt: skip
