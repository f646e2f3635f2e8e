"""Lesson 10: right answers, and typical wrong ones with the words that must come back."""

NAMED, MIRROR = 'bench.rename("wrist", "left_wrist")\n', "bench.mirror()"
WAVE = "wave = mirror_work.Wave()\n"
RIGHT = {
    "mirror-answer": NAMED + MIRROR,
    "rigs-answer": 'which = {"A": "same direction", "B": "neither", "C": "same numbers"}',
    "wave-answer": WAVE + 'wave.right("shoulder", x=-10, y=-30, z=25)\nwave.right("elbow", x=35, y=0, z=70)',
}
_SHOULDER = WAVE + 'wave.right("shoulder", x=-10, y=-30, z=25)\n'
_RIGS = 'which = {{"A": "{}", "B": "{}", "C": "{}"}}'

# (answers put in, check cell, words that its answer must hold)
WRONG = [
    # Pressed before the wrist had its side.
    ({"mirror-answer": MIRROR}, "mirror-check", "says no side"),
    ({"mirror-answer": NAMED}, "mirror-check", "Press Mirror"),
    ({"mirror-answer": MIRROR + "\n" + NAMED}, "mirror-check", "no partner"),
    ({"mirror-answer": 'bench.rename("wrist", "right_wrist")\n' + MIRROR}, "mirror-check", "says the right side"),
    ({"mirror-answer": 'bench.rename("wrist", "wrist_left")\n' + MIRROR}, "mirror-check", "the side comes first"),
    ({"mirror-answer": 'bench.rename("wrist", "left_wrst")\n' + MIRROR}, "mirror-check", "mirror again"),
    # Moved on the left after the mirror.
    ({"mirror-answer": NAMED + MIRROR + '\nbench.move("elbow", forward=6)'}, "mirror-check", "mirror again"),
    ({"mirror-answer": NAMED + 'bench.move("elbow", forward=30)\n' + MIRROR}, "mirror-check", "Move the elbow back"),
    ({"rigs-answer": _RIGS.format("same numbers", "neither", "same direction")}, "rigs-check", "rig A the skin is 61 mm apart"),
    ({"rigs-answer": _RIGS.format("same direction", "same direction", "same numbers")}, "rigs-check", "rig B"),
    ({"rigs-answer": _RIGS.format("neither", "neither", "neither")}, "rigs-check", "0 mm apart"),
    ({"rigs-answer": _RIGS.format("same direction", "neither", "same")}, "rigs-check", "rig C"),
    # Copied number by number, as by the other convention.
    ({"wave-answer": WAVE + 'wave.right("shoulder", x=10, y=30, z=25)\nwave.right("elbow", x=-35, y=0, z=70)'},
     "wave-check", "About x the right shoulder turns the wrong way round"),
    # All signs changed.
    ({"wave-answer": WAVE + 'wave.right("shoulder", x=-10, y=-30, z=-25)\nwave.right("elbow", x=35, y=0, z=-70)'},
     "wave-check", "z was reversed, so its sign stays"),
    ({"wave-answer": _SHOULDER}, "wave-check", "right elbow"),
    ({"wave-answer": _SHOULDER + 'wave.right("elbow", x=35, y=0, z=-70)'}, "wave-check", "About z the right elbow"),
    ({"wave-answer": _SHOULDER + 'wave.right("elbow", x=35, y=0, z=60)'}, "wave-check", "only signs change"),
]  # fmt: skip
