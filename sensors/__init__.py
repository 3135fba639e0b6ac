"""How readings come in: by MQTT, typed, from files."""
