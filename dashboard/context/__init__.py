"""What every page is given: the garage's bench, store, clock and settings, what listens for
sensors, and what takes long, worked out once for all of them and kept. Nothing here knows an
address or draws anything."""
