"""Lesson 0: right answers, and typical wrong ones with the words that must come back."""

RIGHT = {
    "pull-answer": "bench.flex(60)",
}

# (answers put in, check cell, words that its answer must hold)
WRONG = [
    ({"pull-answer": "bench.flex(20)"}, "pull-check", "look again: The arm is pulled by 20 per cent. Pull further."),
    ({"pull-answer": "pass"}, "pull-check", "not yet"),
    ({"pull-answer": "bench.flex(40)"}, "pull-check", "by 40 per cent. Pull further."),
    ({"pull-answer": "bench.flex(60)\nbench.flex(0)"}, "pull-check", "not yet"),
    ({"pull-answer": "bench.flex(0.6)"}, "pull-check", "by 1 per cent. Pull further."),
]  # fmt: skip
