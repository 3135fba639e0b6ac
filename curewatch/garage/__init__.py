"""What is in the garage: steps, parts and cans, each read from its events.

No forecast is made here: the bench does that.
"""
