"""Present values, a box for a typed reading, and the history to look into."""
