"""A name taken apart: its words as written, what stands between them, which words are side marks, which the part."""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from difflib import SequenceMatcher
from functools import lru_cache

# Side marks in common use (common practice), as pairs (left, right); a rule may use others beside them.
MARKS = (("left", "right"), ("l", "r"), ("lft", "rgt"), ("lft", "rt"), ("lt", "rt"), ("lf", "rt"))
KINDS = ("joint", "jnt", "bone")  # words for the kind of thing, in common use (common practice)
LONGEST_PART = 4  # words of a part; the longest of a hand has three


@dataclass(frozen=True)
class NameWords:
    """`words` as written; `between` is one longer: what stands before, between and after them; `sides` holds
    (place among the words, "left" or "right") for each side mark; `kinds` the places of words for the kind of thing,
    where the rule asks for one."""

    words: tuple[str, ...]
    between: tuple[str, ...]
    sides: tuple[tuple[int, str], ...]
    kinds: tuple[int, ...] = ()

    @property
    def part(self) -> tuple[tuple[int, str], ...]:
        """The words that mark neither side nor kind, in small letters, with their places."""
        marks = {*(place for place, _ in self.sides), *self.kinds}
        return tuple((i, word.lower()) for i, word in enumerate(self.words) if i not in marks)


@lru_cache(maxsize=4096)  # a class has few names, and each is asked about again in every hand-in
def take_apart(name: str, marks: tuple[str, str], known: frozenset[str], kind: str = "") -> NameWords:
    """Take a name apart at signs, at steps from small to capital, and where a side mark or a number is glued on.

    `marks` are the rule's side marks, `known` its words for parts, which stay whole; `kind` its word for the kind of
    thing, "" where it asks for none: then such a word is one like any other.

    >>> take_apart("leftElbow", ("l", "r"), frozenset({"elbow"})).sides
    ((0, 'left'),)
    """
    words: list[str] = []
    between: list[str] = [""]
    for piece in re.findall(r"[^\W_]+|[\W_]+", name):
        if not piece[0].isalnum():
            between[-1] += piece
            continue
        for step in re.split(r"(?<=[a-z])(?=[A-Z])", piece):
            for word in _unglued(step, known, kind):
                words.append(word)
                between.append("")
    sides = tuple((i, side) for i, word in enumerate(words) if (side := side_of(word, marks)) is not None)
    said = {kind.lower(), *KINDS} - known if kind else ()
    kinds = tuple(i for i, word in enumerate(words) if word.lower() in said)
    return NameWords(tuple(words), tuple(between), sides, kinds)


def find_part(read: NameWords, parts: Iterable[str]) -> tuple[str, tuple[int, ...], float]:
    """Which of `parts` (words in small letters) a name holds: the part, the places of its words, how like it they are.

    1.0 where it stands there letter by letter, also with its words run together; the first of equals wins.

    >>> find_part(take_apart("orlo:left_elbwo", ("left", "right"), frozenset()), ["wrist", "elbow"])
    ('elbow', (2,), 0.8)
    """
    best: tuple[str, tuple[int, ...], float] = ("", (), 0.0)
    words = read.part
    for part in parts:
        plain = part.replace(" ", "")
        for start in range(len(words)):
            for end in range(start + 1, min(start + LONGEST_PART, len(words)) + 1):
                like = SequenceMatcher(None, plain, "".join(word for _, word in words[start:end])).ratio()
                if like > best[2]:
                    best = (part, tuple(place for place, _ in words[start:end]), like)
    return best


def side_of(word: str, marks: tuple[str, str]) -> str | None:
    """Which side a word marks, in any case of letters: "left", "right", or None for another word."""
    for left, right in (marks, *MARKS):
        if word.lower() == left.lower():
            return "left"
        if word.lower() == right.lower():
            return "right"
    return None


def opposite(word: str, side: str, marks: tuple[str, str]) -> str:
    """The mark of the other side, with capitals where this one has them."""
    pair = next(pair for pair in (marks, *MARKS) if word.lower() in (pair[0].lower(), pair[1].lower()))
    other = pair[1] if side == "left" else pair[0]
    return other.upper() if word.isupper() else other.title() if word[0].isupper() else other.lower()


def _unglued(word: str, known: frozenset[str], kind: str = "") -> list[str]:
    """Split "leftelbow", "elbowRIGHT", "lelbow" and, where kinds are marked, "elbowjoint"; a known word stays whole."""
    low = word.lower()
    if kind and low.endswith(kind.lower()) and low[: -len(kind)] in known:
        return [word[: -len(kind)], word[-len(kind) :]]
    if low in known or low in ("left", "right"):
        return [word]
    if (number := re.fullmatch(r"(\d*)([^\W\d_]{2,})(\d*)", word)) and number[2] != word:  # "wrist1", not "l5"
        head, middle, tail = number.groups()
        return [one for one in (head, *_unglued(middle, known, kind), tail) if one]
    for side in ("left", "right"):
        if low.startswith(side):
            return [word[: len(side)], word[len(side) :]]
        if low.endswith(side):
            return [word[: -len(side)], word[-len(side) :]]
    if low[:1] in ("l", "r") and low[1:] in known:
        return [word[:1], word[1:]]
    if low[-1:] in ("l", "r") and low[:-1] in known:
        return [word[:-1], word[-1:]]
    return [word]
