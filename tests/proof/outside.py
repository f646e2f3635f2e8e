"""From outside: what is measured of a section beside trimesh's answer, and H-Anim's rest pose beside the reference."""

import csv
from collections.abc import Iterable

import numpy as np

from rigkit.kinematics import rest_bend
from rigkit.measures import measure_all
from tests.proof.ground import PROJECT, any_way, ground, numbers

AGREE = 0.01  # of the local radius
# Computed from H-Anim's default joint centres (ISO/IEC 19774-1, public example, level 3; kept in data/reference/hanim.csv)
# when these were collected: mm off the line of its neighbours, degrees of flexion; which way it folds is standard anatomy
HANIM = {
    ("l_shoulder", "l_elbow", "l_radiocarpal"): (19.2, 7.7, (0.0, 0.0, -1.0)),
    ("l_hip", "l_knee", "l_talocrural"): (67.6, 18.1, (0.0, 0.0, 1.0)),
}


def examine(kind: str, seed: int, count: int | Iterable[int]) -> list[dict]:
    """Every joint of so many layouts, anywhere within two local radii, and nearer to its own place than to another's, so
    that there is no doubt which it is: how far the two middles and radii are apart."""
    g, rows = ground(kind, seed), []
    apart = np.linalg.norm(g.places[:, None] - g.places[None], axis=2)
    gaps = np.where(apart > 0, apart, np.inf).min(axis=1)
    for number in numbers(count):
        chance = np.random.default_rng([seed, number, 10])
        places = g.places + [min(2 * g.radius(role), 0.45 * gap) * np.cbrt(chance.uniform()) * any_way(chance)
                             for role, gap in zip(g.roles, gaps, strict=True)]  # fmt: skip
        measured = {(one.joint, one.measure): one.value for one in measure_all(g.layout(places), g.exercise)}
        out = -1.0 if g.side == "right" else 1.0
        for role in g.flesh():
            if (role, "offset-out") not in measured:
                continue
            joint, plane = places[g.number[role]], np.array(g.rows[role]["plane"])
            slice_ = g.spot(role, joint)[2]
            off = joint - slice_.centre
            off = 1000 * (off - off @ plane * plane) * [out, 1.0, 1.0]
            ours = np.array([measured[role, f"offset-{way}"] for way in ("out", "up", "forward")])
            ours -= ours @ (plane * [out, 1, 1]) * (plane * [out, 1, 1])
            rows.append({"kind": kind, "seed": seed, "number": number, "role": role,
                         "apart": float(np.linalg.norm(ours - off)) / 1000 / slice_.radius,
                         "radii": abs(measured[role, "radius"] / 1000 / slice_.radius - 1)})  # fmt: skip
    return rows


def disagreeing(rows: list[dict]) -> list[str]:
    """Joints at which the two differ by more than is agreed."""
    return [f"{row['kind']} {row['seed']} layout {row['number']}, {row['role']}: {row['apart']:.4f} radius"
            for row in rows if max(row["apart"], row["radii"]) > AGREE]  # fmt: skip


def hanim() -> list[tuple[str, float, float, str]]:
    """For arm and leg of H-Anim's rest pose: mm off the line and degrees as measured less those stated, and verdict."""
    table = csv.DictReader((PROJECT / "data" / "reference" / "hanim.csv").read_text("utf-8").splitlines())
    places = {row["name"]: [float(row[axis]) for axis in "xyz"] for row in table}
    rows = []
    for chain, (off, flexed, away) in HANIM.items():
        bend = rest_bend(*(places[name] for name in chain), away)
        rows.append((chain[1], 1000 * float(np.hypot(bend.along, bend.sideways)) - off,
                     float(np.degrees(bend.flexion)) - flexed, bend.verdict))  # fmt: skip
    return rows
