"""Tests of curewatch.products."""
