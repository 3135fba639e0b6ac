"""How a file of an earlier version is converted to the present one.

Each of these runs once, when an older file is opened; nothing else imports them.
"""
