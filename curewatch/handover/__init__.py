"""The printed sheet of a job: its content as blocks, written as HTML and as PDF.

Nothing is worked out here; all comes from the logbook.
"""
