"""Answers to the exercises of each lesson: right ones, and typical wrong ones with the words that must come back.

Millimetres from each lesson's start to the true joints of the stored exercise (its key), rounded, so that a check turns
right by a hand's precision and not by the last digit.
"""

# lesson -> cell -> source
RIGHT = {
    "00": {"pull-answer": "bench.flex(60)"},
    "02": {
        "elbow-answer": 'bench.move("elbow", out=12, up=-16, forward=-62)',
        "wrist-answer": 'bench.move("wrist", out=-17, up=24, forward=-28)',
        "shoulder-answer": 'bench.move("shoulder", out=-18, up=-33, forward=0)',
    },
    "04": {
        "bend-answer": 'bench.move("elbow", forward=-33)',
        "names-answer": 'for role in ("shoulder", "elbow", "wrist"):\n    names.rename(role, "left_" + role)',
        "hand-in-answer": 'student = "wren"',
    },
    "C": {
        "joints-answer": 'character.joint("joint_4", need="ignored")',
        "folds-answer": 'character.joint("knee", fold="forward")',
        "words-answer": 'character.say(title="Minnow\'s left leg", rest_pose="She stands upright, her foot points forward.")',
        "key-answer": 'character.mend("ball", out=-21, up=-3)\ncharacter.mend("knee", forward=19)',
    },
}

# (lesson, answers put in, check cell, words that its answer must hold)
WRONG = [
    ("00", {"pull-answer": "bench.flex(20)"}, "pull-check", "look again: The arm is pulled by 20 per cent. Pull further."),
    ("00", {"pull-answer": "pass"}, "pull-check", "not yet"),
    # From the front all is well: the elbow still floats before the arm.
    ("02", {"elbow-answer": 'bench.move("elbow", out=12, up=-16)'}, "elbow-check", "outside the flesh"),
    # The right way along the limb, but too far: beyond the stretch that folds.
    ("02", {"elbow-answer": 'bench.move("elbow", out=-20, up=29, forward=-62)'}, "elbow-check", "too far up the limb"),
    ("02", {"elbow-answer": 'bench.move("elbow", out=27, up=-6, forward=-62)'}, "elbow-check", "too far out"),
    ("02", {"wrist-answer": 'bench.move("wrist", forward=-28)'}, "wrist-check", "too far down the limb"),
    ("02", {"wrist-answer": 'bench.move("wrist", out=-17, up=24)'}, "wrist-check", "Move the wrist back"),
    ("02", {"shoulder-answer": 'bench.move("shoulder", out=-18)'}, "shoulder-check", "Move the shoulder down"),
    ("02", {"shoulder-answer": 'bench.move("shoulder", out=-60, up=-33)'}, "shoulder-check", "Move the shoulder out"),
    ("04", {"bend-answer": 'bench.move("elbow", forward=-5)'}, "bend-check", "the wrong way. Move the elbow back"),
    ("04", {"bend-answer": 'bench.move("elbow", forward=-15)'}, "bend-check", "too straight to tell"),
    ("04", {"bend-answer": 'bench.move("elbow", forward=-20)'}, "bend-check", "only from 10 mm on is it sure"),
    ("04", {"bend-answer": 'bench.move("elbow", forward=-70)'}, "bend-check", "Move the elbow forward"),
    ("04", {"bend-answer": 'bench.move("elbow", out=20, up=14, forward=-33)'}, "bend-check", "too far"),
    ("04", {"names-answer": 'for role in ("shoulder", "elbow", "wrist"):\n    names.rename(role, role)'}, "names-check", "which side"),
    ("04", {"names-answer": 'for role in ("shoulder", "elbow", "wrist"):\n    names.rename(role, "right_" + role)'}, "names-check", "right"),
    ("04", {"names-answer": 'names.rename("shoulder", "left_shoulder")\nnames.rename("elbow", "left_elbwo")\nnames.rename("wrist", "left_wrist")'}, "names-check", "left_elbow"),
    ("04", {"names-answer": 'for role in ("shoulder", "elbow", "wrist"):\n    names.rename(role, "Left_" + role)'}, "names-check", "left_"),
    ("04", {"hand-in-answer": 'student = "   "'}, "hand-in", "not yet"),
    ("C", {"joints-answer": 'character.joint("joint_4", role="knee")'}, "joints-check", "another joint is the knee already"),
    ("C", {"folds-answer": 'character.joint("knee", fold="back")'}, "folds-check", "anatomy has it forward"),
    ("C", {"words-answer": 'character.say(rest_pose="  ")'}, "words-check", "not yet"),
    ("C", RIGHT["C"] | {"key-answer": "pass"}, "key-check", "Move the ball in 21 mm"),
    ("C", RIGHT["C"] | {"key-answer": 'character.mend("ball", out=-21, up=-3)'}, "key-check", "too straight to tell"),
    ("C", RIGHT["C"] | {"words-answer": "pass"}, "finish", "1 question is open"),
    ("C", RIGHT["C"] | {"words-answer": "pass"}, "give", "a draft still: 1 question is open"),
]  # fmt: skip
