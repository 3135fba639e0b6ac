"""The logbook's file: readings, events, ledger and the index of steps, in SQLite.

The only place with SQL. The store does not know what an event means; the garage does.

What runs once, when a file is made or converted, is written with sqlite-utils (`migrations`). What
runs all day is SQL by hand: loading sqlite-utils takes a process longer than most commands take
in all, an event costs seven times as much through it, and it cannot add up counts where rows meet
(`tests/bench/by_hand.py`).
"""
