"""What heat would buy before a mix: a panel under a lamp, a room with a heater in it, the heaters
one owns, and the chance that a milestone is in time with each. It switches nothing, and no reminder
comes from it: an answer holds for the question that was asked.
"""
