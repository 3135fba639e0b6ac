"""Which topics a sensor from the home network may write and hear. Pure.

It writes `curewatch/<place>/...` and the topics of the user's mappings, and hears what is
under `curewatch/` and those mappings as they stand. What curewatch itself says, on
`curewatch/bench/...`, nobody else writes; `curewatch/button/...` only while buttons are set up.
"""

from __future__ import annotations

from collections.abc import Sequence

from paho.mqtt.client import topic_matches_sub

from curewatch.frozen import frozen
from sensors.mqtt.client import ours
from sensors.payloads.decode import PREFIX

BENCH, BUTTON = "bench", "button"


@frozen
class TopicPermissions:
    """The topics of one set of settings: `filters` hold readings, `buttons` may be pressed."""

    filters: Sequence[str]
    buttons: bool = False

    def is_reading(self, topic: str) -> bool:
        """Whether a message there is meant to hold a reading."""
        return not ours(topic, self.buttons) and any(
            topic_matches_sub(text, topic) for text in self.filters
        )

    def may_write(self, topic: str) -> bool:
        """Whether a sensor may publish there."""
        levels = topic.split("/")
        if topic.startswith("$") or _under(topic, BENCH):
            return False
        if _under(topic, BUTTON):
            return self.buttons
        if levels[0] == PREFIX:
            return len(levels) > 2 and levels[1] != ""
        return self.is_reading(topic)

    def may_subscribe(self, topic: str) -> bool:
        """Whether a sensor may subscribe to this filter."""
        return topic.split("/")[0] == PREFIX or topic in self.filters


def _under(topic: str, name: str) -> bool:
    return topic.split("/")[:2] == [PREFIX, name]
