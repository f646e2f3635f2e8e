"""Notebook B: right answers, and typical wrong ones with the words that must come back."""

RIGHT = {
    "weights-answer": 'weights.set("weights.names", 37)',
    "rings-answer": 'rings.set("centring.allowed", 37)',
    "limits-answer": 'limits.set("caps.bends-wrong-way", 35)',
    "save-answer": 'desk.set("names.side_missing", 75)\ndesk.save("saltreed-week-3")',
}

TOLD = {"tune-double": "stay as they are: 0 of 13 marks change"}
"""What a guess comes to that a cell works out, for the instructors' sheet."""

# (answers put in, check cell, words that its answer must hold)
WRONG = [
    ({"weights-answer": 'weights.set("weights.names", 30)'}, "weights-check", "A weight is a share of the sum"),
    ({"weights-answer": 'weights.set("weights.names", 50)'}, "weights-check", "A smaller weight would do"),
    ({"weights-answer": 'weights.set("weights.names", 30)\nweights.set("weights.bend", 5)'}, "weights-check", "weights.bend changed too"),
    ({"weights-answer": 'weights.set("weights.names", 37)\nweights.set("names.side_missing", 100)'}, "weights-check", "names.side_missing changed too"),
    ({"weights-answer": 'weights.set("weights.name", 37)'}, "weights-check", "weights.names"),
    ({"weights-answer": 'weights.set("weights.names", 370)'}, "weights-check", "refused"),
    ({"rings-answer": 'rings.set("centring.allowed", 30)'}, "rings-check", "Go on widening"),
    ({"rings-answer": 'rings.set("centring.allowed", 45)'}, "rings-check", "could bend the wrong way"),
    ({"rings-answer": 'rings.set("centring.allowed", 60)'}, "rings-check", "the ring reaches 25.2 mm"),
    ({"rings-answer": 'rings.set("centring.allowed", 0.37)'}, "rings-check", "per cent, such as 37"),
    ({"limits-answer": 'limits.set("caps.bends-wrong-way", 40)'}, "limits-check", "40 is a pass"),
    ({"limits-answer": 'limits.set("weights.bend", 60)'}, "limits-check", "40 is a pass"),
    ({"limits-answer": 'limits.set("caps.bends-wrong-way", 35)\nlimits.set("weights.bend", 40)'}, "limits-check", "changed too"),
    ({"limits-answer": 'limits.set("caps.bends-wrong-way", 0)'}, "limits-check", "Leave something for what is right"),
    ({"save-answer": 'desk.set("names.side_missing", 75)'}, "save-check", "Nothing was saved yet"),
    ({"save-answer": 'desk.set("names.side_missing", 75)\ndesk.save("")'}, "save-check", "a name for the file"),
    ({"save-answer": 'desk.set("names.side_missing", 75)\ndesk.save("standard")'}, "save-check", "a name of your own"),
    ({"save-answer": 'desk.save("mine")\ndesk.set("weights.names", 40)'}, "save-check", "Save it again"),
    ({"save-answer": 'desk.set("centring.allowed", 60)\ndesk.save("mine")'}, "save-check", "could bend the wrong way"),
]  # fmt: skip
