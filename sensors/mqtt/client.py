"""A client at the broker of the settings, with their user and encryption."""

from __future__ import annotations

import secrets

import paho.mqtt.client as paho
from paho.mqtt.enums import CallbackAPIVersion

from curewatch.settings.settings import MqttSettings
from sensors.mqtt.tls import encrypt

KEEPALIVE_S = 30
_SPOKEN = ("online", "next", "alarms", "plan")


def ours(topic: str, buttons: bool) -> bool:
    """Whether curewatch speaks on a topic or, where there are buttons, is pressed there."""
    if buttons and topic.startswith("curewatch/button/"):
        return True
    text = topic.removeprefix("curewatch/bench/")
    return text != topic and ("/" in text or text in _SPOKEN)


def topic_of(message: paho.MQTTMessage) -> str:
    """A message's topic, empty where it is no text."""
    try:
        return str(message.topic)
    except UnicodeDecodeError:
        return ""


def make_client(mqtt: MqttSettings, what: str, *, again: bool) -> paho.Client:
    """A client with a name of its own for this run; the broker keeps nothing for it.

    again: whether it connects again by itself.
    """
    client = paho.Client(
        CallbackAPIVersion.VERSION2,
        client_id=f"curewatch-{what}-{secrets.token_hex(4)}",
        clean_session=True,
        reconnect_on_failure=again,
    )
    if mqtt.user:
        client.username_pw_set(mqtt.user, mqtt.password)
    encrypt(client, mqtt)
    return client
