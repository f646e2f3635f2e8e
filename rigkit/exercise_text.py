"""What an exercise folder says, as text: a limb and its heading -> exercise.toml; joints -> a layout file.

The limb may be a practice limb, or a character of one's own brought into the same form. The same input, the same bytes.
"""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from fnmatch import fnmatchcase

import numpy as np

from rigkit.kinematics import rest_bend
from rigkit.limbs import PracticeLimb
from rigkit.skeleton import Skeleton

STRAIGHT_LIMB = (0.004, 0.02, 0.05)
"""Rest bend of elbow and knee, shares of the neighbours' line: too straight, least, most (common practice)."""
FOLDED = (0.05, 0.3, 1.9)
"""The same for any other fold, as shares of the bend it was built with; never stricter than for a straight limb at the
lower end, since what is too straight to tell does not grow with the bend (common practice)."""
IGNORED = ("*_end", "*_tip", "root", "pelvis", "*spine*", "*clavicle*")

_HEAD = """\
format = "rigkit-exercise"
version = 1
id = {id}
title = {title}
side = {side}
rest_pose = {rest_pose}
units = "m"
up = "+y"
facing = "+z"
frame_convention = {frame_convention}
naming = {naming}
rubric = {rubric}
mesh_sha256 = {sha256}
{open}# Extra joints that are good practice, by name pattern.
ignored = {ignored}

[helps]
snap = {snap}
gauges = {gauges}
hints = {hints}

# Named points on or in the mesh, metres, world frame.
[landmarks]
{landmarks}
"""
_OPEN = """\
# What is not settled yet. Answer each below, then take it out of this list; without it the exercise is complete.
open = [
{}]
"""
_NOTES = {
    "region": "A section here would run on into other flesh, or into none: the middle of the landmarks decides.",
    "flesh": "plane: normal of the measuring plane. stretch: the piece of limb that may be cut, upper and lower end.",
    "fold": "fold: the way the joint lies off the line of its neighbours; limits as shares of that line's length.",
}


@dataclass(frozen=True)
class Heading:
    """What an exercise says beside its limb. ignored: extra joints that do no harm, name patterns. open: what is not
    settled, in words; with any of them it is a draft. names: for a role, other words that its name may say. folds:
    roles whose fold direction is open, and may be filled in by hand. helps: what the bench may show."""

    id: str
    title: str
    rest_pose: str
    ignored: tuple[str, ...] = IGNORED
    naming: str = "plain"
    rubric: str = "standard"
    frame_convention: str = "not-judged"
    open: tuple[str, ...] = ()
    names: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    folds: tuple[str, ...] = ()
    helps: Mapping[str, bool] = field(default_factory=dict)


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


def key_of(limb: PracticeLimb, roles: tuple[str, ...]) -> Skeleton:
    """The true joints of some of a limb's roles; each hangs on the nearest of them above it."""
    numbers = [i for i, role in enumerate(limb.roles) if role in roles]

    def above(joint: int | None) -> int | None:
        return numbers.index(joint) if joint in numbers else None if joint is None else above(limb.key.parents[joint])

    parents = [above(limb.key.parents[i]) for i in numbers]
    return Skeleton(tuple(limb.key.names[i] for i in numbers), tuple(parents), limb.key.positions[numbers])


def exercise_text(limb: PracticeLimb, mesh_bytes: bytes, heading: Heading, roles: tuple[str, ...] = ()) -> str:
    """The text of exercise.toml for a limb whose mesh file holds these bytes.

    roles: what is asked, and all of it required; by default all there is, what is optional stays so.
    """
    asked = tuple(role for role in limb.roles if role in (roles or limb.roles))
    key = key_of(limb, asked)
    used = {mark for role in limb.roles if role in limb.regions and role not in asked for mark in limb.regions[role][0]}
    words = {name: json.dumps(getattr(heading, name), ensure_ascii=False)
             for name in ("id", "title", "rest_pose", "frame_convention", "naming", "rubric")}  # fmt: skip
    words |= {name: json.dumps(heading.helps.get(name, True)) for name in ("snap", "gauges", "hints")}
    text = _HEAD.format(
        **words, side=json.dumps(limb.side), sha256=json.dumps(hashlib.sha256(mesh_bytes).hexdigest()),
        open=_OPEN.format("".join(f"  {json.dumps(one, ensure_ascii=False)},\n" for one in heading.open))
        if heading.open else "",
        ignored=json.dumps([one for one in heading.ignored if not any(fnmatchcase(name, one) for name in key.names)],
                           ensure_ascii=False),
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
        row |= {"names": list(heading.names[role])} if heading.names.get(role) else {}
        rows = [f"{name} = {json.dumps(value, ensure_ascii=False)}" for name, value in row.items()]
        rows += _fold_row(limb, key, i, asked, role in heading.folds)
        here = [str(row["place"]), *(["fold"] if rows[-1].startswith(("fold", "# fold")) else [])]
        notes = [f"# {_NOTES[name]}" for name in here if name not in told]
        told.update(here)
        text += "\n" + "\n".join([*notes, "[[joints]]", *rows]) + "\n"
    return text


def _fold_row(limb: PracticeLimb, key: Skeleton, joint: int, asked: tuple[str, ...], is_open: bool) -> list[str]:
    """The row `fold` of a joint that folds between two asked neighbours, or none; while it is open, one to fill in."""
    role, above, below = asked[joint], key.parents[joint], key.children(joint)
    if (role not in limb.away and not is_open) or above is None or not below:
        return []
    (straight, least, most), share = STRAIGHT_LIMB, 0.0
    if not is_open:
        root, here, end = key.positions[[above, joint, below[0]]]
        bend = rest_bend(root, here, end, limb.away[role])
        share = bend.along / bend.line
    share = max(share, least)  # a limb too straight to tell, or bent the wrong way, sets no limits
    if role not in ("elbow", "knee") or share > most:
        own = [round(share * one, 4) for one in FOLDED]
        straight, least, most = min(straight, own[0]), min(least, own[1]), own[2]
    between = json.dumps([asked[above], asked[below[0]]])
    away = '"?"' if is_open else _plain(limb.away[role], 6)  # a word will do: out, in, up, down, forward, back
    row = f"fold = {{away = {away}, between = {between}, straight = {straight}, least = {least}, most = {most}}}"
    return [f"# {row}"] if is_open else [row]
