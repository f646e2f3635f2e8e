"""Still plates of posed flesh: skin vertices (n, 3), joint places (j, 3) and, where wanted, each joint's own axes."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from rigkit.mesh import Mesh
from rigkit.outline import Edges
from rigkit.picture import LIGHT, View, fit_views
from rigkit.plates import bones, flesh, line, svg, words
from rigkit.stills import Picture

FACING = {"front": "the character's left →", "side": "← facing this way"}
LETTER = 6.9  # px, the width of a letter, to choose the side of a label
SIZE = (300, 404)  # px, as a plate of the bench
LINE = 17  # px from one line of words to the next
STRIP = 48  # px kept free of flesh for the title
LONG = 62  # px that an axis square to the eye is long
HEAD = 8  # px, the head of an axis's arrow
FAINT = 0.28  # how strong joints and bones are drawn that are not what a picture is about
DASHES = {"x": "", "y": "6 4", "z": "1.5 4"}
WIDTHS = {"x": 2.6, "y": 2.0, "z": 2.6}
APART = 13  # px between two letters at least
SHORTEST = 9  # px: an axis that is drawn shorter points at the eye, or away from it, and becomes a ring
RING = 8.5  # px, its radius: a dot in it is an arrow's tip, a cross an arrow's tail


@dataclass(frozen=True, eq=False)
class Pose:
    """What one plate shows. parents: as in a skeleton. axes: by joint number a rotation (3, 3), world from joint.
    names: by joint number what is written beside it. note: a line of words at the foot. ghost: places (j, 3) at rest.
    threads: rows of vertices, drawn as lines on the skin. faint: joints that are not what the plate is about.
    to_left: joints whose names stand at their left.
    uprights: by its words a place (3,) through which a dashed line runs up and down, one or two of them."""

    mesh: Mesh
    places: np.ndarray
    parents: tuple[int | None, ...]
    axes: Mapping[int, np.ndarray] = field(default_factory=dict)
    names: Mapping[int, str] = field(default_factory=dict)
    note: str = ""
    ghost: np.ndarray | None = None
    threads: Sequence[Sequence[int]] = ()
    faint: Collection[int] = ()
    to_left: Collection[int] = ()
    uprights: Mapping[str, np.ndarray] = field(default_factory=dict)

    @cached_property
    def edges(self) -> Edges:
        """The edges of the skin, for contours."""
        return Edges.of(self.mesh.triangles)


def plates(poses: Sequence[tuple[str, str, Pose]], sentences: Sequence[str], side: str = "left",
           room: np.ndarray | None = None, views: Mapping[str, View] | None = None) -> Picture:  # fmt: skip
    """Plates side by side, to one scale: for each a title, a view's name and the pose; a sentence for each, for those
    who cannot see it. room: more points (k, 3) that must fit. views: given ones, where the usual fit is not wanted."""
    points = np.concatenate([pose.mesh.vertices for _, _, pose in poses] + ([] if room is None else [room]))
    names = dict.fromkeys(name for _, name, _ in poses)
    seen = views or fit_views(poses[0][2].mesh, dict.fromkeys(names, SIZE), side, points)
    drawn = [_plate(seen[name], title, pose, said)
             for (title, name, pose), said in zip(poses, sentences, strict=True)]  # fmt: skip
    return Picture(list(zip(drawn, sentences, strict=True)))


def close_up(view: View, centre: np.ndarray, tall: float, size: tuple[int, int] = SIZE) -> View:
    """The same view of a piece about a centre (3,), so many metres tall."""
    return replace(view, centre=tuple(np.asarray(centre).tolist()), scale=(size[1] - 110) / tall, size=size)


def _plate(view: View, title: str, pose: Pose, sentence: str) -> str:
    width, height = view.size
    body = [flesh(view, pose.mesh.vertices, pose.mesh.triangles, pose.edges, LIGHT)]
    if pose.ghost is not None:
        body.append(bones(view.project(pose.ghost), pose.parents, LIGHT.ink, dash="3 5"))
    at = view.project(pose.places)
    body += [_thread(view, pose.mesh, row) for row in pose.threads] + _uprights(view, pose.uprights)
    for behind in (True, False):
        shown = [joint for joint in range(len(at)) if (joint in pose.faint) == behind]
        parents = [parent if joint in shown else None for joint, parent in enumerate(pose.parents)]
        strong = FAINT if behind else 1.0
        body.append(bones(at, parents, LIGHT.ink, opacity=0.92 * strong))
        body += [f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4.2" fill="{LIGHT.paper}" stroke="{LIGHT.ink}" '
                 f'stroke-width="1.7" opacity="{strong:g}"/>' for x, y in at[shown]]  # fmt: skip
    body += [_axes(view, at[joint], axes) for joint, axes in pose.axes.items()]
    body += _labels(view, at, pose, _along_axes(view, at, pose.axes))
    body.append(f'<rect width="{width}" height="{STRIP}" fill="{LIGHT.paper}"/>')
    body.append(words(14, 23, title, LIGHT, weight="bold"))
    body.append(words(14, 41, FACING.get(view.name, ""), LIGHT))
    body.append(words(14, height - 14, pose.note, LIGHT))
    return svg(view.size, sentence, body, LIGHT.paper)


def _along_axes(view: View, at: np.ndarray, axes: Mapping[int, np.ndarray]) -> np.ndarray:
    """Points (k, 2) along the arrows of own axes, px: where no name should stand."""
    flat, share = np.stack([view.right, -np.asarray(view.up)], axis=1), np.linspace(0.15, 1.15, 6)
    steps = [at[joint] + LONG * share[:, None] * (way @ flat) for joint, own in axes.items() for way in own.T]
    return np.concatenate([np.zeros((0, 2)), *steps])


def _labels(view: View, at: np.ndarray, pose: Pose, arrows: np.ndarray) -> list[str]:
    """Names beside their joints, where the fewest arrows run through, each below names that it would run into."""
    drawn, taken = [], list[tuple[float, float, float]]()
    for joint, name in pose.names.items():
        (x, y), wide = at[joint], 1.15 * LETTER * len(name)
        room = x + 14 + wide < view.size[0] - 4 and joint not in pose.to_left
        spots = [(x + 12, y - 8)] if room else []
        spots += [(x - 12 - wide, y - 8)] if not spots or len(arrows) and x - 14 - wide > 4 else []
        spots += [(begin, base + lower) for begin, base in spots for lower in (28, -14)] if len(arrows) else []

        def crossed(spot: tuple[float, float], wide=wide) -> int:
            off = arrows - spot
            return int(np.sum((off[:, 0] > -8) & (off[:, 0] < wide + 8) & (off[:, 1] > -16) & (off[:, 1] < 6)))

        left, y = min(spots, key=crossed)
        while any(abs(y - other) < LINE and left < end and begin < left + wide for other, begin, end in taken):
            y += 2
        taken.append((y, left, left + wide))
        drawn.append(words(left, y, name, LIGHT, weight="bold"))
    return drawn


def _uprights(view: View, uprights: Mapping[str, np.ndarray]) -> list[str]:
    """Dashed lines from head to foot of a plate; the words of the first stand at its left, of others at their right."""
    drawn = []
    for n, (said, place) in enumerate(uprights.items()):
        x, foot = float(view.project(place[None])[0, 0]), view.size[1] - 2 * LINE
        drawn.append(line(np.array([x, STRIP]), np.array([x, foot + 6]), LIGHT.ink, 1.2, "7 5"))
        drawn.append(words(x - 7 if n == 0 else x + 7, foot, said, LIGHT, anchor="start" if n else "end"))
    return drawn


def _axes(view: View, here: np.ndarray, axes: np.ndarray) -> str:
    """The three own axes of a joint as arrows: x solid, y dashed, z dotted, each with its letter at its end."""
    drawn, letters, rings = [], list[np.ndarray](), []
    flat = LONG * np.asarray(axes).T @ np.stack([view.right, -np.asarray(view.up)], axis=1)
    for letter, way, step in zip("xyz", np.asarray(axes).T, flat, strict=True):
        long = float(np.hypot(*step))
        if long < SHORTEST:
            rings.append(_ring(here, letter, bool(way @ view.toward > 0), flat.sum(axis=0)))
            continue
        drawn.append(line(here, here + step, LIGHT.paper, 5))
        head = min(HEAD, long / 2) * step / long
        drawn.append(line(here, here + step - head, LIGHT.right.ink, WIDTHS[letter], DASHES[letter]))
        drawn.append(_head(here + step, head))
        place = here + step * (1 + 9 / long)
        while any(np.hypot(*(place - other)) < APART for other in letters):
            place = place + step * 2 / long
        letters.append(place)
        drawn.append(words(place[0], place[1] + 4, letter, LIGHT, LIGHT.right.ink, "middle", "bold"))
    return "".join([*drawn, *rings])


def _ring(here: np.ndarray, letter: str, at_the_eye: bool, others: np.ndarray) -> str:
    """An axis along the line of sight: a ring with a dot or a cross, its letter away from the other arrows (px)."""
    (x, y), ink, arm = here, LIGHT.right.ink, 0.7 * RING
    ring = f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{RING}" fill="{LIGHT.paper}" stroke="{ink}" stroke-width="2"/>'
    mark = f'<circle cx="{x:.1f}" cy="{y:.1f}" r="3" fill="{ink}"/>'
    if not at_the_eye:
        arms = arm * np.array([[1, 1], [1, -1]])
        mark = "".join(line(here - one, here + one, ink, 2.0) for one in arms)
    place = here - (RING + 11) * others / max(float(np.hypot(*others)), 1.0)
    return ring + mark + words(place[0], place[1] + 4, letter, LIGHT, ink, "middle", "bold")


def _head(tip: np.ndarray, along: np.ndarray) -> str:
    """The head of an arrow: a triangle from its tip back along its way (px)."""
    aside = 0.5 * np.array([-along[1], along[0]])
    corners = " ".join(f"{x:.1f},{y:.1f}" for x, y in (tip, tip - along + aside, tip - along - aside))
    return f'<polygon points="{corners}" fill="{LIGHT.right.ink}"/>'


def _thread(view: View, mesh: Mesh, row: Sequence[int]) -> str:
    """A thread laid along the skin through vertices (k), drawn where the skin faces the eye."""
    normals = np.zeros_like(mesh.vertices)
    for corner in range(3):
        np.add.at(normals, mesh.triangles[:, corner], mesh.normals)
    at, facing = view.project(mesh.vertices[list(row)]), normals[list(row)] @ view.toward > 0
    seen = [line(at[i], at[i + 1], LIGHT.ink, 1.8) for i in range(len(row) - 1) if facing[i] and facing[i + 1]]
    return "".join(seen)
