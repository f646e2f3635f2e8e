"""From a key press on a bench's slider to its changed plates, in a real browser: beside a re-plot and beside text only.

Times in ms: from the key's own time stamp to the last change in any view, and to the end of the frame that shows it.
"""

import os
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from statistics import median

import pytest

from rigkit.limbs import Shape, practice_limb
from rigkit.make_exercise import ARM, make_exercise
from tests.browser.conftest import open_and_run, running_browser, running_lab, write_notebook

LIMBS = (("finger", 0.5, ()), ("arm", 1.0, ARM))  # kind, density and what is asked: some 2,000 and 6,000 triangles
ROUNDS, TICKS = 4, 25  # each way in turn, so that all meet the same machine
KEYS, HERTZ, RUNS = 90, 30, 3
SPAN = 22  # steps to either side: at the end of ninety keys the value has gone one way for most of a second
PULLED = "pulled"
WAYS = ("bench", PULLED, "re-plot", "text")

BENCH = """
from rigkit.bench import Bench
from rigkit.files.exercise import read_exercise
from rigkit.work import Store
exercise = read_exercise("LIMB")
bench = Bench(exercise, exercise.start("scattered"), ("front", "side", "turned", "slice"), ("place", "flex", "bend"),
              Store.beside("LIMB", "latency"))
bench"""

REPLOT = """
import io
import ipywidgets as widgets
from matplotlib.collections import PolyCollection
from matplotlib.figure import Figure
from rigkit.section import Plane, cut

mesh, start = exercise.mesh, bench.skeleton
number = bench.limb.roles[bench.limb.fold_role]

def replot(mm):
    places = start.positions.copy()
    places[number, 2] += mm / 1000
    figure = Figure(figsize=(11.1, 4.04), dpi=100)
    panels = figure.subplots(1, 4)
    for axes, (title, (right, up)) in zip(panels, {"front": (0, 1), "side": (2, 1), "above": (0, 2)}.items()):
        axes.add_collection(PolyCollection(mesh.vertices[mesh.triangles][:, :, [right, up]], facecolor="bisque",
                                           edgecolor="none"))
        axes.plot(places[:, right], places[:, up], "ko-")
        axes.set(title=title, aspect="equal")
        axes.autoscale()
    for loop in cut(mesh, Plane(places[number], (0, 1, 0))).loops:
        panels[3].plot(1000 * loop.points[:, 0], 1000 * loop.points[:, 2], "k")
    panels[3].plot(*(1000 * places[number, [0, 2]]), "ro")
    panels[3].set(title="slice", aspect="equal")
    png = io.BytesIO()
    figure.savefig(png)
    return png.getvalue()

plotted = widgets.FloatSlider(min=-120, max=120, step=1)
plotted.add_class("a-replot")
image = widgets.Image(value=replot(0), format="png")
plotted.observe(lambda change: setattr(image, "value", replot(change["new"])), "value")
widgets.VBox([plotted, image])"""

TEXT = """
told = widgets.FloatSlider(min=-120, max=120, step=1)
told.add_class("a-text")
words = widgets.HTML("0")
told.observe(lambda change: setattr(words, "value", str(change["new"])), "value")
widgets.VBox([told, words])"""

PROBE = """() => {
  const handle = name => [...document.querySelectorAll(name + ' .noUi-handle')].find(one => one.checkVisibility());
  const near = (name, what) => [...handle(name).closest('.widget-vbox').querySelectorAll(what)];
  const ways = {
    'bench': ['.rigkit-forward', () => [...document.querySelectorAll('.rigkit-bench .widget-gridbox .widget-html')]],
    'pulled': ['.rigkit-pull', () => [...document.querySelectorAll('.rigkit-bench .widget-gridbox .widget-html')]],
    're-plot': ['.a-replot', () => near('.a-replot', 'img')],
    'text': ['.a-text', () => near('.a-text', '.widget-html')]};
  const probe = window.probe = {key: 0, keys: [], changed: 0, painted: 0, batches: 0};
  document.addEventListener('keydown', event => { probe.key = event.timeStamp; probe.keys.push(event.timeStamp); }, true);
  const observer = new MutationObserver(() => {
    probe.changed = performance.now();
    requestAnimationFrame(() => {
      const after = new MessageChannel();
      after.port1.onmessage = () => { probe.painted = performance.now(); };
      after.port2.postMessage(0);
    });
  });
  const counter = new MutationObserver(() => { probe.batches += 1; });
  probe.choose = way => {
    observer.disconnect();
    counter.disconnect();
    const [name, find] = ways[way], nodes = find();
    const all = {childList: true, subtree: true, attributes: true, characterData: true};
    nodes.forEach(node => observer.observe(node, all));
    counter.observe(nodes[3] || nodes[0], all);  // of a bench the side view, over its backdrop
    handle(name).focus();
    return nodes.length;
  };
  probe.clear = () => { probe.key = probe.changed = probe.painted = probe.batches = 0; probe.keys = []; };
  probe.settled = quiet => new Promise(done => {
    const begun = performance.now();
    const look = () => {
      const now = performance.now(), still = probe.painted > probe.changed && now - probe.painted > quiet;
      if (now - begun > 5000) done(null);  // a key that changes nothing
      else if (probe.changed > probe.key && still)
        done({changed: probe.changed - probe.key, painted: probe.painted - probe.key, batches: probe.batches,
              took: probe.keys[probe.keys.length - 1] - probe.keys[0]});
      else setTimeout(look, 10);
    };
    look();
  });
}"""


class Keys:
    """A hand on the keys of one way's slider, to and fro about the middle, a new value each time."""

    def __init__(self, page, way: str):
        self.page, self.way, self.at, self.step = page, way, 0, 1

    def take(self) -> None:
        """Put the focus on the slider and watch what it changes; pull the limb where that is asked for."""
        self.page.evaluate("way => window.probe.choose(way)", self.way)
        if self.way == PULLED:
            for _ in range(10):  # five per cent each
                self.page.keyboard.press("PageUp")
        self.page.wait_for_timeout(500)
        self.page.evaluate("() => window.probe.clear()")

    def leave(self) -> None:
        """Back to the middle, and the limb at rest again."""
        for _ in range(abs(self.at)):
            self.page.keyboard.press("ArrowLeft" if self.at > 0 else "ArrowRight")
        if self.way == PULLED:
            self.page.keyboard.press("Home")
        self.at, self.step = 0, 1
        self.page.wait_for_timeout(500)

    def press(self) -> None:
        """One key."""
        if self.at * self.step >= SPAN:
            self.step = -self.step
        self.at += self.step
        self.page.keyboard.press("ArrowRight" if self.step > 0 else "ArrowLeft")

    def settled(self, quiet: int) -> dict[str, float]:
        """When all that the last key changed was shown, once nothing has changed for some ms."""
        found = self.page.evaluate("quiet => window.probe.settled(quiet)", quiet)
        if found is None:
            raise RuntimeError(f"a key on the slider of {self.way} changed nothing in five seconds")
        return found


def one_by_one(keys: Keys, count: int) -> list[dict[str, float]]:
    """Keys one at a time, each after the last was shown."""
    found = []
    for _ in range(count):
        keys.page.evaluate("() => window.probe.clear()")
        keys.press()
        found.append(keys.settled(60))
    return found


def held_down(keys: Keys) -> dict[str, float]:
    """Ninety keys at thirty a second, whatever is shown meanwhile."""
    begun = time.perf_counter()
    for number in range(KEYS):
        time.sleep(max(0.0, begun + number / HERTZ - time.perf_counter()))
        keys.press()
    return keys.settled(1500)


def measured(page) -> dict[str, tuple[list, list]]:
    """For each way what was found key by key, and of keys held down."""
    page.evaluate(PROBE)
    hands = {way: Keys(page, way) for way in WAYS}
    singly: dict[str, list] = {way: [] for way in WAYS}
    held: dict[str, list] = {way: [] for way in WAYS}
    for round_ in range(ROUNDS + 1):
        for way, keys in hands.items():
            keys.take()
            found = one_by_one(keys, TICKS if round_ else 5)
            singly[way] += found if round_ else []  # the first round warms up
            keys.leave()
    for _ in range(RUNS):
        for way, keys in hands.items():
            keys.take()
            held[way].append(held_down(keys))
            keys.leave()
    return {way: (singly[way], held[way]) for way in WAYS}


def _told(found: list[dict[str, float]], what: str) -> tuple[float, str]:
    """The median, and it beside the 95th per cent in words."""
    times = sorted(one[what] for one in found)
    middle = median(times)
    return middle, f"{middle:.0f} ms (p95 {times[int(0.95 * len(times))]:.0f})"


def _held(found: list[dict[str, float]]) -> str:
    answered, after = median(one["batches"] for one in found), [one["changed"] for one in found]
    return f"{answered:.0f} answered, the last shown {median(after):.0f} ms after (worst {max(after):.0f})"


def rows() -> Iterator[tuple[str, ...]]:
    """Rows for each limb: to the changed picture, to the painted frame, at rest and pulled, and keys held down."""
    try:
        yield from _measured_rows()
    except pytest.skip.Exception as why:  # no browser here
        yield ("key to picture", "not measured", str(why), "", "")


def _measured_rows() -> Iterator[tuple[str, ...]]:
    before = os.getloadavg()[0]
    with tempfile.TemporaryDirectory() as home, running_lab(Path(home)) as lab, running_browser() as browser:
        for kind, density, asked in LIMBS:
            limb = practice_limb(kind, 7, "left", Shape(density=density))
            make_exercise(lab.folder / f"a-{kind}", limb, asked)
            cells = [BENCH.replace("LIMB", f"a-{kind}"), REPLOT, TEXT]
            write_notebook(lab.folder / f"{kind}.ipynb", cells)
            page = browser.new_page(viewport={"width": 1280, "height": 2000})
            open_and_run(page, lab, f"{kind}.ipynb")
            page.locator(".a-text .noUi-handle").wait_for(timeout=120_000)
            page.wait_for_timeout(3000)
            found = measured(page)
            page.close()
            yield from _rows(f"{len(limb.mesh.triangles):,} triangles", found)
    yield ("the machine's load, one minute", f"{before:.1f} before", f"{os.getloadavg()[0]:.1f} after", "", "")


def _rows(size: str, found: dict[str, tuple[list, list]]) -> Iterator[tuple[str, ...]]:
    for what, to in (("changed", "changed picture"), ("painted", "painted frame")):
        (plot, slow), (_, floor) = (_told(found[way][0], what) for way in ("re-plot", "text"))
        for way, how in (("bench", "at rest"), (PULLED, "pulled")):
            ours, told = _told(found[way][0], what)
            ratio = f"{plot / ours:.1f} times as fast"
            yield (f"key to {to}, {size}, {how}", told, f"re-plot {slow}", ratio, f"text alone {floor}")
    rate = median(1000 * (KEYS - 1) / one["took"] for way in WAYS for one in found[way][1])
    for way, how in (("bench", "at rest"), (PULLED, "pulled")):
        (plot, floor) = (_held(found[one][1]) for one in ("re-plot", "text"))
        what = f"{KEYS} keys at {rate:.0f} a second, {size}, {how}"
        yield (what, _held(found[way][1]), f"re-plot {plot}", "", f"text alone {floor}")
