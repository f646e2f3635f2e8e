"""The bench's style sheet and the few lines of script that its page needs, as one widget that shows nothing."""

from __future__ import annotations

from functools import lru_cache
from html import escape
from pathlib import Path

import ipywidgets as widgets

from rigkit.picture import DARK, LIGHT, colours

BENCH, LARGE = "rigkit-bench", "rigkit-large"
LARGER = 1.67  # 12 px become 20: readable from the back row
ONE_PIXEL = "data:image/gif;base64,R0lGODlhAQABAAAAACH5BAEKAAEALAAAAAABAAEAAAICTAEAOw=="


@lru_cache(maxsize=1)
def _sheet() -> str:
    """Colours for light and dark pages, a visible focus, the larger size, names of sliders out of sight."""
    script = (Path(__file__).parent / "templates" / "bench.js").read_text(encoding="utf-8")
    rules = f"""
.{BENCH} {{ {colours(LIGHT)} }}
[data-jp-theme-light="false"] .{BENCH} {{ {colours(DARK)} }}
.{LARGE} {{ zoom: {LARGER}; }}
.{BENCH} .widget-slider .widget-label {{ position: absolute; width: 1px; height: 1px; overflow: hidden;
  clip-path: inset(50%); }}
.{BENCH} :focus-visible {{ outline: 3px solid var(--rigkit-right); outline-offset: 1px; }}
.{BENCH} [data-joint] {{ cursor: pointer; }}
.{BENCH} .widget-toggle-button.mod-active {{ box-shadow: inset 0 -3px 0 var(--rigkit-right); font-weight: bold; }}
"""
    return (
        f'<style>{rules}</style><img alt="" src="{ONE_PIXEL}" width="1" height="1" style="position:absolute" '
        f'onload="{escape(script)}">'
    )


def sheet() -> widgets.HTML:
    """The widget to put first into a bench's panel."""
    return widgets.HTML(_sheet(), layout=widgets.Layout(height="0", margin="0", overflow="hidden"))
