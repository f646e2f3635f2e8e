"""Lesson 3: right answers, and typical wrong ones with the words that must come back."""

ROLES = ("shoulder", "elbow", "wrist", "thumb 1", "thumb 2", "thumb 3", "index 1", "index 2", "index 3")


def _named(**others: str) -> str:
    """The nine names by the rule, but for some roles (with _ for the gap)."""
    names = {role: "left_" + role.replace(" ", "_") for role in ROLES}
    names |= {role.replace("_", " "): name for role, name in others.items()}
    return "\n".join(f'bench.rename("{role}", "{name}")' for role, name in names.items())


def _house(a: str = "Elbow-R", b: str = "Index-2-L", pelvis: str = "Pelvis") -> str:
    return f'house.say(A="{a}", B="{b}", pelvis="{pelvis}")'


def _standard(wrist: str = "l_radiocarpal", knuckle: str = "l_metacarpophalangeal_2") -> str:
    return f'standard.say(elbow="l_elbow", wrist="{wrist}", thumb="l_carpometacarpal_1", knuckle="{knuckle}")'


RIGHT = {"names-answer": _named(), "house-answer": _house(), "hanim-answer": _standard()}

# (answers put in, check cell, words that its answer must hold)
WRONG = [
    ({"names-answer": _named(shoulder="shoulder")}, "names-check", "which side it is on"),
    ({"names-answer": _named(elbow="right_elbow")}, "names-check", "it says right"),
    ({"names-answer": _named(elbow="left_elbwo")}, "names-check", "looks like a slip of elbow"),
    ({"names-answer": _named(wrist="Left_Wrist")}, "names-check", "letters are small"),
    ({"names-answer": _named(wrist="wrist_left")}, "names-check", "the side comes first"),
    ({"names-answer": _named(wrist="left-wrist")}, "names-check", "words are joined by _"),
    ({"names-answer": _named(wrist="left_left_wrist")}, "names-check", "it says the side twice"),
    ({"names-answer": _named(thumb_3="left_thumb_2")}, "names-check", "it says thumb 2"),
    ({"names-answer": _named(index_2="left_index2")}, "names-check", "words are joined by _"),
    # The side by the picture, throughout.
    ({"names-answer": _named().replace('"left_', '"right_')}, "names-check", "this is the left one"),
    # The other house's marks, throughout.
    ({"names-answer": _named().replace('"left_', '"l_')}, "names-check", "writes the side as left, not l"),
    ({"house-answer": _house(a="R-Elbow")}, "house-check", "the part comes first"),
    ({"house-answer": _house(a="right_elbow")}, "house-check", "writes the side as R, not right"),
    # The side of the picture.
    ({"house-answer": _house(a="Elbow-L")}, "house-check", "this is the right one"),
    ({"house-answer": _house(b="Index-L")}, "house-check", "which of the joints"),
    ({"house-answer": _house(b="Index-L-2")}, "house-check", "the number belongs to the part"),
    # Counted from the tip, or from the bone in the palm.
    ({"house-answer": _house(b="Finger-L")}, "house-check", "that this rule knows: look at B once more"),
    ({"house-answer": _house(b="Index-3-L")}, "house-check", "it says index 3: look at B once more"),
    ({"house-answer": _house(pelvis="Pelvis-L")}, "house-check", "takes no side mark"),
    ({"house-answer": _house(pelvis="")}, "house-check", "not yet: No name is written for pelvis"),
    ({"hanim-answer": _standard(wrist="l_wrist")}, "hanim-check", "the rule's word is radiocarpal"),
    # The knuckle of the middle finger, as the list has it.
    ({"hanim-answer": _standard(knuckle="l_metacarpophalangeal_3")}, "hanim-check", "metacarpophalangeal 3"),
    ({"hanim-answer": _standard(wrist="left_radiocarpal")}, "hanim-check", "as l, not left"),
]  # fmt: skip
