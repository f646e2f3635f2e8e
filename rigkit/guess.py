"""Guesses: asked before an important picture, kept, and told beside what happened; never marked."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from html import escape
from typing import Any

import ipywidgets as widgets

from rigkit.require import RigError
from rigkit.tables import data_folder, read_table
from rigkit.told import NOT_YET, Told
from rigkit.work import guesses, remember

KEPT = "Kept; you can change it. Now run the next cells."
ROOM = 420
"""px, about what the pictures take that wait for a guess: what is written below them stays out of sight till then."""


class Shown:
    """Something with widgets that a notebook stores as one fixed sentence."""

    def __init__(self, panel: widgets.Widget, sentence: str):
        self.panel, self.sentence = panel, sentence

    def __repr__(self) -> str:
        return self.sentence

    def _repr_mimebundle_(self, **_given) -> dict:
        return (self.panel._repr_mimebundle_() or {}) | {"text/plain": self.sentence}


def predict(key: str, question: str, options: Sequence[str]) -> Shown:
    """Ask for a guess and remember it; nothing is marked."""
    kept = guesses().get(key)
    buttons = widgets.RadioButtons(
        options=list(options), value=kept if kept in options else None, layout=widgets.Layout(width="auto")
    )
    note = widgets.HTML(KEPT if kept in options else "Choose one; nothing is marked.")

    def chosen(change) -> None:
        try:
            remember(key, change["new"])
            note.value = KEPT
        except RigError as error:
            note.value = escape(str(error))

    buttons.observe(chosen, "value")
    head = widgets.HTML(f"<b>{escape(question)}</b>")
    return Shown(widgets.VBox([head, buttons, note]), f"Guess: {question}")


def compare(key: str, outcome: str = "") -> Told:
    """The guess kept under a key beside what happened, once there is a guess. outcome: where a cell works it out; else
    it stands in data/outcomes.toml, so that no cell tells it before the guess."""
    if (guess := guesses().get(key)) is None:
        return Told(NOT_YET, "You have not guessed yet.", "Choose one of the answers above, then run this cell again.")
    outcome = outcome or str(read_table(data_folder() / "outcomes.toml").get(key, "told by the cell above"))
    return Told("you guessed", f"{guess}.", f"{outcome}.", "What happened")


def once_guessed(key: str, draw: Callable[..., Any], *told: Any, **named: Any) -> Any:
    """What `draw` gives for the other arguments, once there is a guess under that key; till then a place kept free."""
    if key in guesses():
        return draw(*told, **named)
    return Told(NOT_YET, "This waits for your guess.", "Choose one of the answers above, then run this cell again.",
                room=ROOM)  # fmt: skip
