"""The one door for readings: what is corrected, what is judged, what survives a restart."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curewatch.climate.flag import WAITED, Flag, flag_of
from curewatch.climate.reading import QUANTITIES, PlaceSettings, Quantity, Reading
from curewatch.errors import CurewatchError, StoreError
from curewatch.quality.calibration import add_check, checks, moves, stuck_spells
from curewatch.quality.intake import Intake
from curewatch.quality.reference_check import check_sensor, moved_sensor, salt_check_sensor
from curewatch.quality.salt_check import RANGE_C, humidity_over_salt
from curewatch.settings.settings import Settings, parse_settings
from curewatch.store.store import Store
from sensors.broker.process import EmbeddedBroker
from sensors.mqtt.subscriber import Subscriber
from tests.support.brokers import free_port, publish, until
from tests.system.test_layout import PACKAGES

AT = datetime(2026, 11, 25, 17, 5, tzinfo=UTC)
SURFACE, AIR, DAMP = QUANTITIES
PROBE = "workshop/node3/state"


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    opened = Store(tmp_path / "curewatch.sqlite")
    yield opened
    opened.close()


def place(name: str) -> PlaceSettings:
    return PlaceSettings()


def later(minute: float) -> datetime:
    return AT + timedelta(minutes=minute)


def reading(
    minute: float,
    value: float,
    quantity: Quantity = SURFACE,
    where: str = "panel",
    source: str = PROBE,
) -> Reading:
    return Reading(where, quantity, value, later(minute), source)


def stored_values(store: Store) -> list[tuple[float, Flag | None]]:
    """Every stored value with its flag, in order of time."""
    sql = "SELECT value, flag FROM reading ORDER BY at_ms, series"
    return [(value, flag_of(flag) if flag else None) for value, flag in store._rows(sql)]


def checked(store: Store, reference: str, minute: float, read: str = "", who: str = "") -> None:
    check_sensor(store, place, PROBE, reference, read, who, later(minute))


def test_a_check_corrects_what_is_read_from_then_on_and_nothing_before(store: Store) -> None:
    intake = Intake(store)
    intake.take([reading(0, 14.4), reading(1, 14.4)])
    checked(store, "14.0 C", 2, who="Ann")
    intake.take([reading(3, 14.4), reading(1.5, 14.4)])
    assert [value for value, _ in stored_values(store)] == [14.4, 14.4, 14.4, 14.0]


def test_a_later_check_replaces_the_offset_and_counts_from_the_sensor_itself(store: Store) -> None:
    intake = Intake(store)
    for minute, reference in ((0, "14.0 C"), (10, "14.9 C"), (20, "14.4 C")):
        intake.take([reading(minute, 14.4)])
        checked(store, reference, minute + 1)
    assert [check.offset for check in checks(store)] == [-0.4, 0.5, 0.0]
    intake.take([reading(30, 14.4)])
    assert [value for value, _ in stored_values(store)] == [14.4, 14.0, 14.9, 14.4]


def test_the_last_check_tells_when_by_whom_and_how_far_it_was_off(store: Store) -> None:
    Intake(store).take([reading(0, 14.4), reading(0, 71.0, DAMP)])
    assert checks(store, PROBE) == []
    checked(store, "14.0 C", 1, who="  Ann \n Lee ")
    salt_check_sensor(store, place, PROBE, "20 C", "71 %", "", later(2))
    sensor_check, salted = checks(store, PROBE)
    assert (sensor_check.offset, sensor_check.who, sensor_check.recorded_at, sensor_check.read) == (
        -0.4,
        "Ann Lee",
        later(1),
        14.4,
    )
    assert (salted.how, salted.quantity, salted.uncertainty) == ("salt", DAMP, 1.0)
    assert salted.offset == pytest.approx(4.48, abs=0.01)
    assert checks(store, "another") == []


def test_what_a_person_reads_off_the_sensor_counts_before_its_last_reading(store: Store) -> None:
    Intake(store).take([reading(0, 14.4)])
    checked(store, "58 F", 1, read="15 C")
    (sensor_check,) = checks(store)
    assert sensor_check.reference == pytest.approx(14.444, abs=0.001)
    assert sensor_check.offset == pytest.approx(-0.556, abs=0.001)


@pytest.mark.parametrize(
    ("source", "reference", "read", "minute", "sentence"),
    [
        ("nobody", "14 C", "", 1, "there is no reading from a sensor 'nobody'; name one of"),
        ("typed", "14 C", "", 1, "there is no reading from a sensor 'typed'"),
        (PROBE, "70 %", "", 1, "sends surface temperature; give the reference like"),
        (PROBE, "14", "", 1, "has no unit"),
        (PROBE, "30 C", "", 1, "off by more than 5 C; check both again"),
        (PROBE, "14 C", "", 45, "its last reading is too old to check; let it send"),
        (PROBE, "14 C", "300 C", 1, "is outside"),
    ],
)
def test_a_check_that_cannot_be_says_why_and_keeps_nothing(
    store: Store, source: str, reference: str, read: str, minute: float, sentence: str
) -> None:
    Intake(store).take([reading(0, 14.4), reading(0, 15.0, source="typed")])
    with pytest.raises(CurewatchError) as caught:
        check_sensor(store, place, source, reference, read, "", later(minute))
    assert sentence in str(caught.value)
    assert checks(store) == []


def test_a_topic_with_two_probes_asks_which_is_meant(store: Store) -> None:
    Intake(store).take([reading(0, 14.4), reading(0, 15.0, AIR, "air")])
    with pytest.raises(CurewatchError, match="sends several of that kind"):
        checked(store, "14 C", 1)


@given(st.floats(-5, 5), st.lists(st.floats(0.0, 100.0), min_size=1, max_size=20))
@settings(max_examples=30)
def test_a_corrected_humidity_stays_between_nothing_and_all(
    tmp_path_factory: pytest.TempPathFactory, off: float, values: list[float]
) -> None:
    store = Store(tmp_path_factory.mktemp("data") / "curewatch.sqlite")
    add_check(store, PROBE, DAMP, reference=75.0, read=75.0 - off, now=AT)
    Intake(store).take([reading(n + 1, value, DAMP) for n, value in enumerate(values)])
    for value, (stored, _) in zip(values, stored_values(store), strict=True):
        assert stored == pytest.approx(min(max(value + round(off, 3), 0), 100), abs=1e-5)
    store.close()


def test_a_check_by_another_process_counts_without_a_restart(store: Store) -> None:
    intake = Intake(store)
    intake.take([reading(0, 14.4)])
    other = Store(store.path)
    checked(other, "14.0 C", 1)
    other.close()
    intake.take([reading(2, 14.4)])
    assert stored_values(store)[-1] == (14.0, None)


def test_an_offset_is_no_jump_and_no_movement_of_a_stuck_sensor(store: Store) -> None:
    intake = Intake(store)
    for n in range(40):
        intake.take([reading(5 * n, 12 + n / 6, AIR, "air", "air"), reading(5 * n + 1, 14.2)])
    checked(store, "11.0 C", 202)
    intake.take([reading(203, 14.2)])
    assert stored_values(store)[-1] == (11.0, Flag("stuck", since=later(1), value=14.2))


def test_since_when_a_sensor_is_stuck_is_kept_once_over_restarts(store: Store) -> None:
    for n in range(60):
        warm, still = 12 + n / 6, 14.2 if n < 50 else 14.2 + n / 10
        Intake(store).take([reading(5 * n, warm, AIR, "air", "air"), reading(5 * n + 1, still)])
    (stuck_spell,) = stuck_spells(store)
    assert (stuck_spell.source, stuck_spell.place, stuck_spell.quantity) == (
        PROBE,
        "panel",
        SURFACE,
    )
    assert stuck_spell.since == later(1)
    stuck = [
        reading.at for reading in store.tail(200) if reading.flag and reading.flag.code == "stuck"
    ]
    assert stuck_spell.until == min(stuck)
    assert max(stuck) == later(246)


class FullOnce(Store):
    """A store whose disk is full the next time."""

    full = True

    def add_readings(self, readings: Sequence[Reading]) -> int:
        if self.full:
            self.full = False
            raise StoreError("nothing could be stored (disk full)", fix="make room")
        return super().add_readings(readings)


def test_what_could_not_be_stored_is_judged_anew_as_if_it_had_never_come(tmp_path: Path) -> None:
    store = FullOnce(tmp_path / "curewatch.sqlite")
    intake, batch = Intake(store), [reading(n, value) for n, value in enumerate((14.0, 60.0, 14.1))]
    with pytest.raises(StoreError):
        intake.take(batch)
    intake.take(batch)
    assert [bool(flag) for _, flag in stored_values(store)] == [False, True, False]
    store.close()


def test_storing_twice_is_storing_once_with_the_same_flags(store: Store) -> None:
    intake, batch = Intake(store), [reading(n, 14.0 if n % 3 else 60.0) for n in range(20)]
    intake.take(batch)
    before = stored_values(store)
    assert intake.take(batch) == 0
    assert Intake(store).take(batch) == 0
    assert stored_values(store) == before


def test_what_is_flagged_is_no_part_of_what_the_model_is_given(store: Store) -> None:
    Intake(store).take([reading(0, 14.0), reading(1, 60.0), reading(2, 14.2)])
    start, end = later(-60), later(60)
    assert [reading.value for reading in store.readings(start, end)] == [14.0, 14.2]
    assert [reading.value for reading in store.usable()] == [14.2]
    assert max(span.maximum for span in store.measured_spans(start, end)) == 14.2


def course(faults: Sequence[int]) -> list[Reading]:
    """Air that warms, and a probe beside it that follows, jumps or stands still for 4 h."""
    readings = []
    for n in range(96):
        follows = 12 + n / 8
        fault = faults[n // 48 % len(faults)]
        seen = (follows, 14.2, 60.0 if n % 5 == 0 else follows)[fault]
        readings.append(reading(5 * n, follows, AIR, "air", "air"))
        readings.append(reading(5 * n + 1, seen))
        readings.append(reading(5 * n + 2, 100.0 if fault == 1 else 70 + n % 4, DAMP, "air", "air"))
    return readings


@settings(max_examples=25)
@given(st.lists(st.sampled_from([0, 1, 2]), min_size=1, max_size=2), st.integers(1, 287))
def test_a_restart_forgets_no_flag_that_was_standing(
    tmp_path_factory: pytest.TempPathFactory, faults: list[int], cut: int
) -> None:
    readings, folder = course(faults), tmp_path_factory.mktemp("data")
    whole, parted = Store(folder / "whole.sqlite"), Store(folder / "parted.sqlite")
    Intake(whole).take(readings)
    Intake(parted).take(readings[:cut])
    Intake(parted).take(readings[cut:])
    one, two = stored_values(whole), stored_values(parted)
    standing = one[cut - 3 : cut]
    for n, (before, after) in enumerate(zip(one, two, strict=True)):
        assert before[0] == after[0]
        if (before[1] and before[1].code == "jump") or n < cut:
            assert after == before
        if n < cut + 3 and any(before[1] and before[1] == pair[1] for pair in standing):
            assert after == before
    whole.close()
    parted.close()


def test_a_sensor_that_reports_at_another_place_has_moved_and_the_past_stays(store: Store) -> None:
    intake = Intake(store)
    intake.take([reading(0, 14.0), reading(10, 14.1)])
    Intake(store).take([reading(100, 12.0, where="tailgate")])
    intake = Intake(store)
    intake.take([reading(110, 12.1, where="tailgate")])
    (move,) = moves(store)
    assert (move.before, move.after, move.at, move.both) == ("panel", "tailgate", later(100), False)
    assert {reading.place for reading in store.readings(later(-1), later(11))} == {"panel"}
    intake.take([reading(300, 14.0)])
    assert [move.after for move in moves(store)] == ["tailgate", "panel"]


def test_one_sensor_at_two_places_at_once_is_said_once(store: Store) -> None:
    intake = Intake(store)
    for n in range(20):
        intake.take([reading(n, 14.0), reading(n, 14.0, where="tailgate")])
    Intake(store).take([reading(20, 14.0), reading(20, 14.0, where="tailgate")])
    assert [(move.before, move.after, move.both) for move in moves(store)] == [
        ("panel", "tailgate", True)
    ]


def test_a_sensor_that_takes_up_another_topic_keeps_its_checks(store: Store) -> None:
    intake, new = Intake(store), "workshop/node9/state"
    intake.take([reading(0, 14.4)])
    checked(store, "14.0 C", 1, who="Ann")
    intake.take([reading(10, 14.4, where="tailgate", source=new)])
    (move,) = moved_sensor(store, PROBE, new, later(11))
    assert (move.before, move.after) == ("panel", "tailgate")
    assert moves(store, new) == [move]
    (sensor_check,) = checks(store, new)
    assert (sensor_check.source, sensor_check.who, sensor_check.offset) == (new, "Ann", -0.4)
    intake.take([reading(12, 14.4, where="tailgate", source=new)])
    assert [value for value, _ in stored_values(store)] == [14.4, 14.4, 14.0]


def test_two_that_cannot_be_one_sensor_are_not_made_one(store: Store) -> None:
    Intake(store).take([reading(0, 14.4), reading(0, 70.0, DAMP, "air", "damp")])
    for other in (PROBE, "damp", "nobody", "typed"):
        with pytest.raises(CurewatchError, match="cannot be one sensor"):
            moved_sensor(store, PROBE, other, later(1))
    assert store.entries("sensor") == []


def test_what_is_typed_for_several_places_is_no_sensor_that_moves(store: Store) -> None:
    intake = Intake(store)
    intake.take([reading(0, 14.0, source="typed"), reading(1, 12.0, AIR, "air", "typed")])
    intake.take([reading(2, 12.0, SURFACE, "air", "typed")])
    assert moves(store) == []


# Over saturated sodium chloride, by others than the equation used: Wexler and Hasegawa, J. Res.
# NBS 53 (1954) 19, abstract: most, 75.6 % at 30 C. Wexler, CRC Handbook, section 15, Constant
# humidity solutions, read: RH = 69.20 exp(25/T), 10 to 40 C, accurate to 2 %; below its values.
@pytest.mark.parametrize(
    ("celsius", "percent", "within"),
    [
        (30.0, 75.6, 0.6),
        (10.0, 75.59, 0.3),
        (20.0, 75.36, 0.3),
        (25.0, 75.25, 0.3),
        (40.0, 74.95, 0.3),
    ],
)
def test_the_salt_holds_what_other_tables_say(
    celsius: float, percent: float, within: float
) -> None:
    assert humidity_over_salt(celsius) == pytest.approx(percent, abs=within)


@given(st.floats(-50, 100))
def test_the_salt_check_answers_at_room_temperatures_alone(celsius: float) -> None:
    low, high = RANGE_C
    if low <= celsius <= high:
        assert 74.5 < humidity_over_salt(celsius) < 75.8
        return
    with pytest.raises(CurewatchError, match="do it indoors"):
        humidity_over_salt(celsius)


def test_a_hygrometer_that_still_moves_in_the_box_is_said_to(store: Store) -> None:
    intake = Intake(store)
    for n in range(24):
        intake.take([reading(5 * n, 50 + n, DAMP, "air", "damp")])
    _, text = salt_check_sensor(store, place, "damp", "20 C", "", "", later(116))
    assert text == "it moved by 23 % in the last two hours: wait, and check it again"
    for n in range(30):
        intake.take([reading(120 + 5 * n, 73.0, DAMP, "air", "damp")])
    _, text = salt_check_sensor(store, place, "damp", "20 C", "", "", later(266))
    assert text == ""


def test_through_a_broker_a_fault_is_kept_with_its_reason_and_a_check_corrects(
    tmp_path: Path, store: Store
) -> None:
    shown = [AT]
    settings_ = parse_settings(
        '[[mappings]]\ntopic = "workshop/+/state"\npointer = "/t"\nplace = "panel"\n'
        'quantity = "surface_temperature"\ntime = "/at"\n',
        tmp_path,
    )
    assert isinstance(settings_, Settings)
    with EmbeddedBroker(port=free_port()) as broker:
        hearing = Subscriber("127.0.0.1", broker.port, store, settings_, lambda: shown[0]).start()
        until(lambda: hearing.state.startswith("listening"))

        def send(minute: float, value: float) -> None:
            count, shown[0] = len(stored_values(store)), later(minute)
            publish(
                broker.port, PROBE, "-m", f'{{"t": {value}, "at": "{later(minute).isoformat()}"}}'
            )
            until(lambda: len(stored_values(store)) > count)

        for minute, value in ((0, 14.4), (1, 85), (2, 14.4), (3, 60)):
            send(minute, value)
        checked(store, "14.0 C", 4, read="14.4 C")
        send(5, 14.4)
        hearing.stop()
    assert stored_values(store) == [
        (14.4, None),
        (85.0, Flag("failed")),
        (14.4, None),
        (60.0, Flag("jump", gap=45.6, seconds=60.0)),
        (14.0, None),
    ]


def test_the_order_of_two_sensors_in_a_batch_does_not_matter(store: Store, tmp_path: Path) -> None:
    readings = [reading(n, 14 + n / 10) for n in range(10)]
    readings += [reading(n, 15 + n / 10, AIR, "air", "air") for n in range(10)]
    other = Store(tmp_path / "other.sqlite")
    Intake(store).take(readings)
    Intake(other).take([replace(reading) for reading in reversed(readings)])
    assert sorted(stored_values(store), key=str) == sorted(stored_values(other), key=str)
    other.close()


def test_a_wrong_clock_stays_wrong_over_a_restart_until_it_is_set(store: Store) -> None:
    course = [reading(5 * n, 14 + n / 10) for n in range(20)]
    for first, last in ((0, 8), (8, 9), (9, 12)):
        Intake(store).take(course[first:last], [3600.0] * (last - first))
    Intake(store).take(course[12:13], [2.0])
    flags = [flag for _, flag in stored_values(store)]
    assert flags[:4] == [None] * 4
    assert set(flags[4:12]) == {Flag("zone", seconds=3600.0)}
    assert flags[12] is None


def test_what_waited_at_the_broker_teaches_nothing_after_a_restart(store: Store) -> None:
    Intake(store).take([reading(0, 14.0)])
    Intake(store).take([replace(reading(n, 60.0), flag=WAITED) for n in range(1, 20)])
    Intake(store).take([reading(21, 14.0)])
    assert stored_values(store)[-1] == (14.0, None)


def test_no_reading_comes_in_by_another_door() -> None:
    top = Path(__file__).resolve().parents[3]
    files = [file for name in PACKAGES for file in (top / name).rglob("*.py")]
    callers = {file.name for file in files if ".add_readings(" in file.read_text("utf-8")}
    assert callers == {"intake.py", "import_json.py"}
