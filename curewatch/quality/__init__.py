"""Whether a reading may be used: each sensor against its own past and against the others, its
calibration, and which sensor is silent.

The one way in for readings of any kind. Nothing here knows a product or the model.
"""
