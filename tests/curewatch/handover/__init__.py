"""Tests of curewatch.handover."""
