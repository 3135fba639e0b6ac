"""curewatch.toml: every setting has a default, every key is checked.

zone = "Europe/Dublin"          # IANA name; left out: the machine's own
temperature_unit = "C"          # or "F"
hours = 24                      # or 12
port = 8050                     # of the page
copies = true                   # the last seven daily copies of the logbook are kept
lan = false                     # true: page and broker are open to the home network
names = ["garage.home"]         # further names by which other devices call this machine

[page]
certificate = "page.pem"        # then the page is served encrypted, with these files
key = "page-key.pem"

[mqtt]
host = "127.0.0.1"              # another machine: its broker is used
port = 1883
embedded = true                 # curewatch brings the broker itself
user = "garage"
password = "..."
ca_file = "broker-ca.pem"       # then the connection is encrypted and checked
announce = false                # true: milestones and alarms are published on curewatch/bench/#

[places.panel]
old_after = "30 min"            # a reading older than this is old
lag = "3 min"                   # how far the sensor follows behind the surface
sensor_error = "0.3 C"
humidity_error = "3 %"

[[mappings]]                    # one for each value of a sensor that has its own topic
topic = "garage/+/state"        # + and # as in MQTT
pointer = "/temperature"        # RFC 6901; left out: the whole payload
unit = "F"                      # C, F, K, % or fraction
place = "panel"
quantity = "surface_temperature"
time = "/when"                  # RFC 6901; left out: the time of arrival

[buttons.hush]                  # curewatch/button/hush; see curewatch/buttons.py for the others
does = "silence"

[clock]                         # a demonstration's clock
speed = 60
wall = 2026-01-01T12:00:00Z     # at this time on the wall ...
shown = 2025-10-20T18:00:00Z    # ... curewatch shows this one
"""

from __future__ import annotations

import ipaddress
import math
import re
import tomllib
from collections.abc import Callable
from collections.abc import Mapping as MappingType
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from curewatch.buttons import Button, parse_buttons
from curewatch.errors import ConfigError, CurewatchError, QuantityError
from curewatch.quantities import parse_duration, parse_humidity
from curewatch.reading import check_place, check_quantity
from curewatch.table import Table

FILE = "curewatch.toml"
_NAME = re.compile(r"[A-Za-z0-9]([A-Za-z0-9.-]{0,250}[A-Za-z0-9.])?")
TEMPERATURE_UNITS = ("C", "F", "K")
HUMIDITY_UNITS = ("%", "fraction")
_TOP = (
    "zone",
    "temperature_unit",
    "hours",
    "port",
    "copies",
    "lan",
    "names",
    "page",
    "mqtt",
    "places",
    "mappings",
    "buttons",
    "clock",
)
Check = Callable[[str], str]
_PAGE = ("certificate", "key")
_MQTT = ("host", "port", "embedded", "user", "password", "tls", "ca_file", "announce")
_PLACE = ("old_after", "lag", "sensor_error", "humidity_error")
_MAPPING = ("topic", "pointer", "unit", "place", "quantity", "time", "record")
_CLOCK = ("speed", "wall", "shown")


@dataclass(frozen=True)
class MqttSettings:
    """Where readings are heard; `embedded`: curewatch brings the broker itself; `announce`: the
    bench is published there."""

    host: str = "127.0.0.1"
    port: int = 1883
    embedded: bool = True
    user: str = ""
    password: str = field(default="", repr=False)
    tls: bool = False
    ca_file: Path | None = None
    announce: bool = False


@dataclass(frozen=True)
class PageSettings:
    """The files that encrypt the page: both, or neither."""

    certificate: Path | None = None
    key: Path | None = None


@dataclass(frozen=True)
class PlaceSettings:
    """What is known of a place's sensors: old_after_min [min], lag_min [min], sensor_error_c [K],
    humidity_error_pct [%]."""

    old_after_min: float = 30.0
    lag_min: float = 3.0
    sensor_error_c: float = 0.3
    humidity_error_pct: float = 3.0


@dataclass(frozen=True)
class Mapping:
    """Which value of which message is which quantity at which place."""

    topic: str
    pointer: str
    unit: str
    place: str
    quantity: str
    time: str | None = None
    record: str | None = None


@dataclass(frozen=True)
class ClockSettings:
    """A demonstration's clock: `speed` times as fast as the wall's (dimensionless)."""

    speed: float
    wall: datetime
    shown: datetime

    def at(self, wall_now: datetime) -> datetime:
        """What this clock shows when the wall's clock shows `wall_now`."""
        return self.shown + self.speed * (wall_now - self.wall)


@dataclass(frozen=True)
class Settings:
    """Everything that can be set, with its default."""

    folder: Path = Path()
    zone: str | None = None
    temperature_unit: str = "C"
    hours: int = 24
    port: int = 8050
    copies: bool = True
    lan: bool = False
    names: tuple[str, ...] = ()
    page: PageSettings = PageSettings()
    mqtt: MqttSettings = MqttSettings()
    places: MappingType[str, PlaceSettings] = field(default_factory=dict)
    mappings: tuple[Mapping, ...] = ()
    clock: ClockSettings | None = None
    buttons: MappingType[str, Button] = field(default_factory=dict)

    def place(self, name: str) -> PlaceSettings:
        """The settings of a place, or the defaults for one that is not named."""
        return self.places.get(name, PlaceSettings())


def _difference(text: str) -> float:
    """A difference of temperatures, above nothing and at most 10 K. [K]"""
    number, _, unit = text.strip().partition(" ")
    scale = {"C": 1.0, "K": 1.0, "F": 5 / 9}.get(unit.strip().upper())
    try:
        kelvin = float(number) * (scale or math.nan)
    except ValueError:
        kelvin = math.nan
    if not 0 < kelvin <= 10:
        raise QuantityError(f"{text!r} is no temperature difference of 0..10 C")
    return kelvin


def _humidity_error(text: str) -> float:
    """A difference of humidities, above nothing and at most 30 %. [%]"""
    found = parse_humidity(text)
    if not 0 < found <= 30:
        raise QuantityError(f"{text!r} is no error of a hygrometer of 0..30 %")
    return found


def _zone(table: Table) -> str | None:
    if "zone" not in table.data:
        return None
    name = table.text("zone", None, "Europe/Dublin")
    try:
        ZoneInfo(name)
    except (KeyError, OSError, ValueError):
        raise table.wrong(
            "zone", f"= {name!r} is no time zone", "use an IANA name like 'Europe/Dublin'"
        ) from None
    return name


def is_loopback(host: str) -> bool:
    """Whether a host's name or address means this machine alone."""
    try:
        return host == "localhost" or ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def _mqtt(table: Table, folder: Path) -> MqttSettings:
    table.only(_MQTT)
    host = table.text("host", "127.0.0.1", "127.0.0.1")
    embedded = table.flag("embedded", is_loopback(host))
    if not host or any(letter.isspace() for letter in host):
        raise table.wrong(
            "host", f"= {host!r} is no host", "give a name or address like '10.0.0.5'"
        )
    if embedded and not is_loopback(host):
        raise table.wrong(
            "host",
            f"= {host!r} is not this machine, where the embedded broker listens",
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
    )


def _path(table: Table, key: str, folder: Path, example: str) -> Path | None:
    if key not in table.data:
        return None
    path = folder / table.text(key, None, example)
    if not path.is_file():
        raise table.wrong(key, f"= {str(path)!r} is not there", "give the path of the file")
    return path


def _page(table: Table, folder: Path) -> PageSettings:
    table.only(_PAGE)
    certificate = _path(table, "certificate", folder, "page.pem")
    key = _path(table, "key", folder, "page-key.pem")
    if (certificate is None) != (key is None):
        missing = "key" if key is None else "certificate"
        raise table.wrong(missing, "is missing beside the other", f'write {missing} = "..."')
    return PageSettings(certificate, key)


def _names(table: Table) -> tuple[str, ...]:
    names = table.data.get("names", [])
    if not isinstance(names, list) or not all(
        isinstance(name, str) and _NAME.fullmatch(name) for name in names
    ):
        raise table.wrong("names", f"= {names!r} holds no host names", 'write ["garage.home"]')
    return tuple(name.lower().rstrip(".") for name in names)


def _place(table: Table) -> PlaceSettings:
    table.only(_PLACE)
    return PlaceSettings(
        table.quantity("old_after", parse_duration, 30.0, "30 min"),
        table.quantity("lag", parse_duration, 3.0, "3 min"),
        table.quantity("sensor_error", _difference, 0.3, "0.3 C"),
        table.quantity("humidity_error", _humidity_error, 3.0, "3 %"),
    )


def _places(table: Table) -> dict[str, PlaceSettings]:
    for name in table.data:
        try:
            check_place(name)
        except CurewatchError as error:
            raise table.wrong(name, f"is wrong: {error.what}", error.fix) from None
    return {name: _place(table.inner(name)) for name in table.data}


def check_filter(topic: str) -> str:
    """An MQTT topic filter; raises ValueError saying what is wrong with it."""
    levels = topic.split("/")
    if not topic or len(topic.encode()) > 65535 or "\0" in topic:
        raise ValueError("is no topic")
    if any("#" in level and level != "#" for level in levels) or "#" in levels[:-1]:
        raise ValueError("has # elsewhere than as its whole last level")
    if any("+" in level and level != "+" for level in levels):
        raise ValueError("has + beside other letters of its level")
    return topic


def check_pointer(pointer: str) -> str:
    """An RFC 6901 pointer; raises ValueError saying what is wrong with it."""
    if pointer and not pointer.startswith("/"):
        raise ValueError("does not start with /")
    if "~" in pointer.replace("~0", "").replace("~1", ""):
        raise ValueError("has ~ without 0 or 1 behind it")
    return pointer


def _checked(table: Table, key: str, default: str | None, eg: str, check: Check) -> str:
    value = table.text(key, default, eg)
    try:
        return check(value)
    except CurewatchError as error:
        raise table.wrong(key, f"is wrong: {error.what}", error.fix) from None
    except ValueError as error:
        raise table.wrong(key, f"= {value!r} {error}", f"write it like {eg!r}") from None


def _mapping(table: Table) -> Mapping:
    table.only(_MAPPING)
    quantity = _checked(table, "quantity", None, "surface_temperature", check_quantity)
    humid = quantity == "relative_humidity"
    units = HUMIDITY_UNITS if humid else TEMPERATURE_UNITS
    time = _checked(table, "time", "", "/when", check_pointer)
    return Mapping(
        topic=_checked(table, "topic", None, "garage/+/state", check_filter),
        pointer=_checked(table, "pointer", "", "/temperature", check_pointer),
        unit=table.choice("unit", units[0], units),
        place=_checked(table, "place", None, "panel", check_place),
        quantity=quantity,
        time=time or None,
        record=_record(table),
    )


def _record(table: Table) -> str | None:
    if "record" not in table.data:
        return None
    for other in ("pointer", "time"):
        if other in table.data:
            raise table.wrong(other, "is given beside record", f"remove {other} or record")
    return table.text("record", None, "urn:dev:1:temp")


def _mappings(table: Table) -> tuple[Mapping, ...]:
    rows = table.data.get("mappings", [])
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        raise table.wrong("mappings", "is no list of tables", "write each as [[mappings]]")
    return tuple(
        _mapping(Table(row, table.file, f"mappings row {number}"))
        for number, row in enumerate(rows, 1)
    )


def _clock(table: Table) -> ClockSettings:
    table.only(_CLOCK)
    speed = table.data.get("speed", 1)
    if isinstance(speed, bool) or not isinstance(speed, int | float) or not 0 < speed <= 100_000:
        raise table.wrong("speed", f"= {speed!r} is outside 0..100000", "write speed = 60")
    return ClockSettings(float(speed), table.instant("wall"), table.instant("shown"))


def parse_settings(text: str, folder: Path, file: str = FILE) -> Settings:
    """Settings from the text of curewatch.toml. Raises ConfigError naming file, key and fix."""
    try:
        data = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        raise ConfigError(f"no valid TOML: {error}", where=file, fix="mend that line") from None
    table = Table(data, file).only(_TOP)
    return Settings(
        folder=folder,
        zone=_zone(table),
        temperature_unit=table.choice("temperature_unit", "C", ("C", "F")),
        hours=table.choice("hours", 24, (24, 12)),
        port=table.whole("port", 8050, 1, 65535),
        copies=table.flag("copies", True),
        lan=table.flag("lan", False),
        names=_names(table),
        page=_page(table.inner("page"), folder),
        mqtt=_mqtt(table.inner("mqtt"), folder),
        places=_places(table.inner("places")),
        mappings=_mappings(table),
        clock=_clock(table.inner("clock")) if "clock" in table.data else None,
        buttons=parse_buttons(table.inner("buttons")),
    )


def load_settings(folder: Path) -> Settings:
    """The settings of a data folder; all defaults where it has no curewatch.toml."""
    path = folder / FILE
    try:
        text = path.read_text(encoding="utf-8")
    except FileNotFoundError:
        return Settings(folder=folder)
    except (OSError, UnicodeDecodeError) as error:
        raise ConfigError(
            f"cannot be read ({error})", where=str(path), fix="check its permissions and text"
        ) from None
    return parse_settings(text, folder, str(path))
