"""Tests of curewatch.exchange."""
