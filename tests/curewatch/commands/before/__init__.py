"""Tests of curewatch.commands.before."""
