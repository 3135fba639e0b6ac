"""How the file of an earlier version is led on to the present one.

Each of these runs once, when an older file is opened; nothing else imports them.
"""
