"""The listing of the steps says what the steps themselves say, whatever was recorded of them."""

from __future__ import annotations

import random
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from curewatch.bench.reader import MOST_LEARNED_FROM, BenchReader
from curewatch.events.outline import UNDONE
from curewatch.garage.step import Step, fold
from curewatch.garage.steps import sightings
from curewatch.products.sheet import generic_sheets
from curewatch.store.search import StepQuery
from curewatch.store.store import Store
from tests.support.many import cases

AT = datetime(2026, 10, 17, 18, 0, tzinfo=UTC)
SHEETS = generic_sheets()
PRODUCTS = ("epoxy-panel-adhesive", "epoxy-primer")


def _sheet(by: random.Random) -> dict[str, Any]:
    name = by.choice(PRODUCTS)
    return {"sheet_id": name, "sheet_text": SHEETS[name].text}


def _details(by: random.Random, at: datetime) -> dict[str, Any]:
    data: dict[str, Any] = {
        "part": by.choice(["sill", "roof seam", ""]),
        "job": by.choice(["rear corner", ""]),
        "place": by.choice(["panel", "door"]),
        "batch": by.choice(["A1", "B2", ""]),
        "can": by.choice([1, 2]),
        "mixed_at": (at - timedelta(minutes=by.randrange(9))).isoformat(),
    }
    return {name: data[name] for name in by.sample(sorted(data), by.randrange(1, 5))}


def _more(by: random.Random, at: datetime, earlier: list[int]) -> tuple[str, dict[str, Any]]:
    """Anything that may be recorded of a step: what it is, and its fields."""
    kind = by.choice(
        ["amended", "amended", "witnessed", "tested", "finished", "abandoned", "noted", "forgot"]
    )
    tested = {"milestone": "sand_ready", "result": by.choice(["reached", "not-yet", "later"])}
    bodies: dict[str, dict[str, Any]] = {
        "amended": _details(by, at) | (_sheet(by) if by.random() < 0.3 else {}),
        "witnessed": {"state": "tacky", "sample": "smear"},
        "tested": tested,
        "noted": {"text": "thin"},
        "forgot": {"event": by.choice(earlier)},
    }
    return kind, bodies.get(kind, {})


def _random_step(store: Store, by: random.Random) -> int:
    at = AT + timedelta(minutes=by.randrange(600))
    sheet = _sheet(by)
    begun = {key: each for key, each in _details(by, at).items() if key != "mixed_at"}
    number = store.add_step(sheet["sheet_id"], at, at, sheet | begun)
    for _ in range(by.randrange(7)):
        at += timedelta(minutes=3)
        earlier = [event.id for event in store.events([number])[number]]
        store.add_event(number, (told := _more(by, at, earlier))[0], at, at, told[1])
    return number


def _known(store: Store, number: int) -> Step:
    return fold(store.events([number])[number])


@pytest.mark.parametrize("case", range(cases(3)))
def test_the_listing_and_the_steps_never_disagree(tmp_path: Path, case: int) -> None:
    by, store = random.Random(case), Store(tmp_path / "curewatch.sqlite")
    every = [_known(store, _random_step(store, by)) for _ in range(40)]
    steps = [step for step in every if step.state != UNDONE]
    assert [(row.id, row.sheet, row.mixed_at, row.closed_at) for row in store.steps()] == [
        (step.id, step.sheet.id, step.mixed_at, step.closed_at) for step in steps
    ]
    assert [(w.row.id, w.part, w.job, w.place, w.abandoned) for w in store.step_summaries()] == [
        (step.id, step.part, step.job, step.place, step.state == "abandoned") for step in steps
    ]
    used: dict[tuple[str, str, int], datetime] = {}
    for step in steps:
        key = (step.sheet.id, step.batch, step.can)
        used[key] = max(used.get(key, step.mixed_at), step.mixed_at)
    assert store.batches_used() == used
    assert store.step_places() == {step.place for step in steps}
    for state in ("hardening", "finished", "abandoned", UNDONE):
        numbers = store.find(StepQuery(state=state))
        assert numbers == [step.id for step in reversed(every) if step.state == state]
    for sheet in PRODUCTS:
        seen = {step.id for step in steps if step.sheet.id == sheet and sightings(step)}
        assert seen <= set(store.looked_at(sheet))
    store.close()


def test_tests_taken_back_do_not_crowd_out_what_is_learned_from(tmp_path: Path) -> None:
    store, sheet = Store(tmp_path / "curewatch.sqlite"), SHEETS["epoxy-primer"]
    body = {"sheet_id": sheet.id, "sheet_text": sheet.text}
    seen = store.add_step(sheet.id, AT, AT, body)
    later = AT + timedelta(hours=6)
    store.add_event(seen, "witnessed", later, later, {"state": "sands", "sample": "smear"})
    for _ in range(2 * MOST_LEARNED_FROM):
        number = store.add_step(sheet.id, AT, AT, body)
        wrong = store.add_event(
            number, "witnessed", later, later, {"state": "sands", "sample": "smear"}
        )
        store.add_event(number, "forgot", later, later, {"event": wrong})
    assert [past.id for past in BenchReader(store).observed_steps(sheet)] == [seen]
    store.close()
