"""The sheet of a job to print: its content as blocks, written as HTML and as PDF.

Nothing is worked out here that the logbook does not say.
"""
