"""Whether a reading may be used: each sensor against its own past and against the others, its
calibration, and which sensor is silent.

Readings of every kind come in here, and nowhere else. Nothing here knows a product or the model.
"""
