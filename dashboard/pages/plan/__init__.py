"""The plan: by when to begin what is wished of a part, what tonight, and what is asked for it."""
