"""Tests of the whole: the command as it runs, attacks, faults, the demo, the rules of the code."""
