"""How often a passcode may be tried: ten times a minute, then a wait that grows."""

from __future__ import annotations

import ipaddress
import threading
from collections import OrderedDict, deque
from collections.abc import Callable
from dataclasses import dataclass, field

from curewatch.backoff import delay_s

MINUTE_S = 60.0
PER_ADDRESS, PER_MINUTE = 10, 40
LONGEST_S, FORGOTTEN_S = 3600.0, 86400.0
MOST_ADDRESSES = 1000


@dataclass
class _Record:
    times: deque[float] = field(default_factory=deque)
    waits: int = 0
    until: float = 0.0


def _recent(times: deque[float], now: float) -> int:
    while times and now - times[0] >= MINUTE_S:
        times.popleft()
    return len(times)


def _origin(address: str) -> str:
    """The address that counts: of IPv6 the network of 64 bits that one device can vary."""
    try:
        ip = ipaddress.ip_address(address.partition("%")[0])
    except ValueError:
        return address[:64]
    if ip.version == 6 and not ip.is_loopback:
        return str(ipaddress.ip_network((ip, 64), strict=False))
    return str(ip)


class LoginRateLimit:
    """Counts tries by address and over all; `seconds` is a steady clock. [s]"""

    def __init__(self, seconds: Callable[[], float]) -> None:
        self._seconds, self._lock = seconds, threading.Lock()
        self._records: OrderedDict[str, _Record] = OrderedDict()
        self._all: deque[float] = deque()

    def wait_s(self, address: str) -> float:
        """Count a try; 0 where it may be made, else how long to wait. [s]

        The limit over all addresses does not hold for this machine's own, so that nobody on the
        network can keep its owner out.
        """
        with self._lock:
            now, key = self._seconds(), _origin(address)
            record = self._record(key, now)
            if now < record.until:
                return record.until - now
            if _recent(record.times, now) >= PER_ADDRESS:
                record.waits += 1
                record.until = now + delay_s(record.waits, MINUTE_S, LONGEST_S)
                return record.until - now
            if _recent(self._all, now) >= PER_MINUTE and key not in ("127.0.0.1", "::1"):
                return MINUTE_S - (now - self._all[0])
            record.times.append(now)
            self._all.append(now)
            return 0.0

    def forget(self, address: str) -> None:
        """The passcode was right: this address begins anew."""
        with self._lock:
            self._records.pop(_origin(address), None)

    def _record(self, key: str, now: float) -> _Record:
        """The record of an address, moved to the end; the longest unused goes for a new one."""
        record = self._records.pop(key, None)
        if record is None or now - max(record.until, *record.times, 0.0) > FORGOTTEN_S:
            record = _Record()
        self._records[key] = record
        while len(self._records) > MOST_ADDRESSES:
            self._records.popitem(last=False)
        return record
