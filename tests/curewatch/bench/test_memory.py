"""A bench that has been running answers at any time as one that is opened just then."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule

from curewatch.bench import marks
from curewatch.bench.bench import Bench, Details
from curewatch.climate.reading import QUANTITIES, HeatSpell, Reading
from curewatch.errors import CurewatchError
from curewatch.formats import ReaderFormat
from curewatch.garage import parts
from curewatch.logbook import predictions, undo
from curewatch.plan.next_action import Cards
from curewatch.protection import purge
from curewatch.quality import typed
from curewatch.quality.calibration import StuckSpell, add_check, add_stuck_spell
from curewatch.quality.intake import Intake
from curewatch.store.store import Store
from curewatch.vocabulary import ANSWERS, STATES
from tests.support.many import cases

SURFACE, AIR, DAMP = QUANTITIES
AT = datetime(2026, 10, 24, 9, tzinfo=UTC)
SHEETS = ("epoxy-panel-adhesive", "seam-sealer", "fibre-polyester-filler")
SAY = ReaderFormat(ZoneInfo("Europe/Berlin"))


def opened(path: Path) -> Bench:
    store = Store(path)
    return Bench(store)


def answers(bench: Bench, now: datetime) -> list[str]:
    """Whatever a bench says now, to the last digit."""
    answers: list[object] = [replace(bench.view(now), revision="")]
    for row in bench.store.steps():
        answers.append(bench.step_view(row.id, now))
        answers.append(predictions.predicted(bench, bench.step(row.id)))
    answers += [Cards(bench).cards(now), purge.recently_closed(bench, now)]
    return [repr(sentence) for sentence in answers]


def logger(start: datetime, hours: float, value: float, source: str = "file log") -> list[Reading]:
    """A logger's file, a reading every five minutes."""
    return [
        Reading("panel", SURFACE, value + n % 7 / 10, start + timedelta(minutes=5 * n), source)
        for n in range(round(12 * hours))
    ]


def same(running: Bench, now: datetime) -> None:
    """Hold a running bench against one that is opened now."""
    fresh = opened(running.store.path)
    try:
        assert answers(running, now) == answers(fresh, now)
    finally:
        fresh.store.close()


@pytest.fixture
def running(tmp_path: Path) -> Bench:
    return opened(tmp_path / "curewatch.sqlite")


def test_what_was_learned_follows_the_readings_of_a_file_that_came_later(running: Bench) -> None:
    number = running.start(SHEETS[0], now=AT)
    running.witness(number, "fingernail", now=AT + timedelta(hours=3))
    running.finish(number, now=AT + timedelta(hours=9))
    now = AT + timedelta(days=1)
    running.start(SHEETS[0], now=now)
    before = answers(running, now + timedelta(minutes=5))
    Intake(running.store).take(logger(AT - timedelta(hours=4), 14, 9.0))
    assert answers(running, now + timedelta(minutes=5)) != before
    same(running, now + timedelta(minutes=5))


def test_a_closed_step_follows_what_is_read_of_its_time_afterwards(running: Bench) -> None:
    number = running.start(SHEETS[2], now=AT, details=Details(part="sill", job="j"))
    running.finish(number, now=AT + timedelta(hours=1))
    now = AT + timedelta(hours=2)
    answers(running, now)
    other = opened(running.store.path)
    Intake(other.store).take(logger(AT - timedelta(hours=1), 2, 9.0))
    other.store.close()
    same(running, now)


def test_readings_that_come_in_order_leave_what_was_learned_as_it_is(running: Bench) -> None:
    number = running.start(SHEETS[0], now=AT)
    running.witness(number, "tacky", now=AT + timedelta(hours=1))
    running.finish(number, now=AT + timedelta(hours=9))
    now = AT + timedelta(days=1)
    step, reader, intake = running.step(number), running.reader, Intake(running.store)
    past = reader.past_step(step)
    for minute in range(5):
        intake.take(logger(now + timedelta(minutes=minute), 0.1, 14.0, "probe"))
        assert reader.past_step(step) is past
    intake.take([Reading("panel", SURFACE, 9.0, AT, "file log")])
    assert reader.past_step(step) is not past


class GarageHistory(RuleBasedStateMachine):
    """Anything that may happen to a bench, entered here or by another process."""

    def __init__(self) -> None:
        super().__init__()
        self.folder = TemporaryDirectory()
        self.running = opened(Path(self.folder.name) / "curewatch.sqlite")
        self.other = opened(self.running.store.path)
        self.now = AT

    def teardown(self) -> None:
        self.running.store.close()
        self.other.store.close()
        self.folder.cleanup()

    def tell(self, here: bool, deed: Callable[[Bench], Any]) -> None:
        """Do something here or in another process; what cannot be is refused."""
        with suppress(CurewatchError):
            deed(self.running if here else self.other)

    @initialize(warm=st.floats(5, 25))
    def begin(self, warm: float) -> None:
        Intake(self.running.store).take(logger(AT - timedelta(hours=5), 5, warm, "probe"))
        number = self.running.start(SHEETS[0], now=AT - timedelta(minutes=40))
        self.running.witness(number, "workable", now=AT - timedelta(minutes=20))

    @rule(here=st.booleans(), sheet=st.sampled_from(SHEETS), ago=st.integers(0, 90))
    def mix(self, here: bool, sheet: str, ago: int) -> None:
        details, then = Details(part="sill", job="j"), self.now - timedelta(minutes=ago)
        self.tell(here, lambda b: b.start(sheet, now=self.now, mixed_at=then, details=details))

    @rule(
        here=st.booleans(),
        number=st.integers(1, 4),
        state=st.sampled_from(sorted(STATES)),
        ago=st.integers(0, 30),
    )
    def look(self, here: bool, number: int, state: str, ago: int) -> None:
        then = self.now - timedelta(minutes=ago)
        self.tell(here, lambda b: b.witness(number, state, now=self.now, seen_at=then))

    @rule(here=st.booleans(), number=st.integers(1, 4), answer=st.sampled_from(ANSWERS))
    def test(self, here: bool, number: int, answer: str) -> None:
        self.tell(here, lambda b: b.test(number, answer, now=self.now))

    @rule(here=st.booleans(), act=st.integers(1, 20))
    def undo(self, here: bool, act: int) -> None:
        self.tell(here, lambda b: undo.undo(b, undo.past_act(b.store, act), now=self.now))

    @rule(here=st.booleans())
    def undo_the_last(self, here: bool) -> None:
        self.tell(here, lambda b: undo.undo(b, undo.last_one(b.store), now=self.now))

    @rule(here=st.booleans(), value=st.floats(3, 40), late=st.integers(0, 500))
    def type_in(self, here: bool, value: float, late: int) -> None:
        readings = [Reading("panel", SURFACE, value, self.now - timedelta(minutes=late))]
        self.tell(here, lambda b: typed.enter(b.store, Intake(b.store), readings, self.now))

    @rule(here=st.booleans(), again=st.booleans(), which=st.integers(0, 3))
    def take_back(self, here: bool, again: bool, which: int) -> None:
        change = typed.use_again if again else typed.take_back
        self.tell(
            here,
            lambda b: change(
                b.store, typed.history(b.store, self.now)[which : which + 1], self.now
            ),
        )

    @rule(here=st.booleans(), number=st.integers(1, 4), ago=st.integers(0, 300))
    def correct(self, here: bool, number: int, ago: int) -> None:
        then = self.now - timedelta(minutes=ago)
        details = Details(amount_g=float(20 + ago))
        self.tell(here, lambda b: b.amend(number, details, now=self.now, mixed_at=then))

    @rule(here=st.booleans(), number=st.integers(1, 4), warm=st.none() | st.floats(20, 45))
    def heat(self, here: bool, number: int, warm: float | None) -> None:
        spell = HeatSpell(self.now - timedelta(minutes=30), self.now, warm)
        self.tell(
            here,
            lambda b: marks.heat(b, number, spell, now=self.now, say=SAY, why="left on"),
        )

    @rule(here=st.booleans(), number=st.integers(1, 4), well=st.booleans())
    def close(self, here: bool, number: int, well: bool) -> None:
        self.tell(
            here,
            lambda b: (
                b.finish(number, now=self.now) if well else b.abandon(number, "ran", now=self.now)
            ),
        )

    @rule(here=st.booleans(), kind=st.sampled_from(parts.KINDS))
    def mark_part(self, here: bool, kind: str) -> None:
        self.tell(here, lambda b: parts.mark(b.store, "sill", "j", kind, now=self.now))

    @rule(
        here=st.booleans(),
        source=st.sampled_from(("probe", "other probe", "typed")),
        quantity=st.sampled_from(QUANTITIES),
        place=st.sampled_from(("panel", "air")),
        value=st.floats(3, 40),
        late=st.integers(0, 500),
        count=st.integers(1, 3),
    )
    def measure(
        self,
        here: bool,
        source: str,
        quantity: Any,
        place: str,
        value: float,
        late: int,
        count: int,
    ) -> None:
        readings = [
            Reading(place, quantity, value, self.now - timedelta(minutes=late + 2 * n), source)
            for n in reversed(range(count))
        ]
        self.tell(here, lambda b: Intake(b.store).take(readings))

    @rule(
        here=st.booleans(), back=st.integers(1, 30), hours=st.floats(1, 6), value=st.floats(3, 35)
    )
    def import_file(self, here: bool, back: int, hours: float, value: float) -> None:
        readings = logger(self.now - timedelta(hours=back), min(hours, back), value)
        self.tell(here, lambda b: Intake(b.store).take(readings))

    @rule(here=st.booleans(), off=st.floats(-3, 3), stuck_min=st.integers(0, 300))
    def sensor(self, here: bool, off: float, stuck_min: int) -> None:
        start = self.now - timedelta(minutes=stuck_min)
        flat = StuckSpell("probe", "panel", SURFACE, start, self.now)
        self.tell(here, lambda b: add_stuck_spell(b.store, flat))
        self.tell(
            here,
            lambda b: add_check(b.store, "probe", SURFACE, reference=9, read=9 - off, now=self.now),
        )

    @rule(minutes=st.sampled_from((1, 7, 25, 60, 300)))
    def wait(self, minutes: int) -> None:
        self.now += timedelta(minutes=minutes)

    @invariant()
    def both_answer_the_same(self) -> None:
        same(self.running, self.now)


TestGarage = GarageHistory.TestCase
TestGarage.settings = settings(
    max_examples=cases(2),
    stateful_step_count=12,
    deadline=None,
    suppress_health_check=list(HealthCheck),
)


def test_each_write_raises_the_marks_of_what_it_changes_and_no_other(running: Bench) -> None:
    store, other = running.store, Store(running.store.path)

    def marks() -> tuple[str, str, str]:
        return store.revision(), store.entered(), store.measured(AT)

    def raised(write: Callable[[], object]) -> list[bool]:
        before = marks()
        write()
        return [one != two for one, two in zip(before, marks(), strict=True)]

    late = [Reading("panel", SURFACE, 9.0, AT + timedelta(minutes=2), "probe")]
    early = [Reading("panel", SURFACE, 9.0, AT - timedelta(days=2), "probe")]
    flat = StuckSpell("probe", "panel", SURFACE, AT, AT)
    for which in (store, other):
        bench = Bench(which)
        assert raised(partial(bench.start, SHEETS[0], now=AT)) == [True, True, False]
        assert raised(partial(bench.note, 1, "x", now=AT)) == [True, True, False]
        assert raised(partial(which.save_sheet, "own", "", AT)) == [True, True, False]
        assert raised(partial(which.add_entry, "tool", "1", "used", AT, AT, {})) == [
            True,
            True,
            False,
        ]
        assert raised(partial(which.refuse, AT, "x", "no")) == [True, False, False]
        assert raised(partial(which.add_readings, late)) == [True, False, False]
        assert raised(partial(which.add_readings, early)) == [True, False, True]
        assert raised(partial(which.merge, [], [], {})) == [True, True, True]
    assert raised(lambda: add_stuck_spell(other, flat)) == [True, True, True]
    other.close()
