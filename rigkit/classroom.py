"""Classroom: files, folders and zips of hand-ins give a Class of Results, sorted; the same on any number of jobs."""

import re
from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from functools import partial
from pathlib import Path

from rigkit.files.exercise import Exercise
from rigkit.files.handin import read_handin
from rigkit.files.layout import plain_text
from rigkit.files.rubrics import Rubric, read_rubric
from rigkit.gathered import Found, Pattern, find_handins, id_of, named_by, shown_name
from rigkit.glance import NOT_COUNTED, NOT_EXPECTED, strangers
from rigkit.gradebook import gradebook_csv, results_json, safe, write_class
from rigkit.kept import Kept, as_bytes, from_bytes, world_of
from rigkit.many import in_order, processes
from rigkit.marking import Class, Result, mark
from rigkit.own_limbs import EXAMPLE, OwnLimbs, read_class_exercise
from rigkit.require import RigError, shown
from rigkit.rubric_place import agree
from rigkit.spots import spots_of
from rigkit.standing import answered
from rigkit.tables import data_folder, read_rows
from rigkit.word import MARK, Word, set_by_word, with_words

__all__ = ["find_handins", "gradebook_csv", "lines_of", "mark_class", "mark_file", "read_roster", "results_json",
           "safe", "shown_name", "write_class"]  # fmt: skip

UNFORESEEN = (ArithmeticError, AttributeError, LookupError, MemoryError, RecursionError, TypeError, ValueError)
SOME = 3  # hand-ins for another exercise: one or two may have gone astray, so the class is marked for all that
MOST_LISTED = 20  # ids or files told in lines
ODD = re.compile(r"[^\w .,@+'-]")  # signs that an id hardly has, as those of a copied file's name, "Arm (1)"
Told = Callable[[str, int, int], None]
"""Takes how far something has come: what is done, how many of them, of how many."""


def mark_file(label: str, path: Path, exercise: Exercise | OwnLimbs, rubric: Rubric | None = None,
              answers: Mapping[str, str] | None = None, pattern: Pattern | None = None) -> Result:  # fmt: skip
    """Mark one file; whatever goes wrong gives an unreadable Result with its reason, never an error. `answers` are of
    units, up and facing, for a file that does not say so itself; `pattern` how file names say whose they are."""
    try:
        layout = answered(named_by(read_handin(path, label), label, pattern), answers or {})
        asked = exercise.of(layout.id) if isinstance(exercise, OwnLimbs) else exercise
        result = mark(layout, asked, rubric, label, after=True)
        return replace(result, spots={} if result.skeleton is None else spots_of(result.skeleton, asked))
    except RigError as error:
        reason = str(error)
    except UNFORESEEN as error:  # the last net: one hand-in must never stop the others
        reason = f"{label}: it could not be marked ({type(error).__name__}). Please pass the file on to the instructor."
    return Result(id_of(label, pattern), label, "unreadable", reason, attempt=-1)


_loaded: dict[str, Callable[[str, Path], Result]] = {}


def _load(folder: str, rubric: str | None, answers: Mapping[str, str] | None, pattern: str) -> None:
    _loaded["now"] = partial(
        mark_file, exercise=read_class_exercise(folder), rubric=read_rubric(rubric) if rubric else None,
        answers=answers, pattern=Pattern(pattern) if pattern else None,
    )  # fmt: skip


def _mark_loaded(job: tuple[str, Path]) -> bytes:
    return as_bytes(_loaded["now"](*job))


def mark_class(
    given: Iterable[str | Path], folder: str | Path, rubric: str | Path | None = None, *, jobs: int | None = 1,
    roster: Iterable[str] | None = None, out: Path | None = None, answers: Mapping[str, str] | None = None,
    words: Mapping[str, tuple[Word, ...]] | None = None, pattern: str = "", told: Told | None = None,
    anyway: bool = False,
) -> Class:  # fmt: skip
    """Mark all hand-ins among files, folders and zips for the exercise in `folder`.

    `rubric` is a file, or a bundled rubric's name; `jobs` processes share the work (None: one for each core) and change
    nothing else; `roster` holds the ids that are expected; `answers` are as in `mark_file`; `words` the instructor's,
    by id, which hold for the hand-in of an id that counts; `pattern` tells ids from file names (see `Pattern`);
    `anyway` marks them also where most say that they are for another exercise.
    With `out`, results are kept in a hidden file there as they come, so that a second call goes on where a first was
    stopped; `write_class` removes it. Raises RigError for an unusable exercise, rubric or path; OSError where `out`
    cannot be written.
    """
    exercise, naming = read_class_exercise(folder), Pattern(pattern) if pattern else None
    own = exercise if isinstance(exercise, OwnLimbs) else None
    example = exercise.of(EXAMPLE) if isinstance(exercise, OwnLimbs) else exercise
    judged_by = _rubric(rubric) if rubric else example.rubric
    agree(example, judged_by)
    work, passed = find_handins(given, out)
    if not anyway:
        _for_this(work, exercise.id)
    told = told or (lambda what, done, whole: None)
    many = processes(jobs, len(work))
    results: list[Result] = []
    if out is None and many <= 1:
        for label, path in work:
            results.append(mark_file(label, path, exercise, judged_by, answers, naming))
            told("Marked", len(results), len(work))
    else:
        world = "" if out is None else world_of(Path(folder), example.own_files, judged_by.sha256,
                                                sorted((answers or {}).items()), pattern)  # fmt: skip
        kept = None if out is None else Kept(out, world)
        try:
            results = _marked(work, kept, many, (str(folder), str(rubric) if rubric else None, answers, pattern), told)
        finally:
            if kept is not None:
                kept.close()
    return _class(results, exercise.id, exercise.title, judged_by, roster, words, passed,
                  None if own else example, own)  # fmt: skip


def _rubric(name: str | Path) -> Rubric:
    path = Path(name)
    if path.suffix == "" and path.name == str(name):
        there = sorted(one.stem for one in (data_folder() / "rubrics").glob("*.toml"))
        if path.name not in there:
            raise RigError(f"one of {', '.join(there)}, or a file ending in .toml", shown(path.name),
                           where="the rubric")  # fmt: skip
    return read_rubric(name)


def _for_this(work: Found, name: str) -> None:
    """Refuse hand-ins of which most say that they are for another exercise."""
    said: Counter[str] = Counter()
    for label, path in work:
        if label.lower().endswith(".json"):  # a glTF file cannot say so
            try:
                said[read_handin(path, label).exercise] += 1
            except (RigError, *UNFORESEEN):  # told when it is marked
                continue
    others = [(one, count) for one, count in said.most_common() if one not in ("", name)]
    count = sum(count for _, count in others)
    if count >= SOME and 2 * count > len(work):
        theirs = others[0][0]
        got = f"{count} of {len(work)} for {theirs}{' and others' if len(others) > 1 else ''}"
        raise RigError(f"hand-ins for {name}", got, "the exercise is not theirs", "Nothing was written. Mark them for "
                       f"{theirs}; or, if it is meant, all the same with --anyway (anyway=True in Python)",
                       "the hand-ins")  # fmt: skip


def _marked(work: list[tuple[str, Path]], kept: Kept | None, many: int, arguments: tuple, told: Told) -> list[Result]:
    """The results of all hand-ins, those that were kept taken as they are, and the others kept as they come."""
    keys = ["" if kept is None else kept.key(*one) for one in work]
    results = [None if kept is None else kept.result(key) for key in keys]
    left = [number for number, one in enumerate(results) if one is None]
    came = in_order(_mark_loaded, [work[number] for number in left], many, _load, arguments) if left else iter(())
    for done, (number, data) in enumerate(zip(left, came, strict=True), len(work) - len(left) + 1):
        if kept is not None:
            kept.keep(keys[number], data)
        results[number] = from_bytes(data, packed=kept is not None)
        told("Marked", done, len(work))
    return [one for one in results if one is not None]


def _class(
    results: list[Result], name: str, title: str, rubric: Rubric, roster: Iterable[str] | None,
    words: Mapping[str, tuple[Word, ...]] | None, passed: list[tuple[str, str]], asked: Exercise | None,
    own: OwnLimbs | None,
) -> Class:  # fmt: skip
    """The class of these results: which of an id counts, the instructor's words, who is absent or not expected."""
    expected = None if roster is None else set(roster)
    results.sort(key=lambda one: (one.id, one.file))
    counting = {one.id: one for one in sorted(results, key=lambda one: (one.attempt, one.file))}
    for number, one in enumerate(results):
        counts = counting[one.id] is one
        if counts and one.id in (words or {}):
            one = with_words(one, (words or {})[one.id])
        if expected is not None and one.id not in expected:
            one = replace(one, notices=(*one.notices, NOT_EXPECTED))
        if counts:
            counting[one.id] = one
        else:
            words_of = f"{NOT_COUNTED} of this id {counting[one.id].file} counts."
            one = replace(one, notices=(*one.notices, words_of))
        results[number] = one
    absent = None if expected is None else tuple(sorted(expected - set(counting)))
    return Class(name, title, rubric, tuple(results), tuple(counting[name] for name in sorted(counting)), absent,
                 tuple(passed), asked, own)  # fmt: skip


def read_roster(path: str | Path) -> tuple[str, ...]:
    """The ids of a roster, a CSV file with a column named id. Raises RigError."""
    where = shown_name(Path(path).name)
    table = read_rows(path, "a roster", where)
    if "id" not in table.names:
        raise RigError("a column named id", f"columns {', '.join(table.names) or 'none'}", where=where)
    ids = (plain_text(row["id"], "", []).strip() for _, row in table.rows)  # as ids in hand-ins are read
    return tuple(name for name in ids if name)


def lines_of(room: Class, pattern: str = "") -> list[str]:
    """What came of a class, in lines: how many, what could not be read and why, what did not count, who is absent or
    not on the roster, ids that look odd, what was passed over. pattern: as in `mark_class`."""
    unread = [one for one in room.results if one.reason]
    by_word = [one.id for one in room.results if MARK in set_by_word(one)]
    lines = [f"{_many(len(room.results), 'hand-in')}: {len(room.results) - len(unread)} marked, {len(unread)} could "
             "not be read."]  # fmt: skip
    lines += [f"  {' '.join(one.reason.split())}" for one in unread]
    counts = {one.id: one for one in room.counting}
    lines += [f"  {one.file}: not counted, since {counts[one.id].file} has the same id, {one.id}."
              for one in room.results if counts[one.id] is not one]  # fmt: skip
    lines += [f"The mark by your own word: {_some(by_word)}."] if by_word else []
    if room.absent is not None:
        lines.append(f"On the roster, not handed in: {_some(room.absent)}.")
        strange = [f"{name} (the roster has {like})" if like else name for name, like in strangers(room).items()]
        lines.append(f"Handed in, not on the roster: {_some(strange)}.")
    if pattern and room.results:
        named = Pattern(pattern)
        off = [one.file for one in room.results if named.read(one.file) is None]
        one = next((one for one in room.results if one.file not in off), None)
        fits = f"so {one.file} is of {one.id}" if one else "which no file's name fits"
        lines.append(f"Ids by {pattern}, {fits}. Names that do not fit: {_some(off)}.")
    expected = room.counting if room.absent is None else [one for one in room.counting if NOT_EXPECTED in one.notices]
    odd = [f"{one.id} ({one.file})" for one in expected if ODD.search(one.id)]
    lines += [f"Odd ids, by the files' names or in them: {_some(odd)}."] if odd else []
    passed = room.passed_over
    lines += [f"{_many(len(passed), 'file')} passed over:"] if passed else []
    lines += [f"  {file}: {reason}." for file, reason in passed[:MOST_LISTED]]
    lines += [f"  and {len(passed) - MOST_LISTED} more, listed in results.json."] if len(passed) > MOST_LISTED else []
    nothing = "There was nothing to mark: a hand-in is a file ending in .json, .glb or .gltf."
    return [shown_name(line) for line in (lines if room.results else [*lines, nothing])]


def _many(count: int, word: str) -> str:
    return f"{count} {word}{'' if count == 1 else 's'}"


def _some(names: Iterable[str]) -> str:
    """How many, and the first of them."""
    names = list(names)
    more = f" and {len(names) - MOST_LISTED} more" if len(names) > MOST_LISTED else ""
    return f"{len(names)} ({', '.join(names[:MOST_LISTED])}{more})" if names else "none"
