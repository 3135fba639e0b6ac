"""What is said when a sensor falls silent or lies, and to whom it matters."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from flask.testing import FlaskClient

from curewatch.bench.alarms import alarms
from curewatch.bench.reader import BenchReader
from curewatch.bench.views import BenchView
from curewatch.climate.flag import Flag
from curewatch.climate.reading import QUANTITIES, PlaceSettings, Quantity, Reading, make_reading
from curewatch.climate.series import indexed
from curewatch.durations import ago
from curewatch.handover.handover import document
from curewatch.handover.html import to_html
from curewatch.logbook import logbook
from curewatch.quality.availability import LastReadings, leans_on, splits, uncertainty
from curewatch.quality.intake import Intake
from curewatch.store.store import Store
from curewatch.walltime import local_zone
from curewatch.wording.terminal import Terminal
from curewatch.wording.words import ReaderFormat
from dashboard.endpoints import alarms as sounds
from tests.conftest import Run
from tests.support.dash_pages import sent, touched
from tests.support.pages import EVENING, SETTINGS, Garage, open_garage

SURFACE, AIR, DAMP = QUANTITIES
USUAL = PlaceSettings()
ZONE = local_zone(SETTINGS.zone)
MANNER = ReaderFormat(ZONE)


@pytest.fixture
def garage(tmp_path: Path) -> Iterator[Garage]:
    garage = open_garage(tmp_path)
    yield garage
    garage.store.close()


def at(minute: float) -> datetime:
    return EVENING + timedelta(minutes=minute)


def reading(
    minute: float,
    value: float,
    quantity: Quantity = SURFACE,
    place: str = "panel",
    source: str = "",
) -> Reading:
    return Reading(place, quantity, value, at(minute), source or f"{place} {quantity}")


def air(minute: float) -> list[Reading]:
    """The garage's air as its sensors tell it, warming all the while."""
    warm = 14 + (minute + 300) / 60
    return [reading(minute, warm, AIR, "air"), reading(minute, 60 + warm % 2, DAMP, "air")]


def hear(garage: Garage, until: float, panel_until: float | None = None) -> None:
    """Five hours of sensors, of which the panel's ends earlier."""
    intake = Intake(garage.store)
    for minute in range(-300, round(until) + 1, 5):
        panel = minute <= (until if panel_until is None else panel_until)
        follows = [reading(minute, 13 + (minute + 300) / 60)] if panel else []
        intake.take([*air(minute), *follows])


def view(garage: Garage, minute: float) -> BenchView:
    garage.clock.at = at(minute)
    return garage.bench.view(garage.clock())


def kinds(view: BenchView) -> list[str]:
    return [alarm.kind for alarm in alarms(view)]


def test_a_silent_sensor_is_said_within_its_own_limit_and_not_before(tmp_path: Path) -> None:
    garage = open_garage(tmp_path)
    garage.bench.reader.places["panel"] = PlaceSettings(old_after_min=10)
    garage.mix("epoxy-panel-adhesive", 60)
    hear(garage, 60, panel_until=0)
    assert view(garage, 9.9).lost == ()
    (lost,) = view(garage, 10.4).lost
    assert (lost.place, lost.quantity, lost.since) == ("panel", SURFACE, at(0))
    assert (lost.flag, lost.steps) == (None, (1,))
    garage.store.close()


def test_what_leans_on_a_silent_sensor_says_so_and_it_is_heard(garage: Garage) -> None:
    garage.mix("epoxy-panel-adhesive", 60)
    hear(garage, 60, panel_until=0)
    bench_view = view(garage, 60)
    assert [outage.since for outage in bench_view.steps[0].lost] == [at(0)]
    assert "lost" in kinds(bench_view)
    manner = ReaderFormat(local_zone(SETTINGS.zone))
    (sentence,) = [
        data["say"] for data in sounds.as_data(bench_view, manner) if data["kind"] == "lost"
    ]
    assert sentence == "no usable reading from panel"
    printed = Terminal(manner).bench(bench_view)
    assert "! Panel sensor silent since 19:42." in printed
    assert "    ! Panel sensor silent since 19:42." in printed


def test_a_lost_sensor_that_no_step_leans_on_is_shown_and_not_heard(garage: Garage) -> None:
    Intake(garage.store).take(
        [reading(-60, 5.0, AIR, "outdoors"), reading(-60, 9.0, SURFACE, "shelf")]
    )
    hear(garage, 60)
    assert "lost" not in kinds(view(garage, 60))
    garage.mix("epoxy-panel-adhesive", 60)
    bench_view = view(garage, 61)
    assert {outage.place for outage in bench_view.lost} == {"outdoors", "shelf"}
    assert "lost" not in kinds(bench_view)


def test_a_step_leans_on_the_metal_else_on_the_air(garage: Garage) -> None:
    everything = {("panel", SURFACE), ("air", AIR), ("air", DAMP)}
    assert list(leans_on("panel", everything)) == [("panel", SURFACE), ("air", DAMP)]
    assert list(leans_on("tailgate", everything)) == [("air", AIR), ("air", DAMP)]
    assert list(leans_on("panel", set())) == []


def test_a_sensor_that_lies_is_said_with_its_reason_and_since_when(garage: Garage) -> None:
    garage.mix("epoxy-panel-adhesive", 200)
    hear(garage, -200)
    intake = Intake(garage.store)
    for minute in range(-195, 181, 5):
        intake.take([*air(minute + 0.5), reading(minute, 14.2)])
    bench_view = view(garage, 180)
    (lost,) = [outage for outage in bench_view.lost if outage.quantity == SURFACE]
    assert lost.flag == Flag("stuck", since=at(-195), value=14.2)
    (tile,) = [tile for tile in bench_view.air if (tile.place, tile.quantity) == ("panel", SURFACE)]
    assert tile.flag == lost.flag
    assert tile.value == 14.2
    assert tile.old
    assert [outage.flag for outage in bench_view.steps[0].lost] == [lost.flag]
    assert "lost" in kinds(bench_view)
    used = [
        reading.at
        for reading in garage.bench.reader.readings(at(-300), at(180))
        if reading.place == "panel"
    ]
    assert max(used) <= at(-194)
    assert min(used) <= at(-290)
    page = garage.app.test_client().get("/").text
    assert "Panel sensor flagged: stuck at 14.2 °C since 16:27 while others move." in page
    assert "flagged; used:" in page


def test_the_log_leaves_out_what_a_sensor_gave_before_it_was_known_to_be_stuck(
    garage: Garage,
) -> None:
    number = garage.mix("epoxy-panel-adhesive", 200)
    hear(garage, -205)
    intake = Intake(garage.store)
    for minute in range(-195, 301, 5):
        intake.take([*air(minute + 0.5), reading(minute, 14.2 + min(minute, 0) / 60)])
    entry = logbook.entry(garage.bench, garage.bench.step(number), at(300))
    surface = entry.stretches[-1].spans[SURFACE]
    assert surface.minimum == pytest.approx(14.2 - 195 / 60, abs=0.05)
    # what it gave while it stood still is left out: the warming air stands in from then on
    assert surface.maximum == pytest.approx(14 + 600 / 60, abs=0.2)
    assert surface.source is not None
    assert surface.source.place == "panel"
    (left_out,) = entry.left_out
    assert (left_out.place, left_out.quantity) == ("panel", SURFACE)
    printed = Terminal(MANNER).log([entry], at(300))
    assert (
        "left out: panel surface from yesterday 19:42 to 00:17, "
        "when panel surface_temperature was stuck"
    ) in printed
    sheet = to_html(document(garage.bench, "", at(300), ZONE, MANNER))
    assert "was stuck from" in sheet
    assert "left out of the conditions" in sheet


def test_a_typed_reading_ages_and_is_no_sensor_that_is_lost(garage: Garage) -> None:
    garage.mix("epoxy-panel-adhesive", 60)
    Intake(garage.store).take([reading(-50, 14.0, source="typed")])
    bench_view = view(garage, 0)
    assert bench_view.air[0].old
    assert bench_view.lost == ()
    assert "lost" not in kinds(bench_view)


def test_a_typed_reading_stands_in_for_a_silent_sensor(garage: Garage) -> None:
    garage.mix("epoxy-panel-adhesive", 60)
    hear(garage, 60, panel_until=0)
    Intake(garage.store).take([reading(55, 14.0, source="typed")])
    assert view(garage, 60).lost == ()


def test_a_sensor_that_was_taken_down_long_ago_is_not_missed(garage: Garage) -> None:
    Intake(garage.store).take([reading(-60 * 24 * 9, 12.0)])
    assert view(garage, 0).lost == ()


def test_a_flagged_last_reading_hides_no_usable_one(garage: Garage) -> None:
    hear(garage, 0)
    Intake(garage.store).take([reading(1, 70.0)])
    tiles = {(tile.place, tile.quantity): tile for tile in view(garage, 2).air}
    assert tiles["panel", SURFACE].value == 18.0
    assert not tiles["panel", SURFACE].old
    assert ("panel", "dew_point_spread") in tiles


def pair(folder: Path, half_c: float) -> Garage:
    """A garage in which two sensors at the panel differ. half_c: each from 15 [C]"""
    garage = open_garage(folder)
    garage.mix("epoxy-panel-adhesive", 30)
    intake = Intake(garage.store)
    for minute in range(-60, 1):
        intake.take([reading(minute, 15 - half_c, source="one")])
        intake.take([reading(minute + 0.2, 15 + half_c, source="other")])
    garage.clock.at = at(1)
    return garage


def test_two_that_differ_and_are_equally_unknown_widen_the_band_and_are_said(
    tmp_path: Path,
) -> None:
    agreeing, apart = pair(tmp_path / "agreeing", 0.7), pair(tmp_path / "apart", 2.0)
    ends = LastReadings(apart.store.latest(), apart.store.usable(), lambda name: USUAL)
    (disagreement,) = splits(ends.usable, lambda name: USUAL)
    assert (disagreement.sources, disagreement.gap) == (("one", "other"), 4.0)
    indexed_readings = indexed(apart.store.readings(at(-90), at(90)))
    for minute, error in ((1, 2.0), (90, USUAL.sensor_error_c), (-70, USUAL.sensor_error_c)):
        assert (
            uncertainty(indexed_readings, "panel", SURFACE, at(minute), lambda name: USUAL) == error
        )
    narrow, wide = (
        reader.conditions(
            reader.snapshot(at(-30), at(1)).readings, garage.bench.step(1), at(1)
        ).surface_sd_c
        for garage in (agreeing, apart)
        for reader in [garage.bench.reader]
    )
    assert (wide > 3 * narrow).all()
    text = "Two sensors at panel differ by 4.0 °C: one and other."
    assert text in apart.app.test_client().get("/air/sensors").text
    assert "Two sensors" not in agreeing.app.test_client().get("/air/sensors").text
    agreeing.store.close()
    apart.store.close()


def band(milestone: object) -> float:
    """How wide early to late is beside likely. [-]"""
    early, likely, late = (
        getattr(milestone, f"{name}_min") for name in ("early", "likely", "late")
    )
    return float((late - early) / likely)


@pytest.mark.parametrize(
    ("sheet", "worse"),
    [
        ("epoxy-panel-adhesive", {"panel": PlaceSettings(sensor_error_c=3.0)}),
        ("seam-sealer", {"air": PlaceSettings(humidity_error_pct=20.0)}),
        ("seam-sealer", {"panel": PlaceSettings(sensor_error_c=3.0)}),
    ],
)
def test_a_larger_error_of_a_sensor_widens_early_to_late(
    tmp_path: Path, sheet: str, worse: dict[str, PlaceSettings]
) -> None:
    widths = []
    for places in ({}, worse):
        garage = open_garage(tmp_path / str(len(places)))
        garage.bench.reader.places.update(places)
        garage.mix(sheet, 60)
        hear(garage, 0)
        widths.append(band(garage.bench.step_view(1, at(0)).forecast.milestones[-1]))
        garage.store.close()
    assert widths[1] > 1.03 * widths[0]


def test_a_panel_of_another_name_has_its_own_spread_and_stands_on_the_bench(garage: Garage) -> None:
    hear(garage, 0)
    Intake(garage.store).take([reading(-1, 9.0, place="tailgate")])
    garage.mix("epoxy-panel-adhesive", 5, place="tailgate", part="rear corner")
    tiles = {(tile.place, tile.quantity): tile.value or 0.0 for tile in view(garage, 0).air}
    assert tiles["tailgate", "dew_point_spread"] == pytest.approx(
        tiles["panel", "dew_point_spread"] - (tiles["panel", SURFACE] - 9.0), abs=0.01
    )
    page = garage.app.test_client().get("/").text
    assert "9.0 °C" in page
    assert "above dew point, tailgate" in page


@pytest.fixture
def browser(garage: Garage) -> FlaskClient:
    return garage.app.test_client()


def test_the_air_page_checks_a_sensor_and_shows_what_came_of_it(
    garage: Garage, browser: FlaskClient
) -> None:
    hear(garage, 0)
    key, boxes = '["air air_temperature","temperature"]', {"reference": "18,6", "who": "Ann <b>"}
    did = sent(browser, "sensor check", boxes, key=key)[1]["did"]["data"]
    assert "corrected by −0.4 °C since 14 Oct (checked against 18.6 °C by Ann <b>)" in did["said"]
    assert did["label"] == "Undo"
    Intake(garage.store).take([reading(1, 19.0, AIR, "air")])
    page = browser.get("/air/sensors").text
    assert "18.6 °C" in page
    assert "corrected by −0.4 °C since 14 Oct (checked against 18.6 °C by Ann &lt;b&gt;)" in page
    wrong, _ = sent(browser, "sensor check", boxes | {"reference": "40"}, key=key)
    assert "off by more than 5 C" in wrong[""]
    assert "there is no such sensor" in sent(browser, "sensor check", boxes, key="x")[0][""]


def test_a_check_sent_twice_is_kept_once(garage: Garage, browser: FlaskClient) -> None:
    hear(garage, 0)
    key = '["air air_temperature","temperature"]'
    for _ in range(2):
        sent(browser, "sensor check", {"reference": "18.6"}, key=key, once="7")
    assert len(garage.store.entries("sensor")) == 1


def test_the_salt_page_walks_through_the_check_and_keeps_it(
    garage: Garage, browser: FlaskClient
) -> None:
    assert "No hygrometer was heard yet" in browser.get("/air/salt").text
    hear(garage, 0)
    page = browser.get("/air/salt").text
    assert "wet slurry" in page
    assert "masking tape" in page
    assert "Greenspan" in page
    key, boxes = "air relative_humidity", {"temperature": "20", "read": "71"}
    did = sent(browser, "salt check", boxes, key=key)[1]["did"]["data"]
    assert "corrected by +4.5 % since 14 Oct (in the salt check, at 75.5 %)" in did["said"]
    wrong, _ = sent(browser, "salt check", boxes | {"temperature": "2"}, key=key)
    assert "do it indoors" in wrong[""]


def test_a_move_stands_with_the_sensor_on_the_page(garage: Garage, browser: FlaskClient) -> None:
    intake = Intake(garage.store)
    intake.take([reading(-200, 14.0, source="node")])
    intake.take([reading(-1, 13.0, place="tailgate", source="node")])
    assert "moved from panel to tailgate 19:41" in browser.get("/air/sensors").text


def test_another_topic_is_told_on_the_page(garage: Garage, browser: FlaskClient) -> None:
    garage.hear(
        [reading(-20, 14.0, source="old"), reading(-1, 13.0, place="tailgate", source="new")]
    )
    touched(browser, "sensor moved", '["old","new"]')
    assert "moved from panel to tailgate 19:41" in browser.get("/air/sensors").text
    wrong = touched(browser, "sensor moved", '["old","old"]')["did"]["data"]["said"]
    assert "cannot be one sensor" in wrong


def test_a_sensor_is_checked_by_command_and_shown_beside_it(run: Run, tmp_path: Path) -> None:
    data = tmp_path / "data"
    data.mkdir()
    (data / "curewatch.toml").write_text(
        'zone = "Europe/Berlin"\n[clock]\nspeed = 1\nwall = 2020-01-01T00:00:00Z\n'
        "shown = 2020-01-01T00:00:00Z\n"
    )
    code, out, err = run("sensor", "check", "workshop/node3/state", "--reference", "14.0 C")
    assert code == 2
    assert "there is no reading from a sensor 'workshop/node3/state'; let it send first." in err
    store = Store(data / "curewatch.sqlite")
    now = datetime.now(UTC)
    Intake(store).take([Reading("panel", SURFACE, 14.4, now, "workshop/node3/state")])
    store.close()
    code, out, err = run(
        "sensor", "check", "workshop/node3/state", "--reference", "57.2 F", "--by", "Ann"
    )
    assert (code, err) == (0, "")
    assert "−0.4 °C since" in out
    assert "(checked against 14.0 °C by Ann)" in out
    _, out, _ = run("sensor", "list")
    assert "(checked against 14.0 °C by Ann)" in out
    _, out, _ = run("sensor", "list", "--json")
    assert '"offset": -0.4' in out
    _, out, _ = run("sensor", "salt", "workshop/node3/state")
    assert "1. Put two spoons of table salt" in out


def test_the_desk_asks_the_store_for_its_ends_only_when_something_was_stored(
    garage: Garage, monkeypatch: pytest.MonkeyPatch
) -> None:
    stores: list[Store] = []
    real = Store.usable

    def usable(store: Store, now: datetime | None = None) -> list[Reading]:
        stores.append(store)
        return real(store, now)

    monkeypatch.setattr(Store, "usable", usable)
    hear(garage, 0)
    reader = BenchReader(garage.store)
    for minute in range(5):
        reader.view(at(minute))
    assert len(stores) == 1


def test_a_logger_s_file_goes_through_the_same_door(run: Run, tmp_path: Path) -> None:
    lines = [f"2026-11-03 {8 + n // 6:02d}:{n % 6}0:00,{14 + n / 10}" for n in range(40)]
    lines[20] = lines[20].rpartition(",")[0] + ",59.9"
    file = tmp_path / "logger.csv"
    file.write_text("time,temperature (°C)\n" + "\n".join(lines) + "\n")
    words = ("reading", "import", str(file), "--place", "shelf", "--zone", "Europe/Berlin", "--yes")
    assert run(*words)[0] == 0
    store = Store(tmp_path / "data" / "curewatch.sqlite")
    (reading,) = [reading for reading in store.tail(99) if reading.flag]
    store.close()
    assert (reading.value, reading.flag) == (59.9, Flag("jump", gap=44.0, seconds=600.0))


def test_a_reader_in_fahrenheit_checks_and_reads_differences_in_fahrenheit(tmp_path: Path) -> None:
    garage = open_garage(tmp_path, settings=replace(SETTINGS, temperature_unit="F"))
    hear(garage, 0)
    intake, browser = Intake(garage.store), garage.app.test_client()
    intake.take([reading(1, 70.0)])
    garage.clock.at = at(1)
    key = '["air air_temperature","temperature"]'
    sent(browser, "sensor check", {"reference": "65.5"}, key=key)
    text = browser.get("/air/sensors").text
    assert "corrected by −0.7 °F since 14 Oct (checked against 65.5 °F)" in text
    assert "flagged, not used: jumped by 93.6 °F in 1 min" in text
    garage.store.close()


AHEAD_BY = timedelta(days=30)


def test_a_reading_of_the_future_hides_nothing_and_can_be_set_aside(tmp_path: Path) -> None:
    garage = open_garage(tmp_path)
    probe = "curewatch/panel/surface_temperature"
    for at, value in ((EVENING - timedelta(minutes=2), 14.2), (EVENING + AHEAD_BY, 31.0)):
        garage.store.add_readings([make_reading("panel", "surface_temperature", value, at, probe)])
    browser = garage.app.test_client()
    (tile, *_) = [tile for tile in garage.bench.view(EVENING).air if tile.place == "panel"]
    assert (tile.value, tile.age_min) == (14.2, pytest.approx(2.0))
    assert [ahead.count for ahead in garage.store.ahead(EVENING)] == [1]
    later = EVENING + timedelta(hours=2)
    silent = garage.bench.reader.last_readings(later).lost(later, {})
    assert [(outage.place, outage.since) for outage in silent] == [
        ("panel", EVENING - timedelta(minutes=2))
    ]
    assert "the time is in the future" in browser.get("/air/sensors").text
    touched(browser, "set aside")
    assert "the time is in the future" not in browser.get("/air/sensors").text
    then = EVENING + AHEAD_BY + timedelta(minutes=1)
    assert garage.store.readings(EVENING, then) == []
    assert garage.store.readings(EVENING, then, bucket_s=3600) == []
    garage.store.close()


def test_the_command_names_readings_of_the_future_and_sets_them_aside(
    run: Run, tmp_path: Path
) -> None:
    with closing(Store(tmp_path / "data" / "curewatch.sqlite")) as store:
        at = datetime.now(UTC) + AHEAD_BY
        store.add_readings([make_reading("panel", "surface_temperature", 31.0, at, "probe")])
    assert "1 reading of panel, surface" in run("sensor", "list")[1]
    assert [load["count"] for load in json.loads(run("sensor", "list", "--json")[1])["ahead"]] == [
        1
    ]
    assert run("sensor", "set-aside")[1] == "1 reading is set aside.\n"
    assert run("sensor", "set-aside")[1] == "No reading is in the future.\n"
    assert "in the future" not in run("sensor", "list")[1]


def test_an_age_below_nothing_is_not_called_0_s() -> None:
    assert [ago(value) for value in (-3.0, -0.5, 0.0, 2.0)] == [
        "3 min ahead of this clock", "just now", "0 s ago", "2 min ago",
    ]  # fmt: skip
