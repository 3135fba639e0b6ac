"""Tests of curewatch."""
