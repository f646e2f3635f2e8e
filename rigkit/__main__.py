"""The command line, `python -m rigkit COMMAND`: words in, an exit status out, never a traceback."""

import argparse
import sys
from pathlib import Path

WRITTEN, NOT_WRITTEN, UNUSABLE = 0, 1, 2
MOST_PASSED = 20  # files listed on the screen
FAR = 10.0  # metres: no figure that stands at the origin reaches so far, so the units are in doubt (common practice)


def main(arguments: list[str] | None = None) -> int:
    """Run one command; returns 0 when all was dealt with, 1 when results could not be written, 2 for wrong usage."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")
    parser = _parser()
    asked = parser.parse_args(arguments)
    if asked.run is None:
        parser.print_help()
        return UNUSABLE
    from rigkit.require import RigError

    try:
        return asked.run(asked)
    except RigError as error:
        return _say(str(error), UNUSABLE)
    except BrokenPipeError:
        sys.stdout = None  # the reader of our output went away; nothing more to say to it
        return WRITTEN
    except KeyboardInterrupt:
        return _say("Stopped.", 130)


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="python -m rigkit", description="Marks hand-ins, looks into one, and makes limbs to practise on."
    )
    parser.set_defaults(run=None)
    commands = parser.add_subparsers(title="commands", metavar="COMMAND")
    mark = commands.add_parser("mark", help="mark hand-ins and write pages and a gradebook")
    mark.add_argument("handins", nargs="+", metavar="HANDIN", help="a layout (.json), .glb or .gltf; or a folder")
    mark.add_argument("--exercise", required=True, metavar="DIR", help="the exercise's folder")
    mark.add_argument("--out", required=True, metavar="DIR", help="the folder to write to")
    mark.add_argument("--rubric", metavar="FILE", help="another rubric than the exercise's")
    mark.add_argument("--roster", metavar="CSV", help="a table with a column id: who should have handed in")
    mark.add_argument("--jobs", type=_jobs, default=1, metavar="N", help="how many processes share the work")
    mark.set_defaults(run=_mark)
    look = commands.add_parser("look", help="show the joints of one file and what was noticed")
    look.add_argument("file", metavar="FILE")
    look.add_argument("--json", action="store_true", help="as JSON")
    look.set_defaults(run=_look)
    limb = commands.add_parser("limb", help="make a practice limb as an exercise folder")
    limb.add_argument("kind", nargs="?", metavar="KIND", help="the kind of limb")
    limb.add_argument("--list", action="store_true", help="name the kinds")
    limb.add_argument("--seed", type=_seed, metavar="N", help="the same number gives the same limb")
    limb.add_argument("--id", metavar="STUDENT", help="instead of --seed: a student's own limb")
    limb.add_argument("--salt", metavar="TEXT", help="with --id: the class's secret, so that no one can guess a key")
    limb.add_argument("--side", choices=("left", "right"), default="left", help="left by default")
    limb.add_argument("--out", metavar="DIR", help="the folder to write to")
    limb.set_defaults(run=_limb)
    give = commands.add_parser("hand-out", help="write the students' copy of an exercise, without its key")
    give.add_argument("exercise", metavar="EXERCISE", help="the exercise's folder, the instructor's copy")
    give.add_argument("--out", required=True, metavar="DIR", help="the folder to write to")
    give.set_defaults(run=_hand_out)
    return parser


def _seed(word: str) -> int:
    if not (word.isascii() and word.isdecimal()) or len(word) > 19 or int(word) >= 2**63:
        raise argparse.ArgumentTypeError("expected a whole number from 0, below 2**63")
    return int(word)


def _jobs(word: str) -> int:
    if not word.isdecimal() or not 1 <= int(word) <= 64:
        raise argparse.ArgumentTypeError("expected a whole number from 1 to 64")
    return int(word)


def _say(words: str, status: int) -> int:
    print("rigkit: " + " ".join(words.split()), file=sys.stderr)
    return status


def _mark(asked: argparse.Namespace) -> int:
    from rigkit.classroom import mark_class, read_roster, write_class

    out = Path(asked.out)
    roster = read_roster(asked.roster) if asked.roster else None
    room = mark_class(asked.handins, asked.exercise, asked.rubric, jobs=asked.jobs, roster=roster, out=out)
    try:
        write_class(room, out)
    except OSError as error:
        return _say(f"results could not be written to {out.name or 'the folder of --out'}: "
                    f"{(error.strerror or 'an error').lower()}.", NOT_WRITTEN)  # fmt: skip
    marked = sum(one.status == "marked" for one in room.results)
    print(f"{_count(room.results, 'hand-in')}: {marked} marked, {len(room.results) - marked} could not be read.")
    for one in room.results:
        if one.status != "marked":
            print(f"  {' '.join(one.reason.split())}")
    if room.passed_over:
        print(f"{_count(room.passed_over, 'file')} passed over:")
    for file, reason in room.passed_over[:MOST_PASSED]:
        print(f"  {file}: {reason}.")
    if len(room.passed_over) > MOST_PASSED:
        print(f"  and {len(room.passed_over) - MOST_PASSED} more, listed in results.json.")
    if not room.results:
        print("There was nothing to mark: a hand-in is a file ending in .json, .glb or .gltf.")
    return WRITTEN


def _count(things: tuple, word: str) -> str:
    return f"{len(things)} {word}{'' if len(things) == 1 else 's'}"


def _limb(asked: argparse.Namespace) -> int:
    from rigkit.limbs import KINDS, limb_seed, practice_limb
    from rigkit.make_exercise import make_exercise
    from rigkit.require import choice

    if asked.list:
        for kind, words in KINDS.items():
            print(f"{kind:<13} {words}")
        return WRITTEN
    if asked.kind:
        choice(asked.kind, "the kind of a practice limb", KINDS)
    if not asked.kind or not asked.out:
        missing = "KIND" if not asked.kind else "--out DIR"
        return _say(f"limb: {missing} is missing. Name a kind and a folder; limb --list names the kinds.", UNUSABLE)
    own = (asked.id is not None, asked.salt is not None)
    if (asked.seed is not None) == any(own) or own not in ((True, True), (False, False)):
        return _say("limb: give either --seed N, or --id STUDENT together with --salt TEXT.", UNUSABLE)
    seed = asked.seed if asked.seed is not None else limb_seed(asked.id, asked.salt)
    limb = practice_limb(asked.kind, seed, asked.side)
    make_exercise(asked.out, limb)
    print(f"{limb.kind}, {limb.side}: {len(limb.roles)} joints, {len(limb.mesh.triangles):,} triangles, "
          f"written to {Path(asked.out).name or 'the folder of --out'}.")  # fmt: skip
    return WRITTEN


def _hand_out(asked: argparse.Namespace) -> int:
    from rigkit.openings import hand_out

    out = hand_out(asked.exercise, asked.out)
    print(f"The students' copy, {_count(tuple(out.iterdir()), 'file')} and no key, was written to {out.name}.")
    return WRITTEN


def _look(asked: argparse.Namespace) -> int:
    from rigkit.classroom import shown_name
    from rigkit.files.handin import read_handin

    path = Path(asked.file)
    layout = read_handin(path, shown_name(path.name))
    skeleton = layout.skeleton
    notices = list(layout.notices)
    far, name = max(zip(abs(skeleton.positions).max(axis=1), skeleton.names, strict=True))
    if far > FAR:
        notices.append(f"The joint {name or 'without a name'} lies {far:,.0f} m from the origin. A figure is a few "
                       "metres tall: check the units of the export.")  # fmt: skip
    if asked.json:
        import json

        joints = [{"name": name, "parent": parent, "position": place.tolist()} for name, parent, place in
                  zip(skeleton.names, skeleton.parents, skeleton.positions, strict=True)]  # fmt: skip
        table = {"id": layout.id, "exercise": layout.exercise, "attempt": layout.attempt, "units": "m",
                 "up": "+y", "facing": "+z", "joints": joints, "notices": notices}  # fmt: skip
        print(json.dumps(table, ensure_ascii=False, indent=1))
        return WRITTEN
    print(f"{layout.id}: {_count(skeleton.names, 'joint')}, places in mm (left of the character, up, forward)")
    width = max(len(name) + 2 * skeleton.depth(i) for i, name in enumerate(skeleton.names))
    wide = max(9, *(len(f"{1000 * x:,.1f}") for x in skeleton.positions.flat))
    for i, (name, parent, place) in enumerate(zip(skeleton.names, skeleton.parents, skeleton.positions, strict=True)):
        above = "topmost" if parent is None else f"below {skeleton.names[parent]}"
        numbers = " ".join(f"{1000 * x:{wide},.1f}" for x in place)
        print(f"  {('  ' * skeleton.depth(i) + name).ljust(width)} {numbers}   {above}")
    for notice in notices:
        print(f"Noticed: {notice}")
    return WRITTEN


if __name__ == "__main__":
    sys.exit(main())
