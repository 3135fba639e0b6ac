"""The system's mosquitto as our own broker: at a private port, with settings of ours.

It speaks more of MQTT than the embedded broker. What it holds is gone when it ends, as with that
one: so `retained.py` knows all that is retained, and nothing is written to disk. Neither its
service nor the files under /etc are touched.
"""

from __future__ import annotations

import os
import shutil
import sys
from pathlib import Path

from curewatch.errors import ConfigError, StoreError
from sensors.broker.process import MAX_PAYLOAD_BYTES, BrokerProcess, EmbeddedBroker

_CHILD = Path(__file__).with_name("mosquitto_child.py")
_OTHERWISE = 'set broker = "embedded" under [mqtt] in curewatch.toml'


def program() -> str | None:
    """Where mosquitto is installed; None where it is not, or cannot be made to end with us."""
    if not sys.platform.startswith("linux"):
        return None
    return shutil.which("mosquitto", path=f"{os.environ.get('PATH', '')}:/usr/sbin:/usr/local/sbin")


class Mosquitto(BrokerProcess):
    """mosquitto at host:port in a child process; restarted should it end or hang."""

    called, any_topic = "mosquitto", True

    def _command(self) -> list[str]:
        text = program()
        if text is None:
            raise ConfigError(
                'broker = "mosquitto" is set, and no mosquitto is installed here',
                fix=f"install it (Debian: apt install mosquitto), or {_OTHERWISE}",
            )
        own = [sys.executable, "-P", str(_CHILD), str(os.getpid())]
        return [*own, text, self.host, str(self.port), str(MAX_PAYLOAD_BYTES)]

    @property
    def _remedy(self) -> str:
        return f"mend it, or {_OTHERWISE}"


def start_own(kind: str, folder: Path) -> BrokerProcess:
    """Start the broker we bring, at any free port of this machine; `kind` as in curewatch.toml.

    "auto" takes the embedded one where mosquitto is not installed, and where it does not start.
    """
    if kind == "embedded" or (kind == "auto" and not program()):
        return EmbeddedBroker("127.0.0.1", 0, folder).start()
    mosquitto = Mosquitto("127.0.0.1", 0, folder)
    try:
        return mosquitto.start()
    except StoreError as error:
        if kind != "auto":
            raise
        embedded = EmbeddedBroker("127.0.0.1", 0, folder)
        embedded.instead = f"{error.what}, so the embedded broker is used"
        return embedded.start()
