"""Digits that grow out of a limb's end: a closed ring (n, 3) split by webs into rims, a tube of rings on each rim.

For fingers and toes of any number. A digit has a back (nail side; "dorsal") and a pad side ("palmar" or "plantar");
its curve runs through its true joints, and every ring's area centroid lies on it. Metres.
"""

from collections.abc import Sequence

import numpy as np

from rigkit.limbs.loft import Patchwork, area_centroids, ovals, smooth_through
from rigkit.require import RigError
from rigkit.vectors import unit

CLEAR = 0.325
"""Half breadths of a digit by which its second joint lies beyond the skin it grows out of; with less its section is
not its own, and folds may meet (measured)."""


def split_end(
    work: Patchwork, ring: np.ndarray, webs: Sequence[tuple[int, int]], steps: int, sag: np.ndarray
) -> list[np.ndarray]:
    """Split the tube's last ring into digits; returns the vertex numbers along each digit's rim, front digit first.

    ring: vertex numbers (n,), n divisible by 4, in the tube's order: column 0 in the middle of the back side, n/4 at
    the front edge, n/2 in the middle of the pad side, -n/4 at the hind edge. webs: between each two digits the column
    on the back that bounds the one in front and the next that bounds the one behind it, front web first; the same
    columns mirrored bound them on the pad side. Columns fall from front to back and may be negative; where both are
    equal the web is a mere crease. steps: edges of a bridge from back to pad. sag: vector (3,) by which the middle
    of a bridge is shifted. Bridges are new vertices, webs new quads; both go to the patchwork. Each rim turns as the
    ring does, so a tube can grow on it.
    """
    count = len(ring)
    places = work.points
    share = np.arange(1, steps)[:, None] / steps

    def bridge(column: int) -> np.ndarray:
        ends = ring[[column % count, (count // 2 - column) % count]]
        inner = (1 - share) * places[ends[0]] + share * places[ends[1]] + 4 * share * (1 - share) * sag
        return np.concatenate([ends[:1], work.add(inner), ends[1:]])

    sides = []
    for front, back in webs:
        one = bridge(front)
        sides.append((one, one if front == back else bridge(back)))
        if front != back:
            work.quads(np.stack([one[:-1], one[1:], sides[-1][1][1:], sides[-1][1][:-1]], axis=1))
    columns = [count // 4, *(column for web in webs for column in web), -(count // 4)]
    rims = []
    for digit in range(len(webs) + 1):
        high, low = columns[2 * digit], columns[2 * digit + 1]
        dorsal = [ring[c % count] for c in range(low, high + 1)]
        palmar = [ring[c % count] for c in range(count // 2 - high, count // 2 - low + 1)]
        ahead = sides[digit - 1][1][:-1] if digit else ring[:0]
        behind = sides[digit][0][:0:-1] if digit < len(webs) else ring[:0]
        rims.append(np.array([*dorsal[:-1], *ahead, *palmar[:-1], *behind]))
    return rims


def digit_rows(phalanges: int, taper: float = 0.78, knuckle: float = 0.07, pad: float = 0.16) -> np.ndarray:
    """The form of a digit (k, 7): station; extents to the back, front, pad and hind side as shares of its half
    breadth at the root; squareness of its back and pad half.

    Stations count joints: 0 the first joint, 1 the second, `phalanges` the tip; between them the share of the bone.
    taper: breadth at the last phalanx. knuckle: how much wider it is at a joint than between. pad: how far the
    pads swell on the palm's side, and the tip's most of all.
    """
    rows = []
    for quarter in range(4 * phalanges):
        station, at_joint, last = quarter / 4, quarter % 4 == 0, quarter >= 4 * phalanges - 2
        wide = 1 + (taper - 1) * station / (phalanges - 0.5)
        swell = pad * (1.2 if last else 0.7) * (1.0 if quarter % 4 == 2 else 0.55)
        side = wide * (1 + (0.5 if at_joint else -0.5) * knuckle)
        back = wide * (0.88 + knuckle if at_joint else 0.74 if last else 0.87)
        front = wide * (0.94 - pad / 2 if at_joint else 0.9 + swell)
        rows.append([station, back, side, front, side, 2.3 if last else 2.15, 2.1])
    rows.append([phalanges, 0.62 * taper, 0.90 * taper, 0.84 * taper, 0.90 * taper, 2.3, 2.1])
    return np.array(rows)


def digit_stations(bones: np.ndarray, start: float, radius: float, density: float = 1.0) -> np.ndarray:
    """Where the rings of a digit lie (r,), metres from its first joint: closer at its joints and in its round tip.

    bones: lengths (n,) from joint to joint and on to the tip. start: the first ring. Each joint beyond it has a ring.
    """
    ends = np.cumsum(bones)
    cap = min(1.05 * radius, 0.6 * bones[-1])
    marks, steps = [start], list[int]()
    for joint in ends[:-1]:
        for offset in (-0.5, 0.0, 0.5):
            if joint + offset * radius > marks[-1] + 0.2 * radius:
                near = len(steps) > 0 and offset > -0.5 and marks[-1] >= joint - 0.51 * radius
                gap = 0.25 if near else 0.62
                steps.append(max(1, round((joint + offset * radius - marks[-1]) / (gap * radius) * density)))
                marks.append(joint + offset * radius)
    if ends[-1] - cap > marks[-1] + 0.1 * radius:
        steps.append(max(1, round((ends[-1] - cap - marks[-1]) / (0.62 * radius) * density)))
        marks.append(ends[-1] - cap)
    shaft = [np.linspace(a, b, n, endpoint=False) for a, b, n in zip(marks[:-1], marks[1:], steps, strict=True)]
    turns = np.radians(np.linspace(0, 76, max(3, round(4 * density))))
    return np.concatenate([*shaft, marks[-1] + (ends[-1] - marks[-1]) * np.sin(turns)])


def digit_rings(
    rim: np.ndarray, joints: np.ndarray, back: np.ndarray, radius: float, rows: np.ndarray, density: float = 1.0
) -> np.ndarray:
    """Rings (r, k, 3) of a digit that grows out of a rim (k, 3), in the rim's order; close it at `joints[-1]`.

    joints: (n + 1, 3) its true joints and last the tip of its flesh; the first may lie above the rim, in the palm.
    back: unit vector to its nail side. radius: half its breadth at the root. rows: as `digit_rows` gives for n
    phalanges. At each joint a ring lies in the plane that halves the bend, its area centroid on the joint; the tube
    begins just beyond the farthest point of the rim. Raises RigError for a first bone that ends in the palm.
    """
    travel = np.diff(joints, axis=0)
    bones = np.sqrt(np.sum(travel**2, axis=1))
    ways, ends = travel / bones[:, None], np.concatenate([[0.0], np.cumsum(bones)])
    start = max(float(((rim - joints[0]) @ ways[0]).max()), 0.0) + 0.2 * radius
    if bones[0] < start + CLEAR * radius:
        least = f"a first bone of {1000 * (start + CLEAR * radius):.1f} mm or more"
        probably = "the digit's second joint would lie in the palm"
        raise RigError(
            least, f"{1000 * bones[0]:.1f} mm", probably, "Lengthen it, or lessen the thickness", "shape, lengths"
        )
    stations = digit_stations(bones, start, radius, density)
    on = np.clip(np.searchsorted(ends, stations, side="right") - 1, 0, len(bones) - 1)
    t = ((stations - ends[on]) / bones[on])[:, None]
    halved = [unit(a + b) for a, b in zip(ways[:-1], ways[1:], strict=True)]
    leave, arrive = np.array([ways[0], *halved])[on], np.array([*halved, ways[-1]])[on]
    chord, bone = travel[on], bones[on][:, None]  # cubic Hermite curves, their slopes halving the bend at each joint
    centres = joints[on] + t**2 * (3 - 2 * t) * chord + bone * (t * (1 - t) ** 2 * leave - t**2 * (1 - t) * arrive)
    along = 6 * t * (1 - t) * chord + bone * ((1 - t) * (1 - 3 * t) * leave - t * (2 - 3 * t) * arrive)
    along = along / np.sqrt(np.sum(along**2, axis=1, keepdims=True))
    u = back - along * (along @ back)[:, None]
    u = u / np.sqrt(np.sum(u**2, axis=1, keepdims=True))
    v = np.cross(along, u)
    bent = np.interp(stations, ends, np.arange(len(ends)))
    form = smooth_through(rows[:, 0], rows[:, 1:], bent)
    cap = ends[-1] - stations[stations > ends[-1] - min(1.05 * radius, 0.6 * bones[-1]) - 1e-9]
    round_off = np.ones(len(stations))
    round_off[len(stations) - len(cap) :] = np.sqrt(np.clip(1 - (1 - cap / cap[0]) ** 2, 0, 1))
    spokes = rim - rim.mean(axis=0)
    angle = np.unwrap(np.arctan2(spokes @ v[0], spokes @ u[0]))
    even = angle.mean() + 2 * np.pi * (np.arange(len(rim)) - (len(rim) - 1) / 2) / len(rim)
    outline = ovals(radius * form[:, :4] * round_off[:, None], form[:, 4:], even)
    outline = outline - area_centroids(outline)[:, None]
    rings = centres[:, None] + outline[..., :1] * u[:, None] + outline[..., 1:] * v[:, None]
    far = rim + ((stations[:, None] - (rim - joints[0]) @ ways[0])[..., None] * ways[0])  # the rim carried along
    reach = min(0.9 * radius, 0.9 * float(min([end for end in ends if end > start], default=start + radius) - start))
    own = np.clip((stations - start) / reach * 0.7 + 0.3, 0, 1)[:, None, None]
    own = own**2 * (3 - 2 * own)
    return own * rings + (1 - own) * far


def grow_digit(
    work: Patchwork, rim: np.ndarray, joints: np.ndarray, back: np.ndarray, radius: float, rows: np.ndarray,
    density: float = 1.0,
) -> np.ndarray:  # fmt: skip
    """Grow a digit on a rim (vertex numbers) and close its tip; arguments as for `digit_rings`.

    Returns the vertex numbers of its rings (r, k).

    Example: a foot of five toes: `for rim, joints in zip(split_end(work, ring, webs, 4, sag), toes):
    grow_digit(work, rim, joints, up, 0.009, digit_rows(3))`.
    """
    numbers = work.add(digit_rings(work.points[rim], joints, back, radius, rows, density))
    work.tube(np.concatenate([rim[None], numbers]))
    work.close(numbers[-1], joints[-1])
    return numbers
