"""Lesson 1: right answers, and typical wrong ones with the words that must come back."""

_BENCH = 'bench.move("knee", up=105, forward=60)\nbench.move("ankle", up=50, back=20)'


def _leg(**others: str) -> str:
    letters = {"A": "none", "B": "ball", "C": "hip", "D": "ankle", "E": "knee"} | others
    return f"paper.say({', '.join(f'{letter}={word!r}' for letter, word in letters.items())})"


RIGHT = {
    "arm-answer": "paper.say(elbow=290, wrist=530)",
    "finger-answer": "paper.say(middle=49, last=76)",
    "leg-answer": _leg(),
    "bench-answer": _BENCH,
}

# (answers put in, check cell, words that its answer must hold)
WRONG = [
    ({"arm-answer": "paper.say(elbow=29, wrist=53)"}, "arm-check", "Write millimetres, not metres, centimetres"),
    ({"arm-answer": "paper.say(elbow=0.28, wrist=530)"}, "arm-check", "Write millimetres, not metres"),
    ({"arm-answer": "paper.say(elbow=290, wrist=240)"}, "arm-check", "add the two bones"),
    # From the top of the shoulder to the knob below the elbow, and on from there.
    ({"arm-answer": "paper.say(elbow=305, wrist=530)"}, "arm-check", "From where to where?"),
    ({"arm-answer": "paper.say(elbow=290, wrist=545)"}, "arm-check", "wrist below the top of the shoulder"),
    # The elbow of somebody 1.70 m tall.
    ({"arm-answer": "paper.say(elbow=316, wrist=540)"}, "arm-check", "too far down for the elbow"),
    # To the fingertip.
    ({"arm-answer": "paper.say(elbow=290, wrist=704)"}, "arm-check", "too far down for the wrist"),
    ({"arm-answer": "paper.say(elbow=230, wrist=530)"}, "arm-check", "too far up for the elbow"),
    ({"arm-answer": 'paper.say(elbow="290 mm", wrist=530)'}, "arm-check", "expected a number"),
    ({"arm-answer": "paper.say(elbow=290)"}, "arm-check", "not yet: Nothing is written for wrist"),
    ({"finger-answer": "paper.say(middle=33, last=67)"}, "finger-check", "not made of thirds"),
    ({"finger-answer": "paper.say(middle=49, last=27)"}, "finger-check", "Both count from the knuckle"),
    ({"finger-answer": "paper.say(middle=49, last=90)"}, "finger-check", "too far out for the last joint"),
    # Shares of the way to the end of the bone, without the flesh of the tip.
    ({"finger-answer": "paper.say(middle=51, last=80)"}, "finger-check", "Flesh comes after it"),
    ({"finger-answer": "paper.say(middle=40, last=62)"}, "finger-check", "too near the knuckle for the middle joint"),
    ({"leg-answer": _leg(E="ankle", D="knee")}, "leg-check", "A knee lets its shank swing back"),
    # The knee in the ankle, and all below it one too far.
    ({"leg-answer": _leg(E="hip", D="knee", B="ankle")}, "leg-check", "Below B there are only toes"),
    ({"leg-answer": _leg(D="heel")}, "leg-check", "no joint itself"),
    ({"leg-answer": _leg(B="foot")}, "leg-check", "B is not the foot"),
    # The letters in the order of the alphabet; the knee where the feathers end.
    ({"leg-answer": _leg(A="hip", B="knee", C="ankle", D="ball", E="none")}, "leg-check", "A is not the hip"),
    ({"leg-answer": _leg(A="knee", E="none")}, "leg-check", "nothing folds"),
    ({"leg-answer": _leg(E="none")}, "leg-check", "There is a joint at E"),
    ({"bench-answer": 'bench.move("knee", up=105)\nbench.move("ankle", up=50, back=20)'}, "bench-check", "Move the knee forward"),
    # The ankle where a person has it, near the ground.
    ({"bench-answer": 'bench.move("knee", up=105, forward=60)\nbench.move("ankle", down=100)'}, "bench-check", "Move the ankle up"),
    ({"bench-answer": 'bench.move("ankle", up=50, back=20)'}, "bench-check", "The knee lies far"),
    # Knee and ankle right, and the joints that were right at the start pushed away.
    ({"bench-answer": f'{_BENCH}\nbench.move("hip", down=100)'}, "bench-check", "The hip was right, and is not any more"),
    ({"bench-answer": f'{_BENCH}\nbench.move("hip")\nbench.move("ball", up=120, forward=120)'}, "bench-check", "The ball was right"),
]  # fmt: skip
