"""Tests of dashboard.pages."""
