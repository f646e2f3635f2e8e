"""Lesson 11: millimetres from the start to the true joints of the stored keys: right answers, and typical wrong ones."""

_LEG = 'orlo.move("hip", out={}, up={})\norlo.move("ankle", up={}, forward={})\norlo.move("knee", forward={})'
_WALKER = 'brassfoot.move("hip", forward=35)\nbrassfoot.move("knee", up={}, forward={})\nbrassfoot.move("ankle", up={}, forward=-9)'
_BIRD = 'stiltjack.move("hip", forward={})\nstiltjack.move("knee", up={}, forward={})'

RIGHT = {
    "leg-answer": _LEG.format(-50, -55, 18, 32, 45),
    "letters-answer": 'letters.say(knee="C", ankle="A", heel="D")',
    "brassfoot-answer": _WALKER.format(91, 98, 59),
    "stiltjack-answer": _BIRD.format(23, 105, 30),
}

# (answers put in, check cell, words that its answer must hold)
WRONG = [
    # Still at the belt, though no longer outside the hip bone.
    ({"leg-answer": _LEG.format(-50, 0, 18, 32, 45)}, "leg-check", "Move the hip down"),
    ({"leg-answer": _LEG.format(-90, -55, 18, 32, 45)}, "leg-check", "Move the hip out"),
    # The ankle left in the heel.
    ({"leg-answer": _LEG.format(-50, -55, 18, 0, 45)}, "leg-check", "Move the ankle forward"),
    # The knee left in its hollow, then brought to the line only.
    ({"leg-answer": _LEG.format(-50, -55, 18, 32, 0)}, "leg-check", "the wrong way. Move the knee forward"),
    ({"leg-answer": _LEG.format(-50, -55, 18, 32, 22)}, "leg-check", "too straight to tell"),
    ({"letters-answer": 'letters.say(knee="A", ankle="B", heel="D")'}, "letters-check", "that is an ankle"),
    ({"letters-answer": 'letters.say(knee="C", ankle="B", heel="D")'}, "letters-check", "took the paw for a whole foot"),
    ({"letters-answer": 'letters.say(knee="C", ankle="A", heel="B")'}, "letters-check", "stands out behind an ankle"),
    ({"letters-answer": 'letters.say(knee="", ankle="A", heel="D")'}, "letters-check", "not yet"),
    # The knee still half-way down the shank; the ankle still in the foot.
    ({"brassfoot-answer": _WALKER.format(0, 0, 59)}, "brassfoot-check", "Move the knee up."),
    ({"brassfoot-answer": _WALKER.format(91, 98, 20)}, "brassfoot-check", "Move the ankle up."),
    ({"brassfoot-answer": _WALKER.format(91, 40, 59)}, "brassfoot-check", "Move the knee forward"),
    ({"stiltjack-answer": _BIRD.format(23, 50, 14)}, "stiltjack-check", "Move the knee up."),
    ({"stiltjack-answer": _BIRD.format(0, 105, 30)}, "stiltjack-check", "Move the hip forward"),
]  # fmt: skip
