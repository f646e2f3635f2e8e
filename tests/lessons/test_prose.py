"""The words of the course: spelling, sentences that end, and words that mean one thing and are told before they are used."""

import ast
import re
import subprocess
import sys
from collections import defaultdict

import nbformat
import pytest

from tests.lessons.books import BOOKS, LESSONS, read
from tests.lessons.sheets import one_line, words_of

ROOT = LESSONS.parent
LONGEST = 40  # words in a sentence: about three lines on a page, more than a reader should have to keep in mind
RIGHT_AS_THEY_ARE = ("aways", "postion", "retuned")  # names in the code, and a slip that a docstring tells of
# Bold for other reasons than to tell a word: the notebook, the word, and why.
NO_TERM = {("03_name_and_side.ipynb", "pelvis"): "an answer that is asked for"}
SHEETS = sorted(path.name for path in LESSONS.glob("*.ipynb"))


def prose_of(name: str) -> list[tuple[str, str]]:
    """Each Markdown cell of a notebook by its id, without code and pictures of code."""
    cells = [cell for cell in nbformat.read(LESSONS / name, as_version=4).cells if cell.cell_type == "markdown"]
    return [(cell.id, re.sub(r"```.*?```", "", cell.source, flags=re.S)) for cell in cells]


def sentences(text: str) -> list[str]:
    """The sentences of a Markdown text: of its paragraphs, bullets and headings, without its tables."""
    kept = [line for line in text.splitlines() if not line.startswith("|")]
    blocks = re.split(r"\n\s*\n|\n(?=\s*(?:[-#]|\d+\.) )", "\n".join(kept))
    plain = [re.sub(r"`[^`]*`", "code", re.sub(r"\]\([^)]*\)", "]", one_line(block))) for block in blocks]
    abbreviated = [re.sub(r"\b(al|St|e\.g|i\.e)\. ", r"\1 ", block) for block in plain]
    return [one for block in abbreviated for one in re.split(r"(?<=[.!?])[*\")]*\s+", block) if one]


def docstrings() -> dict[str, str]:
    """The docstrings and comments of each module of rigkit."""
    told = {}
    for path in sorted((ROOT / "rigkit").rglob("*.py")):
        text = path.read_text(encoding="utf-8")
        nodes = [n for n in ast.walk(ast.parse(text)) if isinstance(n, (ast.Module, ast.ClassDef, ast.FunctionDef))]
        comments = re.findall(r"#\s(.+)$", text, re.M)
        told[str(path.relative_to(ROOT))] = "\n".join([ast.get_docstring(n) or "" for n in nodes] + comments)
    return told


def slips(folder) -> list[str]:
    """What the spelling checker says of the texts in a folder."""
    command = [sys.executable, "-m", "codespell_lib", "--ignore-words-list", ",".join(RIGHT_AS_THEY_ARE), "."]
    result = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False)
    assert result.returncode in (0, 65), result.stderr  # 65: slips were found
    return result.stdout.splitlines()


def test_nothing_is_misspelt(tmp_path):
    texts = {f"{name}.txt": "\n".join(text for _, text in prose_of(name)) for name in SHEETS}
    texts |= {f"{name}.txt": (ROOT / name).read_text(encoding="utf-8") for name in ("README.md", "DEVELOPERS.md")}
    texts |= {name.replace("/", "-") + ".txt": text for name, text in docstrings().items()}
    texts["findings.toml.txt"] = (ROOT / "data" / "findings.toml").read_text(encoding="utf-8")
    for name, text in texts.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    assert slips(tmp_path) == []


def test_a_slip_in_spelling_is_noticed(tmp_path):
    (tmp_path / "page.txt").write_text("The middle of teh flesh, measured seperately.", encoding="utf-8")
    said = "\n".join(slips(tmp_path))
    assert "teh ==> the" in said and "seperately ==> separately" in said


@pytest.mark.parametrize("name", SHEETS)
def test_no_sentence_is_too_long(name):
    long = [
        f"{cell}, {len(one.split())} words: {one}"
        for cell, text in prose_of(name)
        if cell != "words"
        for one in sentences(text)
        if len(one.split()) > LONGEST
    ]
    assert long == []


def test_sentences_are_told_apart():
    text = "# Head\n\nOne two. (Three.) *Four?* Wu et al. 2005 say so.\n- five\n- six\n\n| seven | eight |\n"
    assert [len(one.split()) for one in sentences(text)] == [2, 2, 1, 1, 6, 2, 2]


def test_no_two_lessons_tell_a_word_differently():
    told = defaultdict(set)
    for name in BOOKS:
        for word in words_of(name):
            for term in word.terms:
                told[term.lower()].add((word.head, word.meaning))
    assert {term: sorted(meanings) for term, meanings in told.items() if len(meanings) > 1} == {}


def test_a_word_is_told_in_the_first_lesson_that_prints_it_bold():
    first: dict[str, str] = {}
    for name in BOOKS:
        for word in words_of(name):
            for term in word.terms:
                first.setdefault(term.lower(), name)
    early = [
        f"{name}, {cell}: {term} is a word to know of {first[term]}"
        for name in BOOKS
        for cell, text in prose_of(name)
        for term in {one_line(bold).lower() for bold in re.findall(r"\*\*(.+?)\*\*", text, re.S)}
        if first.get(term, name) > name and (name, term) not in NO_TERM
    ]
    assert early == []


@pytest.mark.parametrize("name", BOOKS)
def test_each_word_to_know_is_used_in_its_lesson(name):
    prose = one_line(" ".join(text for cell, text in prose_of(name) if cell != "words")).lower()
    prose += " ".join(cell.source for cell in read(name).cells if cell.cell_type == "code").lower()
    for word in words_of(name):
        for term in word.terms:
            for part in re.findall(r"[\w-]{3,}", re.sub(r"\(.*\)", "", term).lower()):
                assert part in prose, f"{term} is not used in {name}"
