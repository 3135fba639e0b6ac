"""Tests of dashboard.access."""
