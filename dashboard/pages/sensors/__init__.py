"""Sensors, what they said, and listening for new ones."""
