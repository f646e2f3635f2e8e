"""Lesson 9: right answers, and typical wrong ones with the words that must come back."""

RIGHT = {
    "axes-answer": 'orlo.turn("shoulder", about="z", degrees=90)\norlo.turn("elbow", about="x", degrees=-40)\n'
    'orlo.turn("wrist", about="y", degrees=-25)',
    "own-answer": 'mine.make(bone="x", hinge="z")',
    "count-answer": "forearm.enough(twist_joints=2)",
    "place-answer": 'forearm.put(84, 167)\nforearm.share(50, 100)\nforearm.hang_wrist(on="elbow")',
}
SHOULDER = 'orlo.turn("shoulder", about="z", degrees=90)\n'
PLACED = "forearm.put(84, 167)\n"

# (answers put in, check cell, words that its answer must hold)
WRONG = [
    ({"axes-answer": 'orlo.turn("shoulder", about="z", degrees=-90)'}, "axes-check", "the -x axis runs along the bone"),
    ({"axes-answer": 'orlo.turn("shoulder", about="y", degrees=90)'}, "axes-check", "its x axis points to the elbow"),
    ({"axes-answer": SHOULDER + 'orlo.turn("elbow", about="x", degrees=40)'}, "axes-check", "the other way about its bone"),
    ({"axes-answer": SHOULDER + 'orlo.turn("elbow", about="y", degrees=-40)'}, "axes-check", "past the wrist"),
    ({"axes-answer": SHOULDER + 'orlo.turn("elbow", about="x", degrees=-40)\norlo.turn("wrist", about="y", degrees=25)'},
     "axes-check", "At the wrist the z axis runs along the bone"),
    # No such axis: the cell says so, and the check still waits.
    ({"axes-answer": 'orlo.turn("elbow", about="w", degrees=-40)'}, "axes-check", "not yet"),
    ({"own-answer": 'mine.make(bone="x", hinge="x")'}, "own-check", "not yet"),
    # The axes were made first and the wrist moved afterwards.
    ({"own-answer": 'mine.make(bone="x", hinge="z")\nbench.move("wrist", forward=40)'}, "own-check",
     "makes the axes again"),
    ({"count-answer": "forearm.enough(twist_joints=1)"}, "count-check", "keeps 79 per cent. That is not enough"),
    ({"count-answer": "forearm.enough(twist_joints=3)"}, "count-check", "Fewer would do"),
    # Half and half again: the lower joint lies too far up.
    ({"place-answer": "forearm.put(63, 126)"}, "place-check", "too near to the elbow"),
    ({"place-answer": "forearm.put(84, 230)"}, "place-check", "too near to the wrist"),
    ({"place-answer": PLACED + 'forearm.share(75, 75)\nforearm.hang_wrist(on="elbow")'}, "place-check", "25° too much"),
    ({"place-answer": PLACED + 'forearm.share(100, 50)\nforearm.hang_wrist(on="elbow")'}, "place-check", "same share of the turn"),
    ({"place-answer": PLACED + "forearm.share(50, 100)"}, "place-check", "hangs on twist_2"),
    ({"place-answer": "forearm.put(84)"}, "place-check", "not yet"),
]  # fmt: skip
