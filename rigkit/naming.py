"""Naming rules: a rule says how a joint's name is made from a role and a side, and what is wrong with another name."""

import difflib
import re
from dataclasses import dataclass, replace
from pathlib import Path

from rigkit.namewords import NameWords, opposite, take_apart
from rigkit.require import RigError
from rigkit.tables import data_folder, keys, read_table

CASES = ("lower", "upper", "title", "camel")
CASE_WORDS = {
    "lower": "small",
    "upper": "capital",
    "title": "capital at the start of each word and small after it",
    "camel": "small in the first word, then each word has a capital",
}
LIKELY = 0.7  # difflib ratio from which a word counts as a slip of another: "elbwo" 0.8, "wirst" 0.8, "hand"/"wrist" 0


@dataclass(frozen=True)
class NameProblem:
    """One thing that is wrong with a name: its kind, a sentence, and the name that would be right."""

    kind: str
    message: str
    suggestion: str


@dataclass(frozen=True)
class NamingRule:
    """A naming rule.

    `order` holds "side" and "part" once each; `separator` stands between words; `case` is one of CASES; `marks` is
    (left, right); `parts` holds (role, words in small letters) pairs.

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
        right = self.name_for(role, side)
        if name == right:
            return ()
        for words in accepted:
            if name == replace(self, parts=((role, words),)).name_for(role, side):
                return ()
        read = take_apart(name, self.marks, self._known())
        found = [*self._side_problems(read, side), *self._part_problems(read, role, accepted)]
        part_fits = not any(kind in ("part-unknown", "part-other") for kind, _ in found)
        found += self._form_problems(read, part_fits)
        if not found:  # a name that differs in a way which none of the above has a word for
            found = [("part-unknown", f"the rule ({self.title}) does not make this name")]
        unique = {kind: said for kind, said in reversed(found)}
        return tuple(NameProblem(kind, unique[kind], right) for kind in dict(found))

    def _side_problems(self, read: NameWords, side: str | None) -> list[tuple[str, str]]:
        if side is None:
            return [("side-wrong", "a joint in the middle takes no side mark")] if read.sides else []
        mark = self.marks[0] if side == "left" else self.marks[1]
        if not read.sides:
            return [("side-missing", f"it does not say which side it is on; this is the {side} one")]
        if any(said != side for _, said in read.sides):
            return [("side-wrong", f"it says {'right' if side == 'left' else 'left'}, and this is the {side} one")]
        written = [read.words[i] for i, _ in read.sides]
        other = next((word for word in written if word.lower() != mark.lower()), None)
        return [("side-mark", f"this rule writes the side as {mark}, not {other}")] if other else []

    def _part_problems(self, read: NameWords, role: str, accepted: tuple[str, ...]) -> list[tuple[str, str]]:
        found = []
        words = [word for _, word in read.part]
        once = [word for i, word in enumerate(words) if word not in words[:i]]
        right = " ".join(self.words_for(role))
        if len(read.sides) > 1 or len(once) < len(words):
            found.append(("doubled", "a word stands in it twice"))
            words = once
        also = (right, *(" ".join(re.split(r"[ _]+", word.lower())) for word in accepted))
        if len(words) > 1 and words[-1].isdecimal() and " ".join(words[:-1]) in also and " ".join(words) not in also:
            found.append(("doubled", f"{words[-1]} at its end is the number of a copy"))
            words = words[:-1]
        said = " ".join(words)
        if said in also or "".join(words) in {word.replace(" ", "") for word in also}:
            return found
        known = {" ".join(self.words_for(other)): other for other, _ in self.parts} | {right: role}
        likely = difflib.get_close_matches(said, list(known), n=1, cutoff=LIKELY)
        if not said:
            found.append(("part-unknown", f"it does not say which part it is: {right}"))
        elif likely and known[likely[0]] != role:
            found.append(("part-other", f"it says {likely[0]}, and this joint lies where the {right} should be"))
        elif likely:
            found.append(("part-misspelt", f"{said} looks like a slip of {right}"))
        else:
            found.append(("part-unknown", f"{said} is not this rule's word for it, which is {right}"))
        return found

    def _form_problems(self, read: NameWords, part_fits: bool) -> list[tuple[str, str]]:
        found = []
        if read.sides and read.part:
            first = read.sides[0][0] < read.part[0][0]
            if first != (self.order[0] == "side"):
                found.append(("order", f"the {self.order[0]} comes first"))
        if any(word != self._cased(word, i) for i, word in enumerate(read.words)):
            found.append(("case", f"letters are {CASE_WORDS[self.case]}"))
        inner = read.between[1:-1]
        ends = read.between[0] + read.between[-1]
        if ends or (part_fits and any(gap != self.separator for gap in inner)):
            said = f"words are joined by {self.separator}" if self.separator else "words are joined without a sign"
            found.append(("separator", said + " and nothing stands before or after"))
        return found

    def _known(self) -> frozenset[str]:
        return frozenset(word for role, _ in self.parts for word in self.words_for(role))

    def swap_side(self, name: str) -> str:
        """The same name for the other side; a name without a side mark stays. Twice is nothing for a good name.

        Example:
            >>> read_rule("plain").swap_side("left_elbow")
            'right_elbow'
        """
        read = take_apart(name, self.marks, self._known())
        words = list(read.words)
        for place, side in read.sides:
            words[place] = opposite(words[place], side, self.marks)
        return read.between[0] + "".join(word + gap for word, gap in zip(words, read.between[1:], strict=True))


def read_rule(path: str | Path) -> NamingRule:
    """Read a naming rule from a TOML file, or a bundled one by its name ("plain", "hanim").

    Raises RigError naming the file and the key.
    """
    path = Path(path)
    if path.suffix == "" and path.name == str(path):
        path = data_folder() / "naming" / f"{path.name}.toml"
    where = path.name
    table = read_table(path, "rigkit-naming", ("id", "title", "order", "separator", "case", "sides", "parts"))
    sides = keys(table["sides"], ("left", "right"), (), f"{where}, sides")
    for key, value in (
        ("id", table["id"]),
        ("title", table["title"]),
        ("separator", table["separator"]),
        ("sides.left", sides["left"]),
        ("sides.right", sides["right"]),
    ):
        if not isinstance(value, str):
            raise RigError("text in quotes", f"{value!r}", where=f"{where}, {key}")
    if table["order"] not in (["side", "part"], ["part", "side"]):
        raise RigError('order = ["side", "part"] or ["part", "side"]', f"{table['order']!r}", where=f"{where}, order")
    if table["case"] not in CASES:
        raise RigError(f"one of {', '.join(CASES)}", f"{table['case']!r}", where=f"{where}, case")
    if re.search(r"[^\W_]", table["separator"]):
        raise RigError("a separator without letters or digits", f"{table['separator']!r}", where=f"{where}, separator")
    if not table["separator"] and table["case"] not in ("title", "camel"):
        raise RigError("a separator, or case = title or camel", "words that run together", where=f"{where}, separator")
    marks = (sides["left"], sides["right"])
    if any(not re.fullmatch(r"[a-z]+", mark, re.IGNORECASE) for mark in marks) or marks[0].lower() == marks[1].lower():
        raise RigError("two different side marks made of letters a to z", f"{marks!r}", where=f"{where}, sides")
    parts = table["parts"]
    if not isinstance(parts, dict) or not parts:
        raise RigError("at least one role with its words", f"{parts!r}", where=f"{where}, parts")
    for role, words in parts.items():
        if not isinstance(words, str) or not re.fullmatch(r"[a-z0-9]+([ _][a-z0-9]+)*", words.lower()):
            raise RigError("words of letters and digits", f"{words!r}", where=f"{where}, parts.{role}")
    return NamingRule(
        table["id"],
        table["title"],
        tuple(table["order"]),
        table["separator"],
        table["case"],
        marks,
        tuple(parts.items()),
    )
