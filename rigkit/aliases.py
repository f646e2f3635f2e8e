"""Aliases: the ids of a class -> invented names of birds and plants, for what a whole room sees.

The same ids give the same names. They hide who is who from a glance in a room, not from somebody who sets out to
compute them.
"""

from collections.abc import Iterable
from hashlib import sha256

FIRST = ("Lantern", "Kettle", "Thimble", "Ferry", "Button", "Whistle", "Ribbon", "Cobble", "Anchor", "Paddle", "Barrel",
         "Candle", "Pepper", "Quilt", "Brindle", "Tumble")  # fmt: skip
LAST = ("finch", "cress", "lark", "fern", "crake", "lily", "rail", "thistle")


def alias(number: int) -> str:
    """The name with this number, from 0; each is another.

    >>> alias(0), alias(1), alias(16), alias(128)
    ('Lanternfinch', 'Kettlecress', 'Lanterncress', 'Lanternfinch 2')
    """
    round_, place = divmod(number, len(FIRST) * len(LAST))
    name = FIRST[place % len(FIRST)] + LAST[(place + place // len(FIRST)) % len(LAST)]
    return name if round_ == 0 else f"{name} {round_ + 1}"


def aliases(ids: Iterable[str], salt: str) -> dict[str, str]:
    """An alias for each id; they follow no order that can be seen. With all ids of a roster they stay the same from one
    hand-in to the next, as long as roster and salt (the exercise's id) do.

    >>> len(set(aliases(["wren", "teasel"], "left-arm").values()))
    2
    """
    order = sorted(set(ids), key=lambda one: sha256(f"{salt}\n{one}".encode("utf-8", "replace")).digest())
    return {name: alias(number) for number, name in enumerate(order)}
