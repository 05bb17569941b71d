"""Numbers of the forms of the files that studies write: one more when a key changes its meaning, or goes."""

SCHEMAS = {"what_if": 4, "compare": 1, "next_ply": 2, "schedule": 1, "spread": 2, "refine": 1}
