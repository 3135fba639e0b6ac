"""The tests of curewatch."""
