"""The form of a lesson: enough prose, short cells, words on every picture, links that lead somewhere."""

import re
import statistics

import pytest

from rigkit.tables import data_folder, read_table
from tests.lessons.books import BOOKS, LESSONS, NOT_YET, read, stored_json, tags

TITLE = re.compile(r"^# (?:Lesson|Instructor) (\d+|[A-Z]) · (.+)$", re.M)
lessons = pytest.mark.parametrize("name", BOOKS)


@lessons
def test_prose_and_short_cells(name):
    cells = read(name).cells
    code = [cell for cell in cells if cell.cell_type == "code"]
    lengths = [len(cell.source.splitlines()) for cell in code]
    assert 25 <= len(cells) <= 45
    assert len(code) < len(cells) / 2
    assert statistics.median(lengths) <= 3 and max(lengths) <= 12


@lessons
def test_title_file_name_and_readme_agree(name):
    number, title = TITLE.search(read(name).cells[0].source).groups()
    begins, words = number.zfill(2) if number.isdecimal() else number, re.sub(r"[- ]", "_", title.lower())
    assert name == f"{begins}_{words.replace(',', '')}.ipynb"
    readme = (LESSONS.parent / "README.md").read_text()
    assert f"[{number} {title}](lessons/{name})" in readme
    contents = (LESSONS / "contents.ipynb").read_text(encoding="utf-8")
    assert f"[{number} · {title}]({name})" in contents


@lessons
def test_previous_and_next_lead_to_the_neighbours(name):
    """The last cell links the lessons before and after; the first ones say how long it takes and what you will be able to do."""
    book = read(name)
    kind = [one for one in BOOKS if one[0].isdecimal() == name[0].isdecimal()]  # lessons lead to lessons
    place = kind.index(name)
    links = re.findall(r"\]\(([^)#]+\.ipynb)\)", book.cells[-1].source)
    links.remove("contents.ipynb")
    assert links == [kind[i] for i in (place - 1, place + 1) if 0 <= i < len(kind)]
    head = "\n".join(cell.source for cell in book.cells[:2])
    assert "minutes" in head and "you will be able to" in head.lower()


@lessons
def test_links_in_prose_lead_to_files(name):
    for cell in read(name).cells:
        if cell.cell_type == "markdown":
            for target in re.findall(r"\]\(([^)#:]+)\)", cell.source):
                assert (LESSONS / target).exists(), target
            assert "![](" not in cell.source and "<img" not in cell.source, "a picture without words"


@lessons
def test_outputs_are_stored_and_clean(name):
    """nbval passes in silence where outputs were cleared: every cell that is compared must have kept its own."""
    book = stored_json(name)
    for cell in book["cells"]:
        if cell["cell_type"] != "code":
            continue
        text = str(cell["outputs"])
        tags_ = set(cell["metadata"].get("tags", []))
        assert cell["outputs"] or not {"check", "compared"} & tags_, f"{cell['id']} was cleared: nothing is compared"
        told = [one for one in cell["outputs"] if NOT_YET not in str(one)]
        assert not told or "after-guess" not in tags_, f"{cell['id']} tells what should be guessed first"
        # nbval wants the count where there is an output; elsewhere it would say that the cell was run
        assert (cell["execution_count"] is not None) == bool(cell["outputs"]), cell["id"]
        assert "np.float64" not in text and " at 0x" not in text and "Traceback" not in text, cell["id"]
        assert not re.search(r"/(home|root|tmp|Users)/", text), f"{cell['id']} shows a path of one machine"
    assert any("check" in tags(cell) for cell in read(name).cells), "a lesson ends in something checked"


@lessons
def test_every_picture_has_words(name):
    for cell in stored_json(name)["cells"]:
        for output in cell.get("outputs", []):
            html = "".join(output.get("data", {}).get("text/html", ""))
            for picture in re.findall(r"<img[^>]*>", html):
                assert re.search(r'alt="[^"]{20,}"', picture), picture[:80]
            for drawing in re.findall(r"<svg[^>]*>", html):
                assert re.search(r'aria-label="[^"]{10,}"|aria-hidden="true"', drawing), drawing[:80]


@lessons
def test_nothing_is_fetched_installed_or_imported_by_stealth(name):
    for cell in read(name).cells:
        if cell.cell_type == "code":
            assert not re.search(r"import \*|pip install|https?://|^[%!]", cell.source, re.M), cell.id


@lessons
def test_a_guess_is_asked_before_its_outcome_is_told(name):
    """`predict` comes first, `compare` with the same key later, and what tells the outcome is not stored."""
    asked = set()
    for cell in read(name).cells:
        if cell.cell_type == "code":
            told = re.findall(r'compare\(\s*"([\w-]+)"', cell.source)
            assert set(told) <= asked, f"{cell.id} tells the outcome of a guess that was not asked for"
            assert not told or "after-guess" in tags(cell), f"{cell.id} would be stored with its outcome"
            asked |= set(re.findall(r'predict\(\s*"([\w-]+)"', cell.source))


def test_no_cell_tells_an_outcome_before_the_guess():
    """What happened stands in a file of its own, an outcome for each guess that is compared; or a cell works it out."""
    told = {key for key in read_table(data_folder() / "outcomes.toml") if key != "format"}
    bare, keys = set(), set()
    for name in BOOKS:
        for cell in read(name).cells:
            if cell.cell_type == "code":
                bare |= set(re.findall(r'compare\("([\w-]+)"\)', cell.source))
                keys |= set(re.findall(r'predict\(\s*"([\w-]+)"', cell.source))
                assert not re.search(r'compare\(\s*"[\w-]+",\s*"', cell.source), cell.id
    assert bare == told and told <= keys


def test_no_two_guesses_share_a_key():
    """Guesses are kept in one file, by key."""
    sources = "\n".join(cell.source for name in BOOKS for cell in read(name).cells if cell.cell_type == "code")
    keys = re.findall(r'predict\(\s*"([\w-]+)"', sources)
    assert len(keys) == len(set(keys)) >= len(BOOKS)
