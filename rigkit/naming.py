"""Naming rules: a rule says how a joint's name is made from a role and a side, and what is wrong with another name."""

import re
from collections.abc import Collection
from dataclasses import dataclass, replace
from functools import cache, lru_cache
from itertools import pairwise
from pathlib import Path

from rigkit.namewords import NameWords, find_part, opposite, take_apart
from rigkit.require import RigError
from rigkit.schema import fits
from rigkit.tables import data_folder, read_table

CASE_WORDS = {
    "lower": "small",
    "upper": "capital",
    "title": "capital at the start of each word and small after it",
    "camel": "small in the first word, then each word has a capital",
}
LIKELY = 0.7  # difflib ratio from which a word counts as a slip of another: "elbwo" 0.8, "wirst" 0.8, "hand"/"wrist" 0


MIDLINE = ("root", "pelvis", "spine", "chest", "neck", "head")
"""Roles of joints that have no left or right (standard anatomy), so that their names take no side mark."""


@dataclass(frozen=True)
class NameProblem:
    """One thing that is wrong with a name: its kind, a sentence, and the name that would be right."""

    kind: str
    message: str
    suggestion: str


@dataclass(frozen=True)
class NamingRule:
    """A naming rule.

    `order` holds "side" and "part" once each, and "kind" where a name also says what kind of thing it is, by the word
    `kind`; `separator` stands between words; `case` is one of CASE_WORDS; `marks` is (left, right); `parts` holds
    (role, words) pairs, and `also` (role, other words that are as good) pairs.

    Example:
        >>> rule = read_rule("plain")
        >>> rule.name_for("elbow", "left")
        'left_elbow'
        >>> rule.check("elbow_l", "elbow", "left")[0].kind
        'side-mark'
    """

    id: str
    title: str
    order: tuple[str, ...]
    separator: str
    case: str
    marks: tuple[str, str]
    parts: tuple[tuple[str, str], ...]
    kind: str = ""
    also: tuple[tuple[str, tuple[str, ...]], ...] = ()

    def words_for(self, role: str) -> tuple[str, ...]:
        """The words of a role in this rule; the role's own words where the rule has none."""
        return tuple(re.split(r"[ _]+", dict(self.parts).get(role, role).lower()))

    def name_for(self, role: str, side: str | None) -> str:
        """The right name of a role on a side ("left", "right", or None for a joint in the middle)."""
        mark = {"left": self.marks[0], "right": self.marks[1]}.get(side or "")
        words: list[str] = []
        for piece in self.order:
            if piece == "part":
                words.extend(self.words_for(role))
            elif piece == "kind":
                words.append(self.kind)
            elif mark is not None:
                words.append(mark)
        return self.separator.join(self._cased(word, i) for i, word in enumerate(words))

    def _cased(self, word: str, place: int) -> str:
        if self.case == "upper":
            return word.upper()
        if self.case == "lower" or (self.case == "camel" and place == 0):
            return word.lower()
        return word[:1].upper() + word[1:].lower()

    def check(self, name: str, role: str, side: str | None, accepted: tuple[str, ...] = ()) -> tuple[NameProblem, ...]:
        """What is wrong with `name` for `role` on `side`: one NameProblem of each kind at most, none for a good name.

        `accepted` are other words for the part which the exercise takes as well. Each suggestion is a good name.
        """
        return _checked(self, name, role, side, tuple(accepted))

    def _check(self, name: str, role: str, side: str | None, accepted: tuple[str, ...]) -> tuple[NameProblem, ...]:
        also, right = dict(self.also), self.name_for(role, side)
        accepted = (*accepted, *also.get(role, ()))
        asked = [self.words_for(role), *(tuple(re.split(r"[ _]+", words.lower())) for words in accepted)]
        if name in (replace(self, parts=((role, " ".join(words)),)).name_for(role, side) for words in asked):
            return ()
        known = {" ".join(words): role for words in asked}
        known |= {said: other for other, first in self.parts for words in (first, *also.get(other, ()))
                  if (said := " ".join(re.split(r"[ _]+", words.lower()))) not in known}  # fmt: skip
        read = self._read(name, {word for words in asked for word in words})
        part, places, like = find_part(read, known)
        found = self._side_problems(read, side) + self._kind_problems(read)
        this, written = " ".join(asked[0]), " ".join(read.words[i] for i in places)
        if like < LIKELY:
            places = tuple(place for place, _ in read.part)
            found.append(("part-unknown", f"there is no part in it that this rule knows; the rule's word is {this}"))
        elif known[part] != role:
            said = part if like == 1.0 else f"{written}, which looks like {part}"
            found.append(("part-other", f"it says {said}, and this joint lies where the {this} should be"))
        elif like < 1.0:
            found.append(("part-misspelt", f"{written} looks like a slip of {part}"))
        found += self._form_problems(read, places, part if like == 1.0 else None)
        found = found or [("separator", f"the rule ({self.title}) does not write it so")]
        unique = {kind: said for kind, said in reversed(found)}
        return tuple(NameProblem(kind, unique[kind], right) for kind in dict(found))

    def _side_problems(self, read: NameWords, side: str | None) -> list[tuple[str, str]]:
        if side is None:
            return [("side-wrong", "a joint in the middle takes no side mark")] if read.sides else []
        mark = self.marks[0] if side == "left" else self.marks[1]
        said = sorted({one for _, one in read.sides})
        if not said:
            return [("side-missing", f"it does not say which side it is on; this is the {side} one")]
        if said != [side]:
            return [("side-wrong", f"it says {' and '.join(said)}, and this is the {side} one")]
        written = [read.words[i] for i, _ in read.sides]
        other = next((word for word in written if word.lower() != mark.lower()), None)
        found = [("side-mark", f"this rule writes the side as {mark}, not {other}")] if other else []
        return found + ([("doubled", "it says the side twice")] if len(written) > 1 else [])

    def _kind_problems(self, read: NameWords) -> list[tuple[str, str]]:
        said = [read.words[i] for i in read.kinds]
        if self.kind and not said:
            return [("kind", f"it does not say what kind of thing it is; this rule's word for that is {self.kind}")]
        other = next((word for word in said if word.lower() != self.kind.lower()), None)
        found = [("kind", f"this rule's word for the kind of thing is {self.kind}, not {other}")] if other else []
        return found + ([("doubled", "it says the kind of thing twice")] if len(said) > 1 else [])

    def _form_problems(self, read: NameWords, places: tuple[int, ...], part: str | None) -> list[tuple[str, str]]:
        """What is wrong with the form of the words that belong: the side marks, and the part's words at `places`.
        `part` is what these say letter by letter, None where they do not."""
        found = []
        rest = [(place, word) for place, word in read.part if place not in places]
        inside = {word for place, word in read.part if place in places}
        if twice := [word for _, word in rest if word in inside]:
            found.append(("doubled", f"the word {twice[0]} stands in it twice"))
        if extra := [read.words[place] for place, word in rest if word not in inside]:
            one = len(extra) == 1
            what = "words" if not one else "number" if extra[0].isdecimal() else "word"
            listed = ", ".join(extra[:-1]) + ("" if one else " and ") + extra[-1]
            found.append(("extra-word", f"the {what} {listed} {'does' if one else 'do'} not belong to it"))
        sides = [place for place, _ in read.sides]
        stand = [at for piece in self.order if (at := {"side": sides, "part": places, "kind": read.kinds}[piece])]
        if any(max(first) > min(then) for first, then in pairwise(stand)):
            whole = f"the order is {', '.join(self.order)}" if self.kind else f"the {self.order[0]} comes first"
            found.append(("order", whole))
        belong = sorted((*sides, *places, *read.kinds))
        glued = part is not None and tuple(read.words[i].lower() for i in places) != tuple(part.split())
        cased = all(read.words[place] == self._cased(read.words[place], i) for i, place in enumerate(belong))
        if not cased or (glued and not self.separator):
            found.append(("case", f"letters are {CASE_WORDS[self.case]}"))
        gaps = [read.between[i] for i in belong[1:] if i - 1 in belong] if part is not None else []
        if any(gap != self.separator for gap in gaps) or (glued and self.separator):
            joined = f"by {self.separator}" if self.separator else "without a sign"
            found.append(("separator", f"words are joined {joined}"))
        elif read.between[0] + read.between[-1]:
            found.append(("separator", "no sign stands before or after it"))
        return found

    def style_of(self, name: str, role: str) -> str:
        """A name with its part blanked, so that names of one style give one text: l_elbow and l_wrist give "l_*"."""
        read = self._read(name)
        _, places, _ = find_part(read, [" ".join(self.words_for(role))])
        words = list(read.words)
        for i in places:
            words[i] = next((one for one in CASE_WORDS if words[i] == replace(self, case=one)._cased(words[i], i)), "?")
        return read.between[0] + "".join(word + gap for word, gap in zip(words, read.between[1:], strict=True))

    def _read(self, name: str, more: Collection[str] = ()) -> NameWords:
        """A name taken apart; more: words for parts beside the rule's own."""
        other = {word for _, all_of in self.also for words in all_of for word in re.split(r"[ _]+", words.lower())}
        known = {word for role, _ in self.parts for word in self.words_for(role)} | other
        return take_apart(name, self.marks, frozenset(known | {*more}), self.kind)

    def swap_side(self, name: str) -> str:
        """The same name for the other side; a name without a side mark stays. Twice is nothing for a good name.

        Example:
            >>> read_rule("plain").swap_side("left_elbow")
            'right_elbow'
        """
        read = self._read(name)
        words = list(read.words)
        for place, side in read.sides:
            words[place] = opposite(words[place], side, self.marks)
        return read.between[0] + "".join(word + gap for word, gap in zip(words, read.between[1:], strict=True))


@lru_cache(maxsize=4096)  # a class has few names, and each is asked about again after every mend
def _checked(rule: NamingRule, name: str, role: str, side: str | None, accepted: tuple[str, ...]):
    return rule._check(name, role, side, accepted)


def read_rule(path: str | Path) -> NamingRule:
    """Read a naming rule from a TOML file, or a bundled one by its name ("plain", "hanim").

    Raises RigError naming the file and the key.
    """
    path = Path(path)
    if path.suffix == "" and path.name == str(path):
        path = data_folder() / "naming" / f"{path.name}.toml"
    table = fits(read_table(path), "naming", path.name)
    marks, kind = (table["sides"]["left"], table["sides"]["right"]), table.get("kind", "")
    if bool(kind) != ("kind" in table["order"]):
        raise RigError('a word under kind and "kind" in the order, or neither',
                       f"kind {kind or 'not given'} and the order {', '.join(table['order'])}",
                       where=f"{path.name}, kind")  # fmt: skip
    if marks[0].lower() == marks[1].lower():
        raise RigError("two different side marks", f"{marks[0]} and {marks[1]}", where=f"{path.name}, sides")
    parts = {role: (words,) if isinstance(words, str) else tuple(words) for role, words in table["parts"].items()}
    return NamingRule(
        table["id"], table["title"], tuple(table["order"]), table["separator"], table["case"], marks,
        tuple((role, words[0]) for role, words in parts.items()), kind,
        tuple((role, words[1:]) for role, words in parts.items() if words[1:]),
    )  # fmt: skip


@cache
def bundled_rules() -> tuple[NamingRule, ...]:
    """All rules in `data/naming`, by their file names."""
    return tuple(read_rule(path.stem) for path in sorted((data_folder() / "naming").glob("*.toml")))
