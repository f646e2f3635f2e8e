"""Names: what matched joints are called, what the rule would call them, each difference, and what all keep to."""

from collections.abc import Mapping
from functools import lru_cache

from rigkit.files.exercise import Exercise
from rigkit.measures.base import Measurement, measured
from rigkit.naming import bundled_rules

STYLE = {"side-mark", "order", "case", "separator", "extra-word", "kind"}


def measure(names: Mapping[str, str], exercise: Exercise) -> list[Measurement]:
    """name and name-asked of each role; then "name-KIND" with the rule's sentence for each problem of the name.

    Where all names keep to another bundled rule, that is each name's one problem (name-other-rule). names-alike says of
    all of them that they keep to another rule, or to a style of their own.
    """
    asked, (right, *others) = exercise.naming, _by_rule(exercise)
    problems = {role: () if name == right[role] else
                asked.check(name, role, exercise.side_of(role), exercise.asked(role).names)
                for role, name in names.items()}  # fmt: skip
    other = next((rule.title for rule, by in zip(bundled_rules(), others, strict=True)
                  if all(by[role] == name for role, name in names.items())), "")  # fmt: skip
    alike = ""
    if len(names) > 1 and all(problems.values()):
        if other:
            alike = f"All names follow the rule {other}; this exercise asks for {asked.title}."
        elif all({one.kind for one in found} <= STYLE for found in problems.values()) and (
            len({asked.style_of(name, role) for role, name in names.items()}) == 1
        ):
            role = next(iter(names))
            alike = f"All names keep one style, as in {names[role]}; this exercise's rule says {right[role]}."
    rows = []
    for role, name in names.items():
        told = [(one.kind, one.message) for one in problems[role]]
        if alike and other:
            told = [("other-rule", f"it follows the rule {other}")]
        rows += [
            measured(role, "name", name, "text"),
            measured(role, "name-asked", right[role], "text"),
            *(measured(role, f"name-{kind}", said, "text") for kind, said in told),
            *([measured(role, "names-alike", alike, "text")] if alike else []),
        ]
    return rows


@lru_cache(maxsize=8)
def _by_rule(exercise: Exercise) -> list[dict[str, str]]:
    """The right name of each role by the exercise's own rule, then by each bundled one; no hand-in goes in."""
    sides = {joint.role: exercise.side_of(joint.role) for joint in exercise.joints}
    return [{role: rule.name_for(role, side) for role, side in sides.items()}
            for rule in (exercise.naming, *bundled_rules())]  # fmt: skip
