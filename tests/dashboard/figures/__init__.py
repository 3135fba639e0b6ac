"""Tests of dashboard.figures."""
