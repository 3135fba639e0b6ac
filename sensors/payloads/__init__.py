"""Bytes of a message to readings: numbers, JSON, SenML, the time that came with them.

Pure: no connection, no clock.
"""
