"""Lesson 12: a panel to lay an elbow back or forward and watch what a bend does to the flesh; mm."""

from __future__ import annotations

from html import escape

import ipywidgets as widgets

from rigkit.lesson import Shown
from rigkit.require import RigError
from rigkit.stills import Picture
from rigkit.taught.skin_plates import close_up, plate
from rigkit.taught.skin_ways import Hung

MOST = 30  # mm either way, three quarters of Orlo's local radius
BENT = 90  # degrees
SIZE = (384, 330)  # px of each of two plates


def lay_by_hand(arm: Hung, title: str) -> Shown:
    """Lay the elbow of an arm back and forward; two plates show it bent by 90 degrees: as it was (under this title),
    and laid so.

    Nothing is kept or marked. A place that was shown once is not worked out again.
    """
    seen, radius, side, drawn = close_up(arm, SIZE), arm.radius, arm.limb.exercise.side, {}

    def drawn_at(mm: int) -> tuple[str, str]:
        if mm not in drawn:
            bent = arm.moved(forward=mm).bent(BENT)
            kept, stretched = 100 * bent.kept(radius), 100 * bent.stretched(radius)
            told = f"{BENT}°: keeps {kept:.0f} % of its flesh, skin stretched {stretched:.0f} %"
            drawn[mm] = plate(seen, side, _way(mm) or title, told, bent)
        return drawn[mm]

    slider = widgets.IntSlider(min=-MOST, max=MOST, readout=False, description="back or forward",
                               style={"description_width": "112px"}, layout=widgets.Layout(width="500px"))  # fmt: skip
    box = widgets.BoundedIntText(min=-MOST, max=MOST, description="mm forward", layout=widgets.Layout(width="180px"))
    widgets.link((slider, "value"), (box, "value"))
    plates = widgets.HTML(layout=widgets.Layout(width=f"{2 * (SIZE[0] + 8)}px", height=f"{SIZE[1] + 10}px", margin="0"))

    def draw(*_changed) -> None:
        try:
            plates.value = Picture([drawn_at(0), drawn_at(box.value)])._repr_html_()
        except RigError as error:
            plates.value = escape(str(error))

    box.observe(draw, "value")
    draw()
    row = widgets.HBox([slider, box], layout=widgets.Layout(align_items="center", height="36px", overflow="hidden"))
    return Shown(
        widgets.VBox([plates, row]), "A panel to lay the elbow by hand. Run this cell (Shift+Enter) to open it."
    )


def _way(mm: int) -> str:
    return f"{abs(mm)} mm {'forward, the inner side' if mm > 0 else 'back, the outer side'}" if mm else ""
