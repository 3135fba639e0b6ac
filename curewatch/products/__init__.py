"""What labels and data sheets say: sheets, chemistries, hazards, portions, shelf life.

The generic sheets are beside it as TOML. Nothing here knows what was measured or mixed.
"""
