"""Skin of an arm with a hand, on 20 bones: weights by heat beside weights by nearness, and bending it once."""

import time
from statistics import median

import numpy as np
import scipy.sparse.linalg  # noqa: F401 - its import is no part of what is timed

from rigkit.frames import Frame, rotation_about
from rigkit.heat import heat_weights
from rigkit.limbs import practice_limb
from rigkit.skin import bend_skin, proximity_weights


def _timed(call, rounds: int) -> tuple[float, float]:
    """Median and worst milliseconds."""
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        call()
        times.append(1000 * (time.perf_counter() - start))
    return median(times), max(times)


def rows() -> list[tuple[str, ...]]:
    """Weights and one bending."""
    arm = practice_limb("arm", 7)
    bones = [[arm.key.positions[parent], arm.key.positions[joint]]
             for joint, parent in enumerate(arm.key.parents) if parent is not None][:20]  # fmt: skip
    what = f"{len(arm.mesh.triangles):,} triangles, {len(bones)} bones"
    weights = heat_weights(arm.mesh, np.array(bones))
    heat, heat_worst = _timed(lambda: heat_weights(arm.mesh, np.array(bones)), 11)
    near, _ = _timed(lambda: proximity_weights(arm.mesh, np.array(bones)), 11)
    turned = [Frame(rotation_about([0, 0, 1], 0.02 * k), [0, 0, 0.001 * k]) for k in range(len(bones))]
    bent, bent_worst = _timed(lambda: bend_skin(arm.mesh, weights.weights, turned), 51)
    off = float(np.abs(weights.weights.sum(axis=1) - 1).max())
    return [
        (f"skin weights, {what}", f"{heat:.0f} ms (worst {heat_worst:.0f})", f"by nearness {near:.0f} ms", f"{near / heat:.2f}", f"rows sum to 1 within {off:.0e}"),
        (f"bending that skin once, {what}", f"{bent:.1f} ms (worst {bent_worst:.1f})", "", "", ""),
    ]  # fmt: skip
