"""A real JupyterLab in a folder of its own, and Chromium to look at it; both skip, with a reason, where they cannot."""

import json
import os
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest

LESSONS = Path(__file__).parents[2] / "lessons"
ARGUMENTS = ["--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
             "--disable-background-networking", "--disable-component-update", "--disable-sync"]  # fmt: skip
PATIENCE = 90  # seconds for a server, a kernel or a picture on a busy machine


def chromium() -> str | None:
    """Where Chromium is: env CHROMIUM, Debian's place, or anywhere on the path."""
    named = [os.environ.get("CHROMIUM"), "/usr/bin/chromium"]
    named += [shutil.which(one) for one in ("chromium", "chromium-browser", "google-chrome", "chrome", "msedge")]
    return next((one for one in named if one and Path(one).is_file()), None)


@dataclass(frozen=True)
class Lab:
    """A running JupyterLab: its address and the folder it shows."""

    url: str
    folder: Path


@contextmanager
def running_lab(home: Path) -> Iterator[Lab]:
    """JupyterLab over a copy of the lessons in a folder, with settings and kernel folders of its own, without news."""
    folder = home / "lessons"
    skipped = shutil.ignore_patterns("work", "hand-ins", ".ipynb_checkpoints")
    shutil.copytree(LESSONS, folder, ignore=skipped)
    notices = home / "settings" / "@jupyterlab" / "apputils-extension" / "notification.jupyterlab-settings"
    notices.parent.mkdir(parents=True)
    notices.write_text(json.dumps({"fetchNews": "false", "checkForUpdates": False}))
    env = {name: value for name, value in os.environ.items() if not name.startswith(("JUPYTER", "RIGKIT"))}
    places = {"JUPYTER_CONFIG_DIR": "config", "JUPYTER_DATA_DIR": "data", "JUPYTER_RUNTIME_DIR": "runtime",
              "JUPYTERLAB_SETTINGS_DIR": "settings", "JUPYTERLAB_WORKSPACES_DIR": "workspaces",
              "IPYTHONDIR": "ipython", "MPLCONFIGDIR": "matplotlib"}  # fmt: skip
    env |= {name: str(home / place) for name, place in places.items()}
    with (home / "server.log").open("wb") as log:
        server = subprocess.Popen(
            [sys.executable, "-m", "jupyterlab", "--no-browser", "--allow-root", "--ip=127.0.0.1", "--port=0",
             "--IdentityProvider.token=", "--ServerApp.password=", "--LabApp.expose_app_in_browser=True",
             f"--ServerApp.root_dir={folder}"],
            env=env, stdout=log, stderr=subprocess.STDOUT, cwd=folder,
        )  # fmt: skip
        try:
            yield Lab(_address(home / "runtime", server, home / "server.log"), folder)
        finally:
            server.terminate()
            try:
                server.wait(20)
            except subprocess.TimeoutExpired:
                server.kill()
                server.wait()


@pytest.fixture(scope="session")
def lab(tmp_path_factory) -> Iterator[Lab]:
    """A running JupyterLab."""
    pytest.importorskip("jupyterlab", reason="JupyterLab is not installed")
    with running_lab(tmp_path_factory.mktemp("lab")) as running:
        yield running


def _address(runtime: Path, server: subprocess.Popen, log: Path) -> str:
    until = time.monotonic() + PATIENCE
    while time.monotonic() < until and server.poll() is None:
        for found in runtime.glob("jpserver-*.json"):
            try:
                return json.loads(found.read_text())["url"]
            except (ValueError, KeyError):
                pass  # still being written
        time.sleep(0.2)
    raise RuntimeError("JupyterLab did not start:\n" + log.read_text(errors="replace")[-2000:])


@contextmanager
def running_browser():
    """Chromium, driven by Playwright."""
    driver = pytest.importorskip("playwright.sync_api", reason="Playwright is not installed")
    path = chromium()
    if path is None:
        pytest.skip("no Chromium found: set CHROMIUM to its path, or install Debian's package chromium")
    with driver.sync_playwright() as play:
        opened = play.chromium.launch(executable_path=path, args=ARGUMENTS)
        yield opened
        opened.close()


@pytest.fixture(scope="session")
def browser():
    """A running Chromium."""
    with running_browser() as running:
        yield running


@pytest.fixture
def page(browser):
    """A fresh page, 1280 by 800."""
    opened = browser.new_page(viewport={"width": 1280, "height": 800})
    yield opened
    opened.close()


@pytest.fixture
def artefacts(tmp_path) -> Path:
    """Where screenshots are kept: env RIGKIT_ARTEFACTS, or pytest's folder for this test."""
    folder = Path(os.environ.get("RIGKIT_ARTEFACTS") or tmp_path)
    folder.mkdir(parents=True, exist_ok=True)
    return folder


def write_notebook(path: Path, cells: list[str]) -> None:
    """A notebook of code cells."""
    head = {"cell_type": "code", "metadata": {}, "outputs": [], "execution_count": None}
    kernel = {"display_name": "Python 3 (ipykernel)", "language": "python", "name": "python3"}
    written = [head | {"id": f"cell-{number}", "source": cell.strip()} for number, cell in enumerate(cells)]
    notebook = {"cells": written, "metadata": {"kernelspec": kernel}, "nbformat": 4, "nbformat_minor": 5}
    path.write_text(json.dumps(notebook), encoding="utf-8")


def open_and_run(page, lab: Lab, notebook: str) -> None:
    """Open a notebook and run all its cells; a kernel that is not ready when the order comes would open a dialog.

    Work that an earlier test left is taken away first.
    """
    shutil.rmtree(lab.folder / "work", ignore_errors=True)
    page.goto(f"{lab.url}lab/tree/{notebook}?reset")
    page.wait_for_selector(".jp-Notebook .jp-Cell", timeout=PATIENCE * 1000)
    page.get_by_text("| Idle").first.wait_for(timeout=PATIENCE * 1000)
    page.evaluate("() => { window.jupyterapp.commands.execute('notebook:run-all-cells'); }")


def until(page, look, what: str):
    """Wait until `look()` gives something."""
    end = time.monotonic() + PATIENCE
    while time.monotonic() < end:
        found = look()
        if found:
            return found
        page.wait_for_timeout(20)
    raise AssertionError(f"waited for {what} in vain")
