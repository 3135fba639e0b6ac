"""One step: its course, its conditions, what was done, and every field to correct."""
