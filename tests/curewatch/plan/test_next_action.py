"""Where was I: a part's card says what is next, how long, and whether it fits tonight."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.bench.bench import Bench, Details
from curewatch.climate.reading import make_reading
from curewatch.formats import ReaderFormat
from curewatch.garage import cans, parts
from curewatch.garage.shelf import add_sheet, find_sheet
from curewatch.plan import sentences
from curewatch.plan.next_action import Card, Cards, fits, follower, tonight
from curewatch.store.store import Store

NOW = datetime(2026, 11, 25, 18, 0, tzinfo=UTC)
SAY = ReaderFormat(ZoneInfo("Europe/Vienna"))
ADHESIVE, PRIMER = "epoxy-panel-adhesive", "epoxy-primer"
FILLER = "fibre-polyester-filler"
RIB = Details(part="rib", job="corner")


def after(hours: float) -> datetime:
    return NOW + timedelta(hours=hours)


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    store = Store(tmp_path / "curewatch.sqlite")
    panel = [
        make_reading("panel", "surface_temperature", 20.0, after(hour / 2), "probe")
        for hour in range(-200, 400)
    ]
    store.add_readings(panel)
    yield Bench(store)
    store.close()


def only(bench: Bench, now: datetime, stop: datetime | None = None) -> Card:
    """The card of the only part."""
    (card,) = Cards(bench).cards(now, stop=stop)
    return card


def next_of(bench: Bench, now: datetime) -> str:
    """What it says comes next."""
    return sentences.next_words(only(bench, now), now, SAY)


def test_a_hardening_joint_waits_for_its_clamps_and_says_from_when(bench: Bench) -> None:
    bench.start(ADHESIVE, now=NOW, details=RIB)
    card = only(bench, after(1))
    assert (card.action.what, card.action.milestone) == ("wait", "clamp_time")
    assert next_of(bench, after(1)).startswith("clamps off: test from ")
    assert sentences.last_words(card, after(1), SAY).endswith("; curing")


def test_a_part_marked_structural_without_a_job_is_so_in_every_job_without_a_mark_of_its_own(
    bench: Bench,
) -> None:
    parts.mark(bench.store, "rib", "", "structural", now=NOW)
    number = bench.start(ADHESIVE, now=NOW, details=RIB)
    assert bench.step_view(number, after(1)).milestones == ()
    shown = next(card for card in Cards(bench).cards(after(1)) if card.part.job == "corner")
    assert shown.structural
    parts.mark(bench.store, "rib", "corner", "body", now=after(1))
    assert bench.step_view(number, after(1)).milestones


def test_due_it_is_tested_now_and_then_comes_sanding(bench: Bench) -> None:
    number = bench.start(ADHESIVE, now=NOW, details=RIB)
    assert next_of(bench, after(6.5)) == "clamps off: test now"
    bench.test(number, "reached", now=after(6.5), milestone="clamp_time")
    assert only(bench, after(6.6)).action.milestone == "sand_ready"


def test_after_its_last_test_the_next_product_follows_with_its_length_here(bench: Bench) -> None:
    used = bench.start(PRIMER, now=after(-90), details=Details(part="other", job="corner"))
    bench.finish(used, now=after(-60))
    number = bench.start(FILLER, now=NOW, details=RIB)
    bench.test(number, "reached", now=after(2), milestone="recoat_opens")
    shown = next(card for card in Cards(bench).cards(after(2)) if card.part.name == "rib")
    assert (shown.action.what, shown.action.sheet_id) == ("mix", PRIMER)
    early, late = shown.action.length_min
    assert early is not None
    assert late is not None
    assert 10 < early < late < 120
    text = sentences.next_words(shown, after(2), SAY)
    assert "sand, clean, then usually Two-part epoxy primer (about" in text
    brief = sentences.brief_words(shown, after(2), SAY)
    assert brief == "sand, clean, then usually Two-part epoxy primer"


def test_without_a_primer_of_one_s_own_none_is_invented(bench: Bench) -> None:
    number = bench.start(FILLER, now=NOW, details=RIB)
    bench.test(number, "reached", now=after(2), milestone="recoat_opens")
    card = only(bench, after(2), stop=after(9))
    assert (card.action.what, card.action.sheet_id, card.fits) == ("mix", "", "unknown")


def test_a_primer_whose_cans_are_all_used_up_is_not_suggested(bench: Bench) -> None:
    primed = bench.start(PRIMER, now=NOW, details=Details(part="door"))
    bench.finish(primed, now=after(1))
    can = cans.add(bench.store, PRIMER, cans.CanDetails(), now=NOW)
    number = bench.start(FILLER, now=NOW, details=RIB)
    bench.test(number, "reached", now=after(2), milestone="recoat_opens")
    assert follower(bench, "primer") == PRIMER
    cans.used_up(bench.store, can.id, now=after(2))
    assert follower(bench, "primer") == ""


def test_a_finished_primer_names_the_end_of_its_window_and_then_the_scuff(bench: Bench) -> None:
    number = bench.start(PRIMER, now=NOW, details=RIB)
    bench.test(number, "reached", now=after(20), milestone="recoat_opens")
    bench.finish(number, now=after(20))
    assert next_of(bench, after(21)).startswith("next coat before ")
    assert next_of(bench, after(100)) == "next coat: its recoat window is closed: scuff it first"


def test_bare_metal_is_cleaned_again_and_covered(bench: Bench) -> None:
    parts.bared(bench.store, "rib", "corner", now=NOW, grit="80", cleaned_with="panel wipe")
    card = only(bench, after(3))
    assert card.action.what == "cover"
    assert "bare since 19:00, 3 h" in sentences.bare_words(card.part, after(3), SAY)
    assert "; 80 grit, cleaned with panel wipe" in sentences.bare_words(card.part, after(3), SAY)


def test_an_abandoned_step_is_taken_off(bench: Bench) -> None:
    number = bench.start(ADHESIVE, now=NOW, details=RIB)
    bench.abandon(number, "went off in the cup", now=after(1))
    assert next_of(bench, after(2)).startswith("take Two-part epoxy panel adhesive off")


@pytest.mark.parametrize("named", ["seat belt anchor", "rib"])
def test_a_structural_part_gets_the_procedure_and_no_time_at_all(bench: Bench, named: str) -> None:
    bench.start(ADHESIVE, now=NOW, details=Details(part=named, job="corner"))
    parts.mark(bench.store, named, "corner", "structural", now=NOW)
    card = only(bench, after(1), stop=after(20))
    assert card.structural
    assert card.fits == "unknown"
    assert "the maker's procedure" in sentences.last_words(card, after(1), SAY)
    assert sentences.next_words(card, after(1), SAY) == ""
    assert tonight([card]) == []
    data = sentences.as_json(card)
    assert (data["early"], data["late"], data["kind"]) == (None, None, "structural")


def test_what_fits_tonight_follows_the_stopping_time(bench: Bench) -> None:
    bench.start(ADHESIVE, now=NOW, details=RIB)
    soon, late = only(bench, after(1), after(1.5)), only(bench, after(1), after(20))
    assert (soon.fits, late.fits) == ("no", "yes")
    assert [card.part.name for card in tonight([late])] == ["rib"]
    assert only(bench, after(1)).fits == "unknown"


def test_another_job_is_left_out_where_one_is_asked(bench: Bench) -> None:
    bench.start(ADHESIVE, now=NOW, details=RIB)
    bench.start(ADHESIVE, now=NOW, details=Details(part="skin", job="floor"))
    assert [card.part.name for card in Cards(bench).cards(NOW, job="FLOOR")] == ["skin"]


hours = st.none() | st.floats(-5, 50)


@given(hours, hours, st.floats(-5, 50), st.floats(0, 50))
def test_a_later_stopping_time_never_fits_less(
    one: float | None, two: float | None, stop: float, more: float
) -> None:
    early, late = (None if value is None else after(value) for value in (one, two))
    order = {"no": 0, "may": 1, "yes": 2}
    sooner, later = fits(early, late, after(stop)), fits(early, late, after(stop + more))
    assert order[sooner] <= order[later]
    assert fits(early, late, None) == "unknown"


def test_done_with_it_asks_for_nothing_until_it_is_worked_on_again(bench: Bench) -> None:
    bench.start(ADHESIVE, now=NOW, details=RIB)
    parts.done(bench.store, "rib", "corner", now=after(1))
    card = only(bench, after(1), stop=after(20))
    assert (sentences.next_words(card, after(1), SAY), card.fits) == ("finished", "unknown")
    assert tonight([card]) == []
    bench.start(PRIMER, now=after(2), details=RIB)
    assert only(bench, after(2)).action.what == "wait"


def test_what_several_parts_want_is_said_once(bench: Bench) -> None:
    for part in ("rib", "skin"):
        bench.start(ADHESIVE, now=NOW, details=Details(part=part, job="corner"))
    shown = Cards(bench).cards(after(1), stop=after(20))
    ((what, whether, cards),) = sentences.grouped(shown, after(1), SAY)
    assert what.startswith("clamps off: test from")
    assert whether == "fits before you stop"
    assert {card.part.name for card in cards} == {"rib", "skin"}


def test_too_cold_for_the_next_product_no_time_is_given(bench: Bench) -> None:
    used = bench.start(PRIMER, now=after(-90), details=Details(part="other", job="corner"))
    bench.finish(used, now=after(-60))
    parts.bared(bench.store, "rib", "corner", now=after(5), place="tailgate")
    bench.store.add_readings(
        [make_reading("tailgate", "surface_temperature", 6.0, after(5), "probe")]
    )
    card = Cards(bench).one("rib", "corner", after(5), after(20))
    assert card is not None
    assert (card.action.early, card.action.late, card.fits) == (None, None, "no")
    text = sentences.next_words(card, after(5), SAY)
    assert text.endswith("no time now: the panel is at 6.0 °C, below the 10 °C it needs")


def test_too_near_the_dew_point_no_time_is_given(bench: Bench) -> None:
    """Magnus, by hand: air of 17 C and 85 % has its dew point at 14.5 C."""
    used = bench.start(PRIMER, now=after(-90), details=Details(part="other", job="corner"))
    bench.finish(used, now=after(-60))
    parts.bared(bench.store, "rib", "corner", now=after(5), place="tailgate")
    for quantity, value in (
        ("surface_temperature", 13.0), ("air_temperature", 17.0), ("relative_humidity", 85.0)
    ):  # fmt: skip
        reading = make_reading("tailgate", quantity, value, after(5), "probe")
        bench.store.add_readings([reading])
    card = Cards(bench).one("rib", "corner", after(5), after(20))
    assert card is not None
    assert (card.action.early, card.action.late, card.fits) == (None, None, "no")
    text = sentences.next_words(card, after(5), SAY)
    assert text.endswith("no time now: the panel is 1.5 °C below the dew point, it needs 3.0 °C")


@pytest.mark.parametrize(
    ("hours", "words"),
    [
        (1, "3 h left of the 4 h it may be bare: prime with Two-part epoxy primer"),
        (5, "bare longer than the 4 h allowed: clean again, then prime with Two-part"),
    ],
)
def test_the_limit_of_bare_metal_is_counted_down(bench: Bench, hours: int, words: str) -> None:
    used = bench.start(PRIMER, now=after(-90), details=Details(part="other", job="corner"))
    bench.finish(used, now=after(-60))
    text = find_sheet(bench.store, PRIMER).text
    limited = text.replace("[hazards]", 'bare_max = "4 h"\n\n[hazards]')
    add_sheet(bench.store, PRIMER, limited, NOW)
    parts.bared(bench.store, "rib", "corner", now=NOW)
    card = Cards(bench).one("rib", "corner", after(hours), None)
    assert card is not None
    assert sentences.next_words(card, after(hours), SAY).startswith(words)
