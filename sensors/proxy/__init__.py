"""Where sensors connect: they sign in with a password, are limited, are spoken to in their version
of MQTT, and are passed on to the broker.

Topics and limits are pure; only `proxy` and `connection` have sockets.
"""
