"""What a joint's name means: text -> a role in words, a side, whether it is asked for, and the doubt that remains."""

import re
from dataclasses import dataclass
from functools import cache, lru_cache

from rigkit.anatomy import facts
from rigkit.namewords import find_part, take_apart
from rigkit.naming import LIKELY, MIDLINE, bundled_rules

BEGINS = {"upper arm": "shoulder", "humerus": "shoulder", "forearm": "elbow", "lower arm": "elbow", "hand": "wrist",
          "thigh": "hip", "femur": "hip", "upper leg": "hip", "shank": "knee", "shin": "knee", "lower leg": "knee",
          "foot": "ankle", "toes": "ball", "collar bone": "clavicle"}  # fmt: skip
"""Joints that are called after what begins there (standard anatomy)."""
HELPERS = {"twist", "roll", "helper", "end", "heel", "target", "aim"}
"""Words of joints that are good practice, and asked for by nobody (common practice)."""
DIGITS = ("thumb", "index", "middle", "ring", "little")


@dataclass(frozen=True)
class Meant:
    """What a joint's name says. need: "required", "optional" or "ignored". doubt: what must be asked, or ""."""

    role: str
    side: str | None
    need: str
    doubt: str = ""


@cache
def _vocabulary() -> dict[str, str]:
    """Words in small letters -> role ("" for a joint that no exercise knows), the longest first."""
    found = dict(BEGINS) | {role: role for role in MIDLINE} | {"humanoid root": "root", "skullbase": "head"}
    for rule in bundled_rules():
        found |= {" ".join(rule.words_for(role)): role for role, _ in rule.parts}
    for row in facts("hanim"):
        for name in row.about[:2]:
            words = " ".join(word for _, word in take_apart(name, ("l", "r"), frozenset()).part)
            found.setdefault(words, row.about[3])
    return dict(sorted(found.items(), key=lambda one: -len(one[0])))


@lru_cache(maxsize=2048)
def meant_by(name: str) -> Meant:
    """Role, side and need of a joint by its name.

    >>> meant_by("l_radiocarpal"), meant_by("LeftForearm").role, meant_by("left_forearm_twist").need
    (Meant(role='wrist', side='left', need='required', doubt=''), 'elbow', 'ignored')
    """
    words = _vocabulary()
    read = take_apart(name, ("left", "right"), frozenset(word for part in words for word in part.split()))
    side = read.sides[0][1] if read.sides else None
    own = " ".join(word for _, word in read.part) or name.strip() or "joint"
    part, _, like = find_part(read, words)
    if HELPERS & set(own.split()) or re.fullmatch(r"v[clt] \d+", own):  # a vertebra of H-Anim's spine
        return Meant(own, side, "ignored")
    if re.fullmatch(r"node_\d+", name) or not name.strip():
        return Meant(own, side, "ignored", "it has no name. Which joint is it?")
    if like < 1.0:
        slip = f" It may be a slip of {part}." if like >= LIKELY else ""
        return Meant(
            own, side, "ignored", f"no naming rule knows this word.{slip} Which joint is it, or is it ignored?"
        )
    role = words[part]
    if not role or role in MIDLINE or role == "clavicle":
        return Meant(role or own, None if role in MIDLINE else side, "ignored")
    return Meant(role, side, "optional" if role.endswith("tip") else "required")
