"""Commands that set things up: page and broker, sensors, room and mask, access, data, guide."""
