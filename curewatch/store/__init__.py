"""The logbook's file: readings, events, ledger and the index of steps, in SQLite.

The only place with SQL. What an event means is read in the garage; here it is only kept.
"""
