"""Tests of dashboard.endpoints."""
