"""Published schemas (data/schemas, JSON Schema 2020-12): a document fits its kind, or a RigError says where not.

The schema has the words too: `title` says what is expected, `description` what a place is for. Only the keywords that
the schemas here use are read, and nothing is fetched. The package jsonschema, which the tests hold against this, is not
used: its import takes 1.5 s (it builds a grammar of web addresses), and it checks 25 joints in 1.9 ms instead of 0.3.
"""

import json
import re
import sys
from collections.abc import Iterable
from difflib import get_close_matches
from functools import cache
from typing import Any

from rigkit import require
from rigkit.require import RigError
from rigkit.tables import data_folder

WORDS = {"object": "a table of keys", "array": "a list", "string": "text", "number": "a number", "boolean":
         "true or false", "integer": "a whole number", "null": "nothing"}  # fmt: skip
PLAIN = {dict: "object", list: "array", str: "string", bool: "boolean", type(None): "null"}
LIMITS: dict[type, tuple[str, str]] = {
    str: ("minLength", "maxLength"), list: ("minItems", "maxItems"), dict: ("minProperties", "maxProperties"),
}  # fmt: skip
LONGEST_KEY = 64  # a longer key is no slip of another
LIKE = 0.7  # difflib ratio from which a key is a slip of another: "postion" 0.93, "centering" for "centring" 0.94


class _Misfit(Exception):  # noqa: N818 - it never leaves this module
    """What does not fit, on its way up: `path` grows at its front, `about` is the nearest description."""

    def __init__(self, schema: dict, value: Any = None, **words: str):
        self.schema, self.value, self.words = schema, value, words
        self.path, self.about = list[str | int](), schema.get("description", "")


def fits(document: Any, kind: str, where: str) -> dict:
    """The document, where it fits the schema of its kind: "layout", "exercise", "rubric", "naming" or "findings".

    document: what a JSON or TOML parser gave. where: the file's name, said in front of the place within it.
    Raises RigError for the first thing that does not fit.

    >>> fits({"format": "rigkit-findings", "version": 1, "findings": {}}, "findings", "findings.toml")["findings"]
    {}
    """
    schema = schema_of(kind)
    found = document.get("format") if isinstance(document, dict) else None
    if found != f"rigkit-{kind}":
        got = f"format {require.shown(found)}" if isinstance(document, dict) else require.kind(document)
        raise RigError(f'{schema["title"].lower()}, which says format "rigkit-{kind}"', got, "another kind of file",
                       "Take the file that the workbook wrote, or begin with a copy of a good one", where)  # fmt: skip
    version = document.get("version")
    if isinstance(version, bool) or version != 1:
        newer = isinstance(version, (int, float)) and version > 1
        raise RigError("version 1", f"version {require.shown(version)}", "written by a newer rigkit" if newer else "",
                       "Take the newer rigkit, or write the file again with this one", where)  # fmt: skip
    try:
        _check(document, schema)
    except _Misfit as misfit:
        raise _worded(misfit, ", ".join(one for one in (where, place(document, misfit.path)) if one)) from None
    return document


@cache
def schema_of(kind: str) -> dict:
    """A schema as it is published, but for each $ref, which is replaced by what it stands for."""
    schema = json.loads((data_folder() / "schemas" / f"{kind}.schema.json").read_text("utf-8"))

    def resolved(node: Any) -> Any:
        if isinstance(node, list):
            return [resolved(one) for one in node]
        if not isinstance(node, dict):
            return node
        shared = schema["$defs"][node["$ref"].rpartition("/")[2]] if "$ref" in node else {}
        return {key: resolved(value) for key, value in (shared | node).items() if key != "$ref"}

    return resolved(schema)


def likely(key: str, known: Iterable[str]) -> str:
    """The known key of which this one may be a slip, or "".

    >>> likely("Postion", ("name", "position"))
    'position'
    """
    near = get_close_matches(key.lower(), list(known), 1, LIKE) if len(key) <= LONGEST_KEY else []
    return near[0] if near else ""


def place(document: Any, path: Iterable[str | int]) -> str:
    """A place in a document, in words; joints are counted from 0, as parents are, anything else from 1.

    >>> place({"joints": [{"name": "left_elbow", "position": [0, 1]}]}, ["joints", 0, "position"])
    'joint 0 (left_elbow), position'
    """
    said: list[str] = []
    for step in path:
        document = document[step]
        if isinstance(step, int):
            name = document.get("name", document.get("role")) if isinstance(document, dict) else None
            said[len(said) - (said == ["joints"]) :] = [f"joint {step}" if said == ["joints"] else f"item {step + 1}"]
            said[-1] += f" ({require.shown(name, LONGEST_KEY)[1:-1]})" if isinstance(name, str) and name else ""
        else:
            step = step if step.isprintable() and len(step) <= LONGEST_KEY else require.shown(step)
            said[-1:] = [f"{said[-1]}.{step}"] if said and said[-1].isidentifier() else [*said[-1:], step]
    return ", ".join(said)


def _is(value: Any, kinds: str | list[str]) -> bool:
    """Whether a value is of one of the kinds; `in` reads one name as well as a list, since no name holds another."""
    if type(value) not in (int, float):
        return PLAIN.get(type(value), "?") in kinds
    whole = "integer" in kinds and (type(value) is int or value.is_integer())
    return whole or ("number" in kinds and abs(value) <= sys.float_info.max)


def _check(value: Any, schema: dict) -> None:
    """Raise _Misfit for the first place in which a value does not fit."""
    least, most = LIMITS.get(type(value), ("minimum", "maximum"))
    size = value if least == "minimum" else len(value)
    if not (
        ("type" not in schema or _is(value, schema["type"]))
        and ("enum" not in schema or value in schema["enum"])
        and ("const" not in schema or value == schema["const"])
        and (value is None or schema.get(least, size) <= size <= schema.get(most, size))
        and ("pattern" not in schema or not isinstance(value, str) or re.fullmatch(schema["pattern"], value))
    ):
        raise _Misfit(schema, value)
    if not isinstance(value, (list, dict)):
        return
    parts: Iterable = _keys(value, schema) if isinstance(value, dict) else ()
    if isinstance(value, list) and "items" in schema:
        parts = ((number, one, schema["items"]) for number, one in enumerate(value))
    for step, one, inner in parts:
        try:
            _check(one, inner)
        except _Misfit as misfit:
            misfit.path.insert(0, step)
            misfit.about = misfit.about or schema.get("description", "")
            raise
    if "if" in schema:
        try:
            _check(value, schema["if"])
            branch = "then"
        except _Misfit:
            branch = "else"
        _check(value, {"properties": schema["properties"]} | schema.get(branch, {}))


def _keys(table: dict, schema: dict) -> Iterable[tuple[Any, Any, dict]]:
    """Key, value and schema of each key that has one. Raises _Misfit for a key that is missing or not known."""
    known, more = schema.get("properties", {}), schema.get("additionalProperties", True)
    for key in schema.get("required", ()):
        if key not in table:
            slip = next((one for one in list(table)[:100] if one not in known and likely(one, [key])), None)
            got = "no such key" if slip is None else f"the key {require.shown(slip)}"
            raise _Misfit(known.get(key, {}), expected=f"the key {key}", got=got)
    if more is False and (unknown := next((key for key in table if key not in known), None)) is not None:
        slip = likely(unknown, known)
        expected = f"the key {slip}" if slip else f"one of the keys {', '.join(known)}"
        raise _Misfit({}, expected=expected, got=f"the key {require.shown(unknown)}", next_step="Mend or remove it")
    return ((key, one, known.get(key, more)) for key, one in table.items() if key in known or isinstance(more, dict))


def _worded(misfit: _Misfit, where: str) -> RigError:
    """What was expected, what came, what it probably means, and what the place is for."""
    value, schema, kinds = misfit.value, misfit.schema, misfit.schema.get("type", "")
    least, most = LIMITS.get(type(value), ("minimum", "maximum"))
    expected, got, probably = " or ".join(WORDS[one] for one in WORDS if one in kinds), require.shown(value), ""
    if isinstance(value, (str, list)) and len(value) > schema.get(most, len(value)) > 4:
        what = "characters" if isinstance(value, str) else misfit.path[-1]
        expected, got = f"at most {schema[most]} {what}", f"{len(value)} {what}"
    elif "title" in schema:
        expected = schema["title"]
    elif "const" in schema:
        expected = str(schema["const"])
    elif "enum" in schema:
        options = [one if isinstance(one, str) else json.dumps(one) for one in schema["enum"]]
        near = likely(value, options) if isinstance(value, str) else ""
        expected, probably = f"one of {', '.join(options)}", f"{near} was meant" if near else ""
    elif type(value) in (int, float) and not abs(value) <= sys.float_info.max:
        expected = "a finite number"
    elif "minimum" in schema:
        expected += " from {} to {}".format(
            *(f"{schema[end]:.6f}".rstrip("0").rstrip(".") for end in ("minimum", "maximum"))
        )
    if isinstance(value, str) and re.fullmatch(r"\s*[-+.\d]+\s*", value[:LONGEST_KEY]) and "number" in kinds:
        probably = "the number stands in quotes"
    elif isinstance(value, str) and misfit.path[-1:] == ["parent"] and "integer" in kinds:
        probably = "the parent's name was written"
    words = {"expected": expected, "got": got, "probably": probably, "next_step": misfit.about, "where": where}
    return RigError(**(words | misfit.words))
