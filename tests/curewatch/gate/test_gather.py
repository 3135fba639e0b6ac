"""`curewatch check`: from readings, steps and shelf to the answer in the terminal."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from curewatch.bench.bench import Bench, Details
from curewatch.climate.reading import Quantity, make_reading
from curewatch.errors import ConfigError
from curewatch.gate.gather import ask
from curewatch.store.store import Store
from curewatch.walltime import day_start, last_time, next_time
from tests.conftest import Run

NOW = datetime(2026, 11, 14, 17, 0, tzinfo=UTC)
ADHESIVE, PRIMER = "epoxy-panel-adhesive", "epoxy-primer"
BERLIN = ZoneInfo("Europe/Berlin")


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    store = Store(tmp_path / "curewatch.sqlite")
    return Bench(store)


def measure(bench: Bench, place: str, quantity: Quantity, value: float, hours_ago: float) -> None:
    at = NOW - timedelta(hours=hours_ago)
    bench.store.add_readings([make_reading(place, quantity, value, at, "probe")])


def test_the_panel_is_taken_before_the_air(bench: Bench) -> None:
    measure(bench, "panel", "surface_temperature", 12.0, 0.1)
    measure(bench, "air", "air_temperature", 15.0, 0.1)
    measure(bench, "air", "relative_humidity", 64.0, 0.1)
    here = ask(bench, ADHESIVE, NOW, Details()).here
    assert (here.surface_c, here.air_c, here.humidity_pct) == pytest.approx((12.0, 15.0, 64.0))
    assert not here.from_air
    assert not here.old


def test_air_alone_stands_in_and_is_marked(bench: Bench) -> None:
    measure(bench, "air", "air_temperature", 15.0, 0.1)
    here = ask(bench, ADHESIVE, NOW, Details()).here
    assert here.surface_c == pytest.approx(15.0)
    assert (here.from_air, here.humidity_pct) == (True, None)


def test_nothing_measured_is_nothing_known(bench: Bench) -> None:
    here = ask(bench, ADHESIVE, NOW, Details()).here
    assert (here.surface_c, here.air_c, here.humidity_pct, here.old) == (None, None, None, False)


def test_an_old_panel_is_marked_and_old_humidity_is_not_used(bench: Bench) -> None:
    measure(bench, "panel", "surface_temperature", 12.0, 4)
    measure(bench, "air", "relative_humidity", 64.0, 4)
    here = ask(bench, ADHESIVE, NOW, Details()).here
    assert here.old
    assert here.age_min == pytest.approx(240)
    assert here.humidity_pct is None


def test_a_place_of_its_own_is_followed(bench: Bench) -> None:
    measure(bench, "panel", "surface_temperature", 9.0, 0.1)
    measure(bench, "tent", "surface_temperature", 22.0, 0.1)
    assert ask(bench, ADHESIVE, NOW, Details(place="tent")).here.surface_c == pytest.approx(22)


def test_a_sensor_on_the_shelf_tells_how_the_product_is_stored(bench: Bench) -> None:
    measure(bench, "shelf", "air_temperature", 5.0, 0.5)
    assert ask(bench, ADHESIVE, NOW, Details()).product_c == pytest.approx(5)
    assert ask(bench, ADHESIVE, NOW, Details(product_c=18.0)).product_c == 18
    later = ask(bench, ADHESIVE, NOW + timedelta(hours=4), Details())
    assert later.product_c is None


def test_the_last_step_on_the_same_part_lies_underneath(bench: Bench) -> None:
    bench.start(PRIMER, now=NOW - timedelta(hours=9), details=Details(part="Skin", job="rear"))
    last = bench.start(PRIMER, now=NOW - timedelta(hours=2), details=Details(part="skin"))
    bench.start(PRIMER, now=NOW - timedelta(hours=1), details=Details(part="door"))
    under = ask(bench, ADHESIVE, NOW, Details(part="skin")).under
    assert under is not None
    assert under.id == last
    named = ask(bench, ADHESIVE, NOW, Details(part="skin", job="rear")).under
    assert named is not None
    assert named.id == 1
    assert ask(bench, ADHESIVE, NOW, Details()).under is None
    assert ask(bench, ADHESIVE, NOW, Details(part="roof")).under is None


def test_asking_starts_nothing(bench: Bench) -> None:
    ask(bench, ADHESIVE, NOW, Details(part="skin", amount_g=60.0))
    assert bench.store.steps() == []


@pytest.mark.parametrize(
    ("text", "now", "at"),
    [
        ("22:00", NOW, datetime(2026, 11, 14, 21, 0, tzinfo=UTC)),
        ("17:30", NOW, datetime(2026, 11, 15, 16, 30, tzinfo=UTC)),
        # the night the clock goes back in Berlin: 22:00 is again winter time
        (
            "22:00",
            datetime(2026, 10, 24, 21, 0, tzinfo=UTC),
            datetime(2026, 10, 25, 21, 0, tzinfo=UTC),
        ),
        # that night 02:30 is shown twice: once in summer time, then again
        (
            "02:30",
            datetime(2026, 10, 25, 0, 45, tzinfo=UTC),
            datetime(2026, 10, 25, 1, 30, tzinfo=UTC),
        ),
        # the night it goes forward 02:30 is not shown: an hour later stands for it
        (
            "02:30",
            datetime(2027, 3, 28, 0, 15, tzinfo=UTC),
            datetime(2027, 3, 28, 1, 30, tzinfo=UTC),
        ),
        ("2026-11-15T08:00:00+01:00", NOW, datetime(2026, 11, 15, 7, 0, tzinfo=UTC)),
    ],
)
def test_the_users_own_end_is_a_wall_clock_time(text: str, now: datetime, at: datetime) -> None:
    assert next_time(text, now, BERLIN) == at


def test_cleaned_at_half_past_two_is_the_later_one_where_the_clock_showed_it_twice() -> None:
    morning = datetime(2026, 10, 25, 6, 0, tzinfo=UTC)
    assert last_time("02:30", morning, BERLIN) == datetime(2026, 10, 25, 1, 30, tzinfo=UTC)
    assert last_time("01:30", morning, BERLIN) == datetime(2026, 10, 24, 23, 30, tzinfo=UTC)


def test_a_day_begins_at_the_wall_s_midnight_also_where_it_has_twenty_five_hours() -> None:
    sunday = date(2026, 10, 25)
    assert day_start(sunday, BERLIN) == datetime(2026, 10, 24, 22, 0, tzinfo=UTC)
    assert day_start(sunday, BERLIN, 1) == datetime(2026, 10, 25, 23, 0, tzinfo=UTC)


@pytest.mark.parametrize("text", ["ten", "25:00", "2026-11-15T08:00:00x", "22:00+01:00", ""])
def test_an_end_that_is_no_time_is_refused(text: str) -> None:
    with pytest.raises(ConfigError, match="write it like '22:00'"):
        next_time(text, NOW, BERLIN)


def test_a_cold_panel_from_the_terminal(run: Run) -> None:
    run("reading", "add", "--surface", "8 C", "--air", "9 C", "--humidity", "70 %")
    code, out, _ = run("check", ADHESIVE, "--amount", "60 g", "--until", "22:00", "--json")
    data = json.loads(out)
    assert (code, data["verdict"]) == (20, "stop")
    panel = next(verdict for verdict in data["checks"] if verdict["question"] == "panel")
    assert (panel["figure"], panel["limit"], panel["unit"]) == (8, 10, "C")
    assert panel["source"]
    assert "keep the panel" in panel["change"]
    assert {verdict["question"] for verdict in data["checks"]} >= {
        "dew",
        "humidity",
        "time",
        "amount",
    }
    _, plain, _ = run("check", ADHESIVE, "--amount", "60 g")
    assert plain.startswith("STOP")
    for words in ("what would help", "source: the label", "not entered"):
        assert words in plain


def test_temperatures_are_said_in_the_readers_unit(run: Run, tmp_path: Path) -> None:
    (tmp_path / "data").mkdir()
    (tmp_path / "data" / "curewatch.toml").write_text('temperature_unit = "F"\n')
    run("reading", "add", "--surface", "46.4 F", "--air", "48 F", "--humidity", "70 %")
    _, plain, _ = run("check", ADHESIVE)
    assert "the panel is at 46.4 °F, below the label's 50 °F" in plain


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("no-such-sheet",), "there is no product"),
        ((ADHESIVE, "--amount", "60"), "has no unit"),
        ((ADHESIVE, "--until", "late"), "not a time of day"),
        ((ADHESIVE, "--need", "soon"), "not a duration"),
    ],
)
def test_a_question_that_cannot_be_asked(run: Run, words: tuple[str, ...], says: str) -> None:
    code, out, err = run("check", *words)
    assert (code, out, err.count("\n")) == (2, "", 1)
    assert says in err
