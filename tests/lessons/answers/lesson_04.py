"""Lesson 4: right answers, and typical wrong ones with the words that must come back."""

RIGHT = {
    "enough-answer": "enough = 9",
    "bend-answer": 'bench.move("elbow", forward=-33)',
    "hand-in-answer": 'student = "wren"',
}

# (answers put in, check cell, words that its answer must hold)
WRONG = [
    # What the curve says, of a hand that slips half as far.
    ({"enough-answer": "enough = 5"}, "enough-check", "Go further behind the line"),
    ({"enough-answer": "enough = -5"}, "enough-check", "the elbow belongs behind it"),
    ({"enough-answer": "enough = 25"}, "enough-check", "How little is just enough?"),
    ({"enough-answer": 'enough = "5 mm"'}, "enough-check", "not yet"),
    ({"bend-answer": 'bench.move("elbow", forward=-5)'}, "bend-check", "the wrong way. Move the elbow back"),
    ({"bend-answer": 'bench.move("elbow", forward=-15)'}, "bend-check", "too straight to tell"),
    ({"bend-answer": 'bench.move("elbow", forward=-20)'}, "bend-check", "from 10 mm on it is enough"),
    ({"bend-answer": 'bench.move("elbow", forward=-70)'}, "bend-check", "Move the elbow forward"),
    ({"bend-answer": 'bench.move("elbow", out=20, up=14, forward=-33)'}, "bend-check", "too far"),
    ({"hand-in-answer": 'student = "   "'}, "hand-in", "not yet"),
]  # fmt: skip
