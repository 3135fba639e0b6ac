"""Commands before a mix: labels, cans, parts, the evening, and whether it is fit to start."""
