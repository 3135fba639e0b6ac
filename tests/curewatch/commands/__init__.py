"""Tests of curewatch.commands."""
