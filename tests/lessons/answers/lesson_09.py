"""Lesson 9: right answers, and typical wrong ones with the words that must come back."""

RIGHT = {
    "axes-answer": 'orlo.turn("shoulder", about="z", degrees=90)\norlo.turn("elbow", about="x", degrees=-40)\n'
    'orlo.turn("wrist", about="y", degrees=-25)',
    "own-answer": 'mine.make(bone="x", hinge="z")',
    "count-answer": "forearm.enough(twist_joints=3)",
    "place-answer": 'forearm.put(84, 167)\nforearm.share(50, 100)\nforearm.hang_wrist(on="elbow")',
}
SHOULDER = 'orlo.turn("shoulder", about="z", degrees=90)\n'
PLACED = "forearm.put(84, 167)\n"

# (answers put in, check cell, words that its answer must hold)
WRONG = [
    ({"axes-answer": 'orlo.turn("shoulder", about="z", degrees=-90)'}, "axes-check", "Turn the shoulder the other way. Not right yet either: elbow and wrist"),
    ({"axes-answer": 'orlo.turn("shoulder", about="y", degrees=90)'}, "axes-check", "its x axis points to the elbow"),
    ({"axes-answer": SHOULDER + 'orlo.turn("elbow", about="x", degrees=40)'}, "axes-check", "the other way about its bone"),
    # z on the hinge, but its other end: the forearm would fold back.
    ({"axes-answer": SHOULDER + 'orlo.turn("elbow", about="x", degrees=140)'}, "axes-check", "by 180° more, or less"),
    ({"axes-answer": SHOULDER + 'orlo.turn("elbow", about="y", degrees=-40)'}, "axes-check", "past the wrist"),
    ({"axes-answer": SHOULDER + 'orlo.turn("elbow", about="x", degrees=-40)\norlo.turn("wrist", about="y", degrees=25)'},
     "axes-check", "Turn the wrist the other way"),
    # No such axis: the cell says so, and the check still waits.
    ({"axes-answer": 'orlo.turn("elbow", about="w", degrees=-40)'}, "axes-check", "not yet"),
    ({"own-answer": 'mine.make(bone="x", hinge="x")'}, "own-check", "not yet"),
    # The axes were made first and the wrist moved afterwards.
    ({"own-answer": 'mine.make(bone="x", hinge="z")\nbench.move("wrist", forward=40)'}, "own-check",
     "because the wrist was moved since"),
    ({"count-answer": "forearm.enough(twist_joints=1)"}, "count-check", "keeps 86 per cent. That is not enough"),
    # By the rule two are enough: 94 per cent.
    ({"count-answer": "forearm.enough(twist_joints=2)"}, "count-check", "keeps 91 per cent. That is not enough. By the rule"),
    ({"count-answer": "forearm.enough(twist_joints=4)"}, "count-check", "Fewer would do"),
    # Half and half again: the lower joint lies too far up.
    ({"place-answer": "forearm.put(63, 126)"}, "place-check", "too near to the elbow"),
    ({"place-answer": "forearm.put(84, 230)"}, "place-check", "too near to the wrist"),
    ({"place-answer": PLACED + 'forearm.share(75, 75)\nforearm.hang_wrist(on="elbow")'}, "place-check", "25° too much"),
    ({"place-answer": PLACED + 'forearm.share(100, 50)\nforearm.hang_wrist(on="elbow")'}, "place-check", "same share of the turn"),
    ({"place-answer": PLACED + "forearm.share(50, 100)"}, "place-check", "hangs on twist_2"),
    # Own steps, as in line, but beside the bone.
    ({"place-answer": PLACED + 'forearm.share(50, 50)\nforearm.hang_wrist(on="elbow")'}, "place-check", "50° too little"),
    ({"place-answer": "forearm.put(84)"}, "place-check", "not yet"),
]  # fmt: skip
