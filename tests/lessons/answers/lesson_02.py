"""Lesson 2: millimetres from the start to the true joints of the stored key, rounded: right answers, and typical wrong ones with the words that must come back."""

RIGHT = {
    "elbow-answer": 'bench.move("elbow", out=12, up=-16, forward=-62)',
    "wrist-answer": 'bench.move("wrist", out=-17, up=24, forward=-28)',
    "shoulder-answer": 'bench.move("shoulder", out=-18, up=-33, forward=0)',
}

# (answers put in, check cell, words that its answer must hold)
WRONG = [
    # From the front all is well: the elbow still floats before the arm.
    ({"elbow-answer": 'bench.move("elbow", out=12, up=-16)'}, "elbow-check", "outside the flesh"),
    # The right way along the limb, but too far: beyond the stretch that folds.
    ({"elbow-answer": 'bench.move("elbow", out=-20, up=29, forward=-62)'}, "elbow-check", "too far up the limb"),
    ({"elbow-answer": 'bench.move("elbow", out=27, up=-6, forward=-62)'}, "elbow-check", "Move the elbow in"),
    ({"wrist-answer": 'bench.move("wrist", forward=-28)'}, "wrist-check", "too far down the limb"),
    ({"wrist-answer": 'bench.move("wrist", out=-17, up=24)'}, "wrist-check", "Move the wrist back"),
    ({"shoulder-answer": 'bench.move("shoulder", out=-18)'}, "shoulder-check", "Move the shoulder down"),
    ({"shoulder-answer": 'bench.move("shoulder", out=-60, up=-33)'}, "shoulder-check", "Move the shoulder out"),
]  # fmt: skip
