"""The embedded broker's own process: `python broker_child.py HOST PORT MAX_PAYLOAD_BYTES`.

Ends when its standard input closes, which the system does when the parent ends in any way.
"""

from __future__ import annotations

import logging
import os
import sys
import threading

_BROKEN = b"panicked at"


def _end_with_parent() -> None:
    try:
        sys.stdin.buffer.read()
    finally:
        os._exit(0)


def _end_when_broken() -> None:
    """The broker's threads end alone when one panics, and it serves no more: then end them all.

    What it says goes on to where it would have gone.
    """
    said, out = os.pipe()
    log = os.dup(2)
    os.dup2(out, 2)

    def follow() -> None:
        while line := os.read(said, 65_536):
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
    IotCoreBroker(listen=host, port=int(port), max_payload_size=int(most)).run_forever()


if __name__ == "__main__":
    main()
