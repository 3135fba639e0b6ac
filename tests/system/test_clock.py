"""A computer's clock that goes back: no countdown lengthens, it is said, and the user confirms."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient
from freezegun import freeze_time
from hypothesis import given, settings
from hypothesis import strategies as st
from playwright.sync_api import Browser

from curewatch.bench.bench import Bench, Details
from curewatch.climate.reading import make_reading
from curewatch.quality.clock import KEEP_S, SLACK, SteadyClock, confirm, kept
from curewatch.store import known_time
from curewatch.store.known_time import KnownTime
from curewatch.store.migrations import schema
from curewatch.store.store import Store
from dashboard.app import make_app
from tests.conftest import Run
from tests.support.brokers import free_port
from tests.support.dash_pages import touched
from tests.support.pages import GARAGE, PHONE, SETTINGS, SMALL, served, settled, watched
from tests.system.test_up import Up, told, up, wait_for_page  # noqa: F401

NOON = datetime(2026, 11, 7, 12, tzinfo=UTC)
HOUR, MINUTE, SECOND = timedelta(hours=1), timedelta(minutes=1), timedelta(seconds=1)
HOME = {"Origin": "http://localhost"}
SHEET = "epoxy-panel-adhesive"


@dataclass
class Computer:
    """True time passes; its own clock may be set; what it knows outlives a restart."""

    true: datetime = NOON
    off: timedelta = timedelta()
    known: KnownTime = field(default_factory=lambda: KnownTime(NOON - HOUR, timedelta(), 0))
    clock: SteadyClock = field(init=False)

    def __post_init__(self) -> None:
        self.start()

    def start(self) -> None:
        """A new process: of the steady clock nothing is left."""
        began = self.true

        def steady_s() -> float:
            return (self.true - began).total_seconds()

        self.clock = SteadyClock(self.wall, steady_s, lambda: self.known)

    def wall(self) -> datetime:
        return self.true + self.off

    def keep_time(self, known: KnownTime) -> None:
        """As the store does."""
        self.known = KnownTime(max(known.newest, self.known.newest), known.behind, known.confirmed)

    def keep(self) -> None:
        self.clock.keep(self)  # type: ignore[arg-type]


STEPS = st.one_of(
    st.tuples(st.just("passes"), st.integers(0, 7200)),
    st.tuples(st.just("set"), st.integers(-90_000, 90_000)),
    st.tuples(st.just("set"), st.integers(-59, 0)),
    st.tuples(st.just("restarted"), st.just(0)),
)


@given(st.lists(STEPS, max_size=25))
@settings(max_examples=60)
def test_however_the_clock_is_set_no_countdown_is_longer_than_a_right_clock_would_say(
    steps: list[tuple[str, int]],
) -> None:
    computer, shown = Computer(), NOON
    for what, seconds in [("passes", 0), *steps]:
        if what == "passes":
            computer.true += seconds * SECOND
        elif what == "set":
            computer.off += seconds * SECOND
        else:
            computer.keep()
            computer.start()
        now = computer.clock()
        back = computer.clock.went_back()
        assert now >= computer.true - SLACK
        assert now >= shown - SLACK
        assert (back is not None) == (now - computer.wall() > SLACK)
        shown = max(shown, now)


@given(st.lists(st.integers(-90_000, 90_000), max_size=6), st.integers(0, 100_000))
@settings(max_examples=30)
def test_after_a_power_cut_a_countdown_is_no_longer_than_it_was(
    offs: list[int], cut_s: int
) -> None:
    computer = Computer()
    for off in offs:
        before = computer.clock()
        computer.keep()
        computer.true += cut_s * SECOND
        computer.off = off * SECOND
        computer.start()
        assert computer.clock() >= before - SLACK


def test_a_clock_set_right_again_is_followed_by_itself() -> None:
    computer = Computer()
    computer.clock()
    computer.off = -2 * HOUR
    computer.true += 10 * MINUTE
    assert computer.clock() == computer.true
    setback = computer.clock.went_back()
    assert setback is not None
    assert (setback.by, setback.wall) == (2 * HOUR, computer.true - 2 * HOUR)
    computer.off = timedelta()
    computer.true += MINUTE
    assert computer.clock() == computer.true
    assert computer.clock.went_back() is None


def test_a_clock_that_runs_on_two_hours_behind_is_counted_on_over_a_restart() -> None:
    computer = Computer()
    computer.clock()
    computer.off = -2 * HOUR
    computer.keep()
    computer.true += 30 * MINUTE
    computer.start()
    assert computer.clock() == computer.true


def test_a_board_without_a_clock_chip_wakes_where_it_was_and_not_before() -> None:
    computer = Computer()
    computer.keep()
    computer.true, computer.off = NOON + HOUR, datetime(1970, 1, 1, tzinfo=UTC) - NOON - HOUR
    computer.start()
    assert computer.clock() == NOON
    computer.true += 5 * MINUTE
    assert computer.clock() == NOON + 5 * MINUTE
    computer.off = timedelta()
    assert computer.clock() == NOON + HOUR + 5 * MINUTE


def test_a_correction_of_less_than_a_minute_is_followed_and_not_said() -> None:
    computer = Computer()
    computer.clock()
    computer.off = -50 * SECOND
    assert computer.clock() == computer.wall()
    assert computer.clock.went_back() is None
    computer.off = -70 * SECOND
    assert computer.clock() == NOON
    assert computer.clock.went_back() is not None


def test_a_clock_that_is_set_on_purpose_is_never_held() -> None:
    at = [NOON]
    clock = SteadyClock(lambda: at[0], lambda: 0.0)
    clock()
    at[0] -= 5 * HOUR
    assert clock() == at[0]
    assert clock.went_back() is None


@dataclass
class Home:
    """A bench whose computer's clock can be set, and its pages."""

    store: Store
    bench: Bench
    wall: list[datetime]
    clock: SteadyClock
    page: FlaskClient


@pytest.fixture
def home(tmp_path: Path) -> Iterator[Home]:
    store = Store(tmp_path / "curewatch.sqlite")
    bench, wall = Bench(store), [NOON]
    clock = SteadyClock(lambda: wall[0], lambda: 0.0, store.known_time)
    app = make_app(bench, store, clock, SETTINGS, went_back=clock.went_back)
    yield Home(store, bench, wall, clock, app.test_client())
    store.close()


def test_what_is_recorded_is_the_newest_instant_known_and_readings_are_not(home: Home) -> None:
    home.store.add_readings([make_reading("panel", "surface_temperature", 14, NOON + 999 * HOUR)])
    assert home.store.known_time().newest < NOON
    number = home.bench.start(SHEET, now=NOON, mixed_at=NOON - HOUR)
    assert home.store.known_time().newest == NOON
    home.bench.note(number, "warm", now=NOON + HOUR)
    assert home.store.known_time().newest == NOON + HOUR
    home.store.save_sheet("mine", "name = 1", NOON + 2 * HOUR)
    assert home.store.known_time().newest == NOON + 2 * HOUR
    home.bench.note(number, "cold", now=NOON)
    assert home.store.known_time().newest == NOON + 2 * HOUR


def test_while_the_page_runs_what_it_knows_is_kept(home: Home) -> None:
    with kept(home.store, home.clock):
        assert home.store.known_time().newest == NOON
        home.wall[0] += HOUR
    assert home.store.known_time() == KnownTime(NOON + HOUR, timedelta(), 0)
    assert timedelta(seconds=KEEP_S) < SLACK


def test_what_was_known_before_a_confirmation_is_not_kept_after_it(home: Home) -> None:
    late = KnownTime(NOON + HOUR, HOUR, home.store.known_time().confirmed)
    home.store.keep_time(late)
    home.clock()
    confirm(home.store, home.clock.went_back())
    home.store.keep_time(late)
    assert home.store.known_time().newest == NOON


def test_an_older_logbook_knows_what_was_recorded_last(home: Home, tmp_path: Path) -> None:
    number = home.bench.start(SHEET, now=NOON)
    home.bench.note(number, "cold", now=NOON + HOUR)
    home.store.close()
    path = tmp_path / "curewatch.sqlite"
    older = sqlite3.connect(path)
    older.execute("DROP TABLE clock")
    older.execute(f"PRAGMA user_version = {schema.MIGRATIONS.index(known_time.build)}")
    older.commit()
    older.close()
    opened = Store(path)
    assert opened.known_time() == KnownTime(NOON + HOUR, timedelta(), 0)
    opened.close()


def state_of(home: Home) -> dict[str, Any]:
    """What an open tab receives."""
    data: dict[str, Any] = json.loads(home.page.get("/state.json").text)
    return data


def left_s(state: dict[str, Any], end_ms: int) -> float:
    """What a tab counts down to an instant, at the moment it receives it. [s]"""
    return (end_ms - float(state["now"])) / 1000


def test_every_page_says_it_and_an_open_tab_counts_on(home: Home) -> None:
    home.bench.start(SHEET, now=NOON)
    assert state_of(home)["clock_back"] == {}
    assert 'id="clock-back" hidden' in home.page.get("/").text
    end_ms = round((NOON + HOUR).timestamp() * 1000)
    home.wall[0] = NOON - 2 * HOUR
    state = state_of(home)
    assert left_s(state, end_ms) == 3600
    assert state["clock_back"] == {
        "said": "This computer's clock went back 2 h: do not trust these times.",
        "more": "It shows 11:00; these times count on as if it were 13:00. "
        "Set this computer's clock.",
        "right": "11:00 is right",
    }
    for path in ("/", "/mix", "/air", "/shelf", "/parts", "/logbook", "/choices", "/step/1"):
        page = home.page.get(path).text
        assert "This computer&#39;s clock went back 2 h" in page, path
        assert 'id="clock-back" hidden' not in page, path
    home.wall[0] = NOON + MINUTE
    assert state_of(home)["clock_back"] == {}


def test_a_step_entered_meanwhile_is_recorded_at_the_time_that_is_counted_by(home: Home) -> None:
    home.bench.start(SHEET, now=NOON)
    home.wall[0] = NOON - 2 * HOUR
    touched(home.page, "start again", SHEET)
    last = home.store.steps()[-1]
    assert (last.id, last.mixed_at) == (2, NOON)


def test_the_page_confirms_a_clock_that_was_ahead_before(home: Home) -> None:
    home.bench.start(SHEET, now=NOON, details=Details(part="patch"))
    home.store.add_readings([make_reading("panel", "surface_temperature", 14, NOON, "mqtt")])
    home.wall[0] = NOON - 2 * HOUR
    answer = home.page.post("/clock", data={"once": "1"}, headers=HOME | {"X-Live": "1"})
    said = json.loads(answer.text)
    assert said["said"] == "Saved: 11:00 is right. 1 reading with a later time is set aside."
    assert said["label"] == "Undo"
    page = home.page.get("/").text
    assert 'id="clock-back" hidden' in page
    assert "patch: recorded as mixed at 13:00, which has not come yet." in page
    assert home.clock() == NOON - 2 * HOUR
    assert home.store.ahead(home.wall[0]) == []
    home.page.post("/undo", data={"act": said["act"]}, headers=HOME)
    assert home.clock() == NOON
    back = home.page.get("/undo").text
    assert "Undone: This computer&#39;s clock confirmed" in back
    home.page.post("/undo", data={"act": said["act"] + 1}, headers=HOME)
    assert home.clock() == NOON - 2 * HOUR


def test_a_second_touch_or_one_too_late_confirms_nothing(home: Home) -> None:
    home.bench.start(SHEET, now=NOON)
    assert home.page.post("/clock", headers=HOME).status_code == 303
    assert home.store.entries("clock") == []


def test_every_command_says_it_and_holds_the_countdowns(run: Run) -> None:
    with freeze_time(NOON):
        run("mix", SHEET, "--part", "patch")
        before, err = json.loads(run("bench", "--json")[1]), run("bench")[2]
        assert (before["clock_back_min"], err) == (None, "")
        shown = run("bench")[1]
    with freeze_time(NOON - 2 * HOUR):
        code, out, err = run("bench")
        assert (code, out) == (0, shown)
        assert "This computer's clock went back 2 h: do not trust these times." in err
        assert "if 10:00 is right: curewatch clock confirm" in err
        after = json.loads(run("bench", "--json")[1])
        assert (after["clock_back_min"], after["now"]) == (120.0, before["now"])
        assert "went back 2 h" in run("log")[2]
        assert "went back 2 h" in run("step", "note", "1", "cold")[2]
    with freeze_time(NOON - HOUR):
        assert json.loads(run("bench", "--json")[1])["now"] == "2026-11-07T13:00:00Z"
    with freeze_time(NOON + 4 * HOUR):
        assert run("bench")[2] == ""


def test_the_command_confirms_and_can_be_undone(run: Run) -> None:
    with freeze_time(NOON):
        run("mix", SHEET, "--part", "patch")
        code, _, err = run("clock", "confirm")
        assert (code, err) == (
            2,
            "curewatch: this computer's clock did not go back; there is nothing to confirm.\n",
        )
    with freeze_time(NOON - 2 * HOUR):
        out = run("clock", "confirm")[1]
        assert out.startswith("Saved: 10:00 is right.\n  patch: recorded as mixed at 12:00, which")
        assert "curewatch step edit 1 --ago" in out
        assert run("bench")[2] == ""
        run("undo")
        assert "went back 2 h" in run("bench")[2]


LEFT = "() => document.querySelector('.digits[data-down]').dataset.down - window.curewatch.now()"
FITS = "() => document.documentElement.scrollWidth <= document.documentElement.clientWidth"
DOWN = "() => Number(document.querySelector('.digits[data-down]').dataset.down)"


def test_a_clock_set_back_while_a_tab_is_open_does_not_lengthen_its_countdown(
    home: Home, browser: Browser
) -> None:
    home.bench.start(SHEET, now=NOON, details=Details(part="lower corner patch"))
    app = home.page.application
    with served(app) as address:
        _, page = watched(browser, GARAGE)
        settled(page, address)
        most_ms = page.evaluate(DOWN) - NOON.timestamp() * 1000
        home.wall[0] = NOON - 2 * HOUR
        band = page.locator("#clock-back")
        band.wait_for()
        assert page.evaluate(LEFT) <= most_ms
        assert band.locator("p").inner_text().startswith("This computer's clock went back 2 h:")
        for width, height in (GARAGE, SMALL, PHONE):
            page.set_viewport_size({"width": width, "height": height})
            page.wait_for_function(FITS)  # the page's script lays it out anew after the change
        home.wall[0] = NOON + MINUTE
        band.wait_for(state="hidden")
        home.wall[0] = NOON - 2 * HOUR
        page.click("#clock-right")
        page.locator("#toast").get_by_text("Saved: 11:00 is right.").wait_for()
        band.wait_for(state="hidden")


def test_up_says_it_at_its_start_and_counts_on(
    up: Up,  # noqa: F811
    tmp_path: Path,
) -> None:
    store, before = Store(tmp_path / "curewatch.sqlite"), datetime.now(UTC)
    store.keep_time(KnownTime(before + 2 * HOUR, timedelta(), 0))
    store.close()
    port = free_port()
    process = up(port, free_port())
    wait_for_page(port, process)
    found = told(tmp_path, "bench")
    assert datetime.fromisoformat(found["now"]) >= before + 2 * HOUR - SECOND
    assert found["clock_back_min"] > 118
    process.terminate()
    assert "This computer's clock went back" in process.communicate(timeout=20)[1]
