"""Notebook C: right answers, and typical wrong ones with the words that must come back."""

RIGHT = {
    "joints-answer": 'character.joint("joint_4", need="ignored")',
    "folds-answer": 'character.joint("knee", fold="forward")',
    "words-answer": 'character.say(title="Minnow\'s left leg", rest_pose="She stands upright, her foot points forward.")',
    "key-answer": 'character.mend("ball", out=-21, up=-3)\ncharacter.mend("knee", forward=19)',
}

# (answers put in, check cell, words that its answer must hold)
WRONG = [
    ({"joints-answer": 'character.joint("joint_4", role="knee")'}, "joints-check", "another joint is the knee already"),
    ({"folds-answer": 'character.joint("knee", fold="back")'}, "folds-check", "anatomy has it forward"),
    ({"words-answer": 'character.say(rest_pose="  ")'}, "words-check", "not yet"),
    (RIGHT | {"key-answer": "pass"}, "key-check", "Move the ball in 21 mm"),
    (RIGHT | {"key-answer": 'character.mend("ball", out=-21, up=-3)'}, "key-check", "too straight to tell"),
    (RIGHT | {"words-answer": "pass"}, "finish", "1 question is open"),
    (RIGHT | {"words-answer": "pass"}, "give", "a draft still: 1 question is open"),
]  # fmt: skip
