"""The gate on the can and the metal: expiry, life once opened, storage, bare hours, the spread."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from freezegun import freeze_time
from hypothesis import given, settings
from hypothesis import strategies as st

from curewatch.bench.bench import Bench, Details
from curewatch.climate.reading import Quantity, make_reading
from curewatch.garage import cans, parts
from curewatch.garage.cans import CanDetails
from curewatch.garage.part_history import Part
from curewatch.garage.shelf import add_sheet
from curewatch.gate.check import ORDER, Check
from curewatch.gate.gate import gate
from curewatch.gate.gather import ask, set_bare_limit
from curewatch.gate.outlook import latest_start
from curewatch.gate.proposal import Proposal
from curewatch.products.sheet import Sheet, generic_sheets
from curewatch.products.shelf_life import last_day
from curewatch.store.store import Store
from curewatch.wording.words import ReaderFormat
from tests.conftest import Run
from tests.curewatch.gate.test_gate import check, lying, proposed

BERLIN = ZoneInfo("Europe/Berlin")
SAY = ReaderFormat(BERLIN)
NOW = datetime(2026, 11, 14, 17, 0, tzinfo=UTC)
SHEETS = generic_sheets()
URETHANE = "urethane-high-build-primer"
ADHESIVE, FILLER, PRIMER = "epoxy-panel-adhesive", "fibre-polyester-filler", "epoxy-primer"
KEPT = (
    '\n[storage]\ntemperature = ["5 C", "30 C"]\nshelf_life = "12 months"\nopened_life = "2 months"'
)


def at(hours: float) -> datetime:
    return NOW + timedelta(hours=hours)


@pytest.fixture
def empty(tmp_path: Path) -> Bench:
    store = Store(tmp_path / "curewatch.sqlite")
    add_sheet(store, "mine", SHEETS[ADHESIVE].text + KEPT, NOW)
    return Bench(store)


@pytest.fixture
def bench(empty: Bench) -> Bench:
    climate(empty, 20.0)
    return empty


def climate(bench: Bench, celsius: float, now: datetime = NOW, hours: int = 6) -> None:
    """A place as warm as its air and half damp, for some hours until now."""
    readings = []
    for back in range(hours + 1):
        then = now - timedelta(hours=back)
        readings += [
            make_reading("panel", "surface_temperature", celsius, then, "probe"),
            make_reading("air", "air_temperature", celsius, then, "probe"),
            make_reading("air", "relative_humidity", 50.0, then, "probe"),
        ]
    bench.store.add_readings(readings)


def measure(bench: Bench, place: str, quantity: Quantity, value: float, hours_ago: float) -> None:
    reading = make_reading(place, quantity, value, NOW - timedelta(hours=hours_ago), "probe")
    bench.store.add_readings([reading])


def seen(bench: Bench, sheet: str, question: str, now: datetime = NOW, **data: Any) -> Check | None:
    answer = gate(ask(bench, sheet, now, Details(**data), zone=BERLIN), SAY)
    return next((verdict for verdict in answer.checks if verdict.question == question), None)


def must(bench: Bench, sheet: str, question: str, now: datetime = NOW, **data: Any) -> Check:
    verdict = seen(bench, sheet, question, now, **data)
    assert verdict is not None
    return verdict


@pytest.mark.parametrize(
    ("expiry", "verdict"),
    [("2026-11-13", "stop"), ("2026-11-14", "caution"), ("2026-11-15", "go")],
)
def test_a_batch_past_its_expiry_stops(bench: Bench, expiry: str, verdict: str) -> None:
    cans.add(
        bench.store, "mine", CanDetails(batch="A-14", expiry=date.fromisoformat(expiry)), now=NOW
    )
    requirement = must(bench, "mine", "batch")
    assert (requirement.verdict, requirement.source) == (verdict, "the can")
    assert "A-14" in requirement.words
    assert verdict == "go" or requirement.change


def test_it_expires_when_the_day_on_the_wall_is_over(bench: Bench) -> None:
    cans.add(bench.store, "mine", CanDetails(expiry=date(2026, 11, 14)), now=NOW)
    # 23:59 and 00:01 in Berlin, an hour before that in UTC
    late, past = (datetime(2026, 11, 14, hour, 59, tzinfo=UTC) for hour in (22, 23))
    assert must(bench, "mine", "batch", late).verdict == "caution"
    assert must(bench, "mine", "batch", past).verdict == "stop"


@pytest.mark.parametrize(
    ("dates", "verdict", "source"),
    [
        ({"bought": date(2025, 11, 13)}, "stop", "shelf life"),
        ({"bought": date(2025, 11, 15)}, "go", "shelf life"),
        ({"opened": date(2026, 9, 13)}, "stop", "once opened"),
        ({"opened": date(2026, 9, 15)}, "go", "once opened"),
        # printed is believed before the shelf life, the life once opened still counts
        ({"bought": date(2020, 1, 1), "expiry": date(2027, 1, 1)}, "go", "the can"),
        ({"opened": date(2026, 1, 1), "expiry": date(2027, 1, 1)}, "stop", "once opened"),
    ],
)
def test_shelf_life_and_life_once_opened(
    bench: Bench, dates: dict[str, date], verdict: str, source: str
) -> None:
    cans.add(bench.store, "mine", CanDetails(**dates), now=NOW)  # type: ignore[arg-type]
    requirement = must(bench, "mine", "batch")
    assert (requirement.verdict, source in requirement.source) == (verdict, True)


def test_the_batch_that_is_told_chooses_the_can(bench: Bench) -> None:
    for batch, expiry in (("old", date(2026, 1, 1)), ("new", date(2027, 1, 1))):
        cans.add(bench.store, "mine", CanDetails(batch=batch, expiry=expiry), now=NOW)
    assert must(bench, "mine", "batch", batch="old").verdict == "stop"
    assert must(bench, "mine", "batch", batch="NEW").verdict == "go"
    assert seen(bench, "mine", "batch", batch="unheard") is None
    assert must(bench, "mine", "batch", batch="unheard", expiry="2026-10").verdict == "stop"


@pytest.mark.parametrize(
    ("text", "day"),
    [
        ("2026-11", date(2026, 11, 30)),
        ("2028-02", date(2028, 2, 29)),
        ("2026-11-02", date(2026, 11, 2)),
        ("see lid", None),
        ("", None),
    ],
)
def test_an_expiry_as_printed(text: str, day: date | None) -> None:
    assert last_day(text) == day


@given(st.integers(0, 800), st.integers(0, 800))
def test_an_older_can_never_helps(days: int, more: int) -> None:
    def strictness(age: int) -> int:
        proposal = replace(
            proposed(), expiry="2026-12-01", today=date(2026, 1, 1) + timedelta(days=age)
        )
        return ORDER.index(check(proposal, "batch").verdict)

    assert strictness(days + more) <= strictness(days)


@pytest.mark.parametrize(
    ("celsius", "says"), [(2.0, "room temperature"), (36.0, "thickening"), (18.0, "")]
)
def test_a_can_that_stood_too_cold_or_hot(bench: Bench, celsius: float, says: str) -> None:
    cans.add(bench.store, "mine", CanDetails(stored="shelf"), now=NOW - timedelta(hours=9))
    measure(bench, "shelf", "air_temperature", celsius, 2)
    verdict = must(bench, "mine", "stored")
    assert (verdict.verdict, says in verdict.change) == ("caution" if says else "go", True)


def test_the_product_is_as_warm_as_the_place_of_its_can(bench: Bench) -> None:
    cans.add(bench.store, "mine", CanDetails(stored="cupboard"), now=NOW - timedelta(hours=9))
    measure(bench, "shelf", "air_temperature", 4.0, 0.5)
    measure(bench, "cupboard", "air_temperature", 19.0, 0.5)
    assert must(bench, "mine", "product").figure == 19
    assert must(bench, ADHESIVE, "product").figure == 4


def sheet_with(limit: str) -> str:
    return SHEETS[PRIMER].text.replace("[limits]", f'[limits]\nbare_max = "{limit}"')


@pytest.mark.parametrize(("hours", "verdict"), [(2, "go"), (3.5, "caution"), (4.5, "stop")])
def test_bare_metal_against_the_sheets_limit(bench: Bench, hours: float, verdict: str) -> None:
    add_sheet(bench.store, "mine", sheet_with("4 h"), NOW)
    parts.bared(bench.store, "rib", "rear", now=NOW, since=at(-hours))
    requirement = must(bench, "mine", "metal", part="rib", job="rear")
    assert (requirement.verdict, requirement.limit) == (verdict, 240)
    assert seen(bench, "mine", "metal", part="door", job="rear") is None


def test_damp_makes_bare_metal_older(bench: Bench) -> None:
    add_sheet(bench.store, "mine", sheet_with("4 h"), NOW)
    parts.bared(bench.store, "rib", "", now=NOW, since=at(-3))
    for hour in range(6):
        measure(bench, "air", "relative_humidity", 90.0, hour + 0.02)
    verdict = must(bench, "mine", "metal", part="rib")
    assert verdict.verdict == "stop"
    assert "damp air" in verdict.words


def test_the_users_own_limit_and_the_stricter_of_two(bench: Bench) -> None:
    parts.bared(bench.store, "rib", "", now=NOW, since=at(-3))
    assert must(bench, PRIMER, "metal", part="rib").verdict == "go"
    set_bare_limit(bench, 120, now=NOW)
    assert must(bench, PRIMER, "metal", part="rib").verdict == "stop"
    add_sheet(bench.store, "mine", sheet_with("24 h"), NOW)
    verdict = must(bench, "mine", "metal", part="rib")
    assert (verdict.limit, "your own limit" in verdict.source) == (120, True)


@given(st.floats(0, 200), st.floats(0, 100), st.floats(30, 3000))
def test_longer_bare_never_helps(hours: float, more: float, limit: float) -> None:
    def strictness(counted: float) -> int:
        part = Part("rib", "", bare_since=NOW, bare_hours=counted, damp_known=True)
        proposal = replace(proposed(), metal=part, bare_limit_min=limit)
        return ORDER.index(check(proposal, "metal").verdict)

    assert strictness(hours + more) <= strictness(hours)


@pytest.mark.parametrize(
    ("slope", "says", "verdict"),
    [
        (None, "above the dew point", "go"),
        (-2.0, "falling 2.0 °C an hour", "go"),
        (-5.0, "within two hours", "caution"),
        (0.1, "steady over the last hour", "go"),
        (1.5, "rising 1.5 °C an hour", "go"),
    ],
)
def test_the_spread_falling_or_rising(slope: float | None, says: str, verdict: str) -> None:
    plain = proposed(surface_c=20.0, humidity_pct=50.0)
    checked = check(replace(plain, here=replace(plain.here, spread_per_h=slope)), "dew")
    assert (checked.verdict, says in checked.words) == (verdict, True)


@given(st.floats(20, 95), st.floats(-6, 6), st.floats(0, 6))
def test_a_spread_that_falls_faster_never_helps(pct: float, slope: float, faster: float) -> None:
    def strictness(per_h: float) -> int:
        plain = proposed(surface_c=15.0, humidity_pct=pct)
        proposal = replace(plain, here=replace(plain.here, spread_per_h=per_h))
        return ORDER.index(check(proposal, "dew").verdict)

    assert strictness(slope - faster) <= strictness(slope)


def test_the_trend_is_measured(empty: Bench) -> None:
    climate(empty, 20.0, at(-1))
    measure(empty, "air", "air_temperature", 20.0, 0)
    measure(empty, "air", "relative_humidity", 50.0, 0)
    measure(empty, "panel", "surface_temperature", 17.0, 0)
    # by hand: the air stays as it is, so the spread falls with the panel
    here = ask(empty, ADHESIVE, NOW, Details()).here
    assert here.spread_per_h == pytest.approx(-3.0, abs=0.05)
    assert "falling" in must(empty, ADHESIVE, "dew").words
    later = ask(empty, ADHESIVE, at(3), Details()).here
    assert later.spread_per_h is None, "nothing was measured in the last half hour"


@pytest.mark.parametrize(
    ("under", "over", "hours", "says"),
    [
        (
            FILLER,
            PRIMER,
            {"sand_ready": (-2, "reached"), "recoat_opens": (2, None)},
            "not cured long enough",
        ),
        (FILLER, FILLER, {"sand_ready": (-2, "reached"), "recoat_opens": (2, None)}, "reached"),
        (ADHESIVE, FILLER, {"clamp_time": (-2, "reached"), "sand_ready": (2, None)}, "not reached"),
        (ADHESIVE, ADHESIVE, {"clamp_time": (-2, "reached"), "sand_ready": (2, None)}, "reached"),
        (
            PRIMER,
            FILLER,
            {"recoat_opens": (1, None), "recoat_closes": (60, None)},
            "solvent is still evaporating",
        ),
    ],
)
def test_what_must_be_reached_depends_on_both_kinds(
    under: str, over: str, hours: dict[str, tuple[float, str | None]], says: str
) -> None:
    below = lying(SHEETS[under], **hours)  # type: ignore[arg-type]
    verdict = check(proposed(SHEETS[over], under=below), "underneath")
    assert says in verdict.words


def starts(sheet: Sheet, surface_c: float, per_hour_c: float) -> Proposal:
    return proposed(sheet, surface_c=surface_c, per_hour_c=per_hour_c)


def test_the_last_moment_to_start_is_named_while_there_is_one() -> None:
    # 20 C falling half a degree an hour is under 10 C after 20 h; the clamps come off in about 5 h
    verdict = check(starts(SHEETS[ADHESIVE], 20.0, -0.5), "panel ahead")
    assert verdict.verdict == "go"
    assert "it falls below that tomorrow" in verdict.words
    assert verdict.before is not None
    assert "9 in 10" in verdict.words


def test_started_at_the_last_moment_it_is_just_in_time() -> None:
    proposal = starts(SHEETS[FILLER], 14.0, -1.0)
    matters = proposal.matters
    assert matters is not None
    crossing = NOW + timedelta(minutes=245)  # 14 C falling 1 C an hour is under 10 C after 4 h 5
    latest = latest_start(proposal, crossing, matters)
    assert latest is not None
    assert NOW < latest < NOW + timedelta(hours=4)
    cold_soon = starts(SHEETS[FILLER], 10.2, -1.0)
    soon = NOW + timedelta(minutes=15)
    assert latest_start(cold_soon, soon, matters) is None, "a mix now would come too late"


def window(bench: Bench, mixed: datetime) -> tuple[datetime, Check, Check]:
    """When a window shuts, and what is said five minutes before and after that."""
    climate(bench, 20.0, mixed + timedelta(hours=26), 76)
    with freeze_time(mixed):
        number = bench.start(URETHANE, now=mixed, details=Details(part="roof"))
    bench.test(number, "reached", now=mixed + timedelta(hours=9), milestone="recoat_opens")
    near = mixed + timedelta(hours=18)
    shuts = bench.step_view(number, near).milestones
    shut = next(milestone.shown for milestone in shuts if milestone.name == "recoat_closes")
    assert shut is not None
    around = (shut - timedelta(minutes=5), shut + timedelta(minutes=5))
    before, after = (must(bench, URETHANE, "underneath", then, part="roof") for then in around)
    return shut, before, after


@pytest.mark.parametrize(("month", "day"), [(3, 28), (10, 24)])
def test_a_window_over_a_clock_change_shuts_by_hours_and_is_told_by_the_wall(
    empty: Bench, tmp_path: Path, month: int, day: int
) -> None:
    mixed = datetime(2026, month, day, 20, 0, tzinfo=UTC)
    shut, before, after = window(empty, mixed)
    store = Store(tmp_path / "plain.sqlite")
    plain, _, _ = window(Bench(store), mixed + timedelta(days=7))
    assert shut - mixed == pytest.approx(
        plain - mixed - timedelta(days=7), abs=timedelta(minutes=1)
    )
    assert (before.verdict, after.verdict) == ("go", "caution")
    near = (shut.astimezone(BERLIN) + timedelta(minutes=each) for each in (-1, 0, 1))
    assert any(f"{moment:%H:%M}" in before.words for moment in near)
    assert "scuff" in after.change


def test_what_else_can_be_done_tonight_is_tried_not_guessed(empty: Bench) -> None:
    bench = empty
    climate(bench, 7.0, hours=72)
    mild = SHEETS[ADHESIVE].text.replace('["10 C", "35 C"]', '["2 C", "35 C"]')
    add_sheet(bench.store, "winter-adhesive", mild.replace("(generic)", "for winter"), NOW)
    for back in range(7):
        measure(bench, "tent", "surface_temperature", 20.0, back)
    details = Details(part="roof seam", job="rear", place="tent")
    bench.start(PRIMER, now=NOW, mixed_at=at(-5), details=details)
    panel = must(bench, FILLER, "panel", job="rear")
    assert panel.verdict == "stop"
    assert "for winter (clamps off" in panel.change
    assert "generic" not in panel.change.split("these would go")[1]
    assert "in this job tonight: test recoat opens on roof seam" in panel.change


def test_the_evenings_own_end_counts_where_none_is_told(bench: Bench) -> None:
    from curewatch.garage.evening import set_stop

    set_stop(bench.store, at(2), now=NOW, zone=BERLIN)
    assert must(bench, ADHESIVE, "time").verdict in ("caution", "stop")


def test_the_gate_tells_all_of_it_to_a_script(run: Run) -> None:
    run("reading", "add", "--surface", "20 C", "--air", "20 C", "--humidity", "50 %")
    assert run("check", PRIMER, "--part", "rib", "--bare-limit", "4 h", "--json")[0] == 0
    assert run("check", PRIMER, "--bare-limit", "0 h")[0] == 2


@pytest.mark.parametrize(
    ("instant", "verdict"),
    [
        ("2026-11-14T22:30:00Z", "caution"),
        ("2026-11-14T23:05:00Z", "stop"),
        # the day the clock goes back has 25 hours: 23:30 is still the 25th
        ("2026-10-25T22:30:00Z", "go"),
    ],
)
def test_the_command_reads_the_day_off_the_wall(
    run: Run, tmp_path: Path, instant: str, verdict: str
) -> None:
    (tmp_path / "data").mkdir()
    (tmp_path / "data" / "curewatch.toml").write_text('zone = "Europe/Berlin"\n')
    with freeze_time("2026-10-01T10:00:00Z"):
        assert run("can", "add", ADHESIVE, "--batch", "A-14", "--expiry", "2026-11-14")[0] == 0
    with freeze_time(instant):
        run("reading", "add", "--surface", "20 C", "--air", "20 C", "--humidity", "50 %")
        checks = json.loads(run("check", ADHESIVE, "--batch", "A-14", "--json")[1])["checks"]
    (batch,) = [verdict for verdict in checks if verdict["question"] == "batch"]
    assert batch["verdict"] == verdict


@given(st.floats(12, 25), st.floats(-1.5, -0.2), st.floats(0, 1))
@settings(max_examples=25)
def test_a_night_that_cools_faster_never_leaves_longer_to_start(
    surface_c: float, per_hour_c: float, faster: float
) -> None:
    def before(slope: float) -> datetime:
        verdict = check(starts(SHEETS[FILLER], surface_c, slope), "panel ahead")
        return verdict.before or (NOW if verdict.verdict != "go" else NOW + timedelta(days=9))

    slack = timedelta(minutes=10)  # the outlook has a sample every five
    assert before(per_hour_c - faster) <= before(per_hour_c) + slack
