"""Tests of curewatch.quality."""
