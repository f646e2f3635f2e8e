"""Each lesson in a real JupyterLab, run as it is: its benches open, nothing is told on the console, and a picture is kept."""

import pytest

from tests.browser.conftest import PATIENCE, open_and_run, until
from tests.lessons.books import BOOKS, read

pytestmark = pytest.mark.xdist_group("lab")  # one server for all browser tests

WITH_BENCH = [name for name in BOOKS if any("open_bench(" in cell.source for cell in read(name).cells)]
LET_PASS = (
    "Connection lost, reconnecting in",
    "Could not restore the debugger state",
)  # JupyterLab's own, as kernels go


@pytest.mark.parametrize("name", WITH_BENCH)
def test_its_bench_opens_and_the_console_stays_quiet(name, lab, page, artefacts):
    heard = []
    page.on("console", lambda said: heard.append(said.text) if said.type in ("error", "warning") else None)
    page.on("pageerror", lambda error: heard.append(str(error)))
    open_and_run(page, lab, name)
    bench = page.locator(".rigkit-bench").first
    bench.locator("svg[role=img]").first.wait_for(timeout=PATIENCE * 1000)
    bench.scroll_into_view_if_needed()
    until(page, lambda: bench.locator("[role=status]").first.inner_text().strip(), "words")
    bench.screenshot(path=artefacts / f"{name.split('_')[0]}-bench.png")
    assert page.locator(".jp-RenderedText[data-mime-type='application/vnd.jupyter.stderr']").count() == 0
    assert [one for one in heard if not one.startswith(LET_PASS)] == []
