"""Times of two-part adhesives, fillers and primers from the real temperature of a garage."""
