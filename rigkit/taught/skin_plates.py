"""Plates of lesson 12: an arm's bent skin in close-ups, one misplacement beside the other, as SVG text."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from rigkit.outline import Edges
from rigkit.picture import LIGHT, standard_view
from rigkit.plates import bones, flesh, svg, words
from rigkit.stills import Picture
from rigkit.taught.skin_ways import Hung

SIZE = (262, 268)  # px; three lie side by side in a notebook
HEAD, FOOT = 50, 24  # px kept free of flesh
TALL = 0.25  # metres of limb that a close-up shows
AHEAD, ABOVE = 0.05, 0.045  # metres from the joint to the middle of the close-up, towards where the limb folds


def bent_picture(rows: Sequence[tuple[str, Hung, float]]) -> Picture:
    """Close-ups from the side: for each a title, a limb with its skin, and how many degrees it is bent; all about the
    place that the first one's joint has. Under the title stands what share of its own flesh the joint keeps."""
    first = rows[0][1]
    side, radius = first.limb.exercise.side, first.radius
    centre = first.joints[1] + AHEAD * first.limb.body[2] + ABOVE * first.limb.body[1]
    scale = (SIZE[1] - HEAD - FOOT) / TALL
    seen = replace(standard_view("side", side), centre=tuple(centre.tolist()), scale=scale, size=SIZE)
    forward = ("forward →", SIZE[0] - 10, "end") if side == "right" else ("← forward", 10, "start")
    plates = []
    for title, hung, degrees in rows:
        mesh, places = hung.bent(degrees)
        at, kept = seen.project(places), hung.measured([degrees], radius)[0].kept
        told = f"{degrees:.0f}°: keeps {100 * kept:.0f} % of its flesh"
        x, y = at[1]
        body = [flesh(seen, mesh.vertices, mesh.triangles, Edges.of(mesh.triangles), LIGHT),
                bones(at, (None, 0, 1), LIGHT.ink),
                f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4.4" fill="{LIGHT.paper}" stroke="{LIGHT.ink}" />',
                f'<rect width="{SIZE[0]}" height="{HEAD - 4}" fill="{LIGHT.paper}"/>',
                f'<rect y="{SIZE[1] - FOOT}" width="{SIZE[0]}" height="{FOOT}" fill="{LIGHT.paper}"/>',
                words(12, 21, title, LIGHT, weight="bold"), words(12, 39, told, LIGHT),
                words(forward[1], SIZE[1] - 8, forward[0], LIGHT, anchor=forward[2])]  # fmt: skip
        sentence = f"{title}, the elbow bent by {told}."
        plates.append((svg(SIZE, sentence, body, LIGHT.paper), sentence))
    return Picture(plates)
