"""The checks before a mix: stop, caution or go for each, with figure, limit, source and remedy; and
starting a step.

The checks are pure; only `gather` reads the bench for them.
"""
