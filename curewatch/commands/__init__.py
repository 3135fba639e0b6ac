"""The `curewatch` command: its tree, and what every command shares. The commands lie below.

They are the place where clocks are named and packages wired together, and the only one that imports
sensors and dashboard. Nothing imports them.
"""
