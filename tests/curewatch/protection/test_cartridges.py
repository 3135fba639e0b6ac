"""Cartridges and filters: hours from the steps they were worn at, and when they are to go."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.bench.bench import Bench, Details
from curewatch.climate.reading import make_reading
from curewatch.errors import StepError
from curewatch.gate.gate import gate
from curewatch.gate.gather import ask
from curewatch.protection import cartridges
from curewatch.protection.cartridges import Cartridge, Worn, hours, limit_h, state
from curewatch.protection.wearing import states
from curewatch.store.store import Store
from curewatch.wording.words import ReaderFormat
from tests.conftest import Run

BERLIN = ZoneInfo("Europe/Berlin")
NOW = datetime(2026, 11, 14, 17, 0, tzinfo=UTC)
FILLER = "fibre-polyester-filler"
DETAILS = Details()
lengths = st.floats(0, 12).map(lambda value: round(value, 2))


def at(hour: float) -> datetime:
    return NOW + timedelta(hours=hour)


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    store = Store(tmp_path / "curewatch.sqlite")
    store.add_readings(
        [
            make_reading("panel", "surface_temperature", 20.0, NOW, "probe"),
            make_reading("air", "relative_humidity", 60.0, NOW, "probe"),
        ]
    )
    return Bench(store)


# Source: OSHA, Respirator Change Schedules, "Rule of Thumb", after AIHA chapter 36: 8 hours at a
# normal work rate; humidity above 85 % halves it. The maker's figure where it is less.
@pytest.mark.parametrize(
    ("maker_h", "damp", "most_h"),
    [(None, False, 8), (None, True, 4), (6, False, 6), (6, True, 3), (20, False, 8)],
)
def test_the_hours_of_the_rule(maker_h: float | None, damp: bool, most_h: float) -> None:
    assert limit_h(Cartridge("mask", "vapour", NOW, maker_h), damp) == most_h


@pytest.mark.parametrize(
    ("worn_h", "damp", "discard"),
    [(7.9, False, False), (8, False, True), (3.9, True, False), (4, True, True)],
)
def test_it_goes_when_its_hours_are_worn(worn_h: float, damp: bool, discard: bool) -> None:
    morning = datetime(2026, 11, 14, 6, 0, tzinfo=UTC)
    cartridge = Cartridge("mask", "vapour", morning)
    spell = Worn(morning, morning + timedelta(hours=worn_h), damp)
    mask = state(cartridge, [spell], datetime(2026, 11, 14, 20, 0, tzinfo=UTC), BERLIN)
    assert (mask.discard, mask.worn_h) == (discard, pytest.approx(worn_h))
    assert ("discard it, " in mask.words) is discard


@pytest.mark.parametrize(
    ("opened", "now", "discard"),
    [
        # 23:30 in Berlin, and a quarter past midnight
        ((2026, 11, 14, 22, 30), (2026, 11, 14, 22, 45), False),
        ((2026, 11, 14, 22, 30), (2026, 11, 14, 23, 15), True),
        # the night the clock goes back is 25 hours long: 23:30 is still the day
        ((2026, 10, 24, 22, 30), (2026, 10, 25, 22, 30), False),
        ((2026, 10, 24, 22, 30), (2026, 10, 25, 23, 15), True),
    ],
)
def test_the_end_of_the_day_is_that_of_the_wall_clock(
    opened: tuple[int, ...], now: tuple[int, ...], discard: bool
) -> None:
    cartridge = Cartridge("mask", "vapour", datetime(*opened, tzinfo=UTC))  # type: ignore[misc,arg-type]
    then = datetime(*now, tzinfo=UTC)  # type: ignore[misc,arg-type]
    assert state(cartridge, [], then, BERLIN).discard is discard


@given(st.lists(st.tuples(lengths, lengths), max_size=6))
def test_spells_that_overlap_count_once(spans: list[tuple[float, float]]) -> None:
    spells = [Worn(at(start), at(start + length)) for start, length in spans]
    minutes = {
        minute
        for start, length in spans
        for minute in range(round(start * 60), round((start + length) * 60))
    }
    assert hours(spells) == pytest.approx(len(minutes) / 60, abs=0.02 * max(len(spans), 1))


@given(lengths, lengths, st.booleans())
def test_more_worn_or_damper_never_keeps_it(worn_h: float, more_h: float, damp: bool) -> None:
    cartridge = Cartridge("mask", "vapour", at(0))
    here = state(cartridge, [Worn(at(0), at(worn_h))], at(4), BERLIN)
    there = state(cartridge, [Worn(at(0), at(worn_h + more_h), damp)], at(4), BERLIN)
    assert there.discard or not here.discard


def test_no_hours_left_are_ever_told(bench: Bench) -> None:
    cartridges.open_new(bench.store, "mask", "vapour", now=NOW)
    (mask,) = states(bench, at(0.5), BERLIN)
    assert "left" not in mask.words
    assert set(cartridges.as_json(mask)) == {
        "name", "kind", "opened", "discarded", "worn_h", "most_h", "discard", "words", "source",
    }  # fmt: skip


def test_hours_come_from_the_steps_whose_reminder_was_answered(bench: Bench) -> None:
    cartridges.open_new(bench.store, "mask", "vapour", now=NOW)
    bench.start(FILLER, now=NOW, acknowledged=["respirator"])
    bench.start(FILLER, now=NOW)
    wet = bench.step_view(1, NOW).forecast.by_name["working_time"].late_min
    assert wet is not None
    (mask,) = states(bench, at(2), BERLIN)
    assert mask.worn_h == pytest.approx(wet / 60, rel=0.3)
    bench.finish(1, now=NOW + timedelta(minutes=3))
    (mask,) = states(bench, at(2), BERLIN)
    assert mask.worn_h == pytest.approx(0.05)


def test_damp_air_while_it_was_worn_halves_the_hours(bench: Bench) -> None:
    cartridges.open_new(bench.store, "mask", "vapour", now=NOW)
    bench.store.add_readings([make_reading("air", "relative_humidity", 90.0, at(0.04), "probe")])
    bench.start(FILLER, now=NOW, acknowledged=["respirator"])
    (mask,) = states(bench, at(1), BERLIN)
    assert mask.most_h == 4


def test_a_set_opened_anew_starts_at_nothing(bench: Bench) -> None:
    cartridges.open_new(bench.store, "mask", "vapour", now=NOW)
    cartridges.worn(bench.store, "Mask", 9, now=NOW)
    assert states(bench, at(1), BERLIN)[0].discard
    cartridges.open_new(bench.store, "mask", "vapour", now=at(1))
    (mask,) = states(bench, at(2), BERLIN)
    assert (mask.worn_h, mask.discard) == (0, False)
    cartridges.discard(bench.store, "mask", now=at(2))
    assert states(bench, at(3), BERLIN) == []
    assert [cartridge.told_h for cartridge in cartridges.cartridges(bench.store)] == [9, 0]


def test_a_dust_filter_has_no_hours_but_the_makers(bench: Bench) -> None:
    cartridges.open_new(bench.store, "dust", "dust", now=NOW - timedelta(days=3))
    (mask,) = states(bench, NOW, BERLIN)
    assert (mask.discard, mask.most_h) == (False, None)
    assert "stops no vapour" in mask.words
    cartridges.open_new(bench.store, "dust", "dust", now=NOW, maker_h=2)
    cartridges.worn(bench.store, "dust", 2, now=NOW)
    assert states(bench, NOW, BERLIN)[0].discard


def test_the_gate_names_a_mask_that_is_to_go(bench: Bench) -> None:
    cartridges.open_new(bench.store, "mask", "vapour", now=NOW - timedelta(days=1))
    say = ReaderFormat(BERLIN)
    answer = gate(ask(bench, FILLER, NOW, DETAILS, zone=BERLIN), say)
    mask = next(check for check in answer.checks if check.question == "mask")
    assert "the day it was opened is over" in mask.words
    answer = gate(ask(bench, "epoxy-panel-adhesive", NOW, DETAILS, zone=BERLIN), say)
    assert "mask" not in {check.question for check in answer.checks}


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("wear", "mask", "1 h"), "no cartridge 'mask' is in use"),
        (("open", " "), "has no name"),
        (("open", "mask", "--maker", "0 h"), "cannot be"),
    ],
)
def test_what_cannot_be_told_of_a_cartridge(run: Run, words: tuple[str, ...], says: str) -> None:
    code, _, err = run("mask", *words)
    assert (code, err.count("\n")) == (2, 1)
    assert says in err


def test_the_log_of_cartridges_from_the_terminal(run: Run) -> None:
    run("mask", "open", "mask", "--maker", "6 h")
    run("mask", "wear", "mask", "1.5 h")
    _, out, _ = run("mask", "list", "--json")
    (row,) = json.loads(out)
    assert (row["worn_h"], row["most_h"], row["discard"]) == (1.5, 6, False)
    run("mask", "discard", "mask")
    assert json.loads(run("mask", "list", "--json")[1]) == []


def test_a_cartridge_that_cannot_be_is_refused(bench: Bench) -> None:
    with pytest.raises(StepError, match="not a kind of cartridge"):
        cartridges.open_new(bench.store, "mask", "paper", now=NOW)


def test_a_dust_filter_is_worn_from_the_sanding_reminder_for_an_hour_at_most(bench: Bench) -> None:
    cartridges.open_new(bench.store, "filters", "dust", now=NOW, maker_h=1)
    bench.start(FILLER, now=NOW)
    bench.acknowledge(1, "dust:sanding", now=at(1.5))
    (mask,) = states(bench, at(2), BERLIN)
    assert (mask.worn_h, mask.discard) == (pytest.approx(0.5), False)
    (mask,) = states(bench, at(9), BERLIN)
    assert (mask.worn_h, mask.discard) == (pytest.approx(1), True)


def test_what_lies_ahead_is_not_worn_yet() -> None:
    cartridge = Cartridge("mask", "vapour", NOW)
    mask = state(cartridge, [Worn(at(0), at(10_000))], at(0.5), BERLIN)
    assert mask.worn_h == pytest.approx(0.5)
