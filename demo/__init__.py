"""An invented garage to show curewatch at work."""
