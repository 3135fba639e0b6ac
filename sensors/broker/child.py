"""The embedded broker's own process: `python broker_child.py HOST PORT MAX_PAYLOAD_BYTES`.

Ends when its standard input closes, which the system does when the parent ends in any way. What
it holds for subscribers, also for ones that never come back, is bounded: the last 120 kB for each
filter that was ever subscribed to, in twelve parts, of which the oldest goes first; a subscriber
further behind misses some. With each message of a sensor that connects, publishes and parts it
keeps 9.5 kB of memory, so that these 120 kB are at most 30 MB.
"""

from __future__ import annotations

import logging
import os
import sys
import tempfile
import threading
from pathlib import Path

_BROKEN = b"panicked at"
_MEMORY = "/dev/shm"
_SETTINGS = """
id = 0
[router]
id = 0
max_connections = 10010
max_outgoing_packet_count = 1000
max_segment_size = 10000
max_segment_count = 12
[v4.1]
name = "v4-1"
listen = "{listen}"
next_connection_delay_ms = 1
[v4.1.connections]
connection_timeout_ms = 60000
max_payload_size = {most}
max_inflight_count = 100
"""


def _end_with_parent() -> None:
    try:
        sys.stdin.buffer.read()
    finally:
        os._exit(0)


def _end_when_broken() -> None:
    """The broker's threads end alone when one panics, and it serves no more: then end them all.

    What it says goes on to where it would have gone.
    """
    stderr_read, out = os.pipe()
    log = os.dup(2)
    os.dup2(out, 2)

    def follow() -> None:
        while line := os.read(stderr_read, 65_536):
            os.write(log, line)
            if _BROKEN in line:
                os._exit(1)

    threading.Thread(target=follow, daemon=True).start()


def main() -> None:
    """Serve until the parent is gone."""
    _end_when_broken()
    threading.Thread(target=_end_with_parent, daemon=True).start()
    from iotcore import IotCoreBroker

    logging.basicConfig(level=logging.CRITICAL)
    host, port, most = sys.argv[1:]
    listen = f"[{host}]:{port}" if ":" in host else f"{host}:{port}"
    # It reads its settings from a file alone; in memory, so that a full disk does not stop it.
    with tempfile.TemporaryDirectory(dir=_MEMORY if os.path.isdir(_MEMORY) else None) as folder:
        file = Path(folder) / "broker.toml"
        file.write_text(_SETTINGS.format(listen=listen, most=most))
        broker = IotCoreBroker(config_path=str(file))
    broker.run_forever()


if __name__ == "__main__":
    main()
