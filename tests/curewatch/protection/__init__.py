"""Tests of curewatch.protection."""
