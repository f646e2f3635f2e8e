"""Rubrics: weights, allowances and caps read from TOML, frozen, with the checksum of the file they came from."""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path
from types import MappingProxyType

from rigkit.require import RigError
from rigkit.schema import fits
from rigkit.tables import data_folder, read_table

LATER = {"structure.twist": 0.0, "structure.twist_allowed": 0.1, "structure.twist_failing": 0.3,
         "structure.twist_off_allowed": 0.2, "structure.twist_off_failing": 0.8,
         "frames.scale_allowed": 1e6, "frames.scale_failing": 2e6}  # fmt: skip
"""Values of keys that came later, for rubrics without them: twist joints cost nothing there, nor does a scale."""
CRITERIA = ("structure", "centring", "fold", "bend", "frames", "names", "mirror")


@dataclass(frozen=True)
class Rubric:
    """`weights` by criterion; `values` by "table.key", such as "centring.allowed"; `caps` by finding; `joints` the
    exceptions by role: values of their own, and "leave_out", criteria; `sha256` of the file's bytes."""

    id: str
    title: str
    sha256: str
    weights: Mapping[str, float]
    values: Mapping[str, float]
    caps: Mapping[str, float]
    joints: Mapping[str, Mapping] = field(default_factory=dict)

    def __getitem__(self, key: str) -> float:
        return self.values[key]

    def of(self, role: str) -> "Rubric":
        """The rubric as it holds for one joint."""
        return replace(self, values={**self.values, **self.joints[role]}) if role in self.joints else self

    def judges(self, role: str, criterion: str) -> bool:
        """Whether a joint is judged by a criterion."""
        return criterion not in self.joints.get(role, {}).get("leave_out", ())


def read_rubric(path: str | Path) -> Rubric:
    """Read a rubric from a TOML file, or a bundled one by its name ("standard").

    Raises RigError naming the file and the key.

    >>> read_rubric("standard")["centring.allowed"]
    0.2
    """
    path = Path(path)
    if path.suffix == "" and path.name == str(path):
        path = data_folder() / "rubrics" / f"{path.name}.toml"
    table = fits(read_table(path), "rubric", path.name)
    weights = {key: float(table["weights"].get(key, 0)) for key in CRITERIA}
    if not sum(weights.values()) > 0:
        raise RigError("at least one weight above 0", "none", where=f"{path.name}, weights")
    tables = {name: row for name, row in table.items() if isinstance(row, dict)}
    caps, joints = tables.pop("caps", {}), tables.pop("joints", {})
    tables.pop("weights")
    if lacking := next((name for name, weight in weights.items() if weight and name not in tables), None):
        raise RigError(f"a table [{lacking}], since {lacking} has a weight", "none", where=path.name)
    values = {f"{name}.{key}": float(value) for name, row in tables.items() for key, value in row.items()}
    values |= {key: value for key, value in LATER.items() if key not in values}
    for role, changed in {"": {}, **joints}.items():
        where = f"{path.name}, joints.{role}" if role else path.name
        if unknown := next((key for key in changed if key not in (*values, "leave_out")), None):
            raise RigError(f"one of {', '.join(values)}", unknown, where=where)
        here = values | changed
        for low in (key for key in values if "allowed" in key):
            if not here[low] < here[high := low.replace("allowed", "failing")]:
                raise RigError(f"{high} above {low}", f"{here[high]:g} and {here[low]:g}", where=where)
    return Rubric(
        table["id"], table["title"], hashlib.sha256(path.read_bytes()).hexdigest(),
        MappingProxyType(weights), MappingProxyType(values), MappingProxyType(caps), MappingProxyType(joints),
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
    table = fits(read_table(data_folder() / "findings.toml"), "findings", "findings.toml")
    return MappingProxyType({name: FindingKind(name, **row) for name, row in table["findings"].items()})
