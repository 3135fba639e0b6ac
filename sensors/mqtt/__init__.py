"""Our own clients at a broker: readings written down before they are acknowledged, new sensors
found, lamps told, buttons heard.

What a broker does is not known here.
"""
