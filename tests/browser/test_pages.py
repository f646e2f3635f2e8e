"""The pages of a class full of markup, opened from the disk in Chromium: no script runs, nothing is fetched, nothing but
rigkit's own stands in them.
"""

import csv
import json
from dataclasses import replace
from pathlib import Path

import pytest

from rigkit.__main__ import main
from rigkit.files.layout import Layout, write_layout
from tests.arms import FOLDER, arm, shifted

pytestmark = pytest.mark.xdist_group("lab")  # one browser for all browser tests
PAYLOADS = (
    "<script>hit(1)</script>", "<img src=x onerror=hit(1)>", '"><img src=x onerror=hit(1)>', "'><svg onload=hit(1)>",
    "</title><script>hit(1)</script>", "</style><img src=x onerror=hit(1)>", "--><body onload=hit(1)>",
    "<iframe srcdoc='<script>parent.hit(1)</script>'>", "<img src=http://127.0.0.1:9/x>", "<link rel=stylesheet href=http://127.0.0.1:9/x>",
    "<details open ontoggle=hit(1)>x", "<a href=javascript:hit(1)>here</a>", "</details></table><b>bold</b>", "&lt;b&gt;",
)  # fmt: skip
QUIET = (10, 11, 12, 13)  # these wait for a click, or only stand there
CANARY = """() => { window.hits = 0; window.hit = () => { window.hits += 1; };
  for (const name of ['alert', 'confirm', 'prompt', 'open']) window[name] = window.hit; }"""
FOREIGN = """() => [...document.querySelectorAll('*')].flatMap(one => {
  const own = !/^(script|img|image|iframe|object|embed|link|base|form|input|button|video|audio|b|template|foreignobject)$/i.test(one.localName);
  const odd = [...one.attributes].filter(has => /^on|^srcdoc|^formaction|^xlink/i.test(has.name) || /javascript:|\\/\\/127/i.test(has.value)
    && !/^(aria-label|title)$/.test(has.name));
  return own && !odd.length ? [] : [one.outerHTML.slice(0, 120)]; })"""
TAGS = "() => [...new Set([...document.querySelectorAll('*')].map(one => one.localName))].sort()"


def written(home: Path, texts, *more: str) -> Path:
    """A class marked whose ids, joint names, unknown keys, folders, file names, roster and notes are these texts."""
    key = arm().key.skeleton
    for number, text in enumerate(texts):
        joints = replace(shifted("elbow", (0, 0, 8 * number % 50)).skeleton, names=(text[:60], *key.names[1:]))
        table = json.loads(write_layout(Layout(text, "left-arm", 1, joints))) | {text: 1}
        safe = text.replace("/", "\u2215")
        folder = home / "in" / safe
        folder.mkdir(parents=True)
        (folder / f"{safe}{number}.json").write_text(json.dumps(table), "utf-8")
        (folder / f"{safe}.txt").write_text("notes", "utf-8")
        (folder / f"cut {safe}.json").write_text("{", "utf-8")
    for name, rows in {"roster": [["id"], *([f"{text} absent"] for text in texts)],
                       "words": [["id", "criterion", "value", "note"], *([text, "mark", "50", text] for text in texts)]}.items():  # fmt: skip
        with (home / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows(rows)
    assert main(["mark", str(home / "in"), "--exercise", str(FOLDER), "--out", str(home / "out"), "--roster", str(home / "roster.csv"),
                 "--words", str(home / "words.csv"), *more]) == 0  # fmt: skip
    return home / "out"


@pytest.fixture(scope="module")
def opened(browser):
    """What a page does when it is opened and all in it is unfolded: a function of its path."""
    page, heard = browser.new_page(), {}
    page.add_init_script(f"({CANARY})()")
    page.on("request", lambda asked: heard["asked"].append(asked.url))
    page.on("console", lambda said: heard["said"].append(said.text))
    page.on("pageerror", lambda said: heard["said"].append(str(said)))
    page.on("dialog", lambda shown: (heard["said"].append("a dialog"), shown.dismiss()))

    def look(path: Path) -> dict:
        heard.update(asked=[], said=[])
        page.goto(path.as_uri())
        page.evaluate("() => document.querySelectorAll('details').forEach(one => { one.open = true; })")
        page.wait_for_timeout(20)
        return heard | {"hits": page.evaluate("window.hits"), "foreign": page.evaluate(FOREIGN), "tags": page.evaluate(TAGS),
                        "text": page.inner_text("body"), "url": page.url}  # fmt: skip

    yield look
    page.close()


@pytest.mark.parametrize("number", [n for n in range(len(PAYLOADS)) if n not in QUIET])
def test_the_canary_sings_where_markup_is_alive(opened, tmp_path, number):
    """Each text, as it is in a page, runs a script or asks a host; else it proves nothing below."""
    (tmp_path / "a.html").write_text(
        f"<!doctype html><title>{PAYLOADS[number]}</title><style></style>{PAYLOADS[number]}", "utf-8"
    )
    heard = opened(tmp_path / "a.html")
    assert heard["hits"] or len([one for one in heard["asked"] if "127.0.0.1" in one])
    assert heard["foreign"]


@pytest.mark.parametrize("more", [(), ("--aliases", "--id-pattern", "{any}/{id}")])
def test_no_script_runs_and_nothing_leaves(opened, tmp_path, more):
    (tmp_path / "plain").mkdir()
    plain = written(tmp_path / "plain", ["wren", "teasel", "avens"], *more)
    out = written(tmp_path, PAYLOADS, *more)
    own = {tag for path in plain.rglob("*.html") for tag in opened(path)["tags"]}
    pages = sorted(out.rglob("*.html"))
    assert len(pages) > len(PAYLOADS)
    seen = {}
    for path in pages:
        heard = opened(path)
        assert heard["hits"] == 0 and heard["said"] == [] and heard["foreign"] == [], path.name
        assert heard["asked"] == [path.as_uri()] and heard["url"] == path.as_uri()
        assert set(heard["tags"]) <= own, path.name
        seen[path.name] = heard["text"]
    shown = "\n".join(seen.values())
    for text in PAYLOADS:  # as words, signs and all
        assert text[:60] in shown
        if not more:
            assert f"{text} absent" in seen["class.html"]
