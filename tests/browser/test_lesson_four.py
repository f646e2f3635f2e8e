"""Lesson 4 in a real JupyterLab: the elbow's slider leads from wrong over cannot tell to right, all shown."""

import json
import time

import pytest

from tests.browser.conftest import PATIENCE, open_and_run

LESSON = "04_make_it_bend_the_right_way.ipynb"
VERDICTS = ("wrong way", "too straight to tell", "right way")
OWN = """from rigkit.lesson import open_bench
bench = open_bench("left-arm", start="forward", lesson="04", controls=("place", "flex", "bend"))
bench"""
PRESSES = 60  # from 15 mm in front of the line it takes 18 presses to lie clear behind it


@pytest.fixture
def notebook(lab):
    """Lesson 4; where it is not in the lessons folder, a notebook of one cell that opens the same bench."""
    if not (lab.folder / LESSON).exists():
        cell = {"cell_type": "code", "id": "one", "execution_count": None, "metadata": {}, "outputs": [], "source": OWN}
        kernel = {"kernelspec": {"name": "python3", "display_name": "Python 3", "language": "python"}}
        content = {"cells": [cell], "metadata": kernel, "nbformat": 4, "nbformat_minor": 5}
        (lab.folder / LESSON).write_text(json.dumps(content))
    return LESSON


def until(page, look, what):
    """Wait until `look()` gives something."""
    end = time.monotonic() + PATIENCE
    while time.monotonic() < end:
        found = look()
        if found:
            return found
        page.wait_for_timeout(20)
    raise AssertionError(f"waited for {what} in vain")


def test_the_elbow_goes_from_wrong_over_cannot_tell_to_right(lab, page, notebook, artefacts):
    open_and_run(page, lab, notebook)
    handle = page.locator(".rigkit-forward .noUi-handle").first
    handle.wait_for(timeout=PATIENCE * 1000)
    bench = page.locator(".widget-vbox", has=page.locator(".rigkit-forward")).first
    plate = bench.locator("svg[role=img][aria-label^=Side]").first
    words = bench.locator("[role=status]").first
    plate.wait_for(timeout=PATIENCE * 1000)
    handle.scroll_into_view_if_needed()

    def verdict():
        said = [one for one in VERDICTS if one in words.inner_text()]
        assert len(said) == 1
        return said[0]

    until(page, lambda: verdict() == VERDICTS[0], "the first verdict")
    seen, pictures = [verdict()], [plate.evaluate("e => e.outerHTML")]
    page.screenshot(path=artefacts / "lesson-4-wrong.png")
    handle.focus()
    for _ in range(PRESSES):
        before = words.inner_text()
        page.keyboard.press("ArrowLeft")
        until(page, lambda before=before: words.inner_text() != before or verdict() == VERDICTS[2], "the words")
        picture = plate.evaluate("e => e.outerHTML")
        assert picture != pictures[-1]
        pictures.append(picture)
        if verdict() != seen[-1]:
            seen.append(verdict())
            assert seen[-1] in plate.get_attribute("aria-label")
            page.screenshot(path=artefacts / f"lesson-4-{seen[-1].replace(' ', '-')}.png")
        if seen[-1] == VERDICTS[2]:
            break
    assert seen == list(VERDICTS)
    pull = page.get_by_role("spinbutton", name="pulled").first
    if pull.count():
        pull.fill("60")
        pull.press("Enter")
        until(page, lambda: "✓ right way" in (plate.text_content() or ""), "the pulled limb")
        page.screenshot(path=artefacts / "lesson-4-pulled.png")
    assert page.get_by_role("spinbutton", name="forward").first.input_value() == str(1 - len(pictures))
