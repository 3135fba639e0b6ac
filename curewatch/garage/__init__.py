"""What stands in the garage: steps, parts and cans, each read from its events.

No forecast is made here: that is the bench's.
"""
