"""Where page and broker are: names, certificate and address in curewatch.toml, and this machine
as other devices of the home network find it.
"""

from __future__ import annotations

import re
from dataclasses import field
from pathlib import Path

from curewatch.frozen import frozen
from curewatch.toml_table import TomlTable

_NAME = re.compile(r"[A-Za-z0-9]([A-Za-z0-9.-]{0,250}[A-Za-z0-9.])?")
_PAGE = ("certificate", "key")
_MQTT = ("host", "port", "embedded", "broker", "user", "password", "tls", "ca_file", "announce")
BROKERS = ("auto", "embedded", "mosquitto")


@frozen
class MqttSettings:
    """Where readings are heard; `embedded`: curewatch brings the broker itself, and `broker` says
    which; `announce`: the bench is published there."""

    host: str = "127.0.0.1"
    port: int = 1883
    embedded: bool = True
    user: str = ""
    password: str = field(default="", repr=False)
    tls: bool = False
    ca_file: Path | None = None
    announce: bool = False
    broker: str = "auto"


@frozen
class PageSettings:
    """The files that encrypt the page: both, or neither."""

    certificate: Path | None = None
    key: Path | None = None


def is_loopback(host: str) -> bool:
    """Whether a host's name or address means this machine alone."""
    import ipaddress

    try:
        return host == "localhost" or ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def parse_mqtt(table: TomlTable, folder: Path) -> MqttSettings:
    """Where readings are heard, from [mqtt]. Raises ConfigError."""
    table.only(_MQTT)
    host = table.text("host", "127.0.0.1", "127.0.0.1")
    embedded = table.flag("embedded", is_loopback(host))
    if not host or any(letter.isspace() for letter in host):
        raise table.wrong(
            "host", f"= {host!r} is not a host", "give a name or address like '10.0.0.5'"
        )
    if embedded and not is_loopback(host):
        raise table.wrong(
            "host",
            f"= {host!r} is not this machine, where curewatch's own broker listens",
            "remove it, or set embedded = false to use the broker at that address",
        )
    if "password" in table.data and "user" not in table.data:
        raise table.wrong("user", "is missing beside a password", 'write user = "..."')
    ca_file = _path(table, "ca_file", folder, "broker-ca.pem")
    return MqttSettings(
        host=host,
        port=table.whole("port", 8883 if ca_file else 1883, 1, 65535),
        embedded=embedded,
        user=table.text("user", "", "garage"),
        password=table.text("password", "", "..."),
        tls=table.flag("tls", ca_file is not None),
        ca_file=ca_file,
        announce=table.flag("announce", False),
        broker=table.choice("broker", "auto", BROKERS),
    )


def _path(table: TomlTable, key: str, folder: Path, example: str) -> Path | None:
    if key not in table.data:
        return None
    path = folder / table.text(key, None, example)
    if not path.is_file():
        raise table.wrong(key, f"= {str(path)!r} is not there", "give the path of the file")
    return path


def parse_page(table: TomlTable, folder: Path) -> PageSettings:
    """The page's certificate, from [page]. Raises ConfigError."""
    table.only(_PAGE)
    certificate = _path(table, "certificate", folder, "page.pem")
    key = _path(table, "key", folder, "page-key.pem")
    if (certificate is None) != (key is None):
        missing = "key" if key is None else "certificate"
        raise table.wrong(missing, "is missing beside the other", f'write {missing} = "..."')
    return PageSettings(certificate, key)


def parse_names(table: TomlTable) -> tuple[str, ...]:
    """Further names of this machine. Raises ConfigError."""
    names = table.data.get("names", [])
    if not isinstance(names, list) or not all(
        isinstance(name, str) and _NAME.fullmatch(name) for name in names
    ):
        raise table.wrong("names", f"= {names!r} has no host names", 'write ["garage.home"]')
    return tuple(name.lower().rstrip(".") for name in names)


_NOWHERE = ("192.0.2.1", 9)


def lan_address() -> str | None:
    """This machine's address on its network, without sending anything; None where it has none.

    A datagram socket that is merely pointed at an address of documentation (RFC 5737) takes the
    address from which the system would send.
    """
    import socket

    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(_NOWHERE)
            address = str(probe.getsockname()[0])
        except OSError:
            return None
    return None if address.startswith(("127.", "0.")) else address


def page_address(port: int, *, encrypted: bool) -> str | None:
    """The page's address for a phone; None where this machine has no network."""
    address = lan_address()
    scheme = "https" if encrypted else "http"
    return f"{scheme}://{address}:{port}/" if address else None
