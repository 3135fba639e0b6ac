"""Tests of curewatch.events."""
