"""Tests of curewatch.store."""
