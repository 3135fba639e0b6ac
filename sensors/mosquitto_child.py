"""Becomes mosquitto: `python mosquitto_child.py PARENT PROGRAM FILE`.

mosquitto does not watch its parent, so before it begins the system (Linux) is asked to end it with
the one that started it, however that ends. Its files are its owner's alone.
"""

from __future__ import annotations

import ctypes
import os
import signal
import sys

_PR_SET_PDEATHSIG = 1


def main() -> None:
    """Turn this process into mosquitto, unless the parent is gone already."""
    parent, program, file = sys.argv[1:]
    os.umask(0o077)
    ctypes.CDLL(None).prctl(_PR_SET_PDEATHSIG, signal.SIGTERM)
    if os.getppid() == int(parent):
        os.execv(program, [program, "-c", file])


if __name__ == "__main__":
    main()
