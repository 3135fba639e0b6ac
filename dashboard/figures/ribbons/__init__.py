"""Ribbons: a step's milestones as one soft-edged band over a time axis."""
