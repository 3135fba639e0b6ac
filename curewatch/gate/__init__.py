"""Fit to start? Each question before a mix with stop, caution or go, its figure, limit, source and
remedy; and starting a step.

The checks are pure; `gather` alone reads the bench for them.
"""
