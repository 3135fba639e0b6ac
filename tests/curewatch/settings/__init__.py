"""Tests of curewatch.settings."""
