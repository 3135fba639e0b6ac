"""Tests of curewatch.garage."""
