"""Names: what a matched joint is called, what the rule would call it, and each way in which the two differ."""

from rigkit.files.exercise import AskedJoint, Exercise
from rigkit.measures.base import Measurement, measured


def measure(asked: AskedJoint, name: str, exercise: Exercise) -> list[Measurement]:
    """name and name-asked; then "name-KIND" with the rule's sentence for each problem of the name."""
    side = None if exercise.side == "middle" else exercise.side
    problems = exercise.naming.check(name, asked.role, side, asked.names)
    return [
        measured(asked.role, "name", name, "text"),
        measured(asked.role, "name-asked", exercise.naming.name_for(asked.role, side), "text"),
        *(measured(asked.role, f"name-{one.kind}", one.message, "text") for one in problems),
    ]
