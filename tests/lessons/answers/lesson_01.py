"""Lesson 1: right answers, and typical wrong ones with the words that must come back."""

RIGHT = {
    "arm-answer": "paper.say(elbow=290, wrist=530)",
    "finger-answer": "paper.say(middle=49, last=76)",
    "leg-answer": 'paper.say(A="hip", B="knee", C="ankle", D="ball")',
    "bench-answer": 'bench.move("knee", up=105, forward=60)\nbench.move("ankle", up=50, back=20)',
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
    ({"finger-answer": "paper.say(middle=40, last=62)"}, "finger-check", "too near the knuckle for the middle joint"),
    ({"leg-answer": 'paper.say(A="hip", B="ankle", C="knee", D="ball")'}, "leg-check", "swings back under a knee"),
    # The knee in the ankle, and all below it one too far.
    ({"leg-answer": 'paper.say(A="hip", B="hip", C="knee", D="ankle")'}, "leg-check", "that is A"),
    ({"leg-answer": 'paper.say(A="hip", B="knee", C="heel", D="ball")'}, "leg-check", "no joint itself"),
    ({"leg-answer": 'paper.say(A="hip", B="knee", C="ankle", D="foot")'}, "leg-check", "D is not the foot"),
    ({"bench-answer": 'bench.move("knee", up=105)\nbench.move("ankle", up=50, back=20)'}, "bench-check", "Move it forward"),
    # The ankle where a person has it, near the ground.
    ({"bench-answer": 'bench.move("knee", up=105, forward=60)\nbench.move("ankle", down=100)'}, "bench-check", "Move it up"),
    ({"bench-answer": 'bench.move("ankle", up=50, back=20)'}, "bench-check", "The knee lies"),
]  # fmt: skip
