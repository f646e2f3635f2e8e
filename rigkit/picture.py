"""How plates look and from where: the palette, for light and dark themes, and views of a mesh (n, 3) in pixels.

Drawn as in an anatomy book: pale flesh with a darker contour, ink on paper, everything written where it is.
"""

from __future__ import annotations

import re
import threading
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from rigkit.mesh import Mesh
from rigkit.require import RigError

PAINTER = threading.Lock()
"""Held while matplotlib draws: its settings are one for all threads, and callbacks may run on another."""

FONT = "DejaVu Sans"
FONTS_ON_SCREEN = "'DejaVu Sans', Verdana, sans-serif"
SMALL_TEXT, TITLE_TEXT = 12, 14  # px; nothing in a plate is written smaller than 12
TITLE_STRIP, FOOT_STRIP, EDGE = (
    48,
    60,
    14,
)  # px kept free of flesh: title above, arrows and bar below, paper at the sides
BARS, WIDEST_BAR = (100, 50, 20, 10), 80  # mm, px


@dataclass(frozen=True)
class Sign:
    """How one verdict looks: never by colour alone. `ink` is the colour of its words (4.5 to 1 on paper)."""

    colour: str
    ink: str
    dash: str
    mark: str
    words: str


@dataclass(frozen=True)
class Style:
    """The palette; every colour has one meaning."""

    paper: str = "#FBF8F3"
    ink: str = "#1F2933"
    flesh: str = "#F3DFD0"
    contour: str = "#A8826B"
    faint: str = "#D9C3B3"
    right: Sign = Sign("#0072B2", "#005F96", "", "✓", "right way")
    wrong: Sign = Sign("#D55E00", "#A84A00", "7 4", "✗", "wrong way")
    unsure: Sign = Sign("#5B6570", "#4E5862", "2 4", "?", "too straight to tell")

    def sign(self, verdict: str) -> Sign:
        """The sign of a rest-bend verdict ("right way", "wrong way", "too straight to tell")."""
        return {"right way": self.right, "wrong way": self.wrong}.get(verdict, self.unsure)


LIGHT = Style()
DARK = Style(
    "#1E1E24",
    "#ECE7DF",
    "#4A3F3A",
    "#B79682",
    "#6A5A50",
    Sign("#5AB4E8", "#7CC4EE", "", "✓", "right way"),
    Sign("#FF8A3D", "#FFA468", "7 4", "✗", "wrong way"),
    Sign("#A7B0BA", "#B9C1CA", "2 4", "?", "too straight to tell"),
)


_HUE = re.compile(r"#[0-9A-Fa-f]{6}\b")
_PLAIN, _SIGNS = ("paper", "ink", "flesh", "contour", "faint"), ("right", "wrong", "unsure")


def _named(style: Style) -> Style:
    """A palette's colours by their names in a style sheet."""
    paper, ink, flesh, contour, faint = (f"var(--rigkit-{name})" for name in _PLAIN)
    right, wrong, unsure = (
        replace(getattr(style, name), colour=f"var(--rigkit-{name})", ink=f"var(--rigkit-{name}-ink)")
        for name in _SIGNS
    )
    return Style(paper, ink, flesh, contour, faint, right, wrong, unsure)


THEMED = _named(LIGHT)
"""The palette by name, for what lies in a page that says which colours these are (`colours`)."""


def colours(style: Style) -> str:
    """The palette as declarations of a style sheet, for `THEMED`."""
    plain = {name: getattr(style, name) for name in _PLAIN}
    for name in _SIGNS:
        sign = getattr(style, name)
        plain |= {name: sign.colour, f"{name}-ink": sign.ink}
    return "".join(f"--rigkit-{name}:{colour};" for name, colour in plain.items())


def as_image(svg: str) -> str:
    """A picture in the light palette as an image that turns dark with the page it stands on: colours by name, and a
    style sheet in it. One that holds another colour stays as it is.

    >>> as_image('<svg><path fill="#1F2933"/></svg>').endswith('</style><path fill="var(--rigkit-ink)"/></svg>')
    True
    """
    names = dict(zip(_hues(LIGHT), _hues(THEMED), strict=True))
    sheet = f"svg{{{colours(LIGHT)}}}@media(prefers-color-scheme:dark){{svg{{{colours(DARK)}}}}}"
    head, end, body = _swapped(svg, names).partition(">")
    return f"{head}{end}<style>{sheet}</style>{body}" if "var(" in body else svg


def on_any_page(html: str) -> str:
    """HTML in the light palette that turns dark with its page, if it holds no other colour.

    >>> on_any_page('<b style="color:#1F2933">')
    '<b style="color:light-dark(#1F2933,#ECE7DF)">'
    """
    return _swapped(html, {a: f"light-dark({a},{b})" for a, b in zip(_hues(LIGHT), _hues(DARK), strict=True)})


def _hues(style: Style) -> list[str]:
    signs = [getattr(style, name) for name in _SIGNS]
    return [*(getattr(style, name) for name in _PLAIN), *(hue for one in signs for hue in (one.colour, one.ink))]


def _swapped(text: str, by: Mapping[str, str]) -> str:
    """The text with all its colours swapped, or as it is where one of them is not to be."""
    held = set(_HUE.findall(text))
    return _HUE.sub(lambda one: by[one[0].upper()], text) if {one.upper() for one in held} <= set(by) else text


@dataclass(frozen=True)
class View:
    """A parallel view: unit vectors (3,) for the picture's right and up, metres to pixels, a fixed size."""

    name: str
    title: str
    right: tuple[float, float, float]
    up: tuple[float, float, float]
    centre: tuple[float, float, float] = (0.0, 0.0, 0.0)
    scale: float = 500.0
    size: tuple[int, int] = (320, 420)

    @property
    def toward(self) -> np.ndarray:
        """Unit vector (3,) from the picture to the eye."""
        return np.cross(self.right, self.up)

    def project(self, points) -> np.ndarray:
        """Points (n, 3) in metres, world frame -> (n, 2) pixels from the picture's upper left corner.

        >>> View("front", "front", (1, 0, 0), (0, 1, 0)).project([[0.1, 0.0, 0.0]]).tolist()
        [[210.0, 204.0]]
        """
        from_centre = np.atleast_2d(np.asarray(points, dtype=float)) - self.centre
        middle = (TITLE_STRIP + self.size[1] - FOOT_STRIP) / 2
        return np.stack(
            [self.size[0] / 2 + self.scale * (from_centre @ self.right), middle - self.scale * (from_centre @ self.up)],
            axis=1,
        )

    def depth(self, points) -> np.ndarray:
        """Points (n, 3) -> (n,) metres toward the eye."""
        return np.atleast_2d(np.asarray(points, dtype=float)) @ self.toward


def standard_view(name: str, side: str = "left", turn: float = 35.0) -> View:
    """A view by name: front, side (from the limb's side), above (front at the plate's foot), turned (by degrees)."""
    outward = -1.0 if side == "right" else 1.0
    if name == "front":
        return View("front", "Front", (1, 0, 0), (0, 1, 0))
    if name == "side":
        return View("side", "Side", (0, 0, -outward), (0, 1, 0))
    if name == "above":
        return View("above", "Above", (1, 0, 0), (0, 0, -1))
    if name == "turned":
        yaw, pitch = np.radians(turn) * outward, np.radians(18)
        right = np.array([np.cos(yaw), 0.0, -np.sin(yaw)])
        toward = np.array([np.sin(yaw) * np.cos(pitch), np.sin(pitch), np.cos(yaw) * np.cos(pitch)])
        return View("turned", "Turned", tuple(right.tolist()), tuple(np.cross(toward, right).tolist()))
    raise RigError(
        expected="a view named front, side, above or turned",
        got=repr(name),
        next_step="Choose one of these four names.",
    )


def fit_views(mesh: Mesh, sizes: Mapping[str, tuple[int, int]], side: str = "left", also=()) -> dict[str, View]:
    """Views of one mesh that share one scale, so that a millimetre is as long in each: name -> `View`.

    `sizes` gives each view's width and height in px; `also` are more points (k, 3) that must have
    room, such as a folded limb's.
    """
    points = np.concatenate([mesh.vertices, np.reshape(np.asarray(also, dtype=float), (-1, 3))])
    scale, views = np.inf, {}
    for name, (width, height) in sizes.items():
        view = standard_view(name, side)
        across, along = points @ view.right, points @ view.up
        wide, high = np.ptp(across), np.ptp(along)
        scale = min(scale, (width - 2 * EDGE) / wide, (height - TITLE_STRIP - FOOT_STRIP) / high)
        middle = (points.min(0) + points.max(0)) / 2
        if name == "turned":
            middle = (
                np.outer((across.min() + across.max()) / 2, view.right)
                + np.outer((along.min() + along.max()) / 2, view.up)
            )[0]
        views[name] = replace(view, centre=tuple(middle.tolist()), size=(int(width), int(height)))
    return {name: replace(view, scale=float(scale)) for name, view in views.items()}


def bar_length(scale: float) -> int:
    """Millimetres of the bar at a scale (pixels for a metre): the longest of `BARS` that is not too wide.

    >>> bar_length(400.0), bar_length(4000.0)
    (100, 20)
    """
    return next((mm for mm in BARS if mm / 1000 * scale <= WIDEST_BAR), BARS[-1])
