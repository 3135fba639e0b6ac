"""The embedded broker's own process: `python broker_child.py HOST PORT MAX_PAYLOAD_BYTES`.

Ends when its standard input closes, which the system does when the parent ends in any way.
"""

from __future__ import annotations

import logging
import os
import sys
import threading


def _end_with_parent() -> None:
    try:
        sys.stdin.buffer.read()
    finally:
        os._exit(0)


def main() -> None:
    """Serve until the parent is gone."""
    threading.Thread(target=_end_with_parent, daemon=True).start()
    from iotcore import IotCoreBroker

    logging.basicConfig(level=logging.CRITICAL)
    host, port, most = sys.argv[1:]
    IotCoreBroker(listen=host, port=int(port), max_payload_size=int(most)).run_forever()


if __name__ == "__main__":
    main()
