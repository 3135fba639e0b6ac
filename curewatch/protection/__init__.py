"""Airing the room, and how long cartridges and filters were worn.

Minimums and reminders, never a clearance.
"""
