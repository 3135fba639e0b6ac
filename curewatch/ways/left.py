"""What is left of a part by its way: which steps, of which products, and from when on."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from curewatch.bench.bench import Bench
from curewatch.bench.views import StepView
from curewatch.climate.psychrometrics import FloatArray
from curewatch.errors import StepError
from curewatch.garage import parts
from curewatch.garage.joint import NO_TIME, name_of
from curewatch.garage.part_history import key_of
from curewatch.garage.shelf import shelf
from curewatch.garage.step import DamagedStep, Step
from curewatch.garage.steps import steps
from curewatch.notice_words import sentence
from curewatch.plan.next_action import follower
from curewatch.products.sheet import Sheet
from curewatch.starts.courses import Courses
from curewatch.starts.products import even_normal, even_shares
from curewatch.starts.windows import COURSES, SEED
from curewatch.vocabulary import MILESTONES
from curewatch.ways import entered, hands
from curewatch.ways.entered import PartWish
from curewatch.ways.hours import Hours
from curewatch.ways.walk import HANDS_SD
from curewatch.ways.way import Way, WayStep

MOST_STEPS = 500
PLACE = "panel"


@dataclass(frozen=True, eq=False)
class Left:
    """What is left of a part: steps; sheets: the product of each kind; planned_factor: of the
    hands-on times [-]; place: where its panel is measured; before: the way's last step that is
    behind it, and curing: its mix, None where nothing is; hands_off: when a step that was begun
    should be done, None where none was."""

    part: str
    job: str
    way: Way
    wish: PartWish
    steps: tuple[WayStep, ...]
    sheets: dict[str, Sheet]
    planned_factor: float
    place: str
    before: WayStep | None
    curing: StepView | None
    clamps_on: int = 0
    hands_off: datetime | None = None

    @property
    def behind(self) -> int:
        """How many steps of the way are behind the part."""
        return len(self.way.until(self.wish.end)) - len(self.steps)

    def ready(self, weeks: Courses) -> FloatArray:
        """When the next step may begin by what is still curing, or by the hands that are on the one
        before, by week. [-] in samples"""
        if self.hands_off is not None:
            return np.full(COURSES, max(0.0, weeks.sample(self.hands_off)))
        if self.before is None or self.curing is None:
            return np.zeros(COURSES)
        return _ready(self.curing, self.before.waits_for, weeks)


def known_part(bench: Bench, part: str, job: str, now: datetime) -> tuple[str, str]:
    """The name and job of a part as it is known; as they were typed where it is new."""
    if not name_of(part):
        raise StepError("the part has no name", fix="name it, like 'rear corner'")
    existing = None if job else parts.existing(bench.reader, part, job, now)
    return (part.strip(), job.strip()) if existing is None else (existing.name, existing.job)


def body_part(bench: Bench, part: str, job: str, now: datetime) -> tuple[str, str]:
    """The same, of a part that times are given for. Raises StepError for a structural one."""
    part, job = known_part(bench, part, job, now)
    kind = bench.reader.joint(part, job)
    if kind != "body":
        raise StepError(sentence(NO_TIME[kind]))
    return part, job


def hours_of(bench: Bench) -> Hours:
    """When somebody is there. Raises StepError where that was not entered."""
    hours = entered.hours(bench.store)
    if hours is None:
        raise StepError(
            "when are you there?",
            fix="enter it once: curewatch plan hours 'Mon-Fri 18:00-22:30, Sat 9-18'",
        )
    return hours


def _way(bench: Bench, part: str, job: str) -> Way:
    way = entered.way_of(bench.store, part, job)
    if way is None:
        raise StepError(
            f"how is {part} worked on?",
            fix=f"choose a way: curewatch plan way '{part}' bond-a-patch",
        )
    return way


def _worked(bench: Bench, part: str, job: str) -> list[Step]:
    """The steps on a part that did not fail, the first first."""
    wanted = key_of(part, job)
    own_steps = [step for step in steps(bench.store, most=MOST_STEPS) if step.state != "abandoned"]
    return [step for step in reversed(own_steps) if key_of(step.part, step.job) == wanted]


def matched(way: tuple[WayStep, ...], kinds: list[str]) -> int:
    """How many of a way's steps are behind the part whose mixes were of these kinds, in order."""
    behind = 0
    for kind in kinds:
        ahead = [i for i in range(behind, len(way)) if way[i].kind == kind]
        if ahead:
            behind = ahead[0] + 1
    return behind


@dataclass(frozen=True, eq=False)
class PartProgress:
    """How far a part is by its way: behind: how many steps are behind it [-]; worked: the steps on
    it that did not fail; begun_at: when the last of those behind was begun, where that took no
    product, else None."""

    behind: int
    worked: list[Step]
    begun_at: datetime | None


def progress(bench: Bench, part: str, job: str, wanted: tuple[WayStep, ...]) -> PartProgress:
    """How far a part is, by its mixes and by the steps without a product begun after them."""
    worked, begun_at = _worked(bench, part, job), None
    behind = matched(wanted, [step.sheet.kind for step in worked])
    since = worked[-1].mixed_at if worked else None
    for at, does in entered.begun(bench.store, part, job):
        ahead = wanted[behind] if behind < len(wanted) else None
        if ahead and not ahead.kind and ahead.does == does and (since is None or at >= since):
            behind, begun_at = behind + 1, at
    return PartProgress(behind, worked, begun_at)


def begin_next(bench: Bench, part: str, job: str, now: datetime) -> str:
    """Keep that a part's next step was begun, and its metal bare from now on where it bares it;
    returns which. Raises StepError where that takes a product, whose mix says so, or where nothing
    is left."""
    left = left_of(bench, part, job, None, now)
    step = left.steps[0]
    if step.kind:
        raise StepError(
            f"'{step.does}' is begun with its mix", fix="start that: it is behind the part then"
        )
    with bench.store.together():
        entered.begin(bench.store, left.part, left.job, step.does, now=now)
        if step.bares:
            parts.bared(bench.store, left.part, left.job, now=now)
    return step.does


def _viewed(bench: Bench, step: Step | None, now: datetime) -> StepView | None:
    """A step with its times, None where there is none or it is damaged."""
    try:
        return None if step is None else bench.reader.step_view(step, now)
    except DamagedStep:
        return None


def _ready(step: StepView, waits_for: str, start: Courses) -> FloatArray:
    milestone = step.by_name.get(waits_for)
    if milestone is None or milestone.reached:
        return np.zeros(COURSES)
    corners = (milestone.early, milestone.likely, milestone.late)
    if None in corners:
        return np.full(COURSES, np.inf)
    samples = [start.sample(at) for at in corners if at is not None]
    shares = even_shares(COURSES, np.random.default_rng(SEED))
    at: FloatArray = np.interp(shares, (0.05, 0.5, 0.95), samples)
    return np.maximum(at, 0.0)


def hands_factors(index: int, planned: float) -> FloatArray:
    """Factors on a step's hands-on time by week. [-]; planned: their mean [-]"""
    z = even_normal(COURSES, np.random.default_rng((SEED, 7, index)))
    factors: FloatArray = planned * np.exp(HANDS_SD * z - HANDS_SD**2 / 2)
    return factors


def _sheets(bench: Bench, left: tuple[WayStep, ...]) -> dict[str, Sheet]:
    """The product of each kind: the one mixed last, else one with a can, else any of the shelf."""
    sheets = shelf(bench.store)
    chosen = {}
    for kind in dict.fromkeys(step.kind for step in left if step.kind):
        id = follower(bench, kind) or next(
            (sheet.id for sheet in sheets.values() if sheet.kind == kind), ""
        )
        if id:
            chosen[kind] = sheets[id]
    return chosen


def _planned(bench: Bench, way: Way, worked: list[Step]) -> float:
    """What to stretch the way's hands-on times by. [-]"""
    way_min = {step.kind: step.hands_min - step.mixed_after_min for step in way.steps if step.kind}
    ratios = [
        seen / way_min[step.sheet.kind]
        for step in steps(bench.store, most=MOST_STEPS)
        if way_min.get(step.sheet.kind) and (seen := hands.seen_min(step)) is not None
    ]
    return hands.factor(ratios)


def _waited(step: WayStep, sheet: Sheet) -> str:
    """What the label has of that a step waits for: else the full cure, else ''."""
    times_min = sheet.reference.minutes
    return next((name for name in (step.waits_for, "full_cure") if name in times_min), "")


def waited(step: WayStep, sheet: Sheet | None) -> str:
    """The milestone that is waited for after a step: the full cure where the label has not the
    one that its way names. Raises StepError where it has neither."""
    if not step.waits_for or sheet is None:
        return step.waits_for
    if milestone := _waited(step, sheet):
        return milestone
    name = MILESTONES[step.waits_for]
    raise StepError(
        f"{sheet.name} gives no time until {name}", fix="enter the label's time, or another product"
    )


def suits(steps: tuple[WayStep, ...], sheet: Sheet) -> bool:
    """Whether a product's label has what the steps of its kind wait for."""
    waiting = (step for step in steps if step.kind == sheet.kind and step.waits_for)
    return all(_waited(step, sheet) for step in waiting)


def _clamps_on(step: Step | None, before: WayStep | None) -> int:
    """How many clamps are on a part, by its way, until they were entered as taken off."""
    if step is None or before is None or step.of("unclamped"):
        return 0
    return before.clamps


def _hands_off(
    before: WayStep | None, begun_at: datetime | None, planned: float
) -> datetime | None:
    """When a step that was begun should be done. planned: factor on its hands-on time [-]"""
    if before is None or begun_at is None:
        return None
    return begun_at + timedelta(minutes=before.hands_min * planned)


def left_of(bench: Bench, part: str, job: str, wish: PartWish | None, now: datetime) -> Left:
    """What is left of a part. wish: instead of the one that was entered. Raises StepError where
    nobody can say, where the way is missing, or where nothing is left."""
    part, job = body_part(bench, part, job, now)
    way = _way(bench, part, job)
    wish = wish or entered.wish_of(bench.store, part, job) or PartWish("", None)
    wanted = way.until(wish.end)
    done = progress(bench, part, job, wanted)
    worked, behind = done.worked, done.behind
    left = wanted[behind:]
    if not left:
        raise StepError(f"{part} is as it was wished", fix="enter another wish for it")
    last = worked[-1] if worked and behind and done.begun_at is None else None
    before, planned = wanted[behind - 1] if behind else None, _planned(bench, way, worked)
    return Left(
        part,
        job,
        way,
        wish,
        left,
        _sheets(bench, left),
        planned,
        next((step.place for step in reversed(worked)), PLACE),
        before,
        _viewed(bench, last, now),
        _clamps_on(last, before),
        _hands_off(before, done.begun_at, planned),
    )
