"""Bench views made by hand, for the drawings and the pages."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from curewatch.bench.views import AirTile, BenchView, DueView, MilestoneView, StepView, Track
from curewatch.cure.forecast import Forecast, Milestone
from curewatch.notice import Measure, notice
from curewatch.products.sheet import generic_sheets

NOW = datetime(2026, 10, 14, 17, 42, tzinfo=UTC)
SHEETS = generic_sheets()
Times = dict[str, tuple[float, float, float]]


def at(minutes: float) -> datetime:
    """An instant some minutes from now. [min]"""
    return NOW + timedelta(minutes=minutes)


def milestone(name: str, early: float, likely: float, late: float) -> MilestoneView:
    """A milestone at minutes from now. [min]"""
    shown = early if name in ("working_time", "recoat_closes", "pot_life") else late
    due = shown <= 0
    return MilestoneView(name, at(early), at(likely), at(late), at(shown), 50.0, (), None, due)


def step(
    id: int,
    sheet: str,
    mixed: float,
    times: Times,
    *,
    part: str = "lower corner patch",
    stalled_from: float | None = None,
) -> StepView:
    """A hardening step mixed at minutes from now, its milestones too. [min]"""
    views = tuple(milestone(name, *found) for name, found in times.items())
    inner = tuple(Milestone(name, *found, "late", 50.0) for name, found in times.items())
    forecast = Forecast(inner, (), 1.6, (notice("panel-mean", temperature=Measure(13.5, "C")),))
    if stalled_from is not None:
        forecast = Forecast((), (), 1.0, (notice("no-time"),), (), 0.0, True, stalled_from)
        views = tuple(
            MilestoneView(view.name, None, None, None, None, 50.0, (), None, False)
            for view in views
        )
    return StepView(
        id, SHEETS[sheet], part, "camper corner", "panel", 60.0, None, "", at(mixed), at(mixed),
        forecast, views, (), (), (), (), (), "hardening",
    )  # fmt: skip


def due(view: StepView, name: str) -> DueView:
    """What a step asks."""
    return DueView(view, view.by_name[name])


def track(low_c: float = 9.0, dew: tuple[float, float] | None = None) -> Track:
    """A panel that cooled and goes on cooling."""
    times = tuple(at(-120 + 5 * n) for n in range(25))
    ahead = tuple(at(5 * n) for n in range(200))
    likely = tuple(14.2 - (14.2 - low_c) * n / 199 for n in range(200))
    return Track(
        "panel",
        times,
        tuple(16.0 - 1.8 * n / 24 for n in range(25)),
        ahead,
        likely,
        tuple(value - n * 0.01 for n, value in enumerate(likely)),
        tuple(value + n * 0.01 for n, value in enumerate(likely)),
        (("Two-part epoxy primer (generic)", 10.0),),
        ((at(dew[0]), at(dew[1])),) if dew else (),
        (notice("forecast-held"),),
    )


ADHESIVE: Times = {
    "working_time": (-30.0, -20.0, -10.0),
    "clamp_time": (4.0, 9.0, 14.0),
    "sand_ready": (150.0, 170.0, 200.0),
    "full_cure": (800.0, 900.0, 1000.0),
}
PRIMER: Times = {
    "working_time": (5.0, 8.0, 12.0),
    "recoat_opens": (120.0, 130.0, 150.0),
    "recoat_closes": (700.0, 760.0, 800.0),
}


def bench(*steps: StepView, asks: tuple[str, ...] = (), panel: Track | None = None) -> BenchView:
    """A bench with these steps; `asks` names what each asks, in order."""
    wanted = asks or tuple(
        next(
            (
                milestone.name
                for milestone in view.milestones
                if milestone.shown and milestone.shown > NOW
            ),
            "",
        )
        for view in steps
    )
    found = [due(view, name) for view, name in zip(steps, wanted, strict=True) if name]
    found.sort(key=lambda each: each.milestone.shown or NOW)
    tile = AirTile("panel", "surface_temperature", 14.2, "C", at(-0.2), 0.2, False)
    return BenchView(NOW, (tile,), steps, tuple(found), panel, (), "1")
