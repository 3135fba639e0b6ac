"""Tests of curewatch.bench."""
