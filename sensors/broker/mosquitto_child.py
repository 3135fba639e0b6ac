"""Becomes mosquitto: `python mosquitto_child.py PARENT PROGRAM HOST PORT MAX_PAYLOAD_BYTES`.

mosquitto does not watch its parent, so before it begins the system (Linux) is asked to end it with
the one that started it, however that ends. It reads its settings from a file alone; in memory, so
that a full disk does not stop it. `user root` counts where curewatch runs as root: a change of
user would undo the ending with the parent.
"""

from __future__ import annotations

import ctypes
import os
import signal
import sys

_PR_SET_PDEATHSIG = 1
_SETTINGS = """\
listener {port} {host}
allow_anonymous true
user root
persistence false
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


def settings(host: str, port: str, most: str) -> str:
    """The name of a file in memory with the settings; it is there as long as this process."""
    file = os.memfd_create("mosquitto.conf", 0)
    os.write(file, _SETTINGS.format(host=host, port=port, most=most).encode())
    return f"/proc/self/fd/{file}"


def main() -> None:
    """Turn this process into mosquitto, unless the parent is gone already."""
    parent, program, *where = sys.argv[1:]
    ctypes.CDLL(None).prctl(_PR_SET_PDEATHSIG, signal.SIGTERM)
    if os.getppid() == int(parent):
        os.execv(program, [program, "-c", settings(*where)])


if __name__ == "__main__":
    main()
