"""curewatch.toml, checked key by key, and who may connect from the home network.

Settings are read and written here and passed on as plain values; nothing here uses them.
"""
