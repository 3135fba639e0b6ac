"""Several sources of one quantity: which counts, how much, and that nothing jumps."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.bench.bench import Bench, Details
from curewatch.climate.conditions import Conditions, resampled
from curewatch.climate.outlook import outlook
from curewatch.climate.reading import TYPED, Quantity, Reading, Source, make_reading
from curewatch.climate.source_words import leading_source_words
from curewatch.climate.sources import Share, UncertainSeries, blended
from curewatch.gate.gather import ask
from curewatch.store.store import Store
from curewatch.wording.terminal import Terminal
from curewatch.wording.words import ReaderFormat

NOW = datetime(2026, 11, 14, 19, 20, tzinfo=UTC)
ADHESIVE = "epoxy-panel-adhesive"
SURFACE: Quantity = "surface_temperature"
AIR: Quantity = "air_temperature"
DAMP: Quantity = "relative_humidity"
SKIN, ROOM = Source(SURFACE, "panel", False), Source(AIR, "air", False)
SAY = Terminal(ReaderFormat(ZoneInfo("UTC")))


def at(minutes: float) -> datetime:
    """An instant so many minutes before now. [min]"""
    return NOW - timedelta(minutes=minutes)


def live(celsius: float, pct: float = 50.0, since: float = 60.0) -> list[Reading]:
    """The garage's air by a sensor every five minutes, up to now."""
    values: tuple[tuple[Quantity, float], ...] = ((AIR, celsius), (DAMP, pct))
    return [
        make_reading("air", quantity, value, at(minute), "sensor")
        for quantity, value in values
        for minute in np.arange(0.0, since + 1, 5.0)
    ]


def typed(celsius: float, minutes: float, pct: float = 60.0) -> list[Reading]:
    """Panel, air and humidity typed at the panel, so many minutes before now."""
    values: tuple[tuple[Quantity, float], ...] = ((SURFACE, celsius), (AIR, celsius), (DAMP, pct))
    return [make_reading("panel", quantity, value, at(minutes)) for quantity, value in values]


def bench_of(tmp_path: Path, readings: list[Reading]) -> Bench:
    store = Store(tmp_path / "curewatch.sqlite")
    store.add_readings(readings)
    return Bench(store)


def felt(readings: list[Reading], hours: float = 1.0) -> Conditions:
    """What the panel felt over the last hours. [h]"""
    return resampled(
        readings, at(60 * hours), NOW, assumed_c=21.0, typed_sd_c=0.6, typed_sd_pct=5.0
    )


def shown(tmp_path: Path, readings: list[Reading], name: str) -> datetime:
    """What a countdown runs to of a mix five minutes ago."""
    bench = bench_of(tmp_path, readings)
    number = bench.start(ADHESIVE, now=at(5), details=Details(part="patch"))
    moment = bench.step_view(number, NOW).by_name[name].shown
    assert moment is not None
    return moment


@pytest.mark.parametrize(("celsius", "old"), [(24.0, 10.0), (18.0, 28.0)])
@pytest.mark.parametrize("since", [0.0, 60.0, 600.0])
def test_what_was_typed_long_ago_leaves_the_live_sensor_in_charge(
    tmp_path: Path, celsius: float, old: float, since: float
) -> None:
    for name in ("working_time", "clamp_time"):
        both, alone = (
            shown(tmp_path / f"{name}{i}", readings, name)
            for i, readings in enumerate(
                (live(celsius, since=since) + typed(old, 480), live(celsius, since=since))
            )
        )
        share = (both - alone) / (alone - at(5))
        assert abs(share) < 0.05, f"{name} {share:.3f}"


def test_the_gate_the_outlook_and_the_tiles_take_the_same(tmp_path: Path) -> None:
    readings = live(24.0) + typed(10.0, 480)
    bench = bench_of(tmp_path, readings)
    here = ask(bench, ADHESIVE, NOW, Details()).here
    assert here.surface_c == pytest.approx(24.0, abs=0.3)
    assert here.air_c == pytest.approx(24.0, abs=0.1)
    assert here.humidity_pct == pytest.approx(50.0, abs=0.1)
    assert (here.from_air, here.old) == (True, False)
    ahead = outlook(readings, NOW, assumed_c=21.0)
    assert ahead.likely_c[0] == pytest.approx(24.0, abs=0.3)
    assert ahead.humidity_pct[0] == pytest.approx(50.0, abs=0.1)
    (spread,) = [tile for tile in bench.view(NOW).air if tile.quantity == "dew_point_spread"]
    # dew point of 24 C and 50 %: 12.94 C (psychrolib 2.5.0)
    assert spread.value == pytest.approx(24.0 - 12.94, abs=0.3)
    assert not spread.old


def test_step_page_and_terminal_say_which_source_is_in_charge_and_why(tmp_path: Path) -> None:
    bench = bench_of(tmp_path, live(24.0) + typed(10.0, 480))
    number = bench.start(ADHESIVE, now=NOW, details=Details(part="patch"))
    view = bench.step_view(number, NOW)
    words = "Temperature: taken from the garage's air, read just now, because panel's own typed "
    assert view.forecast.led is not None
    assert leading_source_words(view.forecast.led).startswith(words)
    assert words in SAY.step(view, NOW)


def test_a_fresh_reading_of_the_metal_counts_alone() -> None:
    conditions = felt([*live(24.0), make_reading("panel", SURFACE, 12.0, NOW, "probe")])
    assert conditions.surface_c[-1] == pytest.approx(12.0)
    assert conditions.surface_sd_c[-1] == pytest.approx(0.3, abs=0.01)
    assert conditions.leading_source is not None
    assert conditions.leading_source.source == SKIN


def test_beside_a_live_probe_the_air_changes_nothing_to_speak_of() -> None:
    probe = [make_reading("panel", SURFACE, 12.0, at(m), "probe") for m in range(0, 61)]
    assert np.abs(felt(probe + live(24.0)).surface_c - 12.0).max() < 0.3


def test_readings_that_are_all_equally_old_keep_their_order_of_merit() -> None:
    old = [*typed(10.0, 600), make_reading("air", AIR, 14.0, at(600), "sensor")]
    assert felt(old).surface_c[-1] == pytest.approx(10.0)


def test_a_live_probe_outweighs_what_is_typed_beside_it() -> None:
    probe = [make_reading("panel", SURFACE, 12.0, at(m), "probe") for m in range(1, 61)]
    conditions = felt([*probe, make_reading("panel", SURFACE, 15.0, NOW, TYPED)])
    assert conditions.surface_c[-1] == pytest.approx(12.0, abs=0.3)


def test_a_stale_air_gives_way_to_a_live_probe() -> None:
    probe = [make_reading("panel", SURFACE, 24.0, at(m), "probe") for m in range(0, 61)]
    conditions = felt([*probe, make_reading("air", AIR, 10.0, at(480), TYPED)])
    assert conditions.air_c[-1] == pytest.approx(24.0, abs=0.5)


ages = st.floats(0.0, 1440.0)
celsius = st.floats(5.0, 30.0)


@given(ages, st.floats(1.0, 600.0), celsius, celsius, st.sampled_from((SURFACE, AIR, DAMP)))
def test_a_stale_reading_changes_less_the_older_it_is(
    age: float, older: float, now_c: float, then_c: float, quantity: Quantity
) -> None:
    def moved(minutes: float) -> float:
        more = make_reading("panel", quantity, then_c, at(minutes))
        one, two = felt(live(now_c)), felt([*live(now_c), more])
        pairs = (
            (one.surface_c, two.surface_c),
            (one.air_c, two.air_c),
            (one.humidity_pct, two.humidity_pct),
        )
        return max(abs(float(left[-1] - right[-1])) for left, right in pairs)

    assert moved(age + older) <= moved(age) + 1e-9


def one_source(value: float, walk: float, own: float, source: Source) -> UncertainSeries:
    even = np.ones(1)
    return UncertainSeries(
        value * even, walk * even, own * even, 0 * even, (Share(source, even, np.zeros(1)),)
    )


variances = st.floats(0.0, 30.0)


@given(variances, variances, st.floats(0.01, 9.0), st.floats(0.01, 9.0), st.floats(-2.0, 2.0))
def test_two_that_agree_are_never_known_worse_than_the_better(
    walk: float, other: float, own: float, further: float, gap: float
) -> None:
    better, worse = one_source(10, walk, own, SKIN), one_source(10, other, own + further, ROOM)
    apart = gap * np.sqrt(max(0.0, walk - other) + further)
    series = blended(one_source(10 + apart, other, own + further, ROOM), better)
    assert series is not None
    assert series.sd[0] <= min(better.sd[0], worse.sd[0]) + 1e-9
    assert sum(float(share.share[0]) for share in series.shares) == pytest.approx(1.0)
    low, high = sorted((10.0, 10.0 + apart))
    assert low - 1e-9 <= series.value[0] <= high + 1e-9


def test_two_that_contradict_each_other_widen_the_band_to_hold_both() -> None:
    conditions = felt([*live(24.0), make_reading("panel", SURFACE, 10.0, at(115))])
    low, high = (
        conditions.surface_c[-1] + side * 1.645 * conditions.surface_sd_c[-1] for side in (-1, 1)
    )
    assert low < 11.0
    assert high > 23.5


@given(ages, celsius, st.floats(-1.0, 1.0), st.sampled_from(("panel", "air")))
def test_a_reading_that_agrees_makes_no_step(
    age: float, level: float, off: float, place: str
) -> None:
    """A further reading moves the present by no more than the band said before and its own."""
    readings = [*typed(level, age)]
    before = felt(readings)
    quantity = SURFACE if place == "panel" else AIR
    noise = 0.3 if place == "panel" else 1.5
    value = float(before.surface_c[-1] + off * np.hypot(before.surface_sd_c[-1], noise))
    after = felt([*readings, make_reading(place, quantity, value, NOW, "probe")])
    step = abs(float(after.surface_c[-1] - before.surface_c[-1]))
    assert step <= np.hypot(before.surface_sd_c[-1], noise) + 1e-9


@given(st.lists(st.tuples(ages, celsius, st.booleans()), min_size=1, max_size=6))
def test_along_time_nothing_jumps(read: list[tuple[float, float, bool]]) -> None:
    readings = [
        make_reading("panel" if here else "air", SURFACE if here else AIR, value, at(age), "probe")
        for age, value, here in read
        if here or age % 2
    ]
    conditions = felt(readings, 24.0)
    within = [value for _, value, _ in read] or [21.0]
    if readings:
        assert conditions.surface_c.min() >= min(within) - 1e-6
        assert conditions.surface_c.max() <= max(within) + 1e-6
    assert np.isfinite(conditions.surface_sd_c).all()
