"""The logbook's file: readings, events, ledger and the index of steps, in SQLite.

The only place with SQL. The store does not know what an event means; the garage does.
"""
