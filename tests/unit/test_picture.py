"""Plates: projection, one scale for all views, contours, and what is drawn."""

import re

import numpy as np
import pytest

from rigkit.backdrops import backdrop
from rigkit.lesson import picture_of
from rigkit.outline import Edges, contour_lines, front_facing
from rigkit.picture import (
    BARS,
    DARK,
    LIGHT,
    THEMED,
    WIDEST_BAR,
    View,
    as_image,
    bar_length,
    colours,
    fit_views,
    on_any_page,
    standard_view,
)
from rigkit.require import RigError
from rigkit.told import LOOK_AGAIN, NOT_YET, RIGHT, Told
from tests.shapes import ellipse, prism

SIZES = {"front": (300, 400), "side": (260, 400), "above": (300, 300), "turned": (300, 400)}
STORED_PIXEL = 1e-9  # px: round-off of a product of metres and scale


@pytest.fixture(scope="module")
def mesh():
    return prism(ellipse(0.05, 0.03, 24), -0.2, 0.2, 9)


def luminance(colour):
    """Relative luminance, WCAG 2.2 (from memory)."""
    parts = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)]) / 255
    linear = np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)
    return float(linear @ [0.2126, 0.7152, 0.0722])


def contrast(one, other):
    dark, light = sorted([luminance(one), luminance(other)])
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize(
    ("name", "step", "moved"),
    [
        ("front", (1, 0, 0), (1, 0)),  # the character's left is on the viewer's right
        ("front", (0, 1, 0), (0, -1)),
        ("side", (0, 0, 1), (-1, 0)),  # seen from its left it faces the viewer's left
        ("above", (1, 0, 0), (1, 0)),
        ("above", (0, 0, 1), (0, 1)),  # its front at the foot of the plate
    ],
)
def test_body_directions_go_where_the_plates_say(name, step, moved):
    view = standard_view(name)
    start, end = view.project([[0, 0, 0], step])
    assert (end - start) / view.scale == pytest.approx(moved, abs=STORED_PIXEL)


@pytest.mark.parametrize("name", SIZES)
@pytest.mark.parametrize("side", ["left", "right"])
def test_views_are_right_handed_and_square(name, side):
    view = standard_view(name, side)
    axes = np.array([view.right, view.up, view.toward])
    assert axes @ axes.T == pytest.approx(np.eye(3), abs=1e-12)
    assert np.linalg.det(axes) == pytest.approx(1.0)


def test_the_right_limb_is_seen_from_its_own_side():
    assert standard_view("side", "right").toward == pytest.approx([-1, 0, 0])


def test_all_views_share_one_scale_and_hold_the_mesh(mesh):
    views = fit_views(mesh, SIZES, also=[[0.1, 0.3, 0.2]])
    assert len({view.scale for view in views.values()}) == 1
    for view in views.values():
        flat = view.project(mesh.vertices)
        assert (flat >= 0).all() and (flat <= view.size).all()


def test_an_unknown_view_is_refused_with_the_names_there_are():
    with pytest.raises(RigError, match="front, side, above or turned"):
        standard_view("back")


def test_half_of_a_convex_body_faces_the_eye_and_its_contour_is_its_rim():
    mesh = prism(ellipse(0.05, 0.05, 48), -0.2, 0.2, 5)
    view = fit_views(mesh, {"above": (300, 300)})["above"]  # the prism's axis z runs down the plate
    flat = view.project(mesh.vertices)
    front = front_facing(flat, mesh.triangles)
    assert np.array_equal(front, mesh.normals @ view.toward > 1e-9)
    seen, hidden = contour_lines(
        Edges.of(mesh.triangles), flat, view.depth(mesh.vertices), front, mesh.triangles, view.size
    )
    assert len(hidden) == 0
    along = np.abs(seen[:, 0, 1] - seen[:, 1, 1]) > 1.0  # pieces that run along the prism, not round its ends
    rims = np.abs(seen[along].mean(axis=1)[:, 0] - 150)
    assert along.sum() == 2 * 4
    assert rims == pytest.approx(0.05 * view.scale, abs=0.01 * view.scale * 0.05)


def test_a_contour_behind_other_flesh_is_hidden():
    near, far = prism(ellipse(0.03, 0.03, 24), -0.2, 0.2, 25), prism(ellipse(0.01, 0.01, 24), -0.1, 0.1, 25)
    vertices = np.concatenate([near.vertices + [0, 0.2, 0], far.vertices])
    triangles = np.concatenate([near.triangles, far.triangles + len(near.vertices)])
    view = View("above", "Above", (1, 0, 0), (0, 0, -1), scale=800.0, size=(300, 500))
    flat = view.project(vertices)
    pieces = contour_lines(
        Edges.of(triangles), flat, view.depth(vertices), front_facing(flat, triangles), triangles, view.size
    )
    middle = view.project([[0, 0, 0]])[0]
    away = [np.abs(piece.mean(axis=1) - middle) for piece in pieces]
    far_rim = 0.01 * view.scale
    inner = [((np.abs(off[:, 0] - far_rim) < 2) & (off[:, 1] < 0.12 * view.scale)).sum() for off in away]
    assert inner[0] == 0 and inner[1] > 20


def drawn(mesh, view, side="left", style=LIGHT) -> str:
    return backdrop(mesh, Edges.of(mesh.triangles), view, side, style, "A limb.")


def test_the_backdrop_says_which_way_is_which_and_is_the_same_each_time(mesh):
    views = fit_views(mesh, SIZES)
    for name, said in (("front", "the character's left"), ("side", "facing this way")):
        text = drawn(mesh, views[name])
        assert said.replace("'", "&#x27;") in text and text == drawn(mesh, views[name])
    assert "facing this way →" in drawn(mesh, fit_views(mesh, SIZES, "right")["side"], "right")


def test_a_themed_backdrop_names_every_colour_and_the_sheet_says_what_it_is(mesh):
    text = drawn(mesh, fit_views(mesh, SIZES)["front"], style=THEMED)
    used = set(re.findall(r"var\((--rigkit-[a-z-]+)\)", text))
    assert used and "#" not in re.sub(r"&#x27;", "", text)
    for style in (LIGHT, DARK):
        assert used <= set(re.findall(r"(--rigkit-[a-z-]+):", colours(style)))


@pytest.mark.parametrize("style", [LIGHT, DARK])
def test_ink_and_verdicts_can_be_read(style):
    """4.5 to 1 for text, 3 to 1 for lines (WCAG 2.2, from the reference facts)."""
    assert contrast(style.ink, style.paper) > 7
    for sign in (style.right, style.wrong, style.unsure):
        assert contrast(sign.ink, style.paper) >= 4.5
        assert contrast(sign.colour, style.paper) >= 3
    assert contrast(style.contour, style.paper) >= 3


@pytest.mark.parametrize("style", [LIGHT, DARK])
def test_no_verdict_is_told_by_colour_alone(style):
    signs = [style.right, style.wrong, style.unsure]
    for trait in ("colour", "dash", "mark", "words"):
        assert len({getattr(sign, trait) for sign in signs}) == 3


@pytest.mark.parametrize("scale", [50.0, 400.0, 799.0, 801.0, 1700.0, 4500.0])
def test_the_bar_is_never_wider_than_it_may_be_and_tells_its_length(scale):
    mm = bar_length(scale)
    assert mm in BARS and mm / 1000 * scale <= WIDEST_BAR
    longer = [one for one in BARS if one > mm]
    assert all(one / 1000 * scale > WIDEST_BAR for one in longer)


@pytest.mark.parametrize(("size", "mm"), [(0.2, 100), (0.05, 20), (0.02, 10)])
def test_the_bar_is_drawn_as_long_as_it_says(size, mm):
    """A short limb's bar stays in its plate: it is as long as it says."""
    small = prism(ellipse(size / 4, size / 6, 24), -size, size, 9)
    view = fit_views(small, {"front": (300, 400)}, also=[[0, size, 0], [0, -size, 0]])["front"]
    assert bar_length(view.scale) == mm
    bar = next(found for found in re.findall(r'd="M([\d.]+) \d+v4H([\d.]+)v-4"', drawn(small, view)))
    assert float(bar[1]) - float(bar[0]) == pytest.approx(mm / 1000 * view.scale, abs=0.2)
    assert float(bar[0]) > 0 and float(bar[1]) <= 300


def test_pictures_and_answers_in_prose_have_a_dark_dress_for_every_colour():
    shown = picture_of("left-arm", "forward", views=("side", "slice"), joints=("elbow",), with_bend=True)
    for svg, _ in shown.plates:
        head, _, drawn = as_image(svg).partition("</style>")
        assert re.findall("#[0-9A-Fa-f]{6}", svg) and not re.findall("#[0-9A-Fa-f]{6}", drawn)
        assert set(re.findall(r"var\((--rigkit-[a-z-]+)\)", drawn)) <= set(re.findall(r"(--rigkit-[a-z-]+):", head))
        assert colours(LIGHT) in head and f"(prefers-color-scheme:dark){{svg{{{colours(DARK)}}}}}" in head
    for state in (NOT_YET, LOOK_AGAIN, RIGHT):
        html = Told(state, "Found.", "Next.")._repr_html_()
        assert html.count("light-dark(") == html.count("#") // 2 >= 4
    other = '<svg><rect fill="#1F2933"/><rect fill="#E2A47C"/></svg>'  # ink must stay readable on a heat map
    assert as_image(other) == on_any_page(other) == other
