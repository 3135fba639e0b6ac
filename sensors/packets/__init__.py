"""MQTT as bytes: packets of 3.1.1 and of 5, what a client may retain, until when its session
lasts.

Pure: no socket, no clock.
"""
