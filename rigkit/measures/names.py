"""Names: what matched joints are called, what the rule would call them, each difference, and what all keep to."""

from collections.abc import Mapping

from rigkit.files.exercise import Exercise
from rigkit.measures.base import Measurement, measured
from rigkit.naming import NamingRule, bundled_rules

STYLE = {"side-mark", "order", "case", "separator", "extra-word", "kind"}


def measure(names: Mapping[str, str], exercise: Exercise) -> list[Measurement]:
    """name and name-asked of each role; then "name-KIND" with the rule's sentence for each problem of the name.

    Where all names keep to another bundled rule, that is each name's one problem (name-other-rule). names-alike says of
    all of them that they keep to another rule, or to a style of their own.
    """
    asked, side = exercise.naming, exercise.side_of

    def by(rule: NamingRule) -> dict[str, str]:
        return {role: rule.name_for(role, side(role)) for role in names}

    right = by(asked)
    problems = {role: asked.check(name, role, side(role), exercise.asked(role).names) for role, name in names.items()}
    other = next((rule.title for rule in bundled_rules() if by(rule) == names), "")
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
