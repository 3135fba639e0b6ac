"""The latest moment to mix: between when and when, so that a milestone is there in time, and how
likely that is from each start."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import numpy as np

from curewatch.bench.bench import Bench, Details
from curewatch.errors import StepError
from curewatch.formats import tenths
from curewatch.gate.gather import ask_ahead
from curewatch.starts.windows import LONGEST, StartChances, Window

if TYPE_CHECKING:
    from curewatch.gate.proposal import Proposal

MOST_ROWS = 8
ROW_MIN = (30, 60, 120, 180, 360, 720)


@dataclass(frozen=True, eq=False)
class MixBy:
    """When to mix a product so that a milestone is there by an instant; by: None where the question
    is before the panel gets too cold for it. chances: of every start from now on."""

    proposal: Proposal
    milestone: str
    by: datetime | None
    chances: StartChances

    @property
    def window(self) -> Window | None:
        """The soonest stretch in which it may be mixed and is in time, 9 in 10."""
        return next(iter(self.chances.windows()), None)

    def every_start(self) -> list[tuple[datetime, float | None]]:
        """Every start with its chance [-], None where it must not be mixed then."""
        table = self.chances
        chances = [
            float(chance) if may else None
            for chance, may in zip(table.chance, table.allowed, strict=True)
        ]
        return list(zip(table.instants, chances, strict=True))

    def rows(self) -> list[tuple[datetime, float | None]]:
        """Starts at even distances with their chance [-], None where it must not be mixed; as far
        as there is any chance."""
        every = self.every_start()
        now = every[0][0]
        some = [at for at, chance in every if chance is not None and tenths(chance)]
        last = max(some, default=now)
        span_min = (last - now).total_seconds() / 60
        step_min = next((step for step in ROW_MIN if span_min / step < MOST_ROWS), 1440)
        return [
            (at, chance)
            for at, chance in every
            if at == now or (at <= last and _on_the_step(at, step_min))
        ]


def _on_the_step(at: datetime, step_min: int) -> bool:
    return int(at.timestamp() // 60) % step_min < 5


def mix_by(
    bench: Bench,
    sheet_id: str,
    now: datetime,
    details: Details,
    *,
    milestone: str,
    by: datetime | None,
    zone: ZoneInfo,
) -> MixBy:
    """When to mix, so that a milestone is there by an instant, or before the panel is too cold.

    Raises StepError where nobody can say: a structural joint, a product whose label does not give
    that milestone, an instant that is over or more than a week ahead.
    """
    if by is not None and not now < by <= now + LONGEST:
        raise StepError(
            "that is not within the coming seven days",
            fix="further ahead the forecast tells no chance; ask again nearer to it",
        )
    proposal, name = ask_ahead(
        bench, sheet_id, now, details, until=by or now + LONGEST, milestone=milestone, zone=zone
    )
    if by is not None:
        return MixBy(proposal, name, by, proposal.starts(name, by).by(by))
    cold_at = _cold_at(proposal)
    if cold_at is None:
        raise StepError(
            "by the forecast the panel is not too cold for it within seven days",
            fix="mix when it suits you",
        )
    chances = proposal.starts(name, cold_at).before_cold(proposal.least_c)
    return MixBy(proposal, name, by, chances)


def _cold_at(proposal: Proposal) -> datetime | None:
    """When the panel likely gets too cold, after it has been warm enough; None where it does not,
    or never is."""
    ahead = proposal.ahead
    warm = np.flatnonzero(ahead.likely_c >= proposal.least_c)
    if warm.size == 0:
        return proposal.now
    cold = np.flatnonzero(ahead.likely_c[warm[0] :] < proposal.least_c)
    if cold.size == 0:
        return None
    return ahead.start + timedelta(seconds=ahead.step_s * float(warm[0] + cold[0]))
