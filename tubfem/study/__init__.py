"""Studies: many runs of one case, looked at together."""
