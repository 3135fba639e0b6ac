"""The zone whose clock the user reads."""

from __future__ import annotations

import os
from pathlib import Path
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

_LINK = Path("/etc/localtime")


def local_zone(named: str | None) -> ZoneInfo:
    """The named zone, else the machine's own, else UTC."""
    for name in (named, os.environ.get("TZ", "").lstrip(":"), _linked()):
        if not name:
            continue
        try:
            return ZoneInfo(name)
        except (ZoneInfoNotFoundError, ValueError):
            continue
    return ZoneInfo("UTC")


def _linked() -> str:
    """The zone's name in the target of /etc/localtime, as Debian, Fedora and macOS keep it."""
    try:
        target = str(_LINK.resolve())
    except OSError:
        return ""
    return target.partition("/zoneinfo/")[2]
