"""Section to centroid on tubes of 2 k, 20 k and 200 k triangles, beside trimesh on the same planes."""

import time

import numpy as np
import trimesh

from rigkit.mesh import Mesh
from rigkit.section import Plane, cut
from tests.shapes import prism, tube

SIZES = ((41, 25), (141, 72), (441, 228))


def uneven_tube(rings: int, around: int) -> Mesh:
    """A closed tube 0.6 m long whose sections differ all along."""
    turn = np.arange(around) * 2 * np.pi / around
    heights = np.linspace(0, 0.6, rings)
    radius = 0.05 * (1 + 0.2 * np.sin(8 * heights)[:, None] + 0.1 * np.cos(2 * turn)
                     + 0.05 * np.sin(3 * turn + 12 * heights[:, None]))  # fmt: skip
    flat = np.stack([radius * np.cos(turn), radius * np.sin(turn)], axis=-1)
    return tube(np.concatenate([flat, np.broadcast_to(heights[:, None, None], (rings, around, 1))], axis=-1))


def planes(count: int, seed: int = 3) -> list[tuple[np.ndarray, np.ndarray]]:
    """Slanted planes across the tube: (origin, normal) each."""
    rng = np.random.default_rng(seed)
    normals = np.column_stack([rng.normal(size=(count, 2)) * 0.2, np.ones(count)])
    origins = np.column_stack([np.zeros((count, 2)), rng.uniform(0.1, 0.5, count)])
    return list(zip(origins, normals / np.linalg.norm(normals, axis=1)[:, None], strict=True))


def ours(mesh: Mesh, origin: np.ndarray, normal: np.ndarray) -> np.ndarray:
    return cut(mesh, Plane(origin, normal)).holding(origin).loop.centroid


def theirs(mesh: trimesh.Trimesh, origin: np.ndarray, normal: np.ndarray) -> np.ndarray:
    planar, world_from_flat = mesh.section(plane_origin=origin, plane_normal=normal).to_2D()
    centre = planar.polygons_full[0].centroid
    return (world_from_flat @ [centre.x, centre.y, 0, 1])[:3]


def of_their_crossings(mesh: trimesh.Trimesh, origin: np.ndarray, normal: np.ndarray) -> np.ndarray:
    """The same centroid from trimesh's own crossing segments, summed here: its polygons merge points 1e-8 m apart."""
    plane = Plane(origin, normal)
    flat = plane.flat(trimesh.intersections.mesh_plane(mesh, normal, origin))
    middle = flat.mean(axis=(0, 1))
    a, b = flat[:, 0] - middle, flat[:, 1] - middle
    wedge = np.abs(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])  # the tube is star-shaped about its middle
    return plane.origin + (middle + wedge @ (a + b) / (3 * wedge.sum())) @ plane.axes


def rows() -> list[tuple[str, ...]]:
    """One row a size: triangles, index ms, rigkit ms, trimesh ms, ratio, greatest difference in metres."""
    ours(prism(np.array([[-1.0, -1], [1, -1], [0, 1]]), -1, 1), np.zeros(3), np.array([0.0, 0, 1]))
    table = []
    for rings, around in SIZES:
        mesh = uneven_tube(rings, around)
        other = trimesh.Trimesh(mesh.vertices, mesh.triangles, process=False)
        start = time.perf_counter()
        ours(mesh, *planes(1)[0])
        first = time.perf_counter() - start
        theirs(other, *planes(1)[0])
        times: dict[str, list[float]] = {"ours": [], "theirs": []}
        apart = 0.0
        for plane in planes(60):
            for name, one, body in (("ours", ours, mesh), ("theirs", theirs, other)):
                start = time.perf_counter()
                one(body, *plane)
                times[name].append(time.perf_counter() - start)
            apart = max(apart, float(np.abs(ours(mesh, *plane) - of_their_crossings(other, *plane)).max()))
        mine, peer = (1000 * float(np.median(times[name])) for name in ("ours", "theirs"))
        table.append((f"section to centroid, {len(mesh.triangles):,} triangles", f"{mine:.2f} ms (index {1000 * first:.0f} ms once)",
                      f"trimesh {peer:.2f} ms", f"{peer / mine:.1f} times as fast", f"{apart:.0e} m apart"))  # fmt: skip
    return table
