"""curewatch.toml: every setting has a default, every key is checked.

zone = "Europe/Dublin"          # IANA name; left out: the machine's own
temperature_unit = "C"          # or "F"
hours = 24                      # or 12
decimal = "point"               # or "comma"
dates = "dmy"                   # or "mdy"; what 03/04/2026 is; left out: by the locale
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
broker = "auto"                 # mosquitto where it is installed; or "embedded", "mosquitto"
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

[buttons.hush]                  # curewatch/button/hush; the others: settings/buttons.py
does = "silence"

[clock]                         # a demonstration's clock
speed = 60
wall = 2026-01-01T12:00:00Z     # at this time on the wall ...
shown = 2025-10-20T18:00:00Z    # ... curewatch shows this one
"""

from __future__ import annotations

import math
from collections.abc import Mapping as MappingType
from dataclasses import field
from datetime import datetime
from pathlib import Path
from typing import Literal, get_args
from zoneinfo import ZoneInfo

from curewatch.climate.reading import PlaceSettings, check_place
from curewatch.errors import ConfigError, QuantityError
from curewatch.formats import ReaderFormat
from curewatch.frozen import frozen
from curewatch.settings.buttons import Button, parse_buttons
from curewatch.settings.endpoints import MqttSettings as MqttSettings
from curewatch.settings.endpoints import PageSettings as PageSettings
from curewatch.settings.endpoints import parse_mqtt, parse_names, parse_page
from curewatch.settings.mapping import HUMIDITY_UNITS as HUMIDITY_UNITS
from curewatch.settings.mapping import TEMPERATURE_UNITS as TEMPERATURE_UNITS
from curewatch.settings.mapping import Mapping as Mapping
from curewatch.settings.mapping import parse_mappings
from curewatch.toml_table import TomlTable, load
from curewatch.units import parse_duration, parse_humidity
from curewatch.vocabulary import Order

FILE = "curewatch.toml"
_TOP = (
    "zone",
    "temperature_unit",
    "hours",
    "decimal",
    "dates",
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
DECIMALS = ("point", "comma")
_PLACE = ("old_after", "lag", "sensor_error", "humidity_error")
_CLOCK = ("speed", "wall", "shown")


@frozen
class ClockSettings:
    """A demonstration's clock: `speed` times as fast as the wall's (dimensionless)."""

    speed: float
    wall: datetime
    shown: datetime

    def at(self, wall_now: datetime) -> datetime:
        """What this clock shows when the wall's clock shows `wall_now`."""
        return self.shown + self.speed * (wall_now - self.wall)


@frozen
class Settings:
    """Everything that can be set, with its default."""

    folder: Path = Path()
    zone: str | None = None
    temperature_unit: str = "C"
    hours: int = 24
    decimal: str | None = None
    dates: Order | None = None
    port: int = 8050
    copies: bool = True
    lan: bool = False
    names: tuple[str, ...] = ()
    page: PageSettings = field(default_factory=PageSettings)
    mqtt: MqttSettings = field(default_factory=MqttSettings)
    places: MappingType[str, PlaceSettings] = field(default_factory=dict)
    mappings: tuple[Mapping, ...] = ()
    clock: ClockSettings | None = None
    buttons: MappingType[str, Button] = field(default_factory=dict)

    def reader(self, zone: ZoneInfo) -> ReaderFormat:
        """How sentences are said outside a page: unit, clock and decimal mark as set here."""
        unit: Literal["C", "F"] = "F" if self.temperature_unit == "F" else "C"
        return ReaderFormat(zone, unit, self.hours, "," if self.decimal == "comma" else ".")

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
        raise QuantityError(
            f"{text!r} is not a temperature difference of 0..10 C", fix="write it like '0.3 C'"
        )
    return kelvin


def _humidity_error(text: str) -> float:
    """A difference of humidities, above nothing and at most 30 %. [%]"""
    error_pct = parse_humidity(text)
    if not 0 < error_pct <= 30:
        raise QuantityError(
            f"{text!r} is not an error of a hygrometer of 0..30 %", fix="write it like '3 %'"
        )
    return error_pct


def is_zone(name: str) -> bool:
    """Whether a time zone has that name.

    >>> is_zone("Europe/Dublin"), is_zone("Dublin time"), is_zone("")
    (True, False, False)
    """
    try:
        ZoneInfo(name)
    except (KeyError, OSError, ValueError):
        return False
    return bool(name)


def _zone(table: TomlTable) -> str | None:
    if "zone" not in table.data:
        return None
    name = table.text("zone", None, "Europe/Dublin")
    if not is_zone(name):
        raise table.wrong(
            "zone", f"= {name!r} is not a time zone", "use an IANA name like 'Europe/Dublin'"
        )
    return name


def _place(table: TomlTable) -> PlaceSettings:
    table.only(_PLACE)
    return PlaceSettings(
        table.quantity("old_after", parse_duration, 30.0),
        table.quantity("lag", parse_duration, 3.0),
        table.quantity("sensor_error", _difference, 0.3),
        table.quantity("humidity_error", _humidity_error, 3.0),
    )


def _places(table: TomlTable) -> dict[str, PlaceSettings]:
    for name in table.data:
        table.checked(name, name, check_place)
    return {name: _place(table.inner(name)) for name in table.data}


def _clock(table: TomlTable) -> ClockSettings:
    table.only(_CLOCK)
    speed = table.number("speed", 1, 100_000, "60")
    return ClockSettings(speed, table.instant("wall"), table.instant("shown"))


def parse_settings(text: str, folder: Path, file: str = FILE) -> Settings:
    """Settings from the text of curewatch.toml. Raises ConfigError naming file, key and fix."""
    table = load(text, file).only(_TOP)
    return Settings(
        folder=folder,
        zone=_zone(table),
        temperature_unit=table.choice("temperature_unit", "C", ("C", "F")),
        hours=table.choice("hours", 24, (24, 12)),
        decimal=table.choice("decimal", None, DECIMALS) if "decimal" in table.data else None,
        dates=table.choice("dates", None, get_args(Order)) if "dates" in table.data else None,
        port=table.whole("port", 8050, 1, 65535),
        copies=table.flag("copies", True),
        lan=table.flag("lan", False),
        names=parse_names(table),
        page=parse_page(table.inner("page"), folder),
        mqtt=parse_mqtt(table.inner("mqtt"), folder),
        places=_places(table.inner("places")),
        mappings=parse_mappings(table),
        clock=_clock(table.inner("clock")) if "clock" in table.data else None,
        buttons=parse_buttons(table.inner("buttons")),
    )


def load_settings(folder: Path) -> Settings:
    """The settings of a data folder; all defaults where it has no curewatch.toml."""
    path = folder / FILE
    try:
        text = path.read_text(encoding="utf-8")
    except (FileNotFoundError, NotADirectoryError):
        return Settings(folder=folder)
    except (OSError, UnicodeDecodeError) as error:
        raise ConfigError(
            f"cannot be read ({error})", where=str(path), fix="check its permissions and text"
        ) from None
    return parse_settings(text, folder, str(path))
