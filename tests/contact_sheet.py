"""A sheet with every kind of practice limb, to be looked at: `python -m tests.contact_sheet OUT.png [SEED ...]`.

Shaded triangles and true joints, from the front, from the character's left, turned, and its end from near by; one row a
kind and seed.
"""

import sys
from pathlib import Path

import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.collections import PolyCollection
from matplotlib.figure import Figure

from rigkit.limbs import KINDS, PracticeLimb, practice_limb

# Rows: what is drawn to the right, upwards, and towards the eye.
VIEWS = {
    "front": np.eye(3),
    "its left": np.array([[0, 0, -1.0], [0, 1, 0], [1, 0, 0]]),
    "turned": np.array([[0.8, 0, -0.6], [-0.21, 0.94, -0.28], [0.564, 0.35, 0.752]]),
}
NEAR = 0.13  # metres
LIGHT = np.array([-0.4, 0.6, 0.7]) / np.sqrt(1.01)


def draw(axes, limb: PracticeLimb, eye_from_world: np.ndarray) -> None:
    """One limb in one view: triangles from far to near, joints and bones over them."""
    corners = limb.mesh.corners @ eye_from_world.T
    normals = limb.mesh.normals @ eye_from_world.T
    size = np.linalg.norm(normals, axis=1)
    near = np.flatnonzero((normals[:, 2] > 0) & (size > 0))
    near = near[np.argsort(corners[near, :, 2].mean(axis=1))]
    shade = 0.62 + 0.38 * np.clip(normals[near] @ LIGHT / size[near], 0, 1)
    colours = np.clip(shade[:, None] * np.array([[0.95, 0.83, 0.75]]), 0, 1)
    axes.add_collection(
        PolyCollection(corners[near, :, :2], facecolors=colours, edgecolors=colours * 0.9, linewidths=0.15)
    )
    joints = limb.key.positions @ eye_from_world.T
    for joint, parent in enumerate(limb.key.parents):
        if parent is not None:
            axes.plot(*joints[[parent, joint], :2].T, color="#1F2933", linewidth=0.8)
    axes.plot(*joints[:, :2].T, "o", color="#FBF8F3", markeredgecolor="#1F2933", markersize=2.6, markeredgewidth=0.7)
    axes.set_aspect("equal")
    axes.autoscale_view()
    axes.axis("off")


def sheet(path: Path, seeds: list[int], kinds: list[str]) -> None:
    """Write the sheet as PNG."""
    rows = [(kind, seed) for kind in kinds for seed in seeds]
    columns = len(VIEWS) + 1
    figure = Figure(figsize=(4.2 * columns, 4.2 * len(rows)), facecolor="#FBF8F3")
    FigureCanvasAgg(figure)
    for row, (kind, seed) in enumerate(rows):
        limb = practice_limb(kind, seed)
        for column, (view, eye_from_world) in enumerate(VIEWS.items()):
            axes = figure.add_subplot(len(rows), columns, row * columns + column + 1)
            draw(axes, limb, eye_from_world)
            axes.set_title(f"{kind}, seed {seed}, {view}", fontsize=9)
        axes = figure.add_subplot(len(rows), columns, (row + 1) * columns)
        draw(axes, limb, VIEWS["turned"])
        x, y = (VIEWS["turned"] @ limb.key.positions[-2:].mean(axis=0))[:2]
        axes.set(xlim=(x - NEAR, x + NEAR), ylim=(y - NEAR, y + NEAR), title="its end")
    figure.tight_layout()
    figure.savefig(path, dpi=80)


if __name__ == "__main__":
    asked = sys.argv[2:]
    chosen = [word for word in asked if not word.isdecimal()] or list(KINDS)
    sheet(Path(sys.argv[1]), [int(word) for word in asked if word.isdecimal()] or [7], chosen)
