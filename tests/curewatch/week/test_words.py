"""The week's plan in words, as data and as a calendar that other programs read."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC

import vobject

from curewatch.formats import ReaderFormat
from curewatch.ways.words import heat_cautions
from curewatch.week import words
from curewatch.week.calendar import calendar
from curewatch.week.helps import WeekHelp
from curewatch.week.plan import Moved, StepMove
from tests.support.logbooks import BERLIN
from tests.support.planned import PART, at, step, week, week_shown

SAY = ReaderFormat(BERLIN)
PLAN = week_shown()


def test_a_plan_says_chances_in_tenths_never_ten_and_beyond_a_week_no_times() -> None:
    text = "\n".join(words.lines(PLAN, SAY))
    assert "wing, left [car]: primed by Tue 18:00, 9 in 10." in text
    assert "held up most by your hands, which are on other parts" in text
    assert "Tonight\n    19:00 to 21:00  wing, left [car]: sand" in text
    assert "prime, Epoxy primer (scuff it first" in text
    assert "About the week after\n    wing, left [car]: sand" in text
    assert "sill: not planned, sill is structural" in text
    for never in ("10 in 10", "%", "best", "23 Nov"):
        assert never not in text


def test_a_wish_that_is_not_reached_is_called_unlikely_before_its_time_is_said() -> None:
    """At a glance "primed by Tue 18:00" is good news, whatever stands behind it."""
    late = replace(PART, chance=0.04)
    assert words.sentence(late, week(part=late), SAY).endswith(
        ": unlikely to be primed by Tue 18:00, less than 1 in 10."
    )
    even = replace(PART, chance=0.51)
    assert words.sentence(even, week(part=even), SAY).endswith(": primed by Tue 18:00, 5 in 10.")


def test_without_a_wish_s_time_it_says_likely_and_nearly_sure() -> None:
    soonest = replace(PART, by=None, chance=None)
    assert words.sentence(soonest, week(part=soonest), SAY).endswith(
        "likely primed by Mon 18:00, 9 in 10 by Tue 18:00."
    )
    far = replace(soonest, done=at(24 * 8), surely=at(24 * 9))
    assert words.sentence(far, week(part=far), SAY).endswith("likely primed about the week after.")
    never = replace(soonest, done=None, surely=None)
    assert "not primed within the coming two weeks" in words.sentence(never, week(), SAY)


def test_a_step_with_no_time_in_hand_has_one_moment_and_one_with_days_its_first() -> None:
    none = step(2, 1.0, latest=at(1.0))
    assert words.step_words(none, SAY).startswith("19:00  wing")
    days = step(2, 1.0, latest=at(30.0))
    assert words.step_words(days, SAY).startswith("from 19:00  wing")


def test_what_moved_is_said_with_its_reason() -> None:
    first = PLAN.steps[0]
    moved = replace(PLAN, moved=Moved("curing", "wing, left", (StepMove(first, at(25.0)),)))
    texts = list(words.moved_words(moved, SAY))
    assert texts[0].endswith("what cures on wing, left takes longer than it seemed")
    assert texts[1].endswith("19:00 instead of tomorrow 19:00")
    assert words.as_json(moved)["moved"]["steps"][0]["was"] == "2026-11-15T18:00:00Z"
    assert not list(words.moved_words(PLAN, SAY))


def test_data_have_codes_and_stamps() -> None:
    data = words.as_json(PLAN)
    assert data["parts"][0]["tenths"] == 9
    assert data["parts"][0]["held_up_by"] == {"what": "hands", "step": None, "hours": 3.0}
    assert [row["beyond_the_forecast"] for row in data["steps"]] == [False, False, True]
    assert data["steps"][1]["first"] == "scuff"
    assert data["not_planned"][0]["part"] == "sill"


def test_a_calendar_is_escaped_folded_in_utc_and_keeps_its_identities() -> None:
    # RFC 5545: 3.1 lines end in CRLF and have at most 75 octets, 3.3.11 text escapes \ ; , and
    # new lines, 3.3.5 form 2 is UTC
    raw = calendar(PLAN, SAY)
    assert raw.count(b"\n") == raw.count(b"\r\n")
    assert max(len(line) for line in raw.split(b"\r\n")) <= 75
    text = raw.replace(b"\r\n ", b"").decode()
    assert r"wing\, left [car]: sand\; shape\\it" in text
    assert re.findall(r"DTSTART:(\S+)", text)[0] == "20261114T180000Z"
    assert "VALARM" not in text
    events = vobject.readOne(raw.decode()).vevent_list
    assert [event.status.value for event in events] == ["TENTATIVE"] * 2 + ["CANCELLED"] * 3
    assert events[0].summary.value == r"plan: wing, left [car]: sand; shape\it"
    assert events[0].dtstart.value == at(1.0).astimezone(UTC)
    later = replace(PLAN, now=at(1.0), steps=tuple(replace(s, start=s.start) for s in PLAN.steps))
    after = vobject.readOne(calendar(later, SAY).decode()).vevent_list
    assert [e.uid.value for e in after] == [e.uid.value for e in events]
    assert len({event.uid.value for event in events}) == 5
    assert int(after[0].sequence.value) > int(events[0].sequence.value)


def test_a_lamp_that_would_help_comes_with_its_cautions() -> None:
    lamp, longer = WeekHelp("lamp", "work lamp", "wing", (PART,)), WeekHelp("longer", "", "", ())
    assert "while you are there" in words.help_words(lamp, PLAN, SAY)
    assert any(
        "only while you are there" in text for text in heat_cautions([longer.code, lamp.code])
    )
    assert not list(heat_cautions([longer.code]))
