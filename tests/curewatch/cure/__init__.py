"""Tests of curewatch.cure."""
