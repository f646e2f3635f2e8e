"""The demo class for Orlo's left arm: file name to text, each hand-in with one known fault, made from the key.

Run `python tests/make_demo_class.py` to write data/demo-class anew; a test compares it with what is stored.
"""

import json
from pathlib import Path

import numpy as np

from rigkit.files.exercise import read_exercise

PROJECT = Path(__file__).resolve().parent.parent
EXERCISE = PROJECT / "data" / "exercises" / "left-arm"
FOLDER = PROJECT / "data" / "demo-class"
JITTER = 0.0015  # metres: well inside every allowance, so that nobody hands in the key itself

# file: (joint, finding) for every finding that this hand-in must have, and no other
FAULTS = {
    "wren.json": [],
    "avocet.json": [("elbow", "off-centre")],
    "bittern.json": [("elbow", "bends-wrong-way")],
    "dunlin.json": [("elbow", "too-straight")],
    "heron.json": [("wrist", "off-station")],
    "marigold.json": [("elbow", "side-missing")],
    "plover.json": [("wrist", "side-wrong")],
    "sedge.json": [("elbow", "part-misspelt")],
    "sorrel.json": [("shoulder", "part-other"), ("elbow", "part-other")],
    "teasel.json": [("wrist", "wrong-parent")],
    "yarrow.json": [("wrist", "joint-missing")],
    "bulrush.json": [],
    "reedmace.json": [("shoulder", "side-mark"), ("elbow", "side-mark"), ("wrist", "side-mark")],
}
UNREADABLE = "cattail.json"


def demo_class() -> dict[str, str]:
    """The text of each file of the demo class, by file name."""
    exercise = read_exercise(EXERCISE)
    start, end = exercise.key.skeleton.positions[[0, 2]]
    line = float(np.linalg.norm(end - start))
    limb = (end - start) / line
    aside = np.cross(limb, [0.0, 0.0, 1.0])  # square to the limb and to the fold: out of the plane it folds in
    files = {UNREADABLE: "left shoulder 0.19 1.39 0.0, left elbow 0.37 1.13, ... (sorry, the file would not save)\n"}
    for number, name in enumerate(sorted(FAULTS)):
        chance = np.random.default_rng(number)
        joints = [
            {"name": joint, "parent": parent, "position": list(place + chance.uniform(-JITTER, JITTER, 3)),
             "rotation": None}
            for joint, parent, place in zip(("left_shoulder", "left_elbow", "left_wrist"), (None, 0, 1),
                                            exercise.key.skeleton.positions, strict=True)
        ]  # fmt: skip
        shoulder, elbow, wrist = joints
        units = {}

        def shift(joint: dict, arrow) -> None:
            joint["position"] = list(np.array(joint["position"]) + arrow)

        if name == "avocet.json":  # far enough to miss the middle, near enough to fold in its plane
            shift(elbow, 0.015 * aside)
        elif name == "bittern.json":
            shift(elbow, [0.0, 0.0, 0.033])
        elif name == "dunlin.json":
            shift(elbow, [0.0, 0.0, 0.018])
        elif name == "heron.json":
            shift(wrist, -0.035 * limb)
        elif name == "marigold.json":
            elbow["name"] = "elbow"
        elif name == "plover.json":
            wrist["name"] = "right_wrist"
        elif name == "sedge.json":
            elbow["name"] = "left_elbwo"
        elif name == "sorrel.json":
            shoulder["name"], elbow["name"] = elbow["name"], shoulder["name"]
        elif name == "teasel.json":
            wrist["parent"] = 0
        elif name == "yarrow.json":
            joints.remove(wrist)
        elif name == "bulrush.json":
            units = {"units": "cm"}
            for joint in joints:
                joint["position"] = [100.0 * x for x in joint["position"]]
        elif name == "reedmace.json":
            for joint in joints:
                joint["name"] = joint["name"].replace("left", "l")
        for joint in joints:
            joint["position"] = [round(float(x), 5) for x in joint["position"]]
        table = {"format": "rigkit-layout", "version": 1, "id": name.removesuffix(".json"), "exercise": exercise.id,
                 "attempt": 1, **units, "joints": joints}  # fmt: skip
        files[name] = json.dumps(table, indent=1) + "\n"
    return files


if __name__ == "__main__":
    FOLDER.mkdir(parents=True, exist_ok=True)
    for name, text in demo_class().items():
        (FOLDER / name).write_text(text, encoding="utf-8", newline="\n")
