"""Answers to the exercises of each lesson, a module a lesson: right ones, and typical wrong ones with the words that must
come back.

Millimetres go from each lesson's start to the true joints of the stored exercise (its key), rounded, so that a check turns
right by a hand's precision and not by the last digit.
"""

from importlib import import_module
from pathlib import Path

_ROOMS = {path.stem.removeprefix("lesson_").upper(): import_module(f"{__name__}.{path.stem}")
          for path in sorted(Path(__file__).parent.glob("lesson_*.py"))}  # fmt: skip
RIGHT = {lesson: room.RIGHT for lesson, room in _ROOMS.items()}
"""lesson -> cell -> source"""
WRONG = [(lesson, *row) for lesson, room in _ROOMS.items() for row in room.WRONG]
"""(lesson, answers put in, check cell, words that its answer must hold)"""
