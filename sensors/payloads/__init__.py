"""From the bytes of a message to readings: numbers, JSON, SenML, and the time that came with them.

Pure: no connection, no clock.
"""
