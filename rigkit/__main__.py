"""The command line, `python -m rigkit COMMAND`: words in, an exit status out, never a traceback."""

import argparse
import sys
from pathlib import Path

from rigkit.asked import AXES, parser

WRITTEN, NOT_WRITTEN, UNUSABLE = 0, 1, 2
MOST_PASSED = 20  # files listed on the screen


def main(arguments: list[str] | None = None) -> int:
    """Run one command; returns 0 when all was dealt with, 1 when results could not be written, 2 for wrong usage."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")
    commands = parser()
    words = list(sys.argv[1:] if arguments is None else arguments)
    for place in range(len(words) - 2, -1, -1):  # "--facing -z": argparse would take -z for an option
        if words[place] in ("--up", "--facing") and words[place + 1] in ("-x", "-y", "-z"):
            words[place : place + 2] = [f"{words[place]}={words[place + 1]}"]
    asked = commands.parse_args(words)
    if asked.run is None:
        commands.print_help()
        return UNUSABLE
    from rigkit.require import RigError

    try:
        return RUN[asked.run](asked)
    except RigError as error:
        return _say(str(error), UNUSABLE)
    except BrokenPipeError:
        sys.stdout = None  # the reader of our output went away; nothing more to say to it
        return WRITTEN
    except KeyboardInterrupt:
        return _say("Stopped.", 130)


def _answers(asked: argparse.Namespace) -> dict[str, str]:
    from rigkit.standing import checked_answers

    return checked_answers(**{name: getattr(asked, name) for name in AXES})


def _say(words: str, status: int) -> int:
    print("rigkit: " + " ".join(words.split()), file=sys.stderr)
    return status


def _mark(asked: argparse.Namespace) -> int:
    from rigkit.classroom import mark_class, read_roster, write_class
    from rigkit.word import read_words

    out = Path(asked.out)
    roster = read_roster(asked.roster) if asked.roster else None
    words = read_words(asked.words) if asked.words else {}
    room = mark_class(asked.handins, asked.exercise, asked.rubric, jobs=asked.jobs, roster=roster, out=out,
                      answers=_answers(asked), words=words)  # fmt: skip
    if strangers := sorted(words.keys() - {one.id for one in room.results}):
        print(f"Words for ids without a hand-in: {', '.join(strangers[:MOST_PASSED])}.")
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
    counted = {one.id: one for one in room.counting}
    for one in room.results:
        if counted[one.id] is not one:
            print(f"  {one.file}: not counted, since {counted[one.id].file} has the same id, {one.id}.")
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


def _exercise(asked: argparse.Namespace) -> int:
    from rigkit.openings import read_draft
    from rigkit.require import RigError

    out = Path(asked.out)
    if (out / "exercise.toml").exists():
        raise RigError("a folder without an exercise", "one that holds exercise.toml",
                       next_step="Choose another folder", where=out.name)  # fmt: skip
    draft = read_draft(asked.file, asked.skin, asked.meshes, asked.side, asked.units, asked.up, asked.facing)
    result, notes = draft.checked()
    draft.write(out)
    questions = draft.open_questions()
    print(f"{draft.title}: {len(draft.asked)} of {_count(draft.figure.names, 'joint')} asked for, side: {draft.side}.")
    for one in draft.joints:
        folds = "" if one.away is None else ", folds"
        print(f"  {one.name}: {one.role}, {one.need}{'' if one.lie is None else f', {one.lie.place}{folds}'}")
    told = [*draft.notices, *notes, *(one.message for one in result.findings)]
    print(f"The key, checked by its own exercise: {result.mark:g} of 100.")
    for words in told:
        print(f"Noticed: {words}")
    for words in questions:
        print(f"Open: {words}")
    state = f"a draft with {_count(questions, 'open question')}; it marks nobody yet" if questions else "complete"
    print(f"Written to {out.name or 'the folder of --out'}: {state}.")
    return WRITTEN


def _hand_out(asked: argparse.Namespace) -> int:
    from rigkit.openings import hand_out

    out = hand_out(asked.exercise, asked.out)
    print(f"The students' copy, {_count(tuple(out.iterdir()), 'file')} and no key, was written to {out.name}.")
    return WRITTEN


def _look(asked: argparse.Namespace) -> int:
    from rigkit.looking import as_lines, as_table
    from rigkit.standing import doubts

    layout, told = _read(asked, asked.file)
    notices = [*layout.notices, *told, *doubts(layout)]
    if asked.beside:
        from rigkit.carry import LEAST
        from rigkit.changes import changes

        other, told = _read(asked, asked.beside)
        found = changes(other.skeleton, layout.skeleton, LEAST)
        lines = [f"{one.told}." for one in found] or [f"Nothing differs from {other.id}."]
        lines += [f"Noticed: {notice}" for notice in (*notices, *other.notices, *told)]
    elif asked.json:
        import json

        lines = [json.dumps(as_table(layout, notices), ensure_ascii=False, indent=1)]
    else:
        lines = as_lines(layout, notices)
    print("\n".join(lines))
    return WRITTEN


def _read(asked: argparse.Namespace, file: str) -> tuple:
    from rigkit.classroom import shown_name
    from rigkit.files.exercise import read_exercise
    from rigkit.files.handin import read_handin
    from rigkit.standing import answered, recognised

    path = Path(file)
    layout = answered(read_handin(path, shown_name(path.name)), _answers(asked))
    return recognised(layout, read_exercise(asked.exercise)) if asked.exercise else (layout, ())


def _export(asked: argparse.Namespace) -> int:
    from rigkit.carry import carry_out
    from rigkit.files.exercise import read_exercise

    layout, told = _read(asked, asked.file)
    out = carry_out(layout, read_exercise(asked.exercise), asked.out)
    for notice in (*layout.notices, *told):
        print(f"Noticed: {notice}")
    print(f"{_count(layout.skeleton.names, 'joint')}, the mesh and skin weights were written to {out.name}.")
    return WRITTEN


RUN = {"mark": _mark, "look": _look, "export": _export, "limb": _limb, "exercise": _exercise, "hand-out": _hand_out}

if __name__ == "__main__":
    sys.exit(main())
