"""The generic ways of work, as TOML; each can be copied and changed."""
