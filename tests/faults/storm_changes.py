"""Hostile changes: bytes or a document, and a random draw -> the same a little or far astray; texts and numbers that hurt."""

import copy
import json
import random
import struct

TEXTS = (
    "<script>window.hit=1</script>", '"><img src=x onerror=hit()>', "'><svg/onload=hit()>", "</style><script>hit()</script>",
    "javascript:hit()", "{{ 7*7 }}", "{% raw %}", "<!--", "]]>", "--></title><script>hit()</script>", "&lt;b&gt;", "&#60;b>",
    "=1+1", "+1+1", "-1+1", "@SUM(A1)", "\t=1+1", "\r=1+1", "\uff1d1+1", " =1+1", "\u00a0=1+1", "\u200b=1+1", "'=1+1",
    '=HYPERLINK("http://127.0.0.1:9","x")', "=cmd|'/C x'!A0", "../../../etc/passwd", "/etc/passwd", "..\\..\\x",
    "C:\\x", "file:///etc/passwd", "http://127.0.0.1:9/x", "data:text/html,<script>hit()</script>", "con", "nul", "aux.json",
    "\u202egnp", "\u2066x", "\u2028x", "\ufeffx", "a\nb", "\x1b[2J\x1b]0;x\x07", "\x00", "\x7f", "e\u0301" * 40, "e" * 300,
    "\u0645\u0631\u0641\u0642", "\U0001f9b4" * 30, "%s%n%d", "{id}", "{0.__class__}", "$(touch hit)", "`touch hit`", "__proto__",
    "constructor", "", " ", ".", "..", "-", "--out", "left_elbow", "wrist", "\ud800", "\uffff", "i\u0307\u0131", "\u1e9e",
)  # fmt: skip
NUMBERS = (0, -0.0, 1, -1, 2, 0.5, 3, 1e308, -1e308, 5e-324, 1e-30, 99_999.9, 100_000.1, 1e38, -1e5, 1e15, 2**31, 2**53, 2**63, 2**70,
           -(2**70), float("nan"), float("inf"), -float("inf"), 1e-7, 0.1, 255, 65_536)  # fmt: skip


def changed_bytes(chance: random.Random, data: bytes) -> bytes:
    """Some bytes after a few changes: others, cut, doubled, moved, put in."""
    out = bytearray(data)
    for _ in range(chance.choice((1, 1, 2, 3, 6))):
        if not out:
            break
        start = chance.randrange(len(out))
        end = min(start + chance.choice((1, 1, 2, 4, 16, 200)), len(out))
        match chance.randrange(7):
            case 0:
                out[start] ^= 1 << chance.randrange(8)
            case 1:
                out[start:end] = chance.randbytes(end - start)
            case 2:
                del out[start:end]
            case 3:
                out[start:start] = out[start:end]
            case 4:
                out[start:end] = chance.choice(
                    (b"\xff" * 4, b"\0" * 4, b'"', b"[", b"{", b"e9", b"-", b"1e999", b"\\u0000", b"\xe2\x80\xae")
                )
            case 5:
                out[start:start] = struct.pack("<I", chance.choice((0, 1, 2**31, 2**32 - 1, len(out))))
            case _:
                if chance.random() < 0.3:
                    del out[start:]
    return bytes(out)


def odd(chance: random.Random) -> object:
    """A value that was not expected."""
    match chance.randrange(9):
        case 0 | 1:
            return chance.choice(TEXTS)
        case 2 | 3 | 4:
            return chance.choice(NUMBERS)
        case 5:
            return [chance.choice(NUMBERS) for _ in range(chance.choice((0, 1, 3, 4, 16, 600)))]
        case 6:
            return {chance.choice(TEXTS): odd(chance) for _ in range(chance.randint(0, 3))}
        case 7:
            inner: object = chance.choice((None, True, [], {}))
            for _ in range(chance.choice((1, 2, 30, 200))):
                inner = [inner] if chance.random() < 0.5 else {"a": inner}
            return inner
        case _:
            return chance.choice(
                (None, True, 10**4000, str(chance.choice(NUMBERS[:20])), "e" * chance.choice((64, 65, 5_000)))
            )


def changed_values(chance: random.Random, table: dict, least: int = 1) -> dict:
    """A document after a few changes of its values: others, gone, doubled, swapped, new keys."""
    for _ in range(chance.randint(least, 4)):
        holders = [one for one in _holders(table) if one]
        if len(holders) > 1_000:  # it has grown enough
            break
        place = chance.choice(holders)
        keys = list(place) if isinstance(place, dict) else list(range(len(place)))
        one, other = chance.choice(keys), chance.choice(keys)
        match chance.randrange(7):
            case 0 | 1 | 2:
                place[one] = odd(chance)
            case 3:
                del place[one]
            case 4:
                place[one], place[other] = place[other], place[one]
            case 5 if isinstance(place, dict):
                place[chance.choice((*TEXTS, "attempt", "id", "scores", "$ref", "extras", "matrix"))] = odd(chance)
            case _ if isinstance(place, list):
                place += copy.deepcopy(place[:1]) * chance.choice((1, 2, 600 if len(str(place[:1])) < 1_000 else 2))
    return table


def _holders(table: object) -> list:
    """All lists and tables within a document."""
    found, left = [], [table]
    while left:
        one = left.pop()
        if isinstance(one, (dict, list)):
            found.append(one)
            left += list(one.values()) if isinstance(one, dict) else one[:50]
    return found


def text_of(chance: random.Random, table: object) -> bytes:
    """A document's JSON, as one program or another writes it; now and then with a key twice."""
    text = json.dumps(table, ensure_ascii=chance.random() < 0.7, indent=chance.choice((None, 1)))
    if chance.random() < 0.1:
        text = text.replace('"name":', '"name": "twice", "name":', 1).replace('"id":', '"id": "=1", "id":', 1)
    return chance.choice((b"", b"", b"", b"\xef\xbb\xbf", b" \n")) + text.encode("utf-8", "surrogatepass")
