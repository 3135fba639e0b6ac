"""How every test runs, and how the run ends."""

from __future__ import annotations

import os
import sys
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from hypothesis import settings
from playwright.sync_api import Browser

from curewatch import cli
from sensors.broker import EmbeddedBroker
from tests.brokers import Mosquitto, free_port
from tests.pages import EVENING, Garage, chromium, garage, served, weather

settings.register_profile("curewatch", deadline=None, print_blob=True)
settings.load_profile("curewatch")


@pytest.hookimpl(trylast=True)
def pytest_unconfigure(config: pytest.Config) -> None:
    """A thread that a test left behind would keep the run from ending: name it, and fail."""
    main = threading.main_thread()
    left = [each.name for each in threading.enumerate() if each is not main and not each.daemon]
    if left:
        print(f"Threads left behind by the tests: {', '.join(left)}.", file=sys.stderr, flush=True)
        sys.stdout.flush()
        os._exit(1)


Run = Callable[..., tuple[int, str, str]]


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    """The command as typed, on fresh data: exit code, stdout and stderr."""
    monkeypatch.setenv("CUREWATCH_DATA", str(tmp_path / "data"))

    def typed(*words: str) -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "argv", ["curewatch", *words])
        code = cli.main()
        said = capsys.readouterr()
        return code, said.out, said.err

    return typed


@pytest.fixture(scope="module")
def running() -> Iterator[Browser]:
    """Debian's browser, one for all tests of a file."""
    with chromium() as found:
        yield found


@pytest.fixture
def browser(running: Browser) -> Iterator[Browser]:
    """The browser; its devices are put away after each test."""
    yield running
    for context in running.contexts:
        context.close()


@pytest.fixture(params=["mosquitto", "embedded"])
def port(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[int]:
    """Both brokers, each on its own port."""
    if request.param == "embedded":
        with EmbeddedBroker(port=free_port()) as broker:
            yield broker.port
        return
    outside = Mosquitto(tmp_path)
    yield outside.port
    outside.stop()


@pytest.fixture
def held(tmp_path: Path) -> Iterator[Garage]:
    """A garage with two days of weather and nothing on the bench."""
    found = garage(tmp_path)
    found.hear(weather(EVENING))
    yield found
    found.store.close()


@pytest.fixture
def address(held: Garage) -> Iterator[str]:
    """Where the garage's pages are served."""
    with served(held.app) as found:
        yield found
