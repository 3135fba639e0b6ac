"""What was done: photographs, moments, history, predictions beside findings, comparing, and
undoing.

Steps are shown as they were recorded; the bench works out what they mean.
"""
