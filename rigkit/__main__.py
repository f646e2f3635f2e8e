"""The command line, `python -m rigkit COMMAND`: words in, an exit status out, never a traceback."""

import argparse
import sys
from collections.abc import Callable
from pathlib import Path

from rigkit.asked import AXES, parser

WRITTEN, NOT_WRITTEN, UNUSABLE = 0, 1, 2
MOST_LISTED = 20  # ids told on the screen


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
        if getattr(asked, "exercise", None):
            from rigkit.openings import exercise_folder

            asked.exercise = str(exercise_folder(asked.exercise))
        return RUN[asked.run](asked)
    except RigError as error:
        return _say(str(error), UNUSABLE)
    except BrokenPipeError:
        sys.stdout = None  # the reader of our output went away; nothing more to say to it
        return WRITTEN
    except OSError as error:  # files are worded where they are written, so this is our own output
        sys.stdout = None
        why = (error.strerror or "an error").lower()
        return _say(f"what is to be told here could not be written: {why}.", NOT_WRITTEN)
    except KeyboardInterrupt:
        return _say("Stopped.", 130)


def _answers(asked: argparse.Namespace) -> dict[str, str]:
    from rigkit.standing import checked_answers

    return checked_answers(**{name: getattr(asked, name) for name in AXES})


def _say(words: str, status: int) -> int:
    print("rigkit: " + " ".join(words.split()), file=sys.stderr)
    return status


def _mark(asked: argparse.Namespace) -> int:
    from rigkit.classroom import lines_of, mark_class, read_roster, write_class
    from rigkit.glance import read_before
    from rigkit.word import read_words

    out = Path(asked.out)
    roster = read_roster(asked.roster) if asked.roster else None
    words = read_words(asked.words) if asked.words else {}
    before = read_before(asked.before) if asked.before else None
    try:
        room = mark_class(asked.handins, asked.exercise, asked.rubric, jobs=asked.jobs, roster=roster, out=out,
                          answers=_answers(asked), words=words, pattern=asked.id_pattern, told=_counting(),
                          anyway=asked.anyway)  # fmt: skip
        if strangers := sorted(words.keys() - {one.id for one in room.results}):
            print(f"Words for ids without a hand-in: {', '.join(strangers[:MOST_LISTED])}.")
        write_class(room, out, jobs=asked.jobs, told=_counting(), before=before, aliases=asked.aliases)
    except OSError as error:
        return _say(f"results could not be written to {out.name or 'the folder of --out'}: "
                    f"{(error.strerror or 'an error').lower()}.", NOT_WRITTEN)  # fmt: skip
    print("\n".join([*lines_of(room, asked.id_pattern), f"The class at a glance: {out / 'class.html'}"]))
    return WRITTEN


def _counting() -> Callable[[str, int, int], None] | None:
    """Tells how far the work has come, in one line that counts; nothing where nobody looks on."""
    if not sys.stderr.isatty():
        return None

    def told(what: str, done: int, whole: int) -> None:
        print(f"\r{what} {done} of {whole}", end="\n" if done == whole else "", file=sys.stderr, flush=True)

    return told


def _count(things: tuple, word: str) -> str:
    return f"{len(things)} {word}{'' if len(things) == 1 else 's'}"


def _limb(asked: argparse.Namespace) -> int:
    from rigkit.limbs import KINDS, practice_limb
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
    if (asked.seed is None) == (asked.salt is None) or (asked.id is not None and asked.salt is None):
        return _say("limb: give either --seed N, or --salt TEXT (everyone's own limb), or --id STUDENT together with "
                    "--salt TEXT (one student's).", UNUSABLE)  # fmt: skip
    from rigkit.own_limbs import own_limb, write_own_limbs

    if asked.roles and (asked.salt is None or asked.id is not None):
        return _say("limb: --roles goes with --salt TEXT alone, for everyone's own limb.", UNUSABLE)
    if asked.salt is not None and asked.id is None:
        out = write_own_limbs(asked.out, asked.kind, asked.side, asked.salt, asked.roles or ())
        print(f"{asked.kind}, {asked.side}, everyone's own: exercise.toml, with the salt in it, was written to "
              f"{out.name}. Students get theirs by hand-out with --roster.")  # fmt: skip
        return WRITTEN
    limb = practice_limb(asked.kind, asked.seed, asked.side) if asked.seed is not None else own_limb(
        asked.kind, asked.id, asked.salt, asked.side)  # fmt: skip
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
    from rigkit.classroom import read_roster
    from rigkit.openings import hand_out, hand_out_all

    if asked.roster:
        given = hand_out_all(asked.exercise, read_roster(asked.roster), asked.out)
        print(f"{_count(given, 'folder')}, each with a limb of its own and no key, in {Path(asked.out).name}.")
        return WRITTEN
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
    from rigkit.files.handin import read_handin
    from rigkit.gathered import shown_name
    from rigkit.standing import answered, recognised

    path = Path(file)
    layout = answered(read_handin(path, shown_name(path.name)), _answers(asked))
    return recognised(layout, _exercise_of(asked, layout.id)) if asked.exercise else (layout, ())


def _exercise_of(asked: argparse.Namespace, student: str):
    """The exercise in which a student worked: the one there is, or the one with the student's own limb."""
    from rigkit.own_limbs import OwnLimbs, read_class_exercise

    found = read_class_exercise(asked.exercise)
    return found.of(student) if isinstance(found, OwnLimbs) else found


def _export(asked: argparse.Namespace) -> int:
    from rigkit.carry import carry_out

    layout, told = _read(asked, asked.file)
    out = carry_out(layout, _exercise_of(asked, layout.id), asked.out)
    for notice in (*layout.notices, *told):
        print(f"Noticed: {notice}")
    print(f"{_count(layout.skeleton.names, 'joint')}, the mesh and skin weights were written to {out.name}.")
    return WRITTEN


def _after(asked: argparse.Namespace) -> int:
    from rigkit import after_marking
    from rigkit.classroom import mark_class

    def room():
        return mark_class(asked.handins, asked.exercise, asked.rubric, jobs=asked.jobs, answers=_answers(asked),
                          pattern=asked.id_pattern, told=_counting(), anyway=asked.anyway)  # fmt: skip

    print("\n".join(getattr(after_marking, asked.run)(asked, room)))
    return WRITTEN


RUN = {"mark": _mark, "look": _look, "export": _export, "limb": _limb, "exercise": _exercise, "hand-out": _hand_out,
       "agree": _after, "alike": _after}  # fmt: skip

if __name__ == "__main__":
    sys.exit(main())
