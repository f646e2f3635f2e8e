"""Lesson 9: right answers, and typical wrong ones with the words that must come back."""

ORLO, FOREARM = "orlo = own_axes.orlo()\n", "forearm = twist_work.Forearm()\n"
LAID = 'bench.move("shoulder", out=-12)\nbench.move("elbow", out=-6, forward=8)\nbench.move("wrist", out=-8)\n'
SHOULDER = ORLO + 'orlo.set_axes("shoulder", about="z", degrees=90)\n'
ELBOW = SHOULDER + 'orlo.set_axes("elbow", about="x", degrees=-40)\n'
PLACED = FOREARM + "forearm.put(84, 167)\n"
RIGHT = {
    "axes-answer": ELBOW + 'orlo.set_axes("wrist", about="y", degrees=-25)\norlo.picture()',
    "own-answer": LAID + 'mine.make(bone="x", hinge="z")\nmine.picture()',
    "count-answer": "enough = 3",
    "place-answer": PLACED + 'forearm.share(50, 100)\nforearm.hang_wrist(on="elbow")',
}


def turned(joint: str, about: str, degrees: float, before: str = ORLO) -> dict[str, str]:
    """A joint's axes turned so, after other lines."""
    return {"axes-answer": f'{before}orlo.set_axes("{joint}", about="{about}", degrees={degrees})'}


# (answers put in, check cell, words that its answer must hold)
WRONG = [
    (turned("shoulder", "z", -90), "axes-check", "Turn its axes the other way about z. Not right yet either: elbow and wrist"),
    (turned("shoulder", "z", 45), "axes-check", "further about z"),
    (turned("shoulder", "z", 170), "axes-check", "less far about z"),
    # About these axes the shoulder's x comes no nearer to the bone, whichever way.
    (turned("shoulder", "y", 90), "axes-check", "the fault lies about another axis. Take the arrow that stands square"),
    (turned("shoulder", "x", -90), "axes-check", "the fault lies about another axis. Take the arrow that stands square"),
    (turned("elbow", "x", 40, SHOULDER), "axes-check", "lies 80° off its hinge; up to 15° is right. Turn its axes the other way about x"),
    (turned("elbow", "x", -20, SHOULDER), "axes-check", "further about x"),
    (turned("elbow", "x", -100, SHOULDER), "axes-check", "less far about x"),
    # z on the hinge, but its other end: the forearm would fold back.
    (turned("elbow", "x", 140, SHOULDER), "axes-check", "180° more about x, or 180° less"),
    (turned("elbow", "y", -40, SHOULDER), "axes-check", "past the wrist"),
    (turned("elbow", "z", 40, SHOULDER), "axes-check", "whichever way: the fault lies about another axis. Take x"),
    (turned("elbow", "z", -40, SHOULDER), "axes-check", "whichever way: the fault lies about another axis. Take x"),
    (turned("wrist", "y", 25, ELBOW), "axes-check", "Turn its axes the other way about y"),
    (turned("wrist", "z", 25, ELBOW), "axes-check", "whichever way: the fault lies about another axis. Take the arrow"),
    (turned("wrist", "z", -25, ELBOW), "axes-check", "whichever way: the fault lies about another axis. Take the arrow"),
    # Not in the middle.
    ({"own-answer": 'mine.make(bone="X", hinge="Z")'}, "own-check", "not yet in the middle: elbow and shoulder and wrist"),
    # The axes were made first and the wrist moved afterwards.
    ({"own-answer": LAID + 'mine.make(bone="x", hinge="z")\nbench.move("wrist", out=-8, forward=40)'}, "own-check",
     "because the wrist was moved since"),
    ({"count-answer": "enough = 1"}, "count-check", "keeps 86 per cent. That is not enough"),
    # By the rule two are enough: 94 per cent.
    ({"count-answer": "enough = 2"}, "count-check", "keeps 91 per cent. That is not enough. By the rule"),
    ({"count-answer": "enough = 4"}, "count-check", "Fewer would do"),
    ({"count-answer": 'enough = "3"'}, "count-check", "not yet"),
    # Half and half again: the lower joint lies too far up.
    ({"place-answer": FOREARM + "forearm.put(63, 126)"}, "place-check", "too near to the elbow"),
    ({"place-answer": FOREARM + "forearm.put(84, 230)"}, "place-check", "too near to the wrist"),
    ({"place-answer": PLACED + 'forearm.share(75, 75)\nforearm.hang_wrist(on="elbow")'}, "place-check", "25° too much"),
    ({"place-answer": PLACED + 'forearm.share(100, 50)\nforearm.hang_wrist(on="elbow")'}, "place-check", "same share of the turn"),
    ({"place-answer": PLACED + "forearm.share(50, 100)"}, "place-check", "hangs on twist_2"),
    # Own steps, as in line, but beside the bone.
    ({"place-answer": PLACED + 'forearm.share(50, 50)\nforearm.hang_wrist(on="elbow")'}, "place-check", "50° too little"),
]  # fmt: skip
