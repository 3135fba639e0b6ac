"""What was done: photographs, moments, history, predictions beside findings, comparing,
undoing; and the data folder kept in order.

Steps are shown as they were recorded; the bench works out what they mean.
"""
