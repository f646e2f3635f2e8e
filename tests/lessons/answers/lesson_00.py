"""Lesson 0: right answers, and typical wrong ones with the words that must come back."""

RIGHT = {
    "pull-answer": "bench.flex(60)",
}

# (answers put in, check cell, words that its answer must hold)
WRONG = [
    ({"pull-answer": "bench.flex(20)"}, "pull-check", "look again: The arm is pulled by 20 per cent. Pull further."),
    ({"pull-answer": "pass"}, "pull-check", "not yet"),
]  # fmt: skip
