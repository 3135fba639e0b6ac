"""Our own clients at a broker: they store readings before they acknowledge them, find new sensors,
announce the bench and hear buttons.

What a broker does is not known here.
"""
