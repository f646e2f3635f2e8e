"""Overlays and slices: well-formed, named, to scale, and each verdict with all its signs."""

import re
from dataclasses import replace
from xml.etree import ElementTree

import numpy as np
import pytest

from rigkit.limbs import practice_limb
from rigkit.outline import Edges, front_facing, rim_loops
from rigkit.overlays import LETTER, BendMark, Extra, Fold, overlay
from rigkit.picture import LIGHT, fit_views
from rigkit.plates import flesh_path
from rigkit.section import Plane, cut
from rigkit.skeleton import Skeleton
from rigkit.slices import flat_axes, lay_flat, plate_scale, slice_plate
from tests.shapes import ellipse, prism

SVG = "{http://www.w3.org/2000/svg}"
SHOWN = 0.06  # px: coordinates are written to a tenth of a pixel
MESH = prism(ellipse(0.05, 0.03, 24), -0.2, 0.2, 9)
EDGES = Edges.of(MESH.triangles)
ARM = Skeleton(["shoulder", "elbow", "wrist"], [None, 0, 1], [[0, 0, 0.15], [0, 0.01, 0], [0, 0, -0.15]])
VIEW = fit_views(MESH, {"side": (260, 400)})["side"]


def tree(text):
    return ElementTree.fromstring(text)


def bend(verdict):
    return BendMark(0, 1, 2, np.zeros(3), verdict, "10 mm behind")


def test_an_overlay_is_one_named_picture_of_fixed_size():
    root = tree(overlay(VIEW, ARM, 1, "elbow", 'The elbow lies 10 mm behind & "so" <on>.'))
    assert root.attrib["role"] == "img"
    assert root.attrib["aria-label"] == 'The elbow lies 10 mm behind & "so" <on>.'
    assert (root.attrib["width"], root.attrib["height"]) == ("260", "400")


def test_joints_lie_where_the_view_projects_them_and_the_chosen_one_is_filled():
    root = tree(overlay(VIEW, ARM, 1, "elbow"))
    circles = root.findall(f".//{SVG}circle")
    at = {(float(c.attrib["cx"]), float(c.attrib["cy"])): c.attrib["fill"] for c in circles}
    for number, place in enumerate(VIEW.project(ARM.positions)):
        near = [fill for centre, fill in at.items() if np.abs(np.array(centre) - place).max() < SHOWN]
        assert near == [LIGHT.ink if number == 1 else LIGHT.paper]
    assert "elbow" in [text.text for text in root.iter(f"{SVG}text")]


@pytest.mark.parametrize("verdict", ["right way", "wrong way", "too straight to tell"])
def test_a_verdict_has_colour_line_sign_and_words(verdict):
    sign = LIGHT.sign(verdict)
    at_rest = overlay(VIEW, ARM, 1, "elbow", bend=bend(verdict))
    assert sign.colour in at_rest and f"{sign.mark} 10 mm behind" in at_rest
    assert (f'stroke-dasharray="{sign.dash}"' in at_rest) == bool(sign.dash)
    folds = [Fold(MESH.vertices + 0.01, ARM.positions, verdict)] * (2 if verdict == "too straight to tell" else 1)
    folded = overlay(VIEW, ARM, 1, "elbow", bend=bend(verdict), folds=folds, mesh=MESH, edges=EDGES)
    assert sign.mark in folded
    assert (verdict in folded) == (len(folds) == 1)
    assert (f'stroke-dasharray="{sign.dash}"' in folded) == bool(sign.dash)


def winding(loops, flat, place) -> int:
    """How often closed loops of projected vertices wind round a place."""
    turns = 0.0
    for loop in loops:
        arrows = flat[loop] - place
        angles = np.arctan2(arrows[:, 1], arrows[:, 0])
        turns += np.sum((np.diff(np.append(angles, angles[0])) + np.pi) % (2 * np.pi) - np.pi)
    return round(turns / (2 * np.pi))


@pytest.mark.parametrize("kind", ["arm", "bird_leg", "finger"])
@pytest.mark.parametrize("name", ["front", "side", "above", "turned"])
@pytest.mark.parametrize("torn", [False, True])
def test_the_rim_covers_a_place_as_often_as_the_triangles_that_face_the_eye(kind, name, torn):
    mesh = practice_limb(kind, 5).mesh
    triangles = mesh.triangles[200:] if torn else mesh.triangles
    view = fit_views(mesh, {name: (300, 400)})[name]
    flat, chance = view.project(mesh.vertices), np.random.default_rng(3)
    front = front_facing(flat, triangles)
    edges = Edges.of(triangles)
    loops = rim_loops(edges, front)
    assert edges.even and sum(map(len, loops)) < front.sum()
    corners = flat[triangles[front]]
    for place in flat.min(0) + chance.random((60, 2)) * np.ptp(flat, axis=0):
        a, b, c = (corners[:, i] - place for i in range(3))
        cross = [p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0] for p, q in ((a, b), (b, c), (c, a))]
        over = int(np.sum((np.sign(cross[0]) == np.sign(cross[1])) & (np.sign(cross[1]) == np.sign(cross[2]))))
        assert abs(winding(loops, flat, place)) == over


def test_folded_flesh_is_one_rim_with_its_contours():
    fold = Fold(MESH.vertices, ARM.positions, "right way")
    root = tree(overlay(VIEW, ARM, 1, folds=[fold], mesh=MESH, edges=EDGES))
    paths = root.findall(f".//{SVG}path")
    assert paths[0].attrib["paint-order"] == "stroke" and paths[0].attrib["d"].count("z") >= 1


def test_flesh_whose_triangles_do_not_agree_is_drawn_triangle_by_triangle():
    flat = np.array([[1.0, 2.0], [3.5, 2.0], [1.0, 4.2], [3.5, 4.2]])
    odd = np.array([[0, 1, 2], [1, 2, 3]])  # the edge 1-2 runs the same way in both
    edges = Edges.of(odd)
    text = flesh_path(flat, odd, edges, np.array([True, True]))
    assert not edges.even and text.count("M") == 2
    numbers = [int(n) for n in re.findall(r"-?\d+", text.split("z")[0])]
    a, b, c = np.array(numbers).reshape(3, 2) / 10
    assert [a.tolist(), (a + b).tolist(), (a + b + c).tolist()] == flat[:3].tolist()


def test_a_click_finds_each_joint_by_its_number_among_the_choices():
    text = overlay(VIEW, ARM, 1, "elbow", extra=Extra(picks=(2, 0, 1)))
    picks = {int(c.attrib["data-joint"]): c for c in tree(text).iter(f"{SVG}circle") if "data-joint" in c.attrib}
    places = VIEW.project(ARM.positions)
    for choice, number in enumerate((2, 0, 1)):
        assert float(picks[choice].attrib["cx"]) == pytest.approx(places[number][0], abs=SHOWN)


def test_a_ghost_goal_and_bend_target_are_drawn_with_their_names():
    moved = ARM.moved(1, ARM.positions[1] + [0.01, 0, 0])
    text = overlay(VIEW, ARM, 1, "elbow", extra=Extra(ghost=moved, ghost_name="attempt 2", goal=np.zeros(3),
                                                      target=np.array([0.0, 0.0, 0.1])))  # fmt: skip
    assert "attempt 2" in text and "goal" not in text  # where it is pulled to is shown only while it is pulled
    fold = Fold(MESH.vertices, ARM.positions, "right way")
    pulled = overlay(VIEW, ARM, 1, "elbow", folds=[fold], mesh=MESH, edges=EDGES,
                     extra=Extra(goal=np.zeros(3), target=np.array([0.0, 0.0, 0.1])))  # fmt: skip
    assert ">goal<" in pulled and ">bend target<" in pulled


def a_slice(joint, line=None):
    section = cut(MESH, Plane([0, 0, 0.01], [0, 0, 1.0]))
    held = section.holding(np.array([0, 0, 0.01]))
    return lay_flat(section, held, np.array(joint), held.loop.centroid, 0.008, line, line="hip–ankle line")


def test_a_slice_is_drawn_to_its_bar():
    size = (260, 400)
    laid = a_slice([0.01, 0.0, 0.01])
    root = tree(slice_plate(laid, size, "Slice", "A slice."))
    scale = plate_scale(laid, size)
    outline = root.find(f".//{SVG}polygon").attrib["points"]
    x = np.array([float(pair.split(",")[0]) for pair in outline.split()])
    assert np.ptp(x) == pytest.approx(100 * scale, abs=2 * SHOWN)  # the ellipse is 100 mm wide
    bar = next(p.attrib["d"] for p in root.iter(f"{SVG}path") if "v4h" in p.attrib["d"])
    assert float(re.search(r"h([\d.]+)", bar).group(1)) == pytest.approx(10 * scale, abs=SHOWN)
    ring = next(c for c in root.iter(f"{SVG}circle") if c.attrib["fill"] == "none")
    assert float(ring.attrib["r"]) == pytest.approx(8 * scale, abs=SHOWN)


def test_a_joint_beyond_the_plate_is_kept_in_it_and_says_how_far():
    text = slice_plate(a_slice([0.0, 0.3, 0.01]), (260, 400), "Slice", "A slice.")
    assert "joint, 300 mm away" in text


def test_a_joint_off_the_slice_is_open_and_says_how_far():
    text = slice_plate(a_slice([0.0, 0.0, 0.04]), (260, 400), "Slice", "s")
    assert "joint, 30 mm below" in text  # the section's normal leads down the limb
    assert f'r="5" fill="{LIGHT.paper}"' in text


def test_the_neighbours_line_is_marked_where_it_goes_through():
    laid = a_slice([0.0, 0.0, 0.01], (np.array([0.002, 0, 1.0]), np.array([0.002, 0, -1.0])))
    assert np.hypot(*laid.pierced) == pytest.approx(2.0)
    assert "hip–ankle line" in slice_plate(laid, (260, 400), "Slice", "s", "wrong way")


def test_a_slice_of_nothing_still_shows_the_joint():
    section = cut(MESH, Plane([0, 0, 5.0], [0, 0, 1.0]))
    point = np.array([0, 0, 5.0])
    root = tree(slice_plate(lay_flat(section, section.holding(point), point, point, 0.0), (260, 400), "Slice", "s"))
    assert root.find(f".//{SVG}polygon") is None and root.findall(f"{SVG}circle")


@pytest.mark.parametrize("outward", [1.0, -1.0])
def test_the_words_round_a_slice_say_where_things_lie(outward):
    """Seen from above the front is at the foot; right is the character's left, which is out for a left limb."""
    right, down, edges = flat_axes(np.array([0.6, -0.8, 0.0]), outward)
    assert right[0] > 0 and down @ [0, 0, 1] == pytest.approx(1.0)
    assert edges == (("out", "forward", "in", "back") if outward > 0 else ("in", "forward", "out", "back"))


def test_no_text_is_smaller_than_twelve_pixels_or_turned():
    texts = [slice_plate(a_slice([0, 0, 0.01]), (260, 400), "Slice", "s"), overlay(VIEW, ARM, 1, "elbow")]
    for text in texts:
        assert min(float(n) for n in re.findall(r'font-size="(\d+)', text)) >= 12
        assert not any("transform" in one.attrib for one in tree(text).iter(f"{SVG}text"))


@pytest.mark.parametrize("at", [(0, 0), (130, 0), (259, 399), (125, 200), (135, 200), (-300, 900), (600, -50)])
def test_a_label_stays_in_the_plate_wherever_the_joint_lies(at):
    wide, high = VIEW.size
    there = VIEW.project(ARM.positions[1])[0]
    step = (np.array(at) - there) / VIEW.scale
    put = ARM.moved(1, ARM.positions[1] + step[0] * np.array(VIEW.right) - step[1] * np.array(VIEW.up))
    assert VIEW.project(put.positions[1])[0] == pytest.approx(at, abs=1e-6)
    told = replace(bend("wrong way"), words="123 mm on the inner side")
    texts = list(tree(overlay(VIEW, put, 1, "elbow", bend=told)).iter(f"{SVG}text"))
    assert len(texts) == 2
    for text in texts:
        x, y, length = float(text.attrib["x"]), float(text.attrib["y"]), LETTER * len(text.text)
        left = x - length * {"start": 0.0, "middle": 0.5, "end": 1.0}[text.attrib["text-anchor"]]
        assert left >= 0 and left + length <= wide and 10 <= y <= high - 4
