"""Where was I: a part's last step, its next action with its length, and whether that fits tonight.

What is next comes from the milestones of the last step; after them from what its kind is followed
by, with the times of a primer that was used here or stands on the shelf.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from contextlib import suppress
from dataclasses import replace
from datetime import datetime
from typing import Any, Literal

from curewatch.bench.bench import Bench, Details
from curewatch.bench.due import open_milestones
from curewatch.bench.views import MilestoneView, StepView
from curewatch.durations import on_wall
from curewatch.frozen import frozen
from curewatch.garage import cans, parts
from curewatch.garage.joint import Joint
from curewatch.garage.part_history import COVERS, Part
from curewatch.garage.shelf import shelf
from curewatch.garage.step import DamagedStep
from curewatch.gate.climate import too_damp
from curewatch.gate.gather import ask
from curewatch.gate.proposal import Proposal
from curewatch.notice import Notice, notice
from curewatch.vocabulary import WAITED

Fits = Literal["yes", "may", "no", "unknown"]
What = Literal["test", "wait", "mix", "cover", "coat", "redo", "none", "done", "procedure"]
MOST = 80
HANDS = ("working_time", "recoat_opens", "sand_ready")


@frozen
class Action:
    """What comes next: until when it keeps you, at the earliest and at the latest.

    None: no time can be given, or none is needed. length_min: how long it lasts, early and late,
    from its start [min]; sheet_id: the product it takes; why: what stands against it;
    too_cold_c: the panel now and the least the product needs [C], where it is colder; too_damp_k:
    how far the panel is above the dew point and must be [K], where it is nearer;
    bare_limit_min: how long metal may stand bare before it, by the sheet or the user [min].
    """

    what: What
    milestone: str = ""
    early: datetime | None = None
    late: datetime | None = None
    length_min: tuple[float | None, float | None] = (None, None)
    sheet_id: str = ""
    product: str = ""
    why: tuple[Notice, ...] = ()
    too_cold_c: tuple[float, float] | None = None
    too_damp_k: tuple[float, float] | None = None
    bare_limit_min: float | None = None


@frozen
class Card:
    """A part with its last step, what is next and whether it fits before the stopping time.

    start_by: the latest start that fits, 9 in 10, where it is a mix.
    """

    part: Part
    step: StepView | None
    action: Action
    fits: Fits
    start_by: datetime | None = None
    joint: Joint = "body"

    @property
    def structural(self) -> bool:
        """Whether no time is given for it."""
        return self.action.what == "procedure"


def fits(early: datetime | None, late: datetime | None, stop: datetime | None) -> Fits:
    """Whether what lasts until then is over before the stopping time; unknown without one."""
    if stop is None:
        return "unknown"
    if late is not None and late <= stop:
        return "yes"
    return "may" if early is not None and early <= stop else "no"


Ask = Callable[[str, Part], Proposal]


def follower(bench: Bench, kind: str) -> str:
    """The id of the product of a kind that was mixed last, else of one with a can; else ''.

    One whose cans are all used up is no longer there to be mixed.
    """
    sheets, own_cans = shelf(bench.store), cans.cans(bench.store)
    left = [can.sheet_id for can in own_cans if not can.used_up]
    gone = {can.sheet_id for can in own_cans} - set(left)
    used = [row.sheet for row in reversed(bench.store.steps()) if row.sheet not in gone]
    return next((id for id in (*used, *left) if _kind(sheets, id) == kind), "")


def _kind(sheets: Any, id: str) -> str:
    return sheets[id].kind if id in sheets else ""


def _mixed(what: What, proposal: Proposal) -> Action:
    """Mixing a product now: it keeps your hands until its working time ends.

    No time is given where the panel is too cold for it, or too near the dew point.
    """
    here, damp = proposal.here.surface_c, too_damp(proposal)
    cold = (here, proposal.least_c) if here is not None and here < proposal.least_c else None
    if cold is not None or damp is not None:
        return Action(
            what,
            sheet_id=proposal.sheet.id,
            product=proposal.sheet.name,
            too_cold_c=cold,
            too_damp_k=damp,
        )
    name = next((hand for hand in HANDS if hand in proposal.forecast.by_name), "")
    named = proposal.forecast.by_name.get(name)
    early, late = (named.early_min, named.late_min) if named else (None, None)
    why = named.warnings if named and late is None else ()
    return Action(
        what,
        name,
        None if early is None else on_wall(proposal.now, early, name),
        None if late is None else on_wall(proposal.now, late, name),
        (early, late),
        proposal.sheet.id,
        proposal.sheet.name,
        why,
    )


def _cover(proposal: Proposal) -> Action:
    """Covering bare metal with a primer, and how long the metal may stand before it."""
    limits = (proposal.sheet.limits.bare_max_min, proposal.bare_limit_min)
    least = min((limit for limit in limits if limit is not None), default=None)
    return replace(_mixed("cover", proposal), bare_limit_min=least)


def waiting(milestone: MilestoneView, now: datetime) -> Action:
    """A test of a milestone: now where it is due, else from when."""
    if milestone.due:
        return Action("test", milestone.name, now, now)
    why = () if milestone.late else milestone.warnings or (notice("no-time"),)
    early, late = (
        None if at is None else max(at, now) for at in (milestone.early, milestone.shown)
    )
    return Action("wait", milestone.name, early, late, why=why)


def asked_next(step: StepView, now: datetime) -> MilestoneView | None:
    """What the step still asks that leads on: what is due, else what comes first.

    Never its full cure, nor its window's end; of a finished step, only what is still to come.
    """
    left = [milestone for milestone in open_milestones(step) if milestone.name in WAITED]
    if step.state != "hardening":
        return next(
            (milestone for milestone in left if milestone.late is None or milestone.late > now),
            None,
        )
    due = [milestone for milestone in left if milestone.due]
    timed = sorted(left, key=lambda milestone: (milestone.shown is None, milestone.shown or now))
    return due[-1] if due else next(iter(timed), None)


def _coat(step: StepView, now: datetime) -> Action:
    """A coat over this one, inside its window or after a scuff."""
    closes = step.by_name.get("recoat_closes")
    at = closes.shown if closes is not None else None
    why = (notice("window-closed"),) if at is not None and at <= now else ()
    return Action("coat", "recoat_closes" if at else "", None, at, why=why)


def next_action(
    part: Part, step: StepView | None, now: datetime, primer: str, asking: Ask
) -> Action:
    """What comes next on a part; primer: the product that covers filler and bare metal."""
    if part.done:
        return Action("done")
    if step is not None and step.state != "abandoned":
        milestone = asked_next(step, now)
        if milestone is not None:
            return waiting(milestone, now)
    if part.bare_since is not None:
        return _cover(asking(primer, part)) if primer else Action("cover")
    if step is None:
        return Action("none")
    if step.state == "abandoned":
        return Action("redo", sheet_id=step.sheet.id, product=step.sheet.name)
    if step.sheet.kind in COVERS:
        return _coat(step, now)
    return _mixed("mix", asking(primer, part)) if primer else Action("mix")


class Cards:
    """The cards over one bench."""

    def __init__(self, bench: Bench) -> None:
        self.bench = bench
        self._latest: dict[tuple[str, str, str, datetime], datetime | None] = {}

    def _step(self, number: int, now: datetime) -> StepView | None:
        """The last step on a part; None where it is damaged."""
        shown = {view.id: view for view in self.bench.view(now).steps}
        if number in shown:
            return shown[number]
        with suppress(DamagedStep):
            return self.bench.step_view(number, now)
        return None

    def _asking(self, now: datetime) -> Ask:
        proposals: dict[tuple[str, str], Proposal] = {}

        def proposed(sheet_id: str, part: Part) -> Proposal:
            key = (sheet_id, part.place)
            if key not in proposals:
                proposals[key] = ask(self.bench, sheet_id, now, Details(place=part.place))
            return proposals[key]

        return proposed

    def card(
        self, part: Part, now: datetime, stop: datetime | None, primer: str, asking: Ask
    ) -> Card:
        """One part's card."""
        kind = self.bench.reader.joint(part.name, part.job)
        if kind != "body":
            return Card(part, None, Action("procedure"), "unknown", joint=kind)
        step = None if part.last_step is None else self._step(part.last_step, now)
        action = next_action(part, step, now, primer, asking)
        if action.what in ("none", "done", "coat", "redo") or (
            action.what in ("mix", "cover") and not action.sheet_id
        ):
            return Card(part, step, action, "unknown")
        by = self._start_by(action, part, stop, asking)
        return Card(part, step, action, fits(action.early, action.late, stop), by)

    def _start_by(
        self, action: Action, part: Part, stop: datetime | None, asking: Ask
    ) -> datetime | None:
        """The latest start from which a mix is off your hands before you stop, 9 in 10."""
        if stop is None or not action.sheet_id or action.length_min[1] is None:
            return None
        key = (action.sheet_id, part.place, action.milestone, stop)
        if key not in self._latest:
            starts = asking(action.sheet_id, part).starts(action.milestone, stop)
            self._latest[key] = starts.by(stop).latest()
        return self._latest[key]

    def cards(
        self, now: datetime, *, job: str | None = None, stop: datetime | None = None
    ) -> list[Card]:
        """The cards of the parts worked on last, of one job where asked; at most 80."""
        all_parts = parts.parts(self.bench.reader, now, job)[:MOST]
        primer, asking = follower(self.bench, "primer"), self._asking(now)
        return [self.card(part, now, stop, primer, asking) for part in all_parts]

    def one(self, name: str, job: str, now: datetime, stop: datetime | None) -> Card | None:
        """The card of one part; None where nobody entered it."""
        part = parts.existing(self.bench.reader, name, job, now)
        if part is None:
            return None
        primer = follower(self.bench, "primer")
        return self.card(part, now, stop, primer, self._asking(now))


def tonight(cards: Iterable[Card]) -> list[Card]:
    """What can be done now or before the stopping time, what surely fits first."""
    order = {"yes": 0, "may": 1}
    fitting = [card for card in cards if card.fits in order]
    return sorted(fitting, key=lambda card: (order[card.fits], card.action.late is None))


def urgent_first(cards: Iterable[Card]) -> list[Card]:
    """What asks or is due, then bare metal, then what comes soonest; finished parts at the end."""
    return sorted(cards, key=_urgency)


def _urgency(card: Card) -> tuple[int, float]:
    """The rank of a card, and its place within it."""
    action, part = card.action, card.part
    if part.done:
        return 5, 0.0
    if card.joint == "asked" or part.asked_step is not None or action.what == "test":
        return 0, 0.0
    if card.structural:
        return 4, 0.0
    if part.bare_since is not None:
        return 1, -(part.bare_hours or 0.0)
    if action.late is not None and action.what in ("wait", "coat"):
        return 2, action.late.timestamp()
    return 3, 0.0
