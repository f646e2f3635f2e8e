"""Charts for prose: curves and bars of a few numbers as a picture, named where they end and told in a sentence."""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from html import escape

import numpy as np

from rigkit.picture import FONT, LIGHT, PAINTER, SMALL_TEXT
from rigkit.stills import Picture

SIZE = (640, 300)  # px
DASHES = ("-", "--", ":", "-.")  # by these and by their names the curves differ: no colour here means right or wrong
STUB = (1.01, 1.055)  # of the width: a piece of its curve before each name
LINE = 0.08  # of the height: two names are never nearer
PT = 0.72  # points for each px at a figure's 100 px an inch


def curves(
    x: Sequence[float], ys: Mapping[str, Sequence[float]], across: str, up: str, sentence: str,
    marked: Mapping[str, float] | None = None,
) -> Picture:  # fmt: skip
    """Curves over one axis. x (n,); ys: for each name n numbers; across, up: what the axes show, with units; marked:
    names and places on x that get an upright line. sentence: what the picture shows, for those who cannot see it."""

    def draw(paper) -> None:
        for number, values in enumerate(ys.values()):
            paper.plot(x, values, color=LIGHT.ink, linestyle=DASHES[number % len(DASHES)], linewidth=2)
        for name, place in (marked or {}).items():
            paper.axvline(place, color=LIGHT.ink, linewidth=0.9, linestyle=(0, (1, 3)))
            paper.annotate(name, (place, 1.0), xycoords=("data", "axes fraction"), xytext=(4, -2), va="top",
                           textcoords="offset points", color=LIGHT.ink, fontsize=SMALL_TEXT * PT)  # fmt: skip
        paper.set_xlabel(across)
        low, high = paper.get_ylim()
        lasts = sorted(
            ((values[-1] - low) / (high - low), number, name) for number, (name, values) in enumerate(ys.items())
        )
        below = -1.0
        for share, number, name in lasts:
            below = max(share, below + LINE)
            paper.plot(STUB, (below, below), color=LIGHT.ink, linestyle=DASHES[number % len(DASHES)], linewidth=2,
                       transform=paper.transAxes, clip_on=False, scalex=False, scaley=False)  # fmt: skip
            paper.annotate(name, (STUB[1], below), xycoords="axes fraction", xytext=(4, 0), textcoords="offset points",
                           va="center", color=LIGHT.ink, fontsize=SMALL_TEXT * PT)  # fmt: skip

    return _chart(draw, up, sentence)


def bars(values: Mapping[str, float], up: str, sentence: str, digits: int = 0) -> Picture:
    """One bar for each name, its number written on it. up: what the numbers are, with their unit."""

    def draw(paper) -> None:
        places = np.arange(len(values))
        paper.bar(places, list(values.values()), width=0.55, color=LIGHT.flesh, edgecolor=LIGHT.contour)
        paper.set_xticks(places, list(values))
        for place, value in zip(places, values.values(), strict=True):
            paper.annotate(f"{value:.{digits}f}", (place, value), xytext=(0, 3), textcoords="offset points",
                           ha="center", color=LIGHT.ink, fontsize=SMALL_TEXT * PT)  # fmt: skip

    return _chart(draw, up, sentence)


def _chart(draw, up: str, sentence: str) -> Picture:
    """Draw on one fixed piece of paper: SVG with the sentence as its name."""
    import matplotlib
    from matplotlib.backends.backend_svg import FigureCanvasSVG
    from matplotlib.figure import Figure

    style: dict = {"font.family": FONT, "font.size": SMALL_TEXT * PT, "svg.fonttype": "none", "svg.hashsalt": "rigkit",
             "axes.edgecolor": LIGHT.ink, "text.color": LIGHT.ink, "axes.labelcolor": LIGHT.ink,
             "xtick.color": LIGHT.ink, "ytick.color": LIGHT.ink}  # fmt: skip
    with PAINTER, matplotlib.rc_context(style):
        figure = Figure(figsize=(SIZE[0] / 100, SIZE[1] / 100), dpi=100, facecolor=LIGHT.paper)
        FigureCanvasSVG(figure)
        paper = figure.add_axes((0.09, 0.17, 0.68, 0.70), facecolor=LIGHT.paper)
        draw(paper)
        paper.set_title(up, loc="left", fontsize=SMALL_TEXT * PT)
        paper.spines[["top", "right"]].set_visible(False)
        stream = io.StringIO()
        figure.savefig(stream, format="svg", facecolor=LIGHT.paper, metadata={"Date": None, "Creator": None})
    text = stream.getvalue()
    head, tail = text[text.index("<svg") :].split(">", 1)
    width, height = SIZE
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" role="img" '
        f'aria-label="{escape(sentence)}" width="{width}" height="{height}" viewBox="0 0 460.8 216"'
    )
    return Picture([(f"{head}>{tail}", sentence)])
