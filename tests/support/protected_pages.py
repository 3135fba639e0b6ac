"""Pages behind a passcode, with clocks that a test moves."""

from __future__ import annotations

import contextlib
import functools
import subprocess
import tempfile
import threading
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path

from flask import Flask
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from curewatch.settings.credentials import FILE, LiveCredentials, NewSecrets, make_credentials
from curewatch.settings.settings import PageSettings
from dashboard.access.login import AccessCheck
from dashboard.access.rate_limit import LoginRateLimit
from dashboard.access.server import PageServer
from dashboard.access.sessions import Sessions
from dashboard.app import make_app
from tests.support.brokers import tool
from tests.support.devices import stop_serving
from tests.support.pages import SETTINGS, Garage, open_garage

ORIGIN = {"Origin": "http://localhost"}
HTML = {"Accept": "text/html,application/xhtml+xml"}


@dataclass
class Time:
    """A wall's clock and a steady one that a test moves together."""

    passed_s: float = 1e6
    begun: datetime = field(default_factory=lambda: datetime(2026, 10, 14, 17, 42, tzinfo=UTC))

    def wall(self) -> datetime:
        return self.begun + timedelta(seconds=self.passed_s)

    def steady(self) -> float:
        return self.passed_s

    def wait(self, seconds: float) -> None:
        self.passed_s += seconds


@dataclass
class ProtectedGarage:
    """A garage behind a passcode."""

    folder: Path
    garage: Garage
    shown: NewSecrets
    access: AccessCheck
    time: Time

    @property
    def app(self) -> Flask:
        return self.garage.app

    def browser(self, address: str = "10.0.0.9") -> FlaskClient:
        """A fresh device at an address."""
        client = self.app.test_client()
        client.environ_base["REMOTE_ADDR"] = address
        return client

    def signed_in(self) -> FlaskClient:
        """A device that knows the passcode."""
        browser = self.browser()
        assert sign_in(browser, self.shown.passcode).status_code == 303
        return browser


def sign_in(browser: FlaskClient, passcode: str, **texts: str) -> TestResponse:
    """Try a passcode."""
    return browser.post("/login", data={"passcode": passcode, **texts}, headers=ORIGIN | HTML)


@functools.cache
def _made() -> tuple[NewSecrets, str]:
    """One passcode for all tests: what was shown and what is kept."""
    with tempfile.TemporaryDirectory() as folder:
        shown = make_credentials(Path(folder))
        return shown, (Path(folder) / FILE).read_text()


def protected_garage(folder: Path) -> Iterator[ProtectedGarage]:
    """A garage whose pages open with a passcode."""
    folder.mkdir(parents=True, exist_ok=True)
    shown, kept = _made()
    (folder / FILE).write_text(kept)
    garage, time = open_garage(folder), Time()
    access = AccessCheck(
        LiveCredentials(folder), Sessions(folder, time.wall), LoginRateLimit(time.steady)
    )
    garage.app = make_app(garage.bench, garage.store, garage.clock, SETTINGS, access=access)
    yield ProtectedGarage(folder, garage, shown, access, time)
    garage.store.close()


def certificate(folder: Path) -> PageSettings:
    """A certificate of one's own for 127.0.0.1, as openssl makes it."""
    page = PageSettings(folder / "page.pem", folder / "page-key.pem")
    words = ["req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes"]
    words += ["-days", "2", "-subj", "/CN=garage", "-addext", "subjectAltName=IP:127.0.0.1"]
    words += ["-out", str(page.certificate), "-keyout", str(page.key)]
    subprocess.run([tool("openssl"), *words], check=True, capture_output=True)
    return page


@contextlib.contextmanager
def serving(home: ProtectedGarage, page: PageSettings | None = None) -> Iterator[PageServer]:
    """The pages on a free port, as `curewatch up` serves them, by the garage's steady clock."""
    server = PageServer(home.app, "127.0.0.1", 0, page, home.access, home.time.steady)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    try:
        yield server
    finally:
        stop_serving(server._server, thread)
        server.close()
