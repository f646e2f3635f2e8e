"""Solvers for chains of any length, many chains at once: joint places (..., k, 3) in metres, targets (..., 3).

A step-by-step solver sees where the joints are and moves them until the last one meets its target. None of them is told
which way a limb folds; each starts from the rest it is given, and what side it ends on comes from there.
"""

from dataclasses import dataclass

import numpy as np

from rigkit.require import RigError
from rigkit.tolerance import NO_LENGTH

CLOSE = 1e-6
"""Metres: a micrometre from the target is reached (learner: far below what a screen shows)."""


@dataclass(frozen=True, eq=False)
class Solved:
    """Places (..., k, 3) of the solved chains, metres, and how far (...,) each end still is from its target."""

    positions: np.ndarray
    missed: np.ndarray


def _chains(positions, targets) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    positions, targets = np.array(positions, dtype=float), np.asarray(targets, dtype=float)
    if positions.ndim < 2 or positions.shape[-1] != 3 or positions.shape[-2] < 2:
        raise RigError("chains of at least two joints, (..., k, 3)", f"shape {positions.shape}", where="a solver")
    if not np.all(np.isfinite(positions)) or not np.all(np.isfinite(targets)):
        raise RigError("finite places", "NaN or infinity", where="a solver")
    lengths = np.linalg.norm(np.diff(positions, axis=-2), axis=-1)
    if lengths.size and lengths.min() < NO_LENGTH:
        raise RigError("bones with a length", "two joints in one place", where="a solver")
    shape = np.broadcast_shapes(positions.shape[:-2], targets.shape[:-1])
    positions = np.array(np.broadcast_to(positions, (*shape, *positions.shape[-2:])))
    return positions, np.broadcast_to(targets, (*shape, 3)), lengths


def _missed(positions: np.ndarray, targets: np.ndarray) -> np.ndarray:
    return np.linalg.norm(positions[..., -1, :] - targets, axis=-1)


def _reach(start: np.ndarray, towards: np.ndarray, length: np.ndarray) -> np.ndarray:
    """The point at a bone's length from start in the direction of another point."""
    arrow = towards - start
    size = np.linalg.norm(arrow, axis=-1, keepdims=True)
    return start + arrow * (length[..., None] / np.maximum(size, NO_LENGTH))


def fabrik(positions, targets, most: int = 60) -> Solved:
    """Forward and backward reaching: the chain is laid from the target back, then from its root forth, and again.

    Aristidou & Lasenby, "FABRIK: a fast, iterative solver for the inverse kinematics problem", Graphical Models 73,
    2011. Bones keep their lengths; a straight chain whose target lies on its own line stays straight.

    >>> chain = [[0, 0, 0], [0.3, 0.02, 0], [0.55, 0, 0]]
    >>> bool(fabrik(chain, [0.4, 0, 0]).missed < 1e-4)
    True
    """
    positions, targets, lengths = _chains(positions, targets)
    root = positions[..., 0, :].copy()
    joints = positions.shape[-2]
    for _ in range(most):
        positions[..., -1, :] = targets
        for j in range(joints - 2, -1, -1):
            positions[..., j, :] = _reach(positions[..., j + 1, :], positions[..., j, :], lengths[..., j])
        positions[..., 0, :] = root
        for j in range(1, joints):
            positions[..., j, :] = _reach(positions[..., j - 1, :], positions[..., j, :], lengths[..., j - 1])
        if np.all(_missed(positions, targets) < CLOSE):
            break
    return Solved(positions, _missed(positions, targets))


def _turned(points: np.ndarray, about: np.ndarray, axis: np.ndarray, angle: np.ndarray) -> np.ndarray:
    """Points (..., n, 3) turned by angles (...,) about unit axes (..., 3) through places (..., 3) (Rodrigues)."""
    arrows = points - about[..., None, :]
    axis, cos, sin = axis[..., None, :], np.cos(angle)[..., None, None], np.sin(angle)[..., None, None]
    along = np.sum(arrows * axis, axis=-1, keepdims=True)
    return about[..., None, :] + cos * arrows + sin * np.cross(axis, arrows) + (1 - cos) * along * axis


def cyclic_descent(positions, targets, hinges=None, most: int = 60) -> Solved:
    """Cyclic coordinate descent: from the last joint to the root, each turns so that the end points at the target.

    hinges: axes (..., k - 1, 3) at the start, one for each joint but the last, zero for one that turns freely; a hinge
    stays square to its bone and is carried along by the joints above it.
    Wang & Chen, "A combined optimization method for solving the inverse kinematics problem", 1991 (from memory).
    """
    positions, targets, _ = _chains(positions, targets)
    joints = positions.shape[-2]
    axes = np.zeros((*positions.shape[:-2], joints - 1, 3))
    axes += 0.0 if hinges is None else np.asarray(hinges, dtype=float)
    hinged = np.linalg.norm(axes, axis=-1) > NO_LENGTH
    for _ in range(most):
        for j in range(joints - 2, -1, -1):
            here = positions[..., j, :]
            to_end, to_target = positions[..., -1, :] - here, targets - here
            normal = np.cross(to_end, to_target)
            size = np.linalg.norm(normal, axis=-1, keepdims=True)
            free = normal / np.maximum(size, NO_LENGTH)
            axis = np.where(hinged[..., j, None], axes[..., j, :], free)
            angle = np.arctan2(
                np.sum(normal * axis, -1),
                np.sum(to_end * to_target, -1) - np.sum(to_end * axis, -1) * np.sum(to_target * axis, -1),
            )
            angle = np.where(np.linalg.norm(axis, axis=-1) > 0.5, angle, 0.0)
            positions[..., j + 1 :, :] = _turned(positions[..., j + 1 :, :], here, axis, angle)
            origin = np.zeros_like(here)
            axes[..., j + 1 :, :] = _turned(axes[..., j + 1 :, :], origin, axis, angle)
        if np.all(_missed(positions, targets) < CLOSE):
            break
    return Solved(positions, _missed(positions, targets))


def damped_least_squares(positions, targets, hinges, damping: float = 0.03, most: int = 120) -> Solved:
    """Damped least squares: all joints turn together by the step that brings the end nearest for the least turning.

    hinges as for `cyclic_descent`; a zero axis is a joint that turns freely (three axes). damping in metres.
    Wampler, "Manipulator inverse kinematic solutions based on vector formulations and damped least-squares methods",
    1986 (from memory).
    """
    positions, targets, _ = _chains(positions, targets)
    joints = positions.shape[-2]
    axes = np.zeros((*positions.shape[:-2], joints - 1, 3)) + np.asarray(hinges, dtype=float)
    hinged = np.linalg.norm(axes, axis=-1, keepdims=True) > NO_LENGTH
    for _ in range(most):
        error = targets - positions[..., -1, :]
        if np.all(np.linalg.norm(error, axis=-1) < CLOSE):
            break
        arms = positions[..., -1:, :] - positions[..., :-1, :]
        # A free joint may turn about x, y and z; a hinge has its one axis and two that do nothing.
        turns = np.where(hinged[..., None], np.stack([axes, 0 * axes, 0 * axes], -2), np.eye(3))
        columns = np.cross(turns, arms[..., None, :]).reshape(*arms.shape[:-2], -1, 3)
        square = np.swapaxes(columns, -1, -2) @ columns + damping**2 * np.eye(3)
        steps = columns @ np.linalg.solve(square, error[..., None])
        for j in range(joints - 1):
            # Steps are taken from the root down; each carries the axes of the joints below it along.
            vector = np.sum(steps[..., 3 * j : 3 * j + 3, :] * turns[..., j, :, :], axis=-2)
            angle = np.linalg.norm(vector, axis=-1)
            axis = vector / np.maximum(angle, NO_LENGTH)[..., None]
            here = positions[..., j, :]
            positions[..., j + 1 :, :] = _turned(positions[..., j + 1 :, :], here, axis, angle)
            turned = _turned(axes[..., j + 1 :, :], np.zeros_like(here), axis, angle)
            turns[..., j + 1 :, :1, :] = np.where(
                hinged[..., j + 1 :, :, None], turned[..., None, :], turns[..., j + 1 :, :1, :]
            )
            axes[..., j + 1 :, :] = turned
    return Solved(positions, _missed(positions, targets))
