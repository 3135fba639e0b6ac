"""Tests of dashboard."""
