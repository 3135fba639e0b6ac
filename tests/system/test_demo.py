"""The demo is a believable garage, and it ends without leaving anything behind."""

from __future__ import annotations

import json
import re
import signal
import socket
import statistics
import subprocess
import sys
import urllib.request
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path

import psutil
import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.bench.bench import Bench
from curewatch.climate.reading import make_reading
from curewatch.errors import ConfigError
from curewatch.garage.step import fold
from curewatch.logbook import photographs
from curewatch.logbook.undo import last_acts
from curewatch.notice_words import sentences
from curewatch.products.sheet import generic_sheets
from curewatch.settings.settings import ClockSettings, parse_settings
from curewatch.store.store import Store
from demo.garage import fresh_folder, main, settings_text
from demo.invented import HARDENING, PAST, ZONE
from demo.seed import SHOWN, dab, seed, true_age_min
from demo.weather import GARAGE, OUTDOORS, PANEL, Wave, hours_at, readings_at
from tests.support.brokers import free_port, until

TOP = Path(__file__).resolve().parents[2]
WEEK = [hours_at(SHOWN - timedelta(minutes=10 * back)) for back in range(7 * 144)]


@given(st.floats(0, 20), st.floats(1, 200), st.floats(-50, 50), st.floats(0.01, 12))
def test_a_lagged_wave_obeys_the_first_order_lag(
    amplitude: float, period_h: float, peak_h: float, tau_h: float
) -> None:
    wave = Wave(amplitude, period_h, peak_h)
    behind = wave.lagged(tau_h)
    step = period_h * 1e-5
    rise = (behind.at(3 + step) - behind.at(3 - step)) / (2 * step)
    assert tau_h * rise == pytest.approx(wave.at(3) - behind.at(3), abs=1e-4 * (1 + amplitude))


def test_each_thing_swings_less_and_later_than_what_it_follows() -> None:
    swings = [
        statistics.pstdev(map(weather_series.at, WEEK))
        for weather_series in (OUTDOORS, GARAGE, PANEL)
    ]
    assert swings == sorted(swings, reverse=True)
    days = [weather_series.waves[0].peak_h for weather_series in (OUTDOORS, GARAGE, PANEL)]
    assert days == sorted(days)
    assert days[2] - days[1] > 0.5


def test_every_reading_of_a_fortnight_is_one_that_a_sensor_could_send() -> None:
    for back in range(0, 15 * 24):
        for reading in readings_at(SHOWN - timedelta(hours=back)):
            assert (
                make_reading(reading.place, reading.quantity, reading.value, reading.at).value
                == reading.value
            )


def panel_at(hours_later: float) -> float:
    return PANEL.at(hours_at(SHOWN + timedelta(hours=hours_later)))


def test_the_evening_is_cool_and_the_night_stalls_the_primer() -> None:
    minimum = generic_sheets()["epoxy-primer"].limits.temperature_c
    assert minimum is not None
    assert 14 < panel_at(0) < 17
    assert panel_at(12) < minimum[0]


def test_the_dab_goes_through_its_states_in_order() -> None:
    sheet = generic_sheets()["epoxy-panel-adhesive"]
    seen = [dab(sheet, age_min, 1.1) for age_min in range(0, 700, 5)]
    assert list(dict.fromkeys(seen)) == [
        "workable",
        "stringy",
        "tacky",
        "fingernail",
        "hard",
        "sands",
    ]


def test_the_invented_truth_runs_slower_than_the_label_in_the_cold() -> None:
    sheet = generic_sheets()["epoxy-panel-adhesive"]
    assert 0.3 * 240 < true_age_min(sheet, SHOWN, 240) < 0.85 * 240


@pytest.fixture(scope="module")
def seeded(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    store = Store(tmp_path_factory.mktemp("demo") / "demo.sqlite")
    seed(store)
    yield store
    store.close()


def test_the_bench_opens_on_an_adhesive_a_filler_and_a_primer(seeded: Store) -> None:
    view = Bench(seeded).view(SHOWN)
    assert sorted((step.part, step.sheet.kind) for step in view.steps) == [
        ("left rear rib", "filler"),
        ("lower corner patch", "adhesive"),
        ("roof seam", "primer"),
    ]
    assert view.due
    assert not any(due.milestone.due for due in view.due)
    assert {tile.place for tile in view.air} == {"panel", "air", "outdoors"}
    assert not any(tile.old for tile in view.air)


def test_earlier_batches_have_taught_how_slow_this_adhesive_is(seeded: Store) -> None:
    view = Bench(seeded).view(SHOWN)
    (adhesive,) = (step for step in view.steps if step.sheet.kind == "adhesive")
    learned = re.search(r"your last 3 batches: x([\d.]+)", sentences(adhesive.forecast.reason))
    assert learned is not None
    assert 1.05 < float(learned[1]) < 1.25


def test_what_was_entered_last_stands_in_the_order_in_which_it_was_entered(seeded: Store) -> None:
    acts = list(last_acts(seeded))
    times = [act.recorded_at for act in acts if act.entries[:1] != acts[-1].entries[:1]]
    assert times == sorted(times, reverse=True)
    assert len(times) > 40


def test_the_logbook_holds_what_was_seen_and_what_failed(seeded: Store) -> None:
    rows = seeded.steps()
    steps = [fold(events) for events in seeded.events(row.id for row in rows).values()]
    assert len(steps) == len(PAST) + len(HARDENING)
    assert sum(len(step.witnesses) for step in steps) >= 10
    assert [step.sheet.id for step in steps if step.state == "abandoned"] == [
        "quick-methacrylate-adhesive"
    ]
    assert all(step.acknowledged for step in steps)


def test_two_steps_show_a_picture_that_says_it_is_drawn(seeded: Store) -> None:
    rows = seeded.steps()
    steps = [fold(events) for events in seeded.events(row.id for row in rows).values()]
    taken = [happening for step in steps for happening in photographs.shown(step)]
    assert [happening.body["words"].partition(":")[0] for happening in taken] == [
        "drawn, not photographed"
    ] * 2
    assert all(photographs.printable(seeded.path, happening.body["name"]) for happening in taken)


def test_the_demo_s_settings_are_settings() -> None:
    clock = ClockSettings(60.0, SHOWN, SHOWN)
    settings = parse_settings(settings_text(clock, 8123, 1999), Path())
    assert (settings.zone, settings.port, settings.mqtt.port) == (ZONE, 8123, 1999)
    assert settings.clock == clock


def start_demo(data: Path, port: int) -> subprocess.Popen[str]:
    """The demo as a process of its own, once it has said where the bench is."""
    words = ["--speed", "60", "--port", str(port), "--mqtt-port", str(free_port())]
    start = f"from demo.garage import main, Path; main({words!r}, Path({str(data)!r}))"
    demo = subprocess.Popen(
        [sys.executable, "-c", start], cwd=TOP, stdout=subprocess.PIPE, text=True
    )
    assert demo.stdout is not None
    lines = iter(demo.stdout.readline, "")
    assert any(f"The bench is at http://127.0.0.1:{port}/" in line for line in lines)
    return demo


def family_of(demo: subprocess.Popen[str]) -> list[psutil.Process]:
    """The app and its broker."""
    processes = psutil.Process(demo.pid).children(recursive=True)
    assert len(processes) >= 2
    return processes


def test_the_demo_publishes_over_mqtt_and_ends_with_all_its_processes(tmp_path: Path) -> None:
    port, data = free_port(), tmp_path / "data"
    with start_demo(data, port) as demo:
        family = family_of(demo)
        until(lambda: heard_live(data), 30)
        with urllib.request.urlopen(f"http://127.0.0.1:{port}/", timeout=30) as page:
            assert "lower corner patch" in page.read().decode()
        demo.send_signal(signal.SIGTERM)
        assert demo.wait(30) == 0
    assert not [process for process in family if process.is_running()]


def test_a_killed_demo_takes_its_app_and_broker_along(tmp_path: Path) -> None:
    with start_demo(tmp_path / "data", free_port()) as demo:
        family = family_of(demo)
        demo.kill()
        until(lambda: not [process for process in family if process.is_running()], 60)


def test_a_port_already_taken_is_named_with_the_option_that_helps(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        with pytest.raises(SystemExit):
            main(["--port", str(port), "--mqtt-port", str(free_port())], tmp_path / "data")
    text = capsys.readouterr().err
    assert f"port {port} cannot be used" in text
    assert "choose another with --port." in text
    assert not (tmp_path / "data").exists()


def test_a_second_demo_leaves_the_first_one_s_data_alone(tmp_path: Path) -> None:
    with fresh_folder(tmp_path):
        (tmp_path / "kept").touch()
        with pytest.raises(ConfigError, match="a demo is running already; end it with Ctrl-C"):
            fresh_folder(tmp_path)
    assert (tmp_path / "kept").exists()


def heard_live(data: Path) -> bool:
    """Whether all five readings came in over MQTT, by what `curewatch sensor list` says."""
    command = [str(Path(sys.executable).with_name("curewatch")), "sensor", "list", "--json"]
    completed = subprocess.run([*command, "--data", str(data)], capture_output=True, check=True)
    heard = json.loads(completed.stdout)["heard"]
    return all(datetime.fromisoformat(each["at"]) > SHOWN for each in heard)
