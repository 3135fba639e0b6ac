"""The system's mosquitto as our own broker: at a private port, with a configuration of ours.

It speaks more of MQTT than the embedded broker, and what it holds survives its end. Neither its
service nor the files under /etc are touched.
"""

from __future__ import annotations

import getpass
import os
import shutil
import sys
import tempfile
from pathlib import Path

from curewatch.errors import ConfigError
from curewatch.trouble import cannot_write
from sensors.broker import MAX_PAYLOAD_BYTES, BrokerProcess, EmbeddedBroker

FILE, HELD = "mosquitto.conf", "mosquitto.db"
_CHILD = Path(__file__).with_name("mosquitto_child.py")
_SETTINGS = """\
listener {port} {host}
allow_anonymous true
user {user}
persistence true
persistence_location {folder}/
persistence_file {held}
autosave_interval 300
persistent_client_expiration 14d
sys_interval 0
max_queued_messages 1000
max_queued_bytes 2000000
max_packet_size {most}
memory_limit 100000000
set_tcp_nodelay true
log_dest stderr
log_type error
connection_messages false
"""


def program() -> str | None:
    """Where mosquitto is installed; None where it is not, or cannot be made to end with us."""
    if not sys.platform.startswith("linux"):
        return None
    return shutil.which("mosquitto", path=f"{os.environ.get('PATH', '')}:/usr/sbin:/usr/local/sbin")


class Mosquitto(BrokerProcess):
    """mosquitto at host:port in a child process; restarted should it end or hang."""

    any_topic = True

    def _command(self) -> list[str]:
        found = program()
        if found is None:
            raise ConfigError(
                'broker = "mosquitto" is set, and no mosquitto is installed here',
                fix='install it (Debian: apt install mosquitto), or set broker = "embedded"',
            )
        own = [sys.executable, "-P", str(_CHILD), str(os.getpid())]
        return [*own, found, str(self._write_settings())]

    def _write_settings(self) -> Path:
        if self.folder is None:
            self.folder = Path(tempfile.mkdtemp(prefix="curewatch-"))
        path = self.folder.absolute() / FILE
        text = _SETTINGS.format(
            port=self.port,
            host=self.host,
            user=getpass.getuser(),
            folder=path.parent,
            held=HELD,
            most=MAX_PAYLOAD_BYTES,
        )
        try:
            with os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "w") as to:
                to.write(text)
        except OSError as error:
            raise cannot_write(error, path, "check its permissions") from None
        return path


def own_broker(kind: str, folder: Path) -> BrokerProcess:
    """The broker we bring, at any free port of this machine; `kind` as in curewatch.toml."""
    if kind == "mosquitto" or (kind == "auto" and program()):
        return Mosquitto("127.0.0.1", 0, folder)
    return EmbeddedBroker("127.0.0.1", 0, folder)
