"""Encryption to an outside broker: its certificate is always checked, and a wrong one is said."""

from __future__ import annotations

import html
import logging
import re
import subprocess
import urllib.request
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import pytest

from curewatch.errors import ConfigError
from curewatch.settings.settings import MqttSettings, Settings, parse_settings
from curewatch.store.store import Store
from sensors.mqtt.discovery import TopicListener
from sensors.mqtt.subscriber import Subscriber
from tests.support.brokers import SystemMosquitto, free_port, publish, tool, until
from tests.support.campaign import CUREWATCH

TOP = Path(__file__).resolve().parents[2]
SURFACE = "curewatch/panel/surface_temperature"


def openssl(*words: str) -> None:
    subprocess.run([tool("openssl"), *words], check=True, capture_output=True)


def authority(folder: Path, name: str) -> Path:
    """A CA of our own: its certificate, with the key beside it."""
    certificate = folder / f"{name}.pem"
    openssl(
        *("req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2"),
        *("-subj", f"/CN={name}", "-keyout", str(folder / f"{name}.key")),
        *("-out", str(certificate)),
    )
    return certificate


def signed(folder: Path, ca: Path, names: str, days: str = "2") -> tuple[Path, Path]:
    """A broker's certificate for some names, signed by a CA, and its key."""
    key, path, certificate = folder / "broker.key", folder / "broker.csr", folder / "broker.pem"
    (folder / "names").write_text(f"subjectAltName={names}\n")
    openssl(
        *("req", "-newkey", "rsa:2048", "-nodes", "-subj", "/CN=broker"),
        *("-keyout", str(key), "-out", str(path)),
    )
    openssl(
        *("x509", "-req", "-in", str(path), "-CA", str(ca), "-CAkey", str(ca.with_suffix(".key"))),
        *("-CAcreateserial", "-days", days, "-extfile", str(folder / "names")),
        *("-out", str(certificate)),
    )
    return certificate, key


@dataclass
class Outside:
    """A broker with a certificate, the CA that signed it, and a CA that did not."""

    broker: SystemMosquitto
    ca: Path
    other: Path

    @property
    def port(self) -> int:
        return self.broker.port


def outside(folder: Path, names: str, days: str = "2") -> Outside:
    ca, other = authority(folder, "garage-ca"), authority(folder, "other-ca")
    certificate, key = signed(folder, ca, names, days)
    broker = SystemMosquitto(
        folder, "allow_anonymous true", f"certfile {certificate}", f"keyfile {key}"
    )
    return Outside(broker, ca, other)


@pytest.fixture(scope="module")
def named(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Outside]:
    """A broker whose certificate is for localhost."""
    broker = outside(tmp_path_factory.mktemp("named"), "DNS:localhost")
    yield broker
    broker.broker.stop()


@pytest.fixture(scope="module")
def elsewhere(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Outside]:
    """A broker whose certificate is for another machine."""
    broker = outside(tmp_path_factory.mktemp("elsewhere"), "DNS:broker.example")
    yield broker
    broker.broker.stop()


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    opened = Store(tmp_path / "curewatch.db")
    yield opened
    opened.close()


def settings(folder: Path, outside: Outside, ca: Path | None, host: str = "localhost") -> Settings:
    trusted = f'ca_file = "{ca}"' if ca else "tls = true"
    text = f'[mqtt]\nembedded = false\nhost = "{host}"\nport = {outside.port}\n{trusted}\n'
    (folder / "curewatch.toml").write_text(text)
    return parse_settings(text, folder)


def says(store: Store, settings: Settings, wanted: str) -> None:
    subscriber = Subscriber(
        settings.mqtt.host, settings.mqtt.port, store, settings, lambda: datetime.now(UTC)
    ).start()
    try:
        until(lambda: wanted in subscriber.state)
    finally:
        subscriber.stop()


def test_the_ca_that_signed_it_lets_us_listen(named: Outside, tmp_path: Path, store: Store) -> None:
    own_settings = settings(tmp_path, named, named.ca)
    subscriber = Subscriber("localhost", named.port, store, own_settings, lambda: datetime.now(UTC))
    subscriber.start()
    until(lambda: subscriber.state.startswith("listening"))
    publish(named.port, SURFACE, "--cafile", str(named.ca), "-h", "localhost", "-m", "14.2")
    until(lambda: [reading.value for reading in store.latest()] == [14.2])
    subscriber.stop()


# paho leaves the socket of a failed handshake to the garbage collector.
refusals = [
    pytest.mark.filterwarnings("ignore:unclosed <ssl.SSLSocket:ResourceWarning"),
    pytest.mark.filterwarnings("ignore:.*ssl.SSLSocket:pytest.PytestUnraisableExceptionWarning"),
]


class TestRefused:
    """What is refused, and how that is said."""

    pytestmark = refusals

    def test_another_ca_does_not(self, named: Outside, tmp_path: Path, store: Store) -> None:
        says(
            store,
            settings(tmp_path, named, named.other),
            f"the broker at localhost:{named.port} is not trusted: its certificate is not signed by"
            " the CA in other-ca.pem; put the certificate of the CA that signed it into ca_file",
        )

    def test_nor_do_the_cas_of_this_machine(
        self, named: Outside, tmp_path: Path, store: Store
    ) -> None:
        says(
            store,
            settings(tmp_path, named, None),
            "is not signed by a CA that this machine knows",
        )

    def test_nor_a_certificate_for_another_name(
        self, elsewhere: Outside, tmp_path: Path, store: Store
    ) -> None:
        says(
            store,
            settings(tmp_path, elsewhere, elsewhere.ca),
            "its certificate is not for localhost; use the name that stands in it as host",
        )

    def test_nor_one_for_a_name_where_an_address_is_asked(
        self, named: Outside, tmp_path: Path, store: Store
    ) -> None:
        own_settings = settings(tmp_path, named, named.ca, "127.0.0.1")
        says(store, own_settings, "its certificate is not for 127.0.0.1")

    def test_nor_one_that_ran_out(self, tmp_path: Path, store: Store) -> None:
        broker = outside(tmp_path, "DNS:localhost", "-1")
        says(store, settings(tmp_path, broker, broker.ca), "its certificate is out of date")
        broker.broker.stop()

    def test_nor_a_broker_without_encryption(self, tmp_path: Path, store: Store) -> None:
        plain = SystemMosquitto(tmp_path)
        outside = Outside(plain, authority(tmp_path, "garage-ca"), tmp_path)
        says(
            store,
            settings(tmp_path, outside, outside.ca),
            "it has no version of TLS in common with curewatch",
        )
        plain.stop()

    def test_an_ear_says_it_too(self, named: Outside, tmp_path: Path) -> None:
        with pytest.raises(ConfigError, match=r"not signed by the CA in other-ca\.pem"):
            TopicListener(settings(tmp_path, named, named.other).mqtt).__enter__()

    def test_it_stands_on_the_page_and_once_in_the_log(
        self, named: Outside, tmp_path: Path
    ) -> None:
        settings(tmp_path, named, named.other)
        page = free_port()
        process = subprocess.Popen(
            [*CUREWATCH, "up", "--data", str(tmp_path), "--port", str(page)],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )

        def read() -> str:
            try:
                address = f"http://127.0.0.1:{page}/air/sensors"
                with urllib.request.urlopen(address, timeout=30) as answer:
                    return html.unescape(answer.read().decode())
            except OSError:
                return ""

        try:
            until(lambda: "is not signed by the CA in other-ca.pem" in read(), 60)
        finally:
            process.terminate()
            process.wait(30)
        log = (tmp_path / "curewatch.log").read_text()
        assert log.count("is not signed by the CA in other-ca.pem") == 1


def test_a_file_that_is_no_certificate_is_said(tmp_path: Path, store: Store) -> None:
    (tmp_path / "ca.pem").write_text("hello")
    mqtt = MqttSettings(tls=True, ca_file=tmp_path / "ca.pem")
    with pytest.raises(ConfigError, match=r"ca\.pem: has no usable certificate"):
        Subscriber(
            "localhost",
            1,
            store,
            Settings(folder=tmp_path, mqtt=mqtt),
            lambda: datetime.now(UTC),
        )


@pytest.mark.parametrize("key", ["insecure", "tls_insecure", "verify", "check_hostname"])
def test_there_is_no_setting_against_the_check(tmp_path: Path, key: str) -> None:
    with pytest.raises(ConfigError, match="is not a key curewatch knows"):
        parse_settings(f"[mqtt]\ntls = true\n{key} = false\n", tmp_path)


def test_nothing_in_our_sources_switches_it_off() -> None:
    off = re.compile(r"CERT_NONE|check_hostname\s*=\s*False|tls_insecure|_unverified|verify=False")
    for package in ("curewatch", "sensors", "dashboard", "demo"):
        for file in (TOP / package).rglob("*.py"):
            assert not off.search(file.read_text("utf-8")), file
    assert logging.getLogger("sensors.mqtt.subscriber").isEnabledFor(logging.WARNING)
