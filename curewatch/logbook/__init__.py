"""What was done: photographs, moments, history, predicted and actual times, comparing, and undoing.

Steps are shown as they were recorded; the bench works out what they mean.
"""
