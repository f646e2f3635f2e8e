"""Rubrics: weights, allowances and caps read from TOML, frozen, with the checksum of the file they came from."""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import MappingProxyType

from rigkit import require
from rigkit.require import RigError
from rigkit.tables import data_folder, keys, read_table

CRITERIA = ("structure", "centring", "fold", "bend", "frames", "names", "mirror")
CAPS = ("bends-wrong-way", "joint-missing", "joints-coincide", "outside-flesh", "elsewhere", "wrong-parent")
NUMBERS = {
    "structure": ("wrong_parent", "extra", "doubled_mm", "coincide_mm", "beside_bone"),
    "centring": ("allowed", "failing"),
    "fold": ("allowed", "failing"),
    "bend": ("sideways_allowed", "sideways_failing"),
    "names": ("side_wrong", "side_missing", "part", "misspelt", "style"),
}


@dataclass(frozen=True)
class Rubric:
    """`weights` by criterion; `values` by "table.key", such as "centring.allowed"; `caps` by finding;
    `sha256` of the file's bytes."""

    id: str
    title: str
    sha256: str
    weights: Mapping[str, float]
    values: Mapping[str, float]
    caps: Mapping[str, float]

    def __getitem__(self, key: str) -> float:
        return self.values[key]


def read_rubric(path: str | Path) -> Rubric:
    """Read a rubric from a TOML file, or a bundled one by its name ("standard").

    Raises RigError naming the file and the key.

    >>> read_rubric("standard")["centring.allowed"]
    0.2
    """
    path = Path(path)
    if path.suffix == "" and path.name == str(path):
        path = data_folder() / "rubrics" / f"{path.name}.toml"
    where = path.name
    table = read_table(path, "rigkit-rubric", ("id", "title", "weights", *NUMBERS), ("caps",))
    weights = keys(table["weights"], (), CRITERIA, f"{where}, weights")
    weights = {key: require.number(weights.get(key, 0), f"{where}, weights.{key}", 0, 1e6) for key in CRITERIA}
    if not sum(weights.values()) > 0:
        raise RigError("at least one weight above 0", "none", where=f"{where}, weights")
    values = {}
    for name, wanted in NUMBERS.items():
        rows = keys(table[name], wanted, (), f"{where}, {name}")
        for key in wanted:
            most = 1.0 if name == "names" or key in ("wrong_parent", "extra") else 1e6
            values[f"{name}.{key}"] = require.number(rows[key], f"{where}, {name}.{key}", 0, most)
    for low, high in (("centring.allowed", "centring.failing"), ("fold.allowed", "fold.failing"),
                      ("bend.sideways_allowed", "bend.sideways_failing")):  # fmt: skip
        if not values[low] < values[high]:
            raise RigError(f"{high} above {low}", f"{values[high]:g} and {values[low]:g}", where=where)
    caps = keys(table.get("caps", {}), (), CAPS, f"{where}, caps")
    caps = {key: require.number(value, f"{where}, caps.{key}", 0, 100) for key, value in caps.items()}
    return Rubric(
        require.text(table["id"], f"{where}, id", 64), require.text(table["title"], f"{where}, title", 200),
        hashlib.sha256(path.read_bytes()).hexdigest(),
        MappingProxyType(weights), MappingProxyType(values), MappingProxyType(caps),
    )  # fmt: skip


@dataclass(frozen=True)
class FindingKind:
    """One kind of finding: its criterion, the unit it is measured in, what it means, the lesson that teaches it."""

    id: str
    title: str
    criterion: str
    unit: str
    meaning: str
    lesson: int


@cache
def read_finding_kinds() -> Mapping[str, FindingKind]:
    """All kinds of findings, by id, from `data/findings.toml`."""
    table = read_table(data_folder() / "findings.toml", "rigkit-findings", ("findings",))
    kinds = {}
    for name, row in table["findings"].items():
        where = f"findings.toml, findings.{name}"
        row = keys(row, ("title", "criterion", "unit", "meaning", "lesson"), (), where)
        require.choice(row["criterion"], f"{where}, criterion", CRITERIA)
        kinds[name] = FindingKind(name, row["title"], row["criterion"], row["unit"], row["meaning"], row["lesson"])
    return MappingProxyType(kinds)
