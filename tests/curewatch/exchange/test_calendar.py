"""The calendar of what is coming, read by another's parser: it moves, and nothing is doubled."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
import vobject
from hypothesis import given
from hypothesis import strategies as st

from curewatch.bench.views import BenchView
from curewatch.exchange.ics import Words, calendar
from curewatch.notice import Measure, notice
from curewatch.wording import words
from curewatch.wording.words import ReaderFormat
from tests.curewatch.exchange.test_announcements import answered
from tests.support.bench_views import ADHESIVE, NOW, PRIMER, at, bench, step
from tests.support.pages import EVENING, Garage, open_garage, weather

SAY: Words = words.calendar(ReaderFormat(ZoneInfo("Europe/Berlin")))
ONE = step(3, "epoxy-panel-adhesive", -60, ADHESIVE)


def events(raw: bytes) -> list[Any]:
    """The events as another's parser reads them."""
    read = vobject.readOne(raw.decode("utf-8"))
    return list(getattr(read, "vevent_list", []))


def milestone(event: Any) -> str:
    return str(event.uid.value).split(".")[1]


def imported(kept: dict[str, Any], raw: bytes) -> dict[str, Any]:
    """What a calendar holds after importing a file: by UID, the later replaces the earlier."""
    kept = dict(kept)
    for event in events(raw):
        before = kept.get(event.uid.value)
        if before is not None:
            newer = int(event.sequence.value), event.dtstamp.value
            assert newer >= (int(before.sequence.value), before.dtstamp.value)
        kept[event.uid.value] = event
    return {uid: event for uid, event in kept.items() if event.status.value != "CANCELLED"}


def test_each_milestone_is_an_event_at_the_time_the_countdown_runs_to() -> None:
    data = {milestone(event): event for event in events(calendar(bench(ONE), [], SAY))}
    clamps = data["clamp_time"]
    assert clamps.dtstart.value == at(14)
    assert clamps.dtend.value > clamps.dtstart.value
    assert clamps.summary.value == "test now: clamps off, lower corner patch"
    text = clamps.description.value
    assert "early 2026-10-14 19:46, likely 2026-10-14 19:51, late 2026-10-14 19:56" in text
    assert "test now: Fingernail into the dab beside the joint" in text
    assert text.endswith(words.CAUTION)
    assert clamps.valarm.trigger.value == timedelta(0)
    assert clamps.dtstart.value.tzinfo is not None
    assert set(data) == set(ADHESIVE)


def test_an_event_is_written_in_the_readers_units_and_clock() -> None:
    far_west = words.calendar(ReaderFormat(ZoneInfo("America/Denver"), "F", 12, ","))
    data = {milestone(event): event for event in events(calendar(bench(ONE), [], far_west))}
    text = data["clamp_time"].description.value
    assert "late 2026-10-14 11:56 am" in text
    assert "panel 56,3 °F" in text


def test_an_event_says_what_its_latest_time_asks_of_the_panel() -> None:
    (clamps,) = (inner for inner in ONE.forecast.milestones if inner.name == "clamp_time")
    warm = {**ONE.forecast.by_name, "clamp_time": replace(clamps, late_if_warm=True)}
    holds = (notice("hold-if-warm", least=Measure(10.0, "C")),)
    step_view = replace(ONE, forecast=replace(ONE.forecast, by_name=warm, warnings=holds))
    texts = {
        milestone(event): event.description.value
        for event in events(calendar(bench(step_view), [], SAY))
    }
    condition = "the latest times hold if the panel stays above this product's minimum of"
    assert condition in texts["clamp_time"]
    assert condition not in texts["sand_ready"]


def test_a_second_import_moves_the_events_and_doubles_none() -> None:
    before = bench(ONE)
    later = {name: tuple(time + 25.0 for time in times) for name, times in ADHESIVE.items()}
    moved = step(3, "epoxy-panel-adhesive", -60, later)  # type: ignore[arg-type]
    after = replace(bench(moved), now=NOW + timedelta(minutes=5))
    kept = imported({}, calendar(before, [], SAY))
    again = imported(kept, calendar(after, [], SAY))
    assert again.keys() == kept.keys()
    for uid, event in again.items():
        assert event.dtstart.value - kept[uid].dtstart.value == timedelta(minutes=25)
        assert int(event.sequence.value) > int(kept[uid].sequence.value)
        assert event.last_modified.value > kept[uid].last_modified.value


@pytest.mark.parametrize(
    "then",
    [
        lambda: bench(answered(ONE, "clamp_time"), asks=("sand_ready",)),
        lambda: bench(step(3, "epoxy-panel-adhesive", -60, ADHESIVE, stalled_from=5.0)),
    ],
    ids=["tested", "stalled"],
)
def test_what_was_settled_or_has_no_time_any_more_leaves_the_calendar(
    then: Callable[[], BenchView],
) -> None:
    kept = imported({}, calendar(bench(ONE), [], SAY))
    view = replace(then(), now=NOW + timedelta(minutes=1))
    again = imported(kept, calendar(view, [], SAY))
    assert "clamp_time" in {milestone(event) for event in kept.values()}
    assert "clamp_time" not in {milestone(event) for event in again.values()}


def test_two_steps_and_two_logbooks_never_share_an_event() -> None:
    two = bench(ONE, step(4, "epoxy-primer", -5, PRIMER), asks=("clamp_time", "working_time"))
    other = replace(ONE, recorded_at=ONE.recorded_at + timedelta(seconds=1))
    uids = [event.uid.value for event in events(calendar(two, [], SAY))]
    assert len(uids) == len(set(uids)) == len(ADHESIVE) + len(PRIMER)
    elsewhere = {event.uid.value for event in events(calendar(bench(other), [], SAY))}
    assert not elsewhere & set(uids)


def lines(raw: bytes) -> Sequence[bytes]:
    return raw.split(b"\r\n")


@given(st.text(max_size=200), st.text(max_size=200))
def test_any_text_comes_through_folded_and_escaped(part: str, product: str) -> None:
    named = replace(ONE, part=part, sheet=replace(ONE.sheet, name=product or "x"))
    raw = calendar(bench(named), [], SAY)
    assert raw.endswith(b"\r\n")
    assert not [line for line in lines(raw) if len(line) > 75]
    assert not [line for line in lines(raw) if b"\n" in line or b"\r" in line]
    text = raw.decode("utf-8")
    assert not [letter for letter in text if letter < " " and letter not in "\r\n"]
    events_read = events(raw)
    assert len(events_read) == len(ADHESIVE)
    kept = "".join(letter for letter in part if letter.isprintable() and not letter.isspace())
    shown = "".join(
        letter
        for letter in events_read[0].summary.value
        if letter.isprintable() and not letter.isspace()
    )
    assert kept in shown


@pytest.mark.parametrize("part", ["左前角; лево, \\ unten", "زاوية", "कोना 🚐", 'a"b:c;d,e\nf'])
def test_a_part_in_any_script_is_read_back_as_it_was(part: str) -> None:
    events_read = events(calendar(bench(replace(ONE, part=part)), [], SAY))
    assert events_read[0].summary.value.endswith(part)


def real(folder: Path) -> Garage:
    garage = open_garage(folder)
    garage.hear(weather(EVENING))
    garage.mix("epoxy-panel-adhesive", 60, part="lower corner patch", amount_g=60.0)
    garage.mix("epoxy-primer", 30, part="roof seam")
    return garage


def test_the_page_gives_the_calendar_and_the_cold_moves_it(tmp_path: Path) -> None:
    garage = real(tmp_path)
    client = garage.app.test_client()
    answer = client.get("/bench.ics")
    assert answer.content_type == "text/calendar; charset=utf-8"
    assert answer.headers["Content-Disposition"] == 'attachment; filename="curewatch.ics"'
    kept = imported({}, answer.data)
    garage.clock.at += timedelta(minutes=40)
    garage.hear(weather(garage.clock(), base_c=11.0, hours=0.6))
    again = imported(kept, client.get("/bench.ics").data)
    assert again.keys() <= kept.keys()
    clamps = next(uid for uid in kept if ".clamp_time." in uid)
    assert again[clamps].dtstart.value > kept[clamps].dtstart.value + timedelta(minutes=10)
    assert b"/bench.ics" in client.get("/choices").data
    garage.store.close()


def test_a_step_that_left_the_bench_leaves_the_calendar_too(tmp_path: Path) -> None:
    garage = real(tmp_path)
    client = garage.app.test_client()
    kept = imported({}, client.get("/bench.ics").data)
    garage.clock.at += timedelta(minutes=1)
    garage.bench.finish(1, now=garage.clock())
    again = imported(kept, client.get("/bench.ics").data)
    assert again
    assert not [uid for uid in again if uid.startswith("1.")]
    garage.clock.at += timedelta(days=31)
    assert not [e for e in events(client.get("/bench.ics").data) if e.uid.value.startswith("1.")]
    garage.store.close()


def test_the_command_writes_the_file(tmp_path: Path, run: Any) -> None:
    run("reading", "add", "--surface", "14 C")
    run("mix", "epoxy-primer", "--part", "roof seam")
    file = tmp_path / "garage.ics"
    for _ in range(2):
        code, out, _ = run("bench", "--ics", str(file))
        assert (code, str(file) in out) == (0, True)
    events_read = events(file.read_bytes())
    assert {milestone(event) for event in events_read} >= {"recoat_opens", "full_cure"}
    assert all(event.dtstart.value > datetime(2000, 1, 1, tzinfo=UTC) for event in events_read)
    code, _, wrong = run("bench", "--ics", str(tmp_path / "no" / "garage.ics"))
    assert code == 2
    assert "the calendar was not written" in wrong
