"""An event as it goes out is an event as it comes in."""

from __future__ import annotations

from pathlib import Path

import pytest

from curewatch.events.json_schema import Fault, fault
from curewatch.exchange.event_json import (
    ENTRY_SHAPE,
    EVENT_SHAPE,
    as_json,
    entry,
    event,
)
from tests.support.logbooks import evening


def test_what_goes_out_fits_its_shape_and_comes_in_the_same(tmp_path: Path) -> None:
    store = evening(tmp_path).store
    numbers = [row.id for row in store.steps()]
    events = [row for rows in store.events(numbers).values() for row in rows]
    assert len(events) > 5
    for row in events:
        assert fault(as_json(row), EVENT_SHAPE) is None
        assert event(as_json(row), row.step) == row
    for ledger_entry in store.all_entries():
        assert fault(as_json(ledger_entry), ENTRY_SHAPE) is None
        assert entry(as_json(ledger_entry)) == ledger_entry


@pytest.mark.parametrize(
    ("kind", "body", "place"),
    [
        ("tested", {"milestone": "sand_ready", "result": "gone-off"}, "body/result"),
        ("started", {"amount_g": -1}, "body/amount_g"),
        ("heated", {"until": "soon", "surface_c": 20}, "body/from"),
    ],
)
def test_an_event_that_cannot_be_is_refused_with_its_place(
    kind: str, body: dict[str, object], place: str
) -> None:
    at = "2026-11-14T17:00:00.000Z"
    item = {"event": 1, "kind": kind, "at": at, "told": at, "body": body}
    read = event(item, 1)
    assert isinstance(read, Fault)
    assert read.place == place
