"""Meshes in closed form for tests: their areas, centroids and volumes are known without rigkit."""

import numpy as np

from rigkit.mesh import Mesh


def tube(rings: np.ndarray) -> Mesh:
    """A closed tube through rings (r, k, 3) of points, counter-clockwise seen from the last ring; flat fans at the ends."""
    count, sides, _ = rings.shape
    vertices = np.concatenate([rings.reshape(-1, 3), rings[0].mean(0)[None], rings[-1].mean(0)[None]])
    low, high = count * sides, count * sides + 1
    triangles = []
    for side in range(sides):
        after = (side + 1) % sides
        for ring in range(count - 1):
            a, b = ring * sides + side, ring * sides + after
            c, d = a + sides, b + sides
            triangles += [[a, b, d], [a, d, c]]
        triangles += [[low, after, side], [high, (count - 1) * sides + side, (count - 1) * sides + after]]
    return Mesh(vertices, np.array(triangles))


def prism(outline: np.ndarray, bottom: float, top: float, rings: int = 2) -> Mesh:
    """A prism along +z over an outline (k, 2), counter-clockwise seen from above."""
    heights = np.linspace(bottom, top, rings)
    return tube(np.array([np.column_stack([outline, np.full(len(outline), z)]) for z in heights]))


def ellipse(a: float, b: float, sides: int, center=(0.0, 0.0), angles=None) -> np.ndarray:
    """An outline (k, 2) of points on an ellipse, evenly spaced in angle or at the given angles."""
    angles = np.arange(sides) * 2 * np.pi / sides if angles is None else np.asarray(angles)
    return np.column_stack([center[0] + a * np.cos(angles), center[1] + b * np.sin(angles)])


def random_frame(seed: int, reach: float = 1.0):
    """A rigid frame with a random rotation and an origin within reach."""
    from rigkit.frames import Frame, rotation_about

    rng = np.random.default_rng(seed)
    return Frame(rotation_about(rng.normal(size=3), rng.uniform(0, np.pi)), rng.uniform(-reach, reach, 3))


def spoiled(mesh: Mesh, how: str, seed: int = 5) -> Mesh:
    """The mesh with triangles that face the other way, or are there twice; vertices first as they were."""
    rng, n = np.random.default_rng(seed), len(mesh.vertices)
    back = mesh.triangles[:, ::-1]
    if how == "two-sided soup":
        turned = np.vstack([mesh.triangles, back + n])
        return Mesh(np.vstack([mesh.vertices] * 2), turned[rng.permutation(len(turned))])
    doubled = {"two-sided": back, "each twice": mesh.triangles}
    if how in doubled:
        return Mesh(mesh.vertices, np.vstack([mesh.triangles, doubled[how]]))
    share = {"a third reversed": 1 / 3, "half reversed": 1 / 2, "one reversed": 0.0, "inside out": 1.0}[how]
    turn = rng.random(len(back)) < share
    turn[0] = True
    return Mesh(mesh.vertices, np.where(turn[:, None], back, mesh.triangles))
