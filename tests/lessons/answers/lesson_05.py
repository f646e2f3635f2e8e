"""Lesson 5: millimetres from the start to the true joints of Tansy's leg: right answers, and typical wrong ones with the words that must come back."""

_LEG = (
    'bench.move("hip", out=94, up=-1, forward=7)\nbench.move("knee", up=-38, forward=-30)\nbench.move("ankle", out=-18)'
)
_DECIDES = (
    'decides = {"hip": "landmarks", "ankle": "flesh", "wrist": "flesh", "thumb 1": "landmarks", '
    '"thumb 2": "flesh", "index 1": "landmarks", "index 2": "flesh"}'
)
_WHY = 'across, along, why = "{}", "{}", "{}"'
_REASON = "the skin must fold evenly here"

RIGHT = {
    "leg-answer": _LEG,
    "deciders-answer": _DECIDES,
    "verdict-answer": _WHY.format("flesh", "loops", _REASON),
}

# (answers put in, check cell, words that its answer must hold)
WRONG = [
    # The slice's middle once more, a little mended: still the pelvis decides.
    ({"leg-answer": _LEG.replace("out=94", "out=20")}, "leg-check", "Move the hip out."),
    ({"leg-answer": _LEG.replace("out=94", "out=-94")}, "leg-check", "Move the hip out"),
    # In the middle of its slice, and far from the fold.
    ({"leg-answer": _LEG.replace("up=-38, ", "")}, "leg-check", "too far up the limb"),
    # At the fold, and in front of the flesh's middle: right from the front alone.
    ({"leg-answer": _LEG.replace(", forward=-30", "")}, "leg-check", "Move the knee back"),
    ({"leg-answer": _LEG.replace("out=-18", "out=18")}, "leg-check", "Move the ankle in"),
    ({"deciders-answer": _DECIDES.replace('"hip": "landmarks"', '"hip": "flesh"')}, "deciders-check", "the other thigh"),
    ({"deciders-answer": _DECIDES.replace('"thumb 1": "landmarks"', '"thumb 1": "flesh"')}, "deciders-check", "the palm"),
    ({"deciders-answer": _DECIDES.replace('"index 1": "landmarks"', '"index 1": "flesh"')}, "deciders-check", "the palm"),
    # A line of sight through it ends in the palm; a slice does not.
    ({"deciders-answer": _DECIDES.replace('"thumb 2": "flesh"', '"thumb 2": "landmarks"')}, "deciders-check", "alone"),
    ({"deciders-answer": _DECIDES.replace('"wrist": "flesh"', '"wrist": "bone"')}, "deciders-check", "neither"),
    ({"leg-answer": _LEG, "verdict-answer": _WHY.format("loops", "loops", _REASON)}, "verdict-check", "nothing across it"),
    ({"leg-answer": _LEG, "verdict-answer": _WHY.format("flesh", "flesh", _REASON)}, "verdict-check", "at every height"),
    ({"leg-answer": _LEG, "verdict-answer": _WHY.format("flesh", "loops", "because")}, "verdict-check", "ask why"),
    ({"leg-answer": _LEG, "verdict-answer": _WHY.format("flesh", "loops", "x y z w v")}, "verdict-check", "ask why"),
    ({"leg-answer": _LEG, "verdict-answer": _WHY.format("flesh", "loops", "because the teacher said so")}, "verdict-check", "nothing that can be seen"),
    ({"leg-answer": _LEG, "verdict-answer": _WHY.format("skin", "loops", _REASON)}, "verdict-check", "flesh or anatomy or loops"),
    ({"verdict-answer": _WHY.format("anatomy", "loops", _REASON)}, "verdict-check", "from what anatomy says"),
]  # fmt: skip
