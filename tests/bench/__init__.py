"""Benchmarks, each beside a baseline."""
