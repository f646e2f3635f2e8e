"""Lesson 7: millimetres from the start to the true joints of the stored keys: right answers, and typical wrong ones."""

RIGHT = {
    "finger-answer": 'finger.move("index 2", out=5, forward=-4)\nfinger.move("index 3", out=-2, up=-3, forward=4)',
    "middle-answer": 'hand.move("middle 1", out=3, up=17)\nhand.move("middle 2", up=3, forward=-4)\nhand.move("middle 3", forward=4)',
    "thumb-answer": 'hand.move("thumb 2", out=-6, forward=2)',
    "names-answer": 'for part in hand.limb.roles:\n    hand.rename(part, "left_" + part.replace(" ", "_"))',
}

_KNUCKLE = (
    'hand.move("middle 1", out={}, up={})\nhand.move("middle 2", up=3, forward=-4)\nhand.move("middle 3", forward=4)'
)
_ALL = "for part in hand.limb.roles:\n    hand.rename(part, {})"

# (answers put in, check cell, words that its answer must hold)
WRONG = [
    # One joint mended, the other forgotten: the zigzag stays.
    ({"finger-answer": 'finger.move("index 2", out=5, forward=-4)'}, "finger-check", "Move the index 3 forward"),
    # Flat now, seen from the back, but the second joint still on the palm side.
    ({"finger-answer": 'finger.move("index 2", forward=-4)\nfinger.move("index 3", out=-2, up=-3, forward=4)'}, "finger-check", "Move the index 2 out"),
    ({"finger-answer": 'finger.move("index 2", out=10, forward=-4)\nfinger.move("index 3", out=-2, up=-3, forward=4)'}, "finger-check", "Move the index 2 in"),
    # A corkscrew within the rings: the hinges lie 57 degrees apart. Then one joint 1 mm to the side.
    ({"finger-answer": 'finger.move("index 2", out=4, forward=-2.9)\nfinger.move("index 3", out=-2.5, up=-3, forward=2.9)'},
     "finger-check", "57 degrees apart; up to 15 is flat. Begin with index 2: 1.1 mm back"),
    ({"finger-answer": 'finger.move("index 2", out=5, forward=-4)\nfinger.move("index 3", out=-2, up=-3, forward=5)'},
     "finger-check", "Begin with index 3: 1 mm back"),
    # Out of the webbing, but only half of the way.
    ({"middle-answer": _KNUCKLE.format(3, 9)}, "middle-check", "Move the middle 1 up"),
    # At the knuckle's height, but in the middle of the palm's flesh.
    ({"middle-answer": _KNUCKLE.format(-3, 17)}, "middle-check", "Move the middle 1 out"),
    ({"middle-answer": 'hand.move("middle 1", out=3, up=17)\nhand.move("middle 2", up=3, forward=-4)'}, "middle-check", "Move the middle 3 forward"),
    ({"middle-answer": 'hand.move("middle 1", out=3, up=17)\nhand.move("middle 2", up=3)\nhand.move("middle 3", forward=4)'}, "middle-check", "Move the middle 2 back"),
    # The thumb as a fifth finger, and more so.
    ({"thumb-answer": 'hand.move("thumb 2", out=6, forward=2)'}, "thumb-check", "Move the thumb 2 in"),
    ({"thumb-answer": 'hand.move("thumb 2", out=-8, forward=2)'}, "thumb-check", "Begin with thumb 2: 1.4 mm out"),
    ({"names-answer": _ALL.format('part.replace(" ", "_")')}, "names-check", "which side"),
    ({"names-answer": _ALL.format('"left_" + part')}, "names-check", "words are joined by _"),
    ({"names-answer": _ALL.format('"right_" + part.replace(" ", "_")')}, "names-check", "right"),
]  # fmt: skip
