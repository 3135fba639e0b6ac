"""Whatever is entered, in whatever order and however often corrected, can still be shown."""

from __future__ import annotations

import random
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from curewatch.bench import marks
from curewatch.bench.bench import Bench, Details
from curewatch.climate.reading import HeatSpell, make_reading
from curewatch.errors import CurewatchError
from curewatch.exchange import announcements, bench_json
from curewatch.garage import evening, parts, storage
from curewatch.logbook import history, logbook, predictions, undo
from curewatch.plan import evening_question, morning, next_action
from curewatch.products.sheet import generic_sheets
from curewatch.vocabulary import ANSWERS, MARKS, STATES
from tests.support.logbooks import BERLIN, PAPER, opened
from tests.support.many import cases

SHEETS = sorted(generic_sheets())
PARTS = ("lid", "chassis rib", "rib", "")
TOLD = 20


def show(bench: Bench, now: datetime) -> None:
    """Work out everything that pages, commands and papers show."""
    view = bench.view(now)
    bench_json.bench(view)
    announcements.announced(view)
    for row in bench.store.steps():
        predictions.predicted(bench, bench.step(row.id))
        history.history(bench.store.events([row.id])[row.id], PAPER)
    list(logbook.csv_lines(logbook.logbook(bench, now)))
    next_action.Cards(bench).cards(now, stop=evening.stop_of(bench.store, now, BERLIN))
    morning.morning(bench, now, BERLIN)
    evening_question.question(bench, now, BERLIN)
    storage.stored_cans(bench.reader, now, BERLIN)


class Someone:
    """Tells a bench things at random, each as of `now`."""

    def __init__(self, bench: Bench, seed: int) -> None:
        self.bench, self.rng = bench, random.Random(seed)
        self.now = datetime(2026, 10, 24, self.rng.randrange(24), tzinfo=UTC)

    def tell(self) -> None:
        """One thing, a while after the last."""
        self.now += timedelta(minutes=self.rng.choice([0, 1, 3, 7, 30, 120, 600]))
        deeds: list[Callable[[], object]] = [
            self._mix, self._mix, self._look, self._test, self._rename, self._correct,
            self._mark, self._undo, self._heat, self._close, self._bare, self._part,
            self._measure,
        ]  # fmt: skip
        self.rng.choice(deeds)()

    def _then(self) -> datetime:
        return self.now - timedelta(minutes=self.rng.choice([0, 0, 5, 60, 3000]))

    def _step(self) -> int:
        return self.rng.choice([row.id for row in self.bench.store.steps()] or [0])

    def _mix(self) -> None:
        details = Details(part=self.rng.choice(PARTS), job=self.rng.choice(["", "j"]))
        sheet, then = self.rng.choice(SHEETS), self._then()
        self.bench.start(sheet, now=self.now, mixed_at=then, details=details)

    def _look(self) -> None:
        state = self.rng.choice(list(STATES))
        self.bench.witness(self._step(), state, now=self.now, seen_at=self._then())

    def _test(self) -> None:
        self.bench.test(self._step(), self.rng.choice(ANSWERS), now=self.now)

    def _rename(self) -> None:
        self.bench.amend(self._step(), Details(part=self.rng.choice(PARTS)), now=self.now)

    def _correct(self) -> None:
        self.bench.amend(self._step(), Details(), mixed_at=self._then(), now=self.now)

    def _mark(self) -> None:
        what = self.rng.choice(list(MARKS))
        marks.mark(self.bench, self._step(), what, now=self.now, at=self._then())

    def _undo(self) -> None:
        act = self.rng.choice([undo.last_one(self.bench.store), *undo.last_acts(self.bench.store)])
        undo.undo(self.bench, act, now=self.now)

    def _heat(self) -> None:
        warm = self.rng.choice([None, 30.0])
        spell = HeatSpell(self._then(), self.now + timedelta(hours=2), warm)
        say = PAPER.say
        marks.heat(self.bench, self._step(), spell, now=self.now, say=say, why="left on")

    def _close(self) -> None:
        number = self._step()
        if self.rng.random() < 0.5:
            self.bench.finish(number, now=self.now)
        else:
            self.bench.abandon(number, "ran", now=self.now)

    def _bare(self) -> None:
        name = self.rng.choice(PARTS)
        parts.bared(self.bench.store, name, "j", now=self.now, since=self._then())

    def _part(self) -> None:
        name, kind = self.rng.choice(PARTS), self.rng.choice(parts.KINDS)
        parts.mark(self.bench.store, name, self.rng.choice(["", "j"]), kind, now=self.now)
        self.rng.choice([parts.covered, parts.still_bare, parts.done])(
            self.bench.store, name, "j", now=self.now
        )

    def _measure(self) -> None:
        then = self._then()
        self.bench.store.add_readings(
            [
                make_reading(
                    "panel",
                    "surface_temperature",
                    self.rng.uniform(-5, 25),
                    then - timedelta(minutes=back),
                    "probe",
                )
                for back in range(30)
            ]
        )


@pytest.mark.parametrize("seed", range(cases(2)))
def test_everything_can_be_shown_after_anything_was_told(tmp_path: Path, seed: int) -> None:
    bench = opened(tmp_path)
    someone = Someone(bench, seed)
    someone._mix()
    refused = 0
    for _ in range(TOLD):
        try:
            someone.tell()
        except CurewatchError:
            refused += 1
        show(bench, someone.now)
    assert len(bench.store.steps()) > 1
    assert refused < TOLD / 2
    show(bench, someone.now + timedelta(days=40))
