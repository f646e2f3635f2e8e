"""Named tolerances, each with its reason: round-off, stored float32, or what a learner can be asked for."""

# Round-off -----------------------------------------------------------------------------------------
ROUND_OFF = 1e-12
"""Relative: a few hundred units in the last place of a float64 after a short chain of products."""

NO_LENGTH = 1e-9
"""Metres: a vector shorter than a nanometre has no direction that a mesh in metres could mean."""

FARTHEST = 1e5
"""Metres: a coordinate beyond 100 km is a mistake, and squares of it stay far from overflow."""

# Stored float32 ------------------------------------------------------------------------------------
STORED = 1e-6
"""Metres: float32 keeps 24 bits, so a coordinate of up to 8 m comes back within half a micrometre."""

WELD = 4e-6
"""Metres: vertices doubled along a seam differ by what float32 leaves of them; with noise of up to 1e-6 on each axis
two of them lie up to 2 sqrt(3) of that apart."""

# Learners ------------------------------------------------------------------------------------------
STRAIGHT_SHARE = 0.004
"""Share of the line between the neighbours: 2 mm on an arm of half a metre, about two steps of a slider.
Closer to the line than that a placement does not tell a solver which way the limb was meant to fold."""

UNIT_SLACK = 1e-3
"""A stored quaternion or direction this far from length one was meant to have it (learner, exporters)."""
