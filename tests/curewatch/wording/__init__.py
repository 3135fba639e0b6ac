"""Tests of curewatch.wording."""
