"""What else can be done tonight where this mix cannot: other own products, and work in the job."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta

from curewatch.bench.bench import Bench
from curewatch.bench.due import asked_of
from curewatch.bench.views import StepView
from curewatch.climate.snapshot import Snapshot
from curewatch.cure.thermal_history import minimum_c
from curewatch.durations import on_wall
from curewatch.garage.shelf import shelf
from curewatch.garage.step import Step
from curewatch.garage.steps import steps
from curewatch.gate.climate import too_damp
from curewatch.gate.proposal import MATTERS, Job, Other, Proposal
from curewatch.products.sheet import Sheet
from curewatch.text import short_name
from curewatch.vocabulary import in_words

CLOSE_C = 1.0
MOST_TRIED = 12
TONIGHT = timedelta(hours=14)
MOST_STEPS = 40


def too_cold(proposal: Proposal) -> bool:
    """Whether the panel is, or will be before the milestone that matters, under the minimum."""
    surface, matters = proposal.here.surface_c, proposal.matters
    if surface is None:
        return False
    if surface < proposal.least_c or matters is None:
        return surface < proposal.least_c
    return matters.late_min is None or matters.late_if_warm


def owned_sheets(bench: Bench, but: str) -> list[Sheet]:
    """The user's own products: their sheets, and what they have mixed; what was used last first.

    but: the id of one that is left out.
    """
    sheets = shelf(bench.store)
    used = [step.sheet.id for step in steps(bench.store, most=MOST_STEPS)]
    ids = dict.fromkeys([*used, *bench.store.sheets()])
    return [sheets[id] for id in ids if id in sheets and id != but]


def _would_go(
    bench: Bench, snapshot: Snapshot, sheet: Sheet, proposal: Proposal, step: Step
) -> Other | None:
    """The product with the late end of its milestone, where it would cure here tonight."""
    surface, span = proposal.here.surface_c, sheet.limits.temperature_c
    if surface is None or surface < minimum_c(sheet) + CLOSE_C or (span and surface > span[1]):
        return None
    if too_damp(replace(proposal, sheet=sheet)) is not None:
        return None
    tried = replace(step.but(hardener_pct=None, amount_g=None), sheet=sheet)
    milestones = bench.reader.forecast(tried, snapshot).by_name
    for name in MATTERS:
        if name in milestones and milestones[name].late_min is not None:
            late = on_wall(proposal.now, milestones[name].late_min or 0.0, name)
            return Other(sheet.name, name, late)
        if name in milestones:
            return None
    return None


def others(bench: Bench, snapshot: Snapshot, proposal: Proposal, step: Step) -> tuple[Other, ...]:
    """The own products that would cure on this panel tonight: same kind first, then the soonest.

    None where the panel is too near the dew point for any of them.
    """
    tried = owned_sheets(bench, proposal.sheet.id)[:MOST_TRIED]
    kinds = {sheet.name: sheet.kind for sheet in tried}
    candidates = [
        other
        for sheet in tried
        if (other := _would_go(bench, snapshot, sheet, proposal, step)) is not None
    ]
    return tuple(
        sorted(candidates, key=lambda other: (kinds[other.name] != proposal.sheet.kind, other.late))
    )


def _of(view: StepView, now: datetime) -> Iterator[Job]:
    part = view.part or short_name(view.sheet.name)
    milestone = asked_of(view)
    if milestone is not None and milestone.due and milestone.name != "recoat_closes":
        yield Job(f"test {in_words(milestone.name)} on {part}")
    named = view.by_name
    opens, closes = named.get("recoat_opens"), named.get("recoat_closes")
    if opens is None or closes is None or closes.shown is None:
        return
    open_now = opens.reached or (opens.late is not None and opens.late <= now)
    if open_now and now < closes.shown <= now + TONIGHT:
        yield Job(f"coat {part} before its recoat window closes", closes.shown)


def jobs(bench: Bench, now: datetime, job: str) -> tuple[Job, ...]:
    """What waits on the bench and can be done tonight, in this job first."""
    views = sorted(bench.view(now).steps, key=lambda view: view.job.casefold() != job.casefold())
    return tuple(job for view in views for job in _of(view, now))
