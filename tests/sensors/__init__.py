"""Tests of sensors."""
