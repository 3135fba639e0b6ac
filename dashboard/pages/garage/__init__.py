"""Parts, evening, morning, rooms, masks, settings, guide."""
