"""What a label and a data sheet say: sheets, chemistries, hazards, portions, shelf life.

The generic sheets lie beside it as TOML. Nothing here knows what was measured or mixed.
"""
