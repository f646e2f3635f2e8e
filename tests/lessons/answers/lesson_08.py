"""Lesson 8: right answers, and typical wrong ones with the words that must come back."""

RIGHT = {
    "clavicle-answer": 'bench.move("clavicle", out=19, up=-12, forward=82)',
    "shoulder-answer": 'bench.move("shoulder", out=32, up=-6)',
    "tree-answer": 'figure.hang("pelvis", on="root")\nfigure.hang("left_shoulder", on="left_clavicle")\n'
    'figure.hang("left_hip", on="pelvis")',
    "numbers-answer": "figure.say(shoulder_at=1371, number_in_file=8)",
}
PELVIS = 'figure.hang("pelvis", on="root")\n'

# (answers put in, check cell, words that its answer must hold)
WRONG = [
    # From the front all is well: the joint still lies in the middle of the neck's root.
    ({"clavicle-answer": 'bench.move("clavicle", out=19, up=-12)'}, "clavicle-check", "Move the clavicle forward."),
    ({"clavicle-answer": 'bench.move("clavicle", up=-12, forward=82)'}, "clavicle-check", "Move the clavicle out."),
    ({"clavicle-answer": 'bench.move("clavicle", out=19, up=-12, forward=115)'}, "clavicle-check", "outside the flesh"),
    # Half-way along the bone.
    ({"clavicle-answer": 'bench.move("clavicle", out=90, up=-12, forward=60)'}, "clavicle-check", "Move the clavicle in."),
    ({"shoulder-answer": 'bench.move("shoulder", out=15, up=-6)'}, "shoulder-check", "Move the shoulder out."),
    ({"shoulder-answer": 'bench.move("shoulder", out=32, up=25)'}, "shoulder-check", "Move the shoulder down"),
    ({"tree-answer": 'figure.hang("pelvis", on="spine")'}, "tree-check", "the hips sway whenever that bends"),
    ({"tree-answer": PELVIS + 'figure.hang("left_hip", on="pelvis")'}, "tree-check", "the arm stays behind"),
    ({"tree-answer": PELVIS + 'figure.hang("left_shoulder", on="left_clavicle")\nfigure.hang("left_hip", on="spine")'},
     "tree-check", "the leg stays behind"),
    # A circle: refused in words, and the check goes on.
    ({"tree-answer": PELVIS + 'figure.hang("left_shoulder", on="left_clavicle")\nfigure.hang("left_clavicle", '
      'on="left_shoulder")'}, "tree-check", "left_hip hangs on root"),
    ({"tree-answer": 'figure.hang("hip", on="pelvis")'}, "tree-check", "not yet"),
    ({"numbers-answer": "figure.say(shoulder_at=1391, number_in_file=8)"}, "numbers-check", "It goes along with its parent"),
    ({"numbers-answer": "figure.say(shoulder_at=1371, number_in_file=-12)"}, "numbers-check", "would be at 1371 mm"),
    ({"numbers-answer": "figure.say(shoulder_at=1371, number_in_file=-32)"}, "numbers-check", "would be at 1351 mm"),
]  # fmt: skip
