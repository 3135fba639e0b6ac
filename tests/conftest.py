"""What several tests need: free ports, a fresh store, waiting with an end."""

from __future__ import annotations

import socket
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from curewatch.store import Store


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    """A fresh logbook file."""
    held = Store(tmp_path / "curewatch.sqlite")
    yield held
    held.close()


@pytest.fixture
def free_port() -> Callable[[], int]:
    """Asks for a TCP port that nothing listens on, another one each time."""
    given: set[int] = set()

    def ask() -> int:
        while True:
            with socket.socket() as probe:
                probe.bind(("127.0.0.1", 0))
                port = int(probe.getsockname()[1])
            if port not in given:
                given.add(port)
                return port

    return ask


@pytest.fixture
def wait_for() -> Callable[[Callable[[], object]], None]:
    """Waits until a question is answered with yes, at most 20 s."""

    def wait(question: Callable[[], object]) -> None:
        until = time.monotonic() + 20
        while not question():
            assert time.monotonic() < until, f"{question} stayed false for 20 s"
            time.sleep(0.05)

    return wait
