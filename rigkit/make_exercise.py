"""Making an exercise folder from a practice limb of any kind: exercise.toml, mesh.glb, key.json, start layouts.

Only bytes of these files are written, the same ones for the same limb, on every machine.
"""

import hashlib
import tomllib
from collections.abc import Mapping
from pathlib import Path

from rigkit import require
from rigkit.exercise_text import IGNORED, Heading, exercise_text, key_of, layout_text
from rigkit.files.gltf_write import write_glb
from rigkit.limbs import PracticeLimb
from rigkit.limbs.starts import DRAWN_FORWARD, bundled_scatter, drawn_scatter, draws_of, forward_start, resting_start
from rigkit.naming import MIDLINE
from rigkit.skeleton import Skeleton

ARM = ("shoulder", "elbow", "wrist")
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


def mark_of(limb: PracticeLimb) -> str:
    """Six signs that tell limbs of one kind apart, from the seed alone: "3f2a9c"."""
    return hashlib.sha256(str(limb.seed).encode()).hexdigest()[:6]


def exercise_id(limb: PracticeLimb) -> str:
    """The id of a practice limb's exercise: "left-leg-3f2a9c"."""
    return f"{limb.side}-{limb.kind.replace('_', '-')}-{mark_of(limb)}"


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
    for role in roles:
        require.choice(role, "a role of the exercise", limb.roles)
    layouts = layouts_of(limb, roles, bundled)
    if not with_key:
        del layouts["key"]
    words, pose = words_of(limb.kind, limb.side)
    title, ignored = title or f"{words}, {mark_of(limb)}", IGNORED if bundled else ignored_of(limb)
    return write_exercise(folder, limb, Heading(name or exercise_id(limb), title, pose, ignored), layouts, roles)


def words_of(kind: str, side: str) -> tuple[str, str]:
    """Whose limb a practice limb of a kind is, and how it rests, in words."""
    words, pose = _WORDS[kind]
    return words.format(side), pose


def ignored_of(limb: PracticeLimb) -> tuple[str, ...]:
    """Extra joints that do no harm to a practice limb, by name pattern."""
    return (*IGNORED, "*heel*", *(OTHERS[limb.side] if set(MIDLINE) & set(limb.roles) else ()))


def layouts_of(limb: PracticeLimb, roles: tuple[str, ...] = (), bundled: bool = False) -> dict[str, Skeleton]:
    """The layouts of a practice limb's exercise by their files' names: the key, and those that lessons start with."""
    asked = tuple(role for role in limb.roles if role in (roles or limb.roles))
    key, draws = key_of(limb, asked), draws_of(limb)
    layouts = {"key": key}
    layouts["start-scattered"] = bundled_scatter(limb, key) if bundled else drawn_scatter(limb, key, asked, draws)
    if asked == ARM:
        far = {} if bundled else {"forward": draws.between(*DRAWN_FORWARD)}
        layouts |= {"start-resting": resting_start(limb, key), "start-forward": forward_start(limb, key, **far)}
    return layouts


def write_exercise(
    folder: Path | str,
    limb: PracticeLimb,
    heading: Heading,
    layouts: Mapping[str, Skeleton],
    roles: tuple[str, ...] = (),
) -> Path:
    """Write an exercise folder: the limb's mesh alone, what is asked of its joints, and layouts by their files' names.

    Returns the folder. Raises RigError for one that cannot be written or holds another exercise.
    """
    folder, mesh_bytes = Path(folder), write_glb(limb.mesh)
    files = {"mesh.glb": mesh_bytes, "exercise.toml": exercise_text(limb, mesh_bytes, heading, roles).encode()}
    files |= {f"{one}.json": layout_text(one, heading.id, joints).encode() for one, joints in layouts.items()}
    try:
        folder.mkdir(parents=True, exist_ok=True)
        _refuse_another(folder, heading.id)
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
