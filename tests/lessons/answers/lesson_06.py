"""Lesson 6: millimetres from the start to the stored key: right answers, and typical wrong ones with the words that come back."""

RIGHT = {
    "cases-answer": 'edit = {"A": "alone", "B": "below", "C": "slide", "D": "slide below"}',
    "hand-answer": 'bench.move("wrist", forward=-20, below=True)',
    "elbow-answer": 'bench.slide("elbow", -42)',
    "fewest-answer": "steps = 3",
}
_CASES = 'edit = {{"A": "{}", "B": "{}", "C": "{}", "D": "{}"}}'

# (answers put in, check cell, words that its answer must hold)
WRONG = [
    ({"cases-answer": _CASES.format("below", "below", "slide", "slide below")}, "cases-check", "would go along"),
    ({"cases-answer": _CASES.format("alone", "alone", "slide", "slide below")}, "cases-check", "would stay behind"),
    ({"cases-answer": _CASES.format("alone", "below", "alone", "slide below")}, "cases-check", "one slider keeps it"),
    ({"cases-answer": _CASES.format("alone", "below", "slide", "slide")}, "cases-check", "would stay behind"),
    ({"cases-answer": _CASES.format("alone", "below", "slide", "slid")}, "cases-check", "the edit of arm D"),
    ({"cases-answer": _CASES.format("alone", "below", "", "")}, "cases-check", "arm C, D"),
    # The wrist alone: thumb and finger stay where they were.
    ({"hand-answer": 'bench.move("wrist", forward=-20)'}, "hand-check", "stayed behind"),
    # Alone and the wrong way: the way is told first.
    ({"hand-answer": 'bench.move("wrist", forward=20)'}, "hand-check", "Move the wrist back."),
    ({"hand-answer": 'bench.move("wrist", forward=20, below=True)'}, "hand-check", "Move the wrist back."),
    # Taken hold of too high up.
    ({"hand-answer": 'bench.move("elbow", forward=-20, below=True)'}, "hand-check", "too high up"),
    ({"hand-answer": 'bench.move("shoulder", forward=-20, below=True)'}, "hand-check", "the shoulder had no such fault"),
    # Half of the way.
    ({"hand-answer": 'bench.move("wrist", forward=-10, below=True)'}, "hand-check", "back"),
    ({"elbow-answer": 'bench.slide("elbow", 42)'}, "elbow-check", "too far down the limb"),
    ({"elbow-answer": 'bench.slide("elbow", -8)'}, "elbow-check", "too far down the limb"),
    ({"elbow-answer": 'bench.slide("elbow", -80)'}, "elbow-check", "too far up the limb"),
    ({"elbow-answer": 'bench.slide("elbow", -42, below=True)'}, "elbow-check", "With all below switched off"),
    ({"elbow-answer": 'bench.move("elbow", up=42)'}, "elbow-check", "one slider along the bone"),
    ({"elbow-answer": 'bench.slide("wrist", -42)'}, "elbow-check", "not yet"),
    ({"fewest-answer": "steps = 5"}, "fewest-check", "a step for each joint"),
    ({"fewest-answer": "steps = 2"}, "fewest-check", "something is left over"),
    ({"fewest-answer": "steps = 4"}, "fewest-check", "fewer will, too"),
]  # fmt: skip
