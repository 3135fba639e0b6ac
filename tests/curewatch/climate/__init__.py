"""Tests of curewatch.climate."""
