"""What an event from elsewhere may hold: what a page would stumble over is refused at the door."""

from __future__ import annotations

from typing import Any

import pytest

from curewatch.bodies import wrong_with

GOOD: list[tuple[str, str, dict[str, Any]]] = [
    ("part", "marked", {"name": "rib", "job": "corner", "as": "structural", "who": "Ann"}),
    ("can", "added", {"sheet_id": "epoxy-primer", "expiry": "2027-03-31", "batch": "B 12"}),
    ("can", "opened", {"opened": "2026-10-03"}),
    ("sensor", "stuck", {"quantity": "air_temperature", "place": "panel"}),
    ("cartridge", "opened", {"name": "mask", "kind": "vapour", "maker_h": None}),
    ("", "sounded", {"key": "due.3", "kind": "due", "words": "patch: test now"}),
    ("", "started", {"expiry": "see the lid"}),
]


@pytest.mark.parametrize(("subject", "kind", "body"), GOOD)
def test_what_curewatch_itself_tells_is_taken_in(
    subject: str, kind: str, body: dict[str, Any]
) -> None:
    assert wrong_with(kind, body, subject) == ""


@pytest.mark.parametrize(
    ("subject", "kind", "key"),
    [
        ("part", "marked", "as"),
        ("can", "added", "sheet_id"),
        ("sensor", "stuck", "place"),
        ("sensor", "stuck", "quantity"),
        ("cartridge", "opened", "kind"),
    ],
)
def test_what_every_page_needs_of_an_entry_must_be_there(subject: str, kind: str, key: str) -> None:
    body = next(body for about, what, body in GOOD if (about, what) == (subject, kind))
    without = {name: value for name, value in body.items() if name != key}
    assert wrong_with(kind, without, subject) == f"{kind} lacks {key}"


@pytest.mark.parametrize(
    ("subject", "kind", "body", "key"),
    [
        ("part", "marked", {"name": "rib", "job": "", "as": "wooden"}, "as"),
        ("can", "amended", {"expiry": "when it smells"}, "expiry"),
        ("can", "opened", {"opened": 20261003}, "opened"),
        ("cartridge", "opened", {"name": "mask", "kind": "all"}, "kind"),
    ],
)
def test_what_no_page_could_read_is_refused(
    subject: str, kind: str, body: dict[str, Any], key: str
) -> None:
    assert wrong_with(kind, body, subject) == f"{kind} has an odd {key}"
