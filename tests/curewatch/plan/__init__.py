"""Tests of curewatch.plan."""
