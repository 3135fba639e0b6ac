"""The model: from rate and thermal history to equivalent age, belief and the times of every
milestone.

Pure functions of readings and a sheet: no store, no settings, no clock, no file, no sentence for a
page.
"""
