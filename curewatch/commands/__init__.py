"""The `curewatch` command: where clocks are named and packages wired together.

The only place that imports sensors and dashboard. Nothing imports it.
"""
