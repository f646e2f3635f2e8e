"""Lesson 12: millimetres from the start to the true joints of Ebba's arm: right answers, and typical wrong ones with their words."""

_PLACE = (
    'bench.move("shoulder", out=8, up=30, forward=10)\n'
    'bench.move("elbow", out=4, up=14, forward=-27)\n'
    'bench.move("wrist", out=-12, up=-23, forward=11)'
)
_NAMES = 'for role in ("shoulder", "elbow", "wrist"):\n    bench.rename(role, "right_" + role)'
_BACK = 'moved, mm, renamed = "{}", {}, "{}"'

RIGHT = {
    "place-answer": _PLACE,
    "names-answer": _NAMES,
    "back-answer": _BACK.format("right_elbow", 12, "right_wrist"),
    "hand-in-answer": 'student = "wren"',
}

# (answers put in, check cell, words that its answer must hold)
WRONG = [
    # The elbow alone: the shoulder has sunk, and the wrist lies beside the arm.
    ({"place-answer": 'bench.move("elbow", out=4, up=14, forward=-27)'}, "place-check", "Move the shoulder up"),
    ({"place-answer": _PLACE.replace("forward=-27", "forward=-2")}, "place-check", "Move the elbow back"),
    # The visitor's advice: to the outer side.
    ({"place-answer": _PLACE.replace("forward=-27", "forward=-52")}, "place-check", "Move the elbow forward"),
    ({"place-answer": _PLACE.replace("out=-12", "out=12")}, "place-check", "Move the wrist in"),
    ({"place-answer": _PLACE.replace("up=30", "up=-30")}, "place-check", "Move the shoulder up"),
    ({"place-answer": _PLACE.replace("out=4, up=14", "out=-14, up=42")}, "place-check", "up the limb"),
    # Orlo's side, from habit.
    ({"names-answer": _NAMES.replace("right_", "left_")}, "names-check", "this is the right one"),
    ({"names-answer": _NAMES.replace('"right_" + ', "")}, "names-check", "which side"),
    ({"names-answer": 'bench.rename("shoulder", "right_shoulder")'}, "names-check", "the left knee is left_knee"),
    ({"names-answer": _NAMES, "back-answer": _BACK.format("right_wrist", 12, "right_wrist")}, "back-check", "did not move"),
    ({"names-answer": _NAMES, "back-answer": _BACK.format("right_elbow", 90, "right_wrist")}, "back-check", "by 90 mm"),
    ({"names-answer": _NAMES, "back-answer": _BACK.format("right_elbow", '"12"', "right_wrist")}, "back-check", "without quotes"),
    ({"names-answer": _NAMES, "back-answer": _BACK.format("right_elbow", 12, "right_elbow")}, "back-check", "kept its name"),
    ({"hand-in-answer": "student = None"}, "hand-in", "your class id in quotes"),
    # An arm that was never touched.
    ({"hand-in-answer": 'student = "wren"'}, "hand-in", "things are still to mend, first at the shoulder"),
]  # fmt: skip
