"""Plates of lesson 12: an arm's bent skin in close-ups, one misplacement beside the other, as SVG text."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from rigkit.outline import Edges
from rigkit.picture import LIGHT, View, standard_view
from rigkit.plates import bones, flesh, svg, words
from rigkit.stills import Picture
from rigkit.taught.skin_ways import Bent, Hung

SIZE = (262, 268)  # px; three lie side by side in a notebook
HEAD, FOOT = 50, 24  # px kept free of flesh
TALL = 0.25  # metres of limb that a close-up shows
AHEAD, ABOVE = 0.05, 0.045  # metres from the joint to the middle of the close-up, towards where the limb folds


def close_up(hung: Hung, size: tuple[int, int] = SIZE) -> View:
    """The view from the side of a limb's bent skin about the place that its middle joint has."""
    centre = hung.joints[1] + AHEAD * hung.limb.body[2] + ABOVE * hung.limb.body[1]
    seen = standard_view("side", hung.limb.exercise.side)
    return replace(seen, centre=tuple(centre.tolist()), scale=(size[1] - HEAD - FOOT) / TALL, size=size)


def plate(seen: View, side: str, title: str, told: str, bent: Bent) -> tuple[str, str]:
    """One close-up with its title and a line of words, and the sentence that says what it shows."""
    at, mesh, (wide, high) = seen.project(bent.places), bent.mesh, seen.size
    forward = ("forward →", wide - 10, "end") if side == "right" else ("← forward", 10, "start")
    x, y = at[1]
    body = [flesh(seen, mesh.vertices, mesh.triangles, Edges.of(mesh.triangles), LIGHT),
            bones(at, (None, 0, 1), LIGHT.ink),
            f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4.4" fill="{LIGHT.paper}" stroke="{LIGHT.ink}" />',
            f'<rect width="{wide}" height="{HEAD - 4}" fill="{LIGHT.paper}"/>',
            f'<rect y="{high - FOOT}" width="{wide}" height="{FOOT}" fill="{LIGHT.paper}"/>',
            words(12, 21, title, LIGHT, weight="bold"), words(12, 39, told, LIGHT),
            words(forward[1], high - 8, forward[0], LIGHT, anchor=forward[2])]  # fmt: skip
    sentence = f"{title}, the elbow bent by {told}."
    return svg(seen.size, sentence, body, LIGHT.paper), sentence


def bent_picture(rows: Sequence[tuple[str, Hung, float]], with_kept: bool = True) -> Picture:
    """Close-ups from the side: for each a title, a limb with its skin, and how many degrees it is bent; all about the
    place that the first one's joint has. with_kept: under the title stands what share of its own flesh it keeps."""
    first = rows[0][1]
    seen, radius, plates = close_up(first), first.radius, []
    for title, hung, degrees in rows:
        bent = hung.bent(degrees)
        kept = f": keeps {100 * bent.kept(radius):.0f} % of its flesh" if with_kept else ""
        plates.append(plate(seen, hung.limb.exercise.side, title, f"{degrees:.0f}°{kept}", bent))
    return Picture(plates)
