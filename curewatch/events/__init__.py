"""What is recorded, as plain data: events and entries, what each may contain, who recorded it, and
which of them belong to one act.

No file is opened here. The garage works out what a step has become by its events.
"""
