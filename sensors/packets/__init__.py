"""MQTT as bytes: packets of versions 3.1.1 and 5, what a client may retain, when its session ends.

Pure: no socket, no clock.
"""
