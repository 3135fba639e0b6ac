"""Heat entered of one step's metal: what it changes, what refuses it, and that it is kept."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.bench.bench import Bench, Details
from curewatch.bench.marks import heat, spell
from curewatch.climate.heat import warmed, warmed_ahead
from curewatch.climate.reading import HeatSpell, added, make_reading
from curewatch.climate.source_words import leading_source_words
from curewatch.errors import StepError
from curewatch.notice import Measure, notice
from curewatch.products.sheet import generic_sheets
from curewatch.products.solvents import leaving, most_c, volatile
from curewatch.store.store import Store
from curewatch.wording.words import ReaderFormat
from tests.conftest import Run
from tests.support.logbooks import undone
from tests.support.notices import codes
from tests.support.steps import even, steady

NOW = datetime(2026, 11, 14, 17, 0, tzinfo=UTC)
SAY = ReaderFormat(ZoneInfo("Europe/Berlin"))
SHEETS = generic_sheets()
ADHESIVE, FILLER, PRIMER = "epoxy-panel-adhesive", "fibre-polyester-filler", "epoxy-primer"


def hours(number: float) -> datetime:
    return NOW + timedelta(hours=number)


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    """A garage of 16 C whose step has a place of its own without a probe."""
    store = Store(tmp_path / "curewatch.sqlite")
    readings = [
        make_reading("air", "air_temperature", 16.0, NOW - timedelta(minutes=5 * back), "probe")
        for back in range(12)
    ]
    store.add_readings(readings)
    return Bench(store)


def late_min(bench: Bench, number: int, name: str, now: datetime = NOW) -> float:
    value = bench.step_view(number, now).forecast.by_name[name].likely_min
    assert value is not None
    return value


def test_heat_where_no_probe_is_brings_the_clamps_off_sooner(bench: Bench) -> None:
    number = bench.start(ADHESIVE, now=NOW, details=Details(part="patch", place="lamp"))
    cold = late_min(bench, number, "clamp_time")
    assert heat(bench, number, HeatSpell(hours(0), hours(3), 30.0), now=NOW, say=SAY) == ()
    assert late_min(bench, number, "clamp_time") < 0.6 * cold
    notices = bench.step_view(number, hours(1)).warnings
    assert notice("heat-entered", temperature=Measure(30.0, "C")) in notices


def test_a_probe_on_the_metal_is_believed_instead(bench: Bench) -> None:
    bench.store.add_readings([make_reading("lamp", "surface_temperature", 12.0, NOW, "probe")])
    number = bench.start(ADHESIVE, now=NOW, details=Details(place="lamp"))
    cold = late_min(bench, number, "clamp_time")
    heat(bench, number, HeatSpell(hours(0), hours(3), 30.0), now=NOW, say=SAY)
    assert late_min(bench, number, "clamp_time") == pytest.approx(cold)
    assert "heat-probe-counts" in codes(bench.step_view(number, NOW).warnings)


def test_untold_warmth_widens_the_band_and_moves_nothing() -> None:
    past = replace(even(12.0, 180), source="air")
    conditions = warmed(past, [HeatSpell(past.start, past.start + timedelta(hours=1))])
    assert (conditions.surface_c == past.surface_c).all()
    assert (conditions.surface_sd_c[:60] > 7).all()
    assert conditions.surface_sd_c[-1] == past.surface_sd_c[-1]


def test_heat_to_come_enters_the_outlook_only_while_it_lasts() -> None:
    ahead = steady(even(12.0))
    heat_spell = HeatSpell(ahead.start + timedelta(hours=1), ahead.start + timedelta(hours=2), 30.0)
    outlook = warmed_ahead(ahead, [heat_spell])
    likely = [float(outlook.likely_c[round(h * 3600 / outlook.step_s)]) for h in (0.9, 1.5, 2.1)]
    assert likely == [12.0, 30.0, 12.0]
    assert (outlook.cool_c <= outlook.likely_c).all()
    assert (outlook.likely_c <= outlook.warm_c).all()


@given(st.floats(5, 40), st.floats(0, 5), st.floats(0.2, 5))
def test_warmer_heat_never_takes_longer(celsius: float, start_h: float, length_h: float) -> None:
    past = replace(even(10.0, 240), source="air")
    begin = past.start + timedelta(hours=start_h)
    heat_spell = HeatSpell(begin, begin + timedelta(hours=length_h), celsius)
    conditions = warmed(past, [heat_spell])
    assert np.all((conditions.surface_c >= 10.0) | (conditions.surface_c == celsius))
    warmer = warmed(past, [replace(heat_spell, surface_c=celsius + 5)])
    assert np.all(warmer.surface_c >= conditions.surface_c)


def test_a_later_telling_takes_the_place_of_what_it_overlaps() -> None:
    first, apart = HeatSpell(hours(1), hours(3), 30.0), HeatSpell(hours(5), hours(6), 25.0)
    right = HeatSpell(hours(2), hours(4), 28.0)
    assert added(added(added((), first), apart), right) == (right, apart)


@pytest.mark.parametrize(
    ("sheet", "name"),
    [
        (ADHESIVE, None),
        (FILLER, "working_time"),
        (PRIMER, "recoat_opens"),
        ("solvent-primer-1k", "recoat_opens"),
        ("quick-methacrylate-adhesive", "working_time"),
    ],
)
def test_until_when_solvent_is_taken_to_leave(sheet: str, name: str | None) -> None:
    assert leaving(SHEETS[sheet]) == name
    assert volatile(SHEETS[sheet]) is (name is not None)


def test_no_heat_is_planned_while_solvent_flashes_off(bench: Bench) -> None:
    number = bench.start(PRIMER, now=NOW, details=Details(place="lamp"))
    with pytest.raises(StepError, match="no heat while solvent evaporates"):
        heat(bench, number, HeatSpell(hours(0.1), hours(2), 25.0), now=NOW, say=SAY)
    assert bench.step(number).heated == ()
    gone = late_min(bench, number, "recoat_opens") / 60
    heat(bench, number, HeatSpell(hours(4 * gone), hours(4 * gone + 2), 25.0), now=NOW, say=SAY)
    bench.test(number, "reached", now=hours(1), milestone="recoat_opens", sure=True)
    heat(bench, number, HeatSpell(hours(1.1), hours(2), 25.0), now=hours(1), say=SAY)
    assert len(bench.step(number).heated) == 2


@pytest.mark.parametrize("celsius", [36.0, 60.0])
def test_heat_over_the_sheets_limit_is_refused(bench: Bench, celsius: float) -> None:
    number = bench.start(ADHESIVE, now=NOW, details=Details(place="lamp"))
    with pytest.raises(StepError, match="over the label's 35 °C"):
        heat(bench, number, HeatSpell(hours(0), hours(2), celsius), now=NOW, say=SAY)


def test_a_silent_sheet_is_heated_to_forty_at_most() -> None:
    silent = SHEETS[ADHESIVE]
    assert most_c(replace(silent, limits=replace(silent.limits, temperature_c=None))) == 40


def test_heat_that_already_was_is_a_fact_and_asks_for_its_reason(bench: Bench) -> None:
    number = bench.start(PRIMER, now=NOW, details=Details(place="lamp"))
    heat_spell, then = HeatSpell(hours(0.1), hours(1), 45.0), hours(2)
    with pytest.raises(StepError, match="give the reason"):
        heat(bench, number, heat_spell, now=then, say=SAY)
    stops = heat(bench, number, heat_spell, now=then, say=SAY, why="the lamp was left on")
    assert len(stops) == 2
    (against,) = bench.step(number).overrides
    assert (against.stops, against.why) == (stops, "the lamp was left on")
    assert bench.step(number).heated == (heat_spell,)


def test_heat_that_is_taken_back_no_longer_counts_and_what_it_replaced_does(bench: Bench) -> None:
    number = bench.start(ADHESIVE, now=NOW, details=Details(part="patch", place="lamp"))
    cold = late_min(bench, number, "clamp_time")
    heat(bench, number, HeatSpell(hours(0), hours(1), 30.0), now=NOW, say=SAY)
    some = late_min(bench, number, "clamp_time")
    heat(bench, number, HeatSpell(hours(0), hours(3), 34.0), now=NOW, say=SAY)
    first, second = (happening.id for happening in bench.step(number).of("heated"))
    undone(bench, number, second, NOW, "the lamp was off")
    assert late_min(bench, number, "clamp_time") == some
    undone(bench, number, first, NOW)
    assert late_min(bench, number, "clamp_time") == cold


def test_heat_and_what_spoke_against_it_are_undone_together(bench: Bench) -> None:
    number = bench.start(PRIMER, now=NOW, details=Details(place="lamp"))
    heat(bench, number, HeatSpell(hours(0.1), hours(1), 45.0), now=hours(2), say=SAY, why="left on")
    (against,) = bench.step(number).of("overridden")
    undone(bench, number, against.id, hours(2))
    assert bench.step(number).overrides == ()
    assert bench.step(number).heated == ()


@pytest.mark.parametrize(
    ("start", "until", "says"),
    [
        (2, 1, "ends before it begins"),
        (-3, -1, "over before the mixing"),
        (0, 60, "more than two days"),
        (200, 201, "too far away"),
    ],
)
def test_heat_that_cannot_be(bench: Bench, start: float, until: float, says: str) -> None:
    number = bench.start(ADHESIVE, now=NOW)
    with pytest.raises(StepError, match=says):
        heat(bench, number, HeatSpell(hours(start), hours(until), 25.0), now=NOW, say=SAY)


def test_heat_is_told_from_the_terminal(run: Run) -> None:
    run("reading", "add", "--place", "air", "--air", "12 C")
    run("mix", ADHESIVE, "--place", "new lamp")
    code, out, _ = run(
        "step", "heat", "1", "--from", "00:00", "--until", "23:59", "--surface", "90 C"
    )
    assert (code, out) == (2, "")
    now = datetime.now(UTC)
    start, until = ((now + timedelta(hours=h)).isoformat() for h in (0.1, 2))
    code, out, _ = run("step", "heat", "1", "--from", start, "--until", until, "--surface", "30 C")
    assert code == 0
    assert "clamps off" in out


@pytest.mark.parametrize(
    ("mixed", "now", "start", "begun"),
    [
        # 08:00 in Berlin: 19:00 was last night
        ((14, 17, 40), (15, 7, 0), "19:00", (14, 18, 0)),
        # 17:00: it is tonight
        ((14, 15, 40), (14, 16, 0), "19:00", (14, 18, 0)),
        # mixed this morning: last night's heat was over before, so it is tonight
        ((15, 6, 0), (15, 7, 0), "19:00", (15, 18, 0)),
    ],
)
def test_the_wall_clock_of_heat_is_read_as_people_mean_it(
    bench: Bench,
    mixed: tuple[int, int, int],
    now: tuple[int, int, int],
    start: str,
    begun: tuple[int, int, int],
) -> None:
    then = datetime(2026, 11, *mixed, tzinfo=UTC)
    number = bench.start(ADHESIVE, now=then)
    moment = datetime(2026, 11, *now, tzinfo=UTC)
    heat_spell = spell(bench.step(number), start, "21:00", 30.0, moment, ZoneInfo("Europe/Berlin"))
    assert heat_spell.start == datetime(2026, 11, *begun, tzinfo=UTC)
    assert heat_spell.until - heat_spell.start == timedelta(hours=2)


@pytest.mark.parametrize("source", ["typed", "probe"])
def test_a_reading_from_before_the_heat_does_not_speak_of_it(bench: Bench, source: str) -> None:
    early = make_reading("lamp", "surface_temperature", 12.0, hours(-0.5), source)
    bench.store.add_readings([early])
    number = bench.start(ADHESIVE, now=NOW, details=Details(place="lamp"))
    cold = late_min(bench, number, "clamp_time", hours(1))
    heat(bench, number, HeatSpell(hours(0), hours(3), 30.0), now=NOW, say=SAY)
    assert late_min(bench, number, "clamp_time", hours(1)) < 0.6 * cold
    notices = bench.step_view(number, hours(1)).warnings
    assert "heat-entered" in codes(notices)
    assert not {"heat-probe-counts", "heat-probe-counts-partly"} & set(codes(notices))


def test_a_probe_is_believed_only_as_long_as_it_reports_during_the_heat(bench: Bench) -> None:
    readings = [
        make_reading("lamp", "surface_temperature", 13.0, hours(minute / 60), "probe")
        for minute in range(-60, 31, 5)
    ]
    bench.store.add_readings(readings)
    number = bench.start(ADHESIVE, now=NOW, details=Details(place="lamp"))
    heat(bench, number, HeatSpell(hours(0), hours(3), 30.0), now=NOW, say=SAY)
    step = bench.step(number)
    felt = bench.reader.conditions_of(step, hours(3.5))
    at = {minute: float(felt.surface_c[minute]) for minute in (0, 30, 59, 61, 179, 185)}
    assert [at[minute] for minute in (0, 30, 59)] == pytest.approx([13.0] * 3, abs=0.6)
    assert (at[61], at[179]) == (30.0, 30.0)
    assert at[185] < 20
    notices = bench.step_view(number, hours(2)).warnings
    assert "heat-probe-counts-partly" in codes(notices)


def test_heat_is_named_as_the_source_of_what_it_stands_for(run: Run) -> None:
    """It was said to be typed, the reading of before."""
    run("reading", "add", "--surface", "12 C", "--ago", "180 min")
    run("mix", ADHESIVE, "--part", "patch", "--ago", "120 min", "--why", "a trial")
    start, until = (datetime.now(UTC) - timedelta(minutes=each) for each in (115, 1))
    words = ("step", "heat", "1", "--from", start.isoformat(), "--until", until.isoformat())
    run(*words, "--surface", "30 C", "--why", "it was")
    (now,) = [
        load
        for load in json.loads(run("log", "--json")[1])["steps"][0]["conditions"]
        if load["until"] == "now"
    ]
    surface = now["surface_temperature"]
    assert (surface["source"]["kind"], surface["max"]) == ("heat", 30.0)
    assert "(the heat as entered, not measured)" in run("log")[1]


def test_heat_told_twice_is_no_probe_of_itself(bench: Bench) -> None:
    bench.store.add_readings([make_reading("lamp", "surface_temperature", 12.0, NOW, "typed")])
    number = bench.start(ADHESIVE, now=NOW, details=Details(place="lamp"))
    for start in (0.5, 2):
        spell = HeatSpell(hours(start), hours(start + 1), 30.0)
        heat(bench, number, spell, now=NOW, say=SAY)
    felt = bench.reader.conditions_of(bench.step(number), hours(2.5))
    assert float(felt.surface_c[-1]) == 30.0
    assert felt.leading_source is not None
    assert (
        leading_source_words(felt.leading_source)
        == "Temperature of lamp: the heat as entered, not measured."
    )


def test_heat_to_come_counts_as_told_beside_a_probe(bench: Bench) -> None:
    bench.store.add_readings([make_reading("lamp", "surface_temperature", 12.0, NOW, "probe")])
    number = bench.start(ADHESIVE, now=NOW, details=Details(place="lamp"))
    cold = late_min(bench, number, "clamp_time")
    heat(bench, number, HeatSpell(hours(1), hours(4), 30.0), now=NOW, say=SAY)
    assert late_min(bench, number, "clamp_time") < 0.8 * cold


@pytest.mark.parametrize(
    ("start", "until", "hours_long"),
    [
        ("19:00", "18:00", None),
        ("19:00", "19:00", None),
        ("22:00", "02:00", 4),
        ("18:00", "08:00", 14),
    ],
)
def test_heat_that_ends_before_it_begins_is_no_heat_of_a_day(
    bench: Bench, start: str, until: str, hours_long: int | None
) -> None:
    number = bench.start(ADHESIVE, now=NOW)
    zone = ZoneInfo("Europe/Berlin")
    if hours_long is None:
        with pytest.raises(StepError, match="ends before it begins"):
            spell(bench.step(number), start, until, 30.0, NOW, zone)
        return
    heat_spell = spell(bench.step(number), start, until, 30.0, NOW, zone)
    assert heat_spell.until - heat_spell.start == timedelta(hours=hours_long)
