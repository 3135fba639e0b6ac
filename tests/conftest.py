"""How every test runs, and how the run ends."""

from __future__ import annotations

import os
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings
from playwright.sync_api import Browser

from curewatch.commands import main
from sensors.broker.process import EmbeddedBroker
from tests.support import devices, shared_apps, shared_files
from tests.support.brokers import SystemMosquitto, free_port
from tests.support.many import TIMES, cases
from tests.support.pages import EVENING, Garage, open_garage, served, weather

# Benchmarks and what tests share hold no tests: they are loaded where a test asks for them.
collect_ignore = ["bench", "support"]

# The suite takes the same examples on every run, however slow the machine.
settings.register_profile(
    "curewatch",
    deadline=None,
    derandomize=TIMES == 1,
    max_examples=cases(25),
    print_blob=True,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.load_profile("curewatch")

shared_apps.share()
shared_files.share()


def lingering() -> list[str]:
    """The names of the threads that keep this process from ending."""
    main = threading.main_thread()
    return [
        thread.name for thread in threading.enumerate() if thread is not main and not thread.daemon
    ]


@pytest.fixture(scope="session", autouse=True)
def no_thread_is_left_behind() -> Iterator[None]:
    """A thread that a test left behind would keep the run from ending: name it, and fail."""
    yield
    devices.stage.end()
    until = time.monotonic() + 30
    while lingering() and time.monotonic() < until:
        time.sleep(0.05)
    assert lingering() == [], "threads left behind by the tests"


@pytest.hookimpl(trylast=True)
def pytest_unconfigure(config: pytest.Config) -> None:
    """Where a thread was left behind all the same, end."""
    if lingering():
        sys.stdout.flush()
        os._exit(1)


Run = Callable[..., tuple[int, str, str]]


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    """The command as typed, on fresh data: exit code, stdout and stderr."""
    monkeypatch.setenv("CUREWATCH_DATA", str(tmp_path / "data"))

    def typed(*words: str) -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "argv", ["curewatch", *words])
        code = main.main()
        said = capsys.readouterr()
        return code, said.out, said.err

    return typed


@pytest.fixture(scope="session")
def running() -> Iterator[Browser]:
    """Debian's browser, one for all tests of a process."""
    with devices.chromium() as browser:
        yield browser


@pytest.fixture
def browser(running: Browser) -> Iterator[Browser]:
    """The browser; its devices are put away after each test."""
    yield running
    devices.put_away(running)


@pytest.fixture(params=["mosquitto", "embedded"])
def port(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[int]:
    """Both brokers, each on its own port."""
    if request.param == "embedded":
        with EmbeddedBroker(port=free_port()) as broker:
            yield broker.port
        return
    outside = SystemMosquitto(tmp_path)
    yield outside.port
    outside.stop()


@pytest.fixture
def garage(tmp_path: Path) -> Iterator[Garage]:
    """A garage with two days of weather and nothing on the bench."""
    garage = open_garage(tmp_path)
    garage.hear(weather(EVENING))
    yield garage
    garage.store.close()


@pytest.fixture
def address(garage: Garage) -> Iterator[str]:
    """Where the garage's pages are served."""
    with served(garage.app) as text:
        yield text
