"""What is known before a mix: the sheet, the place now and ahead, and what the user told."""

from __future__ import annotations

from datetime import date, datetime

from curewatch.bench.views import StepView
from curewatch.climate.conditions import constant
from curewatch.climate.outlook import Outlook
from curewatch.climate.sources import LeadingSource
from curewatch.cure.belief import Learned
from curewatch.cure.estimate import LONGEST_MIN, held
from curewatch.cure.forecast import Forecast, Milestone, forecast
from curewatch.cure.inputs import Mix
from curewatch.cure.thermal_history import minimum_c, reference_pct
from curewatch.durations import ago
from curewatch.formats import ReaderFormat
from curewatch.frozen import frozen
from curewatch.garage.joint import Joint, joint
from curewatch.garage.part_history import Part
from curewatch.garage.storage import StoredCan
from curewatch.products.sheet import Sheet
from curewatch.starts.windows import Starts, starts

MATTERS = ("clamp_time", "sand_ready", "recoat_opens", "full_cure", "working_time", "pot_life")


@frozen
class Here:
    """The place now: surface_c and air_c [C], humidity_pct [%], None where nothing was measured;
    from_air: the surface is taken from the air; old: of the surface, its age_min [min];
    spread_per_h: how fast its distance from the dew point grows [K/h], None where not known;
    led: which source the surface is from."""

    surface_c: float | None = None
    air_c: float | None = None
    humidity_pct: float | None = None
    from_air: bool = False
    age_min: float | None = None
    old: bool = False
    spread_per_h: float | None = None
    led: LeadingSource | None = None

    @property
    def doubts(self) -> str:
        """What weakens the surface's temperature, to hang on a sentence."""
        words = "; taken from the air, the metal may be colder" if self.from_air else ""
        if self.from_air and self.led is not None and self.led.instead_min is not None:
            words += f", last measured itself {ago(self.led.instead_min)}"
        return f"{words}; read {ago(self.age_min or 0)}" if self.old else words


@frozen
class Other:
    """A product of the user's that would go here: its name, and the late end of its milestone."""

    name: str
    milestone: str
    late: datetime


@frozen
class Job:
    """Something on the bench that can be done tonight, and until when."""

    words: str
    until: datetime | None = None


@frozen
class Proposal:
    """A mix as it would be.

    learned: what is held of the product; amount_g [g], hardener_pct [%], product_c: as stored [C];
    stop_at: the user's own end; wanted_min: working time wanted from the pot [min]; under: the last
    step on the same part, failed_under: one abandoned over it since; others, jobs: what else would
    go tonight; can: the one it comes from; expiry: as entered for this mix; today: the local day;
    metal: the part with its bare clock; bare_limit_min: the user's own [min]; mark: the part as
    marked, body or structural; rehearsed_min [min]; worn_out: masks that are to be thrown away;
    applied: how it goes on, where that is answered.
    """

    sheet: Sheet
    now: datetime
    here: Here
    ahead: Outlook
    forecast: Forecast
    learned: Learned
    amount_g: float | None = None
    hardener_pct: float | None = None
    product_c: float | None = None
    part: str = ""
    job: str = ""
    stop_at: datetime | None = None
    wanted_min: float | None = None
    under: StepView | None = None
    failed_under: StepView | None = None
    others: tuple[Other, ...] = ()
    jobs: tuple[Job, ...] = ()
    can: StoredCan | None = None
    expiry: str = ""
    today: date | None = None
    metal: Part | None = None
    bare_limit_min: float | None = None
    mark: str = ""
    rehearsed_min: float | None = None
    worn_out: tuple[str, ...] = ()
    applied: str = ""

    @property
    def structural(self) -> bool:
        """Whether it is a joint that no time is given for."""
        return self.joint != "body"

    @property
    def joint(self) -> Joint:
        """What kind of joint it is."""
        return joint(self.mark, self.part, self.job)

    @property
    def least_c(self) -> float:
        """Below this the product may not cure properly. [C]"""
        return minimum_c(self.sheet)

    @property
    def most_c(self) -> float | None:
        """Above this the sheet forbids it, None where it is silent. [C]"""
        span = self.sheet.limits.temperature_c
        return span[1] if span else None

    def least_source(self, say: ReaderFormat) -> str:
        """Whose minimum temperature it is."""
        if self.sheet.limits.temperature_c:
            return "the label"
        return f"the label gives none; {say.temperature(self.least_c, 0)} is taken here"

    @property
    def matters(self) -> Milestone | None:
        """The milestone that the evening waits for."""
        named = self.forecast.by_name
        return next((named[name] for name in MATTERS if name in named), None)

    def starts(self, milestone: str, until: datetime) -> Starts:
        """Every start from now until an instant, and when each reaches a milestone."""
        mix = Mix(self.now, self.amount_g, self.hardener_pct, product_c=self.product_c)
        return starts(self.sheet, mix, self.learned, self.ahead, milestone, until)

    @property
    def wet(self) -> Milestone | None:
        """Until when it can be worked."""
        named = self.forecast.by_name
        return named.get("working_time") or named.get("pot_life")


def at_constant(proposal: Proposal, surface_c: float, name: str) -> Milestone | None:
    """A milestone with the surface held at a temperature from mixing on. surface_c [C]"""
    pct = proposal.here.humidity_pct
    past = constant(
        proposal.now,
        0.0,
        surface_c=surface_c,
        humidity_pct=reference_pct(proposal.sheet) if pct is None else pct,
        surface_sd_c=0.5,
    )
    mix = Mix(proposal.now, proposal.amount_g, proposal.hardener_pct)
    return forecast(proposal.sheet, mix, past, held(past, LONGEST_MIN)).by_name.get(name)
