"""Where sensors connect: let in by password, limited, spoken to in their version of MQTT, passed
on to the broker.

Topics and limits are pure; only `proxy` and `connection` hold sockets.
"""
