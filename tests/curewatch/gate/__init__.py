"""Tests of curewatch.gate."""
