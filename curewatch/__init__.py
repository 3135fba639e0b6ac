"""Cure times of adhesives, fillers, primers and sealers at the real temperature of a garage."""

__version__ = "0.1.0"
