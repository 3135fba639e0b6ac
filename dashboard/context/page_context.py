"""What every page needs: the bench, its store, the clock and the reader's manner."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime
from functools import cached_property
from typing import TYPE_CHECKING, Any, Literal
from urllib.parse import urlsplit
from zoneinfo import ZoneInfo

from flask import Request

from curewatch.bench.bench import Bench
from curewatch.bench.changes import SteadyChanges
from curewatch.days import Order, usual_order
from curewatch.exchange.presses import Presses
from curewatch.logbook.paper import FieldFormatter
from curewatch.quality.clock import ClockSetback
from curewatch.settings.settings import Settings
from curewatch.store.store import Store
from curewatch.walltime import local_zone
from curewatch.wording.guide import Topic
from curewatch.wording.words import ReaderFormat
from dashboard.context.listener import BrokerListener, NoListener
from dashboard.context.turns import Background
from dashboard.request.tokens import Tokens

if TYPE_CHECKING:
    from curewatch.ways.gather import PartPlan
    from curewatch.week.plan import WeekPlan
    from curewatch.week.promises import PromiseTally
    from curewatch.week.taken import PlanReminders


@dataclass(frozen=True, eq=False)
class WishedPlans:
    """The week's plan of all that is wished; alone: where that is one part, by which evening to
    begin it, and what would help; as_of: of what was entered, and when; tallies: how often what was
    promised before came true."""

    as_of: tuple[object, datetime]
    week: WeekPlan
    alone: PartPlan | None
    tallies: tuple[PromiseTally, ...]


@dataclass
class PageContext:
    """Everything a page is given.

    `speed` is how fast its clock runs (dimensionless); `link` says how the listening to sensors
    is, `copies` what is wrong with the daily copies, in words; `went_back` by how much the
    computer's clock did; `needs_passcode`: the pages open only with the passcode; `commands` gives
    the guide's pages about commands; `listener` hears the broker when asked; `evening` is what the
    bench last said of evening and night, kept for a minute; `plans` what was planned last;
    `background` tries what would help; `moved` what the bench said of times that moved.
    """

    bench: Bench
    store: Store
    clock: Callable[[], datetime]
    settings: Settings
    speed: float
    zone: ZoneInfo
    link: Callable[[], str] = str
    copies: Callable[[], str] = str
    went_back: Callable[[], ClockSetback | None] = lambda: None
    needs_passcode: bool = False
    commands: Callable[[], list[Topic]] = list
    tokens: Tokens = field(default_factory=Tokens)
    presses: Presses = field(default_factory=Presses)
    listener: BrokerListener = field(default_factory=NoListener)
    evening: dict[str, Any] = field(default_factory=dict)
    plans: WishedPlans | None = None
    background: Background = field(default_factory=Background)
    moved: SteadyChanges = field(default_factory=SteadyChanges)

    @cached_property
    def reminders(self) -> PlanReminders:
        """What the plan that was taken over reminds of."""
        from curewatch.week.taken import PlanReminders

        return PlanReminders(self.bench)

    def broker(self, request: Request) -> str:
        """Where a sensor finds the broker: our own, on the home network, where the page is."""
        mqtt = self.settings.mqtt
        text = urlsplit(f"//{request.host}").hostname or mqtt.host
        host = text if self.needs_passcode and mqtt.embedded else mqtt.host
        return f"[{host}]:{mqtt.port}" if ":" in host else f"{host}:{mqtt.port}"

    def use(self, settings: Settings) -> None:
        """From now on these are the garage's settings."""
        self.settings, self.zone = settings, local_zone(settings.zone)

    def _mark(self, request: Request) -> str:
        """The decimal mark: the garage's, else the one this device chose before there was one."""
        return self.settings.decimal or request.cookies.get("decimal", "")

    def date_order(self, request: Request) -> Order | None:
        """Which comes first in a date that this reader types, day or month; None: not known."""
        return self.settings.dates or usual_order(request.accept_languages.best or "")

    def manner(self, request: Request) -> ReaderFormat:
        """How this reader likes figures, by settings and the device's cookie."""
        unit: Literal["C", "F"] = "F" if self.settings.temperature_unit == "F" else "C"
        decimal = "," if self._mark(request) == "comma" else "."
        return ReaderFormat(self.zone, unit, self.settings.hours, decimal)

    def field_formatter(self, request: Request) -> FieldFormatter:
        """How the log says values to this reader, as seen from now."""
        return FieldFormatter(self.zone, self.manner(request), self.clock())
