"""Times of two-part adhesives, fillers and primers from the real temperature of a garage."""

__version__ = "0.1.0"
