"""Lesson 9: a panel to turn one joint of an arm about one of its own axes and watch the flesh follow; degrees."""

from __future__ import annotations

from html import escape

import ipywidgets as widgets

from rigkit.lesson import Shown
from rigkit.require import RigError
from rigkit.taught.own_axes import LETTERS, Arm

MOST = 90  # degrees either way
WIDE = 816  # px, of three plates and their gaps


def turn_by_hand(arm: Arm) -> Shown:
    """Choose a joint and an axis and turn; the plates show the arm as its axes are now. Nothing is kept or marked."""
    across = {"orientation": "horizontal", "layout": widgets.Layout(width="300px")}
    joint = widgets.RadioButtons(options=arm.names, value="elbow", description="the joint", **across)
    about = widgets.RadioButtons(options=LETTERS, value="z", description="about its", **across)
    slider = widgets.IntSlider(min=-MOST, max=MOST, description="degrees", readout=False, layout={"width": "470px"})
    box = widgets.BoundedIntText(min=-MOST, max=MOST, description="or typed", layout={"width": "160px"})
    widgets.link((slider, "value"), (box, "value"))
    plates = widgets.HTML(layout=widgets.Layout(width=f"{WIDE}px", height="412px", margin="0"))

    def draw(*_changed) -> None:
        try:
            plates.value = arm.picture({joint.value: (about.value, box.value)})._repr_html_()
        except RigError as error:
            plates.value = escape(str(error))

    for control in (joint, about, box):
        control.observe(draw, "value")
    draw()
    panel = widgets.VBox([plates, widgets.HBox([joint, about]), widgets.HBox([slider, box])])
    return Shown(panel, "A panel to turn a joint by hand. Run this cell (Shift+Enter) to open it.")
