"""Lesson 4 in a real JupyterLab: the elbow's slider leads from wrong over cannot tell to right, all shown."""

from io import BytesIO

import pytest
from PIL import Image

from rigkit.picture import DARK, LIGHT
from tests.browser.conftest import PATIENCE, open_and_run, until

pytestmark = pytest.mark.xdist_group("lab")  # one server for all browser tests
LESSON = "04_make_it_bend_the_right_way.ipynb"
VERDICTS = ("wrong way", "too straight to tell", "right way")
PRESSES = 60  # from 15 mm in front of the line it takes 18 presses to lie clear behind it


def test_the_elbow_goes_from_wrong_over_cannot_tell_to_right(lab, page, artefacts):
    open_and_run(page, lab, LESSON)
    handle = page.locator(".rigkit-forward .noUi-handle").first
    handle.wait_for(timeout=PATIENCE * 1000)
    bench = page.locator(".widget-vbox", has=page.locator(".rigkit-forward")).first
    plate = bench.locator("svg[role=img][aria-label^=Side]").first
    words = bench.locator("[role=status]").first
    plate.wait_for(timeout=PATIENCE * 1000)
    bench.evaluate("e => e.scrollIntoView({block: 'start'})")  # so that screenshots show the whole bench

    def verdict():
        text = words.inner_text()
        said = [one for one in VERDICTS if one in text]
        assert len(said) <= 1, text
        return said[0] if said else None  # none: the panel is still empty

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


def test_the_work_is_there_again_after_a_kernel_restart(lab, page):
    open_and_run(page, lab, LESSON)
    forward = page.get_by_role("spinbutton", name="forward").first
    forward.wait_for(timeout=PATIENCE * 1000)
    forward.fill("-33")
    forward.press("Enter")
    words = page.locator("[role=status]").first
    until(page, lambda: "in the middle:" in words.inner_text(), "the elbow in its place")
    page.evaluate("() => { window.jupyterapp.commands.execute('notebook:restart-run-all'); }")
    page.locator(".jp-Dialog .jp-mod-accept").click()
    until(page, lambda: "Your saved work was opened" in page.locator("[role=status]").first.inner_text(), "the work")
    assert page.get_by_role("spinbutton", name="forward").first.input_value() == "-33"


def test_stills_and_answers_follow_a_dark_theme(lab, page, artefacts):
    open_and_run(page, lab, LESSON)
    still, answer = page.locator("img[alt^='Side view']").first, page.get_by_text("You have not guessed yet").first
    still.wait_for(timeout=PATIENCE * 1000)
    answer.wait_for(timeout=PATIENCE * 1000)

    def papers() -> list[tuple[int, ...]]:
        """The colour just inside the corner of each."""
        shots = [Image.open(BytesIO(one.screenshot())).convert("RGB") for one in (still, answer)]
        return [shot.getpixel((shot.width - 4, 3)) for shot in shots]

    for theme, style in (("JupyterLab Dark", DARK), ("JupyterLab Light", LIGHT)):
        page.evaluate("theme => window.jupyterapp.commands.execute('apputils:change-theme', {theme})", theme)
        paper = tuple(int(style.paper[at : at + 2], 16) for at in (1, 3, 5))
        until(page, lambda paper=paper: papers() == [paper, paper], theme)
        page.screenshot(path=artefacts / f"stills-{'dark' if style is DARK else 'light'}.png")
        page.wait_for_timeout(2500)  # JupyterLab trips over its own style sheets when themes change too soon
