"""Still plates of posed flesh: skin vertices (n, 3), joint places (j, 3) and, where wanted, each joint's own axes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
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
LONG = 46  # px that an axis square to the eye is long
DASHES = {"x": "", "y": "6 4", "z": "1.5 4"}
WIDTHS = {"x": 2.6, "y": 2.0, "z": 2.6}
APART = 13  # px between two letters at least
SHORTEST = 9  # px: an axis that points at the eye has no letter


@dataclass(frozen=True, eq=False)
class Pose:
    """What one plate shows. parents: as in a skeleton. axes: by joint number a rotation (3, 3), world from joint.
    names: by joint number what is written beside it. note: a line of words at the foot. ghost: places (j, 3) at rest.
    threads: rows of vertices, drawn as lines on the skin."""

    mesh: Mesh
    places: np.ndarray
    parents: tuple[int | None, ...]
    axes: Mapping[int, np.ndarray] = field(default_factory=dict)
    names: Mapping[int, str] = field(default_factory=dict)
    note: str = ""
    ghost: np.ndarray | None = None
    threads: Sequence[Sequence[int]] = ()

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
    body += [_thread(view, pose.mesh, row) for row in pose.threads]
    body.append(bones(at, pose.parents, LIGHT.ink))
    body += [f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4.2" fill="{LIGHT.paper}" stroke="{LIGHT.ink}" '
             f'stroke-width="1.7"/>' for x, y in at]  # fmt: skip
    body += [_axes(view, at[joint], axes) for joint, axes in pose.axes.items()]
    body += _labels(view, at, pose.names)
    body.append(f'<rect width="{width}" height="{STRIP}" fill="{LIGHT.paper}"/>')
    body.append(words(14, 23, title, LIGHT, weight="bold"))
    body.append(words(14, 41, FACING.get(view.name, ""), LIGHT))
    body.append(words(14, height - 14, pose.note, LIGHT))
    return svg(view.size, sentence, body, LIGHT.paper)


def _labels(view: View, at: np.ndarray, names: Mapping[int, str]) -> list[str]:
    """Names beside their joints, each below those that it would run into."""
    drawn, taken = [], list[tuple[float, float, float]]()
    for joint, name in names.items():
        (x, y), wide = at[joint], 1.15 * LETTER * len(name)
        left = x + 12 if x + 14 + wide < view.size[0] - 4 else x - 12 - wide
        y -= 8
        while any(abs(y - other) < LINE and left < end and begin < left + wide for other, begin, end in taken):
            y += 2
        taken.append((y, left, left + wide))
        drawn.append(words(left, y, name, LIGHT, weight="bold"))
    return drawn


def _axes(view: View, here: np.ndarray, axes: np.ndarray) -> str:
    """The three own axes of a joint: x solid, y dashed, z dotted, each with its letter at its end."""
    drawn, letters = [], list[np.ndarray]()
    for letter, way in zip("xyz", np.asarray(axes).T, strict=True):
        step = LONG * np.array([way @ view.right, -(way @ view.up)])
        long = float(np.hypot(*step))
        drawn.append(line(here, here + step, LIGHT.paper, 5))
        drawn.append(line(here, here + step, LIGHT.right.ink, WIDTHS[letter], DASHES[letter]))
        if long >= SHORTEST:
            place = here + step * (1 + 9 / long)
            while any(np.hypot(*(place - other)) < APART for other in letters):
                place = place + step * 2 / long
            letters.append(place)
            drawn.append(words(place[0], place[1] + 4, letter, LIGHT, LIGHT.right.ink, "middle", "bold"))
    return "".join(drawn)


def _thread(view: View, mesh: Mesh, row: Sequence[int]) -> str:
    """A thread laid along the skin through vertices (k), drawn where the skin faces the eye."""
    normals = np.zeros_like(mesh.vertices)
    for corner in range(3):
        np.add.at(normals, mesh.triangles[:, corner], mesh.normals)
    at, facing = view.project(mesh.vertices[list(row)]), normals[list(row)] @ view.toward > 0
    seen = [line(at[i], at[i + 1], LIGHT.ink, 1.8) for i in range(len(row) - 1) if facing[i] and facing[i + 1]]
    return "".join(seen)
