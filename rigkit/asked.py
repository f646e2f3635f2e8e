"""What can be asked on the command line: commands and options as an argparse parser, nothing run."""

import argparse

AXES = {"units": "m, cm, mm or in", "up": "+y or +z", "facing": "+z, -y or another"}  # what a file may leave unsaid

EXERCISE = "the exercise's folder, or the id of a bundled one, such as left-arm"
RUBRIC = "another rubric than the exercise's: first-week, standard, strict or a file"


def parser() -> argparse.ArgumentParser:
    """The parser of the command line; `run` of what it gives is the command's name, None where there is none."""
    words = argparse.ArgumentParser(
        prog="python -m rigkit", description="Marks hand-ins, looks into one, and makes limbs to practise on."
    )
    words.set_defaults(run=None)
    commands = words.add_subparsers(title="commands", metavar="COMMAND", dest="run")
    mark = commands.add_parser("mark", help="mark hand-ins and write pages and a gradebook")
    mark.add_argument("handins", nargs="+", metavar="HANDIN", help="a layout (.json), .glb, .gltf; a zip, a folder")
    mark.add_argument("--exercise", required=True, metavar="DIR", help=EXERCISE)
    mark.add_argument("--out", required=True, metavar="DIR", help="the folder to write to")
    mark.add_argument("--rubric", metavar="FILE", help=RUBRIC)
    mark.add_argument("--roster", metavar="CSV", help="a table with a column id: who should have handed in")
    mark.add_argument("--words", metavar="CSV", help="scores and marks set by hand: id, criterion, value, note")
    mark.add_argument("--id-pattern", default="", metavar="TEXT", help="whose a file is by its name: {id}_{attempt}")
    mark.add_argument("--before", metavar="JSON", help="results.json of the class's last hand-in, to compare with")
    mark.add_argument("--aliases", action="store_true", help="other names in class.html, which a room may see")
    mark.add_argument("--jobs", type=_jobs, metavar="N", help="how many processes share the work; all cores by default")
    look = commands.add_parser("look", help="show the joints of one file and what was noticed")
    look.add_argument("file", metavar="FILE")
    look.add_argument("--exercise", metavar="DIR", help="recognise units and axes as when it is marked")
    look.add_argument("--beside", metavar="OTHER", help="show what differs from another file of the same limb")
    export = commands.add_parser("export", help="write a hand-in with mesh and weights as .glb, for other programs")
    export.add_argument("file", metavar="FILE", help="a layout (.json), .glb or .gltf")
    export.add_argument("--exercise", required=True, metavar="DIR", help="the exercise's folder, which has the mesh")
    export.add_argument("--out", required=True, metavar="FILE", help="the file to write, ending in .glb")
    agree = commands.add_parser("agree", help="draw a sample to mark by hand, or hold marks by hand beside the tool's")
    agree.add_argument("--draw", type=_how_many, metavar="N", help="write a sheet for N hand-ins, drawn by their ids")
    agree.add_argument("--out", metavar="CSV", help="with --draw: the sheet to write")
    agree.add_argument("--by-hand", metavar="CSV", help="the sheet with its marks; or a table of id, criterion, value")
    agree.add_argument("--grades", metavar="TEXT", help="the least mark of each grade, as A=85,B=70,C=0; else tens")
    alike = commands.add_parser("alike", help="tell which hand-ins are more alike than honest work explains")
    for command in (agree, alike):
        command.add_argument("handins", nargs="+", metavar="HANDIN", help="as for mark")
        command.add_argument("--exercise", required=True, metavar="DIR", help=EXERCISE)
        command.add_argument("--rubric", metavar="FILE", help=RUBRIC)
        command.add_argument("--id-pattern", default="", metavar="TEXT", help="whose a file is: {id}_{attempt}")
        command.add_argument("--jobs", type=_jobs, metavar="N", help="how many processes; all cores by default")
    for command in (mark, agree, alike):
        command.add_argument("--anyway", action="store_true", help="also if most are for another exercise")
    for command in (mark, look, export, agree, alike):
        for name, ways in AXES.items():
            command.add_argument(f"--{name}", metavar="WAY", help=f"where a file does not say its own: {ways}")
    look.add_argument("--json", action="store_true", help="as JSON")
    limb = commands.add_parser("limb", help="make a practice limb as an exercise folder")
    limb.add_argument("kind", nargs="?", metavar="KIND", help="the kind of limb")
    limb.add_argument("--list", action="store_true", help="name the kinds")
    limb.add_argument("--seed", type=_seed, metavar="N", help="the same number gives the same limb")
    limb.add_argument("--id", metavar="STUDENT", help="instead of --seed: a student's own limb")
    limb.add_argument("--salt", metavar="TEXT", help="the class's secret: with --id for one, alone for everyone's own")
    limb.add_argument("--roles", nargs="+", metavar="ROLE", help="with --salt alone: which joints are asked for")
    limb.add_argument("--side", choices=("left", "right"), default="left", help="left by default")
    limb.add_argument("--out", metavar="DIR", help="the folder to write to")
    own = commands.add_parser("exercise", help="draft an exercise from a character of one's own")
    own.add_argument("file", metavar="FILE", help="the character with its joints (.glb or .gltf)")
    own.add_argument("--out", required=True, metavar="DIR", help="the folder to write to")
    own.add_argument("--skin", type=_name_or_number, metavar="SKIN", help="of several: its name or number")
    own.add_argument("--meshes", type=_name_or_number, nargs="+", metavar="MESH", help="of several: names or numbers")
    own.add_argument("--side", choices=("left", "right", "middle"), default="", help="by default what the names say")
    own.add_argument("--units", choices=("m", "cm", "mm", "in"), default="", help="where the file is not in metres")
    own.add_argument("--up", default="+y", metavar="AXIS", help="which way is up, +y by default")
    own.add_argument("--facing", default="+z", metavar="AXIS", help="which way the character faces, +z by default")
    give = commands.add_parser("hand-out", help="write the students' copy of an exercise, without its key")
    give.add_argument("exercise", metavar="EXERCISE", help="the exercise's folder, the instructor's copy")
    give.add_argument("--roster", metavar="CSV", help="a table with a column id: a folder for each, with an own limb")
    give.add_argument("--out", required=True, metavar="DIR", help="the folder to write to")
    return words


def _name_or_number(word: str) -> int | str:
    return int(word) if word.isascii() and word.isdecimal() and len(word) < 6 else word


def _seed(word: str) -> int:
    if not (word.isascii() and word.isdecimal()) or len(word) > 19 or int(word) >= 2**63:
        raise argparse.ArgumentTypeError("expected a whole number from 0, below 2**63")
    return int(word)


def _how_many(word: str) -> int:
    if not word.isascii() or not word.isdecimal() or not 1 <= int(word[:6]) <= 10_000:
        raise argparse.ArgumentTypeError("expected a whole number from 1 to 10000")
    return int(word)


def _jobs(word: str) -> int:
    if not word.isdecimal() or not 1 <= int(word) <= 64:
        raise argparse.ArgumentTypeError("expected a whole number from 1 to 64")
    return int(word)
