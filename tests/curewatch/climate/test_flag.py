"""Why a reading is not used: kept as a code with fields, said in words only where it is shown."""

from __future__ import annotations

import logging
import sqlite3
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.climate.flag import CODES, WAITED, Flag, flag_of, text_of
from curewatch.climate.reading import QUANTITIES, Quantity, Reading
from curewatch.formats import ReaderFormat
from curewatch.quality.calibration import add_check
from curewatch.quality.control import QualityControl
from curewatch.quality.intake import Intake
from curewatch.quality.state import ReadingContext
from curewatch.settings.settings import parse_settings
from curewatch.store.migrations import flag_words, schema
from curewatch.store.migrations.flag_words import flag_of_words
from curewatch.store.store import Store
from curewatch.walltime import from_ms
from curewatch.wording.sensor_words import flag as said
from sensors.mqtt.writer import Message, Writer
from tests.support.brokers import until

AT = datetime(2026, 11, 25, 17, 5, tzinfo=UTC)
SURFACE, AIR, DAMP = QUANTITIES
MANNER = ReaderFormat(ZoneInfo("Europe/Berlin"))
NAMES = ("garage/since newZ/b", "a since 2026-13-99T99:99Z", "its clock is", '"}{', "stuck at")


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    opened = Store(tmp_path / "curewatch.sqlite")
    yield opened
    opened.close()


def reading(minute: float, value: float, source: str = "probe", place: str = "panel") -> Reading:
    return Reading(place, SURFACE, value, AT + timedelta(minutes=minute), source)


@pytest.mark.parametrize("name", NAMES)
def test_whatever_a_topic_is_called_its_neighbour_s_flag_stops_nothing(
    store: Store, name: str
) -> None:
    add_check(store, name, SURFACE, reference=14, read=14, now=AT - timedelta(days=1))
    intake = Intake(store)
    for n in range(60):
        wobble = n % 2 / 10
        intake.take([reading(5 * n, 14 + wobble, name), reading(5 * n, 17 + wobble, "a")])
    checked, other = sorted(store.latest(), key=lambda reading: reading.value)
    assert checked.flag is None
    assert other.flag == Flag(
        "apart", since=AT, gap=3.0, source=name, other_checked=AT - timedelta(days=1)
    )
    again = Intake(store)
    assert again.take([reading(305, 14.0, name), reading(305, 17.0, "a")]) == 2
    assert max(store.latest(), key=lambda reading: reading.value).flag == other.flag


class Broken(QualityControl):
    """A judge that fails on one sensor."""

    def flag(self, reading: Reading, context: ReadingContext) -> Flag | None:
        if reading.source == "odd":
            raise ZeroDivisionError("division by zero")
        return super().flag(reading, context)

    def resume(self, reading: Reading, same_since_s: float) -> None:
        if reading.source == "odd":
            raise KeyError("odd")
        super().resume(reading, same_since_s)


def test_what_fails_on_one_reading_is_counted_logged_shown_and_stops_no_other(
    store: Store, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    monkeypatch.setattr("curewatch.quality.intake.QualityControl", Broken)
    with caplog.at_level(logging.ERROR):
        for n in range(3):
            batch = [reading(n, 14.0), reading(n, 15.0, "odd"), reading(n, 9.0, "b", "shelf")]
            assert Intake(store).take(batch) == 3
    flags = {reading.source: reading.flag for reading in store.latest()}
    assert flags == {"probe": None, "odd": Flag("unjudged"), "b": None}
    assert {reading.source for reading in store.usable()} == {"probe", "b"}
    counted = {
        refusal.sentence: refusal.count for refusal in store.refusals() if refusal.source == "odd"
    }
    assert [count for text, count in counted.items() if "ZeroDivisionError" in text] != []
    assert "a reading from odd could not be checked" in caplog.text
    words = said(Flag("unjudged"), SURFACE, MANNER, AT)
    assert words.startswith("curewatch failed while it checked this reading")


def test_a_message_that_breaks_the_writer_is_refused_and_the_others_are_stored(
    tmp_path: Path, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = Writer._decode

    def decode(writer: Writer, message: Message) -> object:
        if message.payload == b"15.0":
            raise RuntimeError("no such thing")
        return real(writer, message)

    monkeypatch.setattr(Writer, "_decode", decode)
    writer = Writer(store, parse_settings("", tmp_path))
    acknowledged: list[int] = []
    for n in range(10):
        topic, payload = "curewatch/panel/surface_temperature", str(14 + n / 2).encode()
        at = AT + timedelta(minutes=n)
        writer.put(Message(topic, payload, at, lambda n=n: acknowledged.append(n)))  # type: ignore[misc]
    writer.start()
    until(lambda: len(acknowledged) == 10)
    writer.stop()
    assert [reading.value for reading in store.readings(AT, AT + timedelta(hours=1))] == [
        14 + n / 2 for n in range(10) if n != 2
    ]
    (refused,) = store.refusals()
    assert "RuntimeError: no such thing" in refused.sentence


instants = st.integers(0, 4_000_000_000_000).map(from_ms)
numbers = st.floats(-1e6, 1e6)
flags = st.builds(
    Flag,
    st.sampled_from(CODES),
    since=st.none() | instants,
    value=st.none() | numbers,
    gap=st.none() | numbers,
    seconds=st.none() | numbers,
    source=st.text(max_size=40),
    others=st.integers(0, 9),
    checked=st.none() | instants,
    other_checked=st.none() | instants,
    text=st.text(max_size=40),
)


@given(flags, st.sampled_from(QUANTITIES))
def test_a_flag_is_read_as_it_was_written_and_can_always_be_said(
    flag: Flag, quantity: Quantity
) -> None:
    assert flag_of(text_of(flag)) == flag
    assert flag.code == "other" or said(flag, quantity, MANNER, AT)


@given(st.text() | st.sampled_from(['{"code":"new"}', '{"code":1}', "[]", "7", '{"x":1}']))
def test_what_another_program_stored_is_kept_as_it_stands(text: str) -> None:
    assert flag_of(text) == Flag("other", text=text)


SENTENCES: list[tuple[Quantity, str, Flag, str]] = [
    (
        SURFACE,
        "jumped by 31.0 K in 60 s",
        Flag("jump", gap=31.0, seconds=60.0),
        "jumped by 31.0 °C in 1 min",
    ),
    (
        DAMP,
        "jumped by 55.0 % in 5 h",
        Flag("jump", gap=55.0, seconds=18_000.0),
        "jumped by 55.0 % in 5 h",
    ),
    (SURFACE, "jumped, and back again", Flag("spike"), "jumped, and came back"),
    (
        SURFACE,
        "85 C is what a thermometer gives that did not measure",
        Flag("failed"),
        "85 °C is what a thermometer sends when it cannot measure",
    ),
    (
        DAMP,
        "at 100 % since 2026-11-25T17:05Z: wet, or broken",
        Flag("end", since=AT, value=100.0),
        "at 100 % since 18:05: wet or broken",
    ),
    (
        SURFACE,
        "stuck at 14.2 C since 2026-11-25T17:05Z, while others move",
        Flag("stuck", since=AT, value=14.2),
        "stuck at 14.2 °C since 18:05 while others move",
    ),
    (
        AIR,
        "stuck at -1.5e-05 C since 2026-11-25T17:05Z, while others move",
        Flag("stuck", since=AT, value=-1.5e-05),
        "stuck at 0.0 °C since 18:05 while others move",
    ),
    (
        AIR,
        "its clock is 5.5 h behind: set its time zone",
        Flag("zone", seconds=19_800.0),
        "its clock is 5.5 h behind: set its time zone",
    ),
    (
        AIR,
        "its clock is 40 days behind",
        Flag("clock", seconds=3_456_000.0),
        "its clock is 40 days behind",
    ),
    (
        AIR,
        "4.0 K below the 2 others at this place since 2026-11-25T17:05Z",
        Flag("outvoted", since=AT, gap=-4.0, others=2),
        "4.0 °C below the 2 others at this place since 18:05",
    ),
    (
        AIR,
        "2.5 K above garage/since newZ/b since 2026-11-25T17:05Z, which was checked 2026-11-03, "
        "this one never",
        Flag(
            "apart",
            since=AT,
            gap=2.5,
            source="garage/since newZ/b",
            other_checked=datetime(2026, 11, 3, tzinfo=UTC),
        ),
        "2.5 °C above garage/since newZ/b since 18:05, which was checked 3 Nov, this one never",
    ),
    (
        DAMP,
        "9.0 % below a since 2026-11-25T17:05Z, which was checked 2026-11-03, this one 2026-06-03",
        Flag(
            "apart",
            since=AT,
            gap=-9.0,
            source="a",
            checked=datetime(2026, 6, 3, tzinfo=UTC),
            other_checked=datetime(2026, 11, 3, tzinfo=UTC),
        ),
        "9.0 % below a since 18:05, which was checked 3 Nov, this one 3 Jun",
    ),
    (
        AIR,
        "it may have waited at the broker while curewatch was away, and does not tell its time",
        WAITED,
        "it may have waited at the broker while curewatch was not running, and carries no time",
    ),
    (AIR, "stuck at its post", Flag("other", text="stuck at its post"), "stuck at its post"),
    (
        AIR,
        "stuck at 1..2 C since 2026-99-25T17:05Z, while others move",
        Flag("other", text="stuck at 1..2 C since 2026-99-25T17:05Z, while others move"),
        "stuck at 1..2 C since 2026-99-25T17:05Z, while others move",
    ),
]


@pytest.mark.parametrize(("quantity", "sentence", "flag", "words"), SENTENCES)
def test_a_sentence_of_an_earlier_format_becomes_a_flag_and_is_said_as_before(
    quantity: Quantity, sentence: str, flag: Flag, words: str
) -> None:
    assert flag_of_words(sentence) == flag
    assert said(flag, quantity, MANNER, AT + timedelta(hours=2)) == words


def test_a_logbook_with_sentences_opens_with_flags_and_judges_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "curewatch.sqlite"
    before = schema.MIGRATIONS.index(flag_words.convert)
    with monkeypatch.context() as older:
        older.setattr(schema, "MIGRATIONS", schema.MIGRATIONS[:before])
        Store(path).close()
    connection = sqlite3.connect(path)
    connection.execute("INSERT INTO series VALUES (1, 'probe', 'panel', 0)")
    sentences: list[str | None] = [None, *(sentence for _, sentence, _, _ in SENTENCES)]
    for n, sentence in enumerate(sentences):
        at_ms = round((AT + timedelta(minutes=n)).timestamp() * 1000)
        connection.execute("INSERT INTO reading VALUES (1, ?, 14.2, ?)", (at_ms, sentence))
    connection.commit()
    connection.close()
    store = Store(path)
    assert [reading.flag for reading in store.tail(99)] == [
        None,
        *(flag for _, _, flag, _ in SENTENCES),
    ]
    assert [reading.value for reading in store.usable()] == [14.2]
    assert Intake(store).take([reading(200, 14.3)]) == 1
    assert path.with_suffix(f".before-format-{schema.newest()}").exists()
    store.close()
