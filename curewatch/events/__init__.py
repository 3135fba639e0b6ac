"""What is recorded, as plain data: events and entries, what each may hold, by whom, in one act
with what else.

No file is opened here; what a step has become by its events is read in the garage.
"""
