"""Data for and from other programs: JSON export and import, its schemas, the calendar,
announcements, button presses.

Data with stable names; no page, no terminal.
"""
