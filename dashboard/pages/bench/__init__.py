"""The bench: what comes next, the ribbons, the air, and what a touch records."""
