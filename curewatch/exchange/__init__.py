"""What other programs are told and tell: JSON out and in, its schemas, the calendar,
announcements, presses of buttons.

Data with stable names; no page, no terminal.
"""
