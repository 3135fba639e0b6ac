"""How readings come in: MQTT, typed, files."""
