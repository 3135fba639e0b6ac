"""Passwords of sensors: checked off the loop, and one try of an address at a time."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from time import monotonic
from weakref import WeakValueDictionary

from curewatch.store.turned_away import Why
from sensors.packets.version3 import Connect
from sensors.proxy.rate_limit import RateLimit

UserIs = Callable[[str, str], bool]
_CHECKS = 1


class Passwords:
    """Asks `user_is` for each client; an address with wrong passwords waits ever longer."""

    def __init__(self, user_is: UserIs) -> None:
        self._user_is, self._rate_limit = user_is, RateLimit()
        self._turns = WeakValueDictionary[str, asyncio.Lock]()
        self._checkers = ThreadPoolExecutor(_CHECKS, "gatekeeper-checks")

    def close(self) -> None:
        """Check no more."""
        self._checkers.shutdown(wait=False, cancel_futures=True)

    async def refusal(self, address: str, connect: Connect) -> Why | None:
        """Why a client of an address is not let in; None where its password is right."""
        if connect.user is None or connect.password is None:
            return "no_password"
        password = connect.password.decode(errors="replace")
        # One try of an address at a time: a right one costs nothing, and wrong ones sent together
        # are no more than wrong ones sent one by one.
        async with self._turns.setdefault(address, asyncio.Lock()):
            if not self._rate_limit.allows(address, monotonic()):
                return "must_wait"
            right = await asyncio.get_running_loop().run_in_executor(
                self._checkers, self._user_is, connect.user, password
            )
            if not right:
                self._rate_limit.record_failure(address, monotonic())
                return "wrong_password"
            self._rate_limit.record_success(address)
            return None
