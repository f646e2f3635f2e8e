"""What a hand-in's file holds, as people or programs read it: a Layout -> lines of text, or a table for JSON."""

from rigkit.files.layout import Layout
from rigkit.standing import in_words


def as_table(layout: Layout, notices: list[str]) -> dict:
    """A layout, its notices and how it was read as plain values; places in metres, +Y up, facing +Z."""
    skeleton, axes = layout.skeleton, layout.axes
    joints = [
        {"name": name, "parent": parent, "position": place.tolist()}
        for name, parent, place in zip(skeleton.names, skeleton.parents, skeleton.positions, strict=True)
    ]
    return {
        "id": layout.id, "exercise": layout.exercise, "attempt": layout.attempt, "units": "m", "up": "+y",
        "facing": "+z", "read_as": {"units": axes.units, "up": axes.up, "facing": axes.facing},
        "unjudged": layout.unjudged, "joints": joints, "notices": notices,
    }  # fmt: skip


def as_lines(layout: Layout, notices: list[str]) -> list[str]:
    """The same as lines of text: joints as a tree with places in mm, then how it was read and what was noticed."""
    skeleton = layout.skeleton
    count = "1 joint" if len(skeleton) == 1 else f"{len(skeleton)} joints"
    lines = [f"{layout.id}: {count}, places in mm (left of the character, up, forward)"]
    width = max(len(name) + 2 * skeleton.depth(i) for i, name in enumerate(skeleton.names))
    wide = max(9, *(len(f"{1000 * x:,.1f}") for x in skeleton.positions.flat))
    for i, (name, parent, place) in enumerate(zip(skeleton.names, skeleton.parents, skeleton.positions, strict=True)):
        above = "topmost" if parent is None else f"below {skeleton.names[parent]}"
        numbers = " ".join(f"{1000 * x:{wide},.1f}" for x in place)
        lines.append(f"  {('  ' * skeleton.depth(i) + name).ljust(width)} {numbers}   {above}")
    lines.append(f"Read {in_words(layout.axes)}.")
    lines += [f"Noticed: {notice}" for notice in notices]
    return lines + [f"Not judged: {reason}" for reason in layout.unjudged.values()]
