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
    ({"joints-answer": 'character.joint("joint_4", need="required")'}, "joints-check", 'no naming rule has the word "joint 4"'),
    ({"joints-answer": 'character.joint("joint_4", need="optional")'}, "joints-check", "no naming rule has the word"),
    ({"joints-answer": 'character.joint("joint_4", role="wrist")'}, "joints-check", "have to lay a wrist"),
    ({"folds-answer": 'character.joint("knee", fold="back")'}, "folds-check", "anatomy has it forward"),
    ({"folds-answer": 'character.joint("knee", fold="out")'}, "folds-check", "to lie out"),
    ({"folds-answer": 'character.joint("knee", fold="none")'}, "folds-check", "the bend of the knee is not judged"),
    ({"words-answer": 'character.say(rest_pose="  ")'}, "words-check", "not yet"),
    ({"words-answer": 'character.say(rest_pose="...")'}, "words-check", "no sentence"),
    (RIGHT | {"words-answer": 'character.say(title="", rest_pose="She stands upright.")'}, "words-check", "title:"),
    (RIGHT | {"key-answer": "pass"}, "key-check", "as the file has it"),
    (RIGHT | {"key-answer": 'character.mend("ball", out=-10)'}, "key-check", "Move the ball in"),
    (RIGHT | {"key-answer": 'character.mend("ball", out=21, up=-3, forward=-2)'}, "key-check", "In is a negative out"),
    (RIGHT | {"key-answer": 'character.mend("ball", out=-21, up=-3)'}, "key-check", "too straight to tell"),
    (RIGHT | {"key-answer": 'character.mend("ball", out=-21, up=-3)'}, "finish", "But: The key gets"),
    (RIGHT | {"key-answer": 'character.mend("ball", out=-21, up=-3)'}, "give", "But: The key gets"),
    (RIGHT | {"key-answer": 'character.mend("ball", out=-21, up=-3)'}, "try", "But: The key gets"),
    (RIGHT | {"folds-answer": 'character.joint("knee", fold="none")'}, "finish", "the bend of the knee is not judged"),
    (RIGHT | {"words-answer": "pass"}, "finish", "1 question is open"),
    (RIGHT | {"words-answer": "pass"}, "give", "a draft still: 1 question is open"),
]  # fmt: skip
