"""Lesson 4: millimetres as in lesson 2: right answers, and typical wrong ones with the words that must come back."""

RIGHT = {
    "bend-answer": 'bench.move("elbow", forward=-33)',
    "names-answer": 'for role in ("shoulder", "elbow", "wrist"):\n    names.rename(role, "left_" + role)',
    "hand-in-answer": 'student = "wren"',
}

# (answers put in, check cell, words that its answer must hold)
WRONG = [
    ({"bend-answer": 'bench.move("elbow", forward=-5)'}, "bend-check", "the wrong way. Move the elbow back"),
    ({"bend-answer": 'bench.move("elbow", forward=-15)'}, "bend-check", "too straight to tell"),
    ({"bend-answer": 'bench.move("elbow", forward=-20)'}, "bend-check", "only from 10 mm on is it sure"),
    ({"bend-answer": 'bench.move("elbow", forward=-70)'}, "bend-check", "Move the elbow forward"),
    ({"bend-answer": 'bench.move("elbow", out=20, up=14, forward=-33)'}, "bend-check", "too far"),
    ({"names-answer": 'for role in ("shoulder", "elbow", "wrist"):\n    names.rename(role, role)'}, "names-check", "which side"),
    ({"names-answer": 'for role in ("shoulder", "elbow", "wrist"):\n    names.rename(role, "right_" + role)'}, "names-check", "right"),
    ({"names-answer": 'names.rename("shoulder", "left_shoulder")\nnames.rename("elbow", "left_elbwo")\nnames.rename("wrist", "left_wrist")'}, "names-check", "left_elbow"),
    ({"names-answer": 'for role in ("shoulder", "elbow", "wrist"):\n    names.rename(role, "Left_" + role)'}, "names-check", "left_"),
    ({"hand-in-answer": 'student = "   "'}, "hand-in", "not yet"),
]  # fmt: skip
