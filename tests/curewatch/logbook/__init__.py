"""Tests of curewatch.logbook."""
