"""What the bench shows, as plain data."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import TYPE_CHECKING

from curewatch.frozen import frozen
from curewatch.vocabulary import is_not_yet, is_reached

if TYPE_CHECKING:
    from curewatch.climate.flag import Flag
    from curewatch.climate.sources import LeadingSource
    from curewatch.climate.summary import Span
    from curewatch.cure.forecast import Forecast
    from curewatch.garage.damaged import Damaged
    from curewatch.garage.joint import Joint
    from curewatch.garage.step import WitnessView
    from curewatch.notice import Notice
    from curewatch.products.sheet import Sheet
    from curewatch.quality.availability import Outage


@frozen
class AirTile:
    """A present value [C or %, spread in K] with its age [min]; None: nothing heard.

    flag: why what was heard since is not used.
    """

    place: str
    quantity: str
    value: float | None
    unit: str
    at: datetime | None
    age_min: float | None
    old: bool
    flag: Flag | None = None


@frozen
class MilestoneView:
    """A milestone on the clock; `shown` is the bound a countdown runs to.

    answered: what the test found that stands, at `answered_at`; reopened: when a test had found it
    reached, where a later one found that it is not.
    """

    name: str
    early: datetime | None
    likely: datetime | None
    late: datetime | None
    shown: datetime | None
    label_min: float
    warnings: tuple[Notice, ...]
    answered: str | None
    due: bool
    answers: int = 0
    answered_at: datetime | None = None
    reopened: datetime | None = None

    @property
    def timeless(self) -> bool:
        """Whether the model gives no time: only a bound at best, never a likely one."""
        return not self.due and (self.shown is None or self.likely is None)

    @property
    def reached(self) -> bool:
        """Whether a test found it reached, or for what ends, over."""
        return is_reached(self.answered)

    @property
    def not_yet(self) -> bool:
        """Whether the last test found it not reached yet."""
        return is_not_yet(self.answered)


@frozen
class Reminder:
    """One thing to wear, run or keep away, its source; answered at an instant, or not yet.

    again: asked again while it hardens, because its occasion is here.
    """

    key: str
    words: str
    answered_at: datetime | None
    source: str = ""
    again: bool = False


@frozen
class ShownTimes:
    """When a milestone is likely, where that is known, and the bound that counts: the earliest of
    what must not be missed, the latest of what is waited for."""

    likely: datetime | None
    bound: datetime


@frozen
class Change:
    """A milestone that moved since an earlier look, and what the panel did meanwhile.

    later_min: how much later the bound is; negative is sooner. [min] from_c, to_c: the panel then
    and now [C]; entered: something was entered or seen since; times, before: now and then.
    """

    milestone: str
    later_min: float
    since: datetime
    from_c: float
    to_c: float
    entered: bool
    times: ShownTimes
    before: ShownTimes


@frozen
class AskedLook:
    """A look at the dab that is worth asking for now, without a sound.

    milestone: what it tells most of, whose turn is `state`; waited: what must be waited for, whose
    band an answer is expected to narrow by worth [-]; start, until: from when and until when it is
    asked for.
    """

    milestone: str
    state: str
    waited: str
    worth: float
    start: datetime
    until: datetime


@frozen
class StepView:
    """One step with everything known of it. amount_g [g], hardener_pct [%].

    emptied_at: cup, gun and tools told to be clean; in_use_until: told to be in use still;
    unexplained: the stops it was mixed against with no reason told yet; fan_on: airing since;
    unmasked: it may be sprayed, and nobody has said that air-fed protection is on;
    lost: what it leans on that is silent or flagged; joint: no times are given for one that is
    structural, or asked about; asked_look: a look at the dab worth asking for now.
    """

    id: int
    sheet: Sheet
    part: str
    job: str
    place: str
    amount_g: float | None
    hardener_pct: float | None
    batch: str
    mixed_at: datetime
    recorded_at: datetime
    forecast: Forecast
    milestones: tuple[MilestoneView, ...]
    witnesses: tuple[WitnessView, ...]
    reminders: tuple[Reminder, ...]
    notes: tuple[str, ...]
    changes: tuple[Change, ...]
    warnings: tuple[Notice, ...]
    state: str
    emptied_at: datetime | None = None
    in_use_until: datetime | None = None
    unexplained: tuple[str, ...] = ()
    fan_on: datetime | None = None
    unmasked: bool = False
    lost: tuple[Outage, ...] = ()
    joint: Joint = "body"
    asked_look: AskedLook | None = None

    @property
    def by_name(self) -> dict[str, MilestoneView]:
        """Its milestones by their names."""
        return {milestone.name: milestone for milestone in self.milestones}


@frozen
class DueView:
    """The next milestone of a step that asks something of the user."""

    step: StepView
    milestone: MilestoneView


@frozen
class Track:
    """The panel's temperature: measured, then the outlook with its band [C]; led: which
    source it is from now."""

    place: str
    times: tuple[datetime, ...]
    surface_c: tuple[float, ...]
    ahead_times: tuple[datetime, ...]
    likely_c: tuple[float, ...]
    cool_c: tuple[float, ...]
    warm_c: tuple[float, ...]
    minimums: tuple[tuple[str, float], ...]
    dew: tuple[tuple[datetime, datetime], ...]
    basis: tuple[Notice, ...]
    led: LeadingSource | None = None


@frozen
class BenchView:
    """Everything hardening at `now`; `due` is sorted, what comes next first.

    lost: what no sensor tells any more, or tells wrongly; failed: the steps whose times cannot be
    worked out, which `steps` leaves out.
    """

    now: datetime
    air: tuple[AirTile, ...]
    steps: tuple[StepView, ...]
    due: tuple[DueView, ...]
    track: Track | None
    notes: tuple[Notice, ...]
    revision: str
    lost: tuple[Outage, ...] = ()
    failed: tuple[Damaged, ...] = ()


@frozen
class StepStretch:
    """Conditions of a step from mixing to a milestone, or to the end."""

    until: str
    start: datetime
    end: datetime
    spans: Mapping[str, Span]
