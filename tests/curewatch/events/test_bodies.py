"""What an event from elsewhere may hold: what a page would stumble over is refused at the door."""

from __future__ import annotations

from typing import Any

import pytest

from curewatch.events.bodies import read_body, wrong_with

GOOD: list[tuple[str, str, dict[str, Any]]] = [
    ("part", "marked", {"name": "rib", "job": "corner", "as": "structural", "who": "Ann"}),
    ("can", "added", {"sheet_id": "epoxy-primer", "expiry": "2027-03-31", "batch": "B 12"}),
    ("can", "opened", {"opened": "2026-10-03"}),
    ("sensor", "stuck", {"quantity": "air_temperature", "place": "panel"}),
    ("cartridge", "opened", {"name": "mask", "kind": "vapour", "maker_h": None}),
    ("heater", "owned", {"name": "lamp", "watts": 500.0, "heats": "panel", "lit_m2": 0.5}),
    ("heater", "probed", {"rise_k": 14.0}),
    ("energy", "told", {"price": 0.32}),
    ("hours", "told", {"week": "Sat 9-18", "loud_until": ""}),
    ("hours", "otherwise", {"day": "2026-11-17", "hours": ""}),
    ("wish", "told", {"name": "rib", "job": "", "end": "primed", "at": "2026-11-20T12:00:00Z"}),
    ("", "sounded", {"key": "due.3", "kind": "due", "words": "patch: test now"}),
    ("", "started", {"expiry": "see the lid"}),
]


@pytest.mark.parametrize(("subject", "kind", "body"), GOOD)
def test_what_curewatch_itself_tells_is_taken_in(
    subject: str, kind: str, body: dict[str, Any]
) -> None:
    assert wrong_with(kind, body, subject) is None


@pytest.mark.parametrize(
    ("subject", "kind", "key"),
    [
        ("part", "marked", "as"),
        ("can", "added", "sheet_id"),
        ("sensor", "stuck", "place"),
        ("sensor", "stuck", "quantity"),
        ("cartridge", "opened", "kind"),
        ("heater", "owned", "heats"),
    ],
)
def test_what_every_page_needs_of_an_entry_must_be_there(subject: str, kind: str, key: str) -> None:
    body = next(body for about, what, body in GOOD if (about, what) == (subject, kind))
    without = {name: value for name, value in body.items() if name != key}
    fault = wrong_with(kind, without, subject)
    assert fault
    assert fault.place == key
    assert fault.what.startswith("it is missing: ")


ODD: list[tuple[str, str, dict[str, Any], str, str]] = [
    ("part", "marked", {"name": "rib", "job": "", "as": "wooden"}, "as", "one of body, structural"),
    ("part", "done", {"name": True, "job": ""}, "name", "true is where text belongs"),
    ("part", "done", {"name": "\ud800", "job": ""}, "name", r'"\ud800" is where whole text'),
    ("can", "amended", {"expiry": "when it smells"}, "expiry", "is where a day"),
    ("can", "amended", {"batch": -1}, "batch", "-1 is where text"),
    ("can", "opened", {"opened": 20261003}, "opened", "is where a day"),
    ("cartridge", "opened", {"name": "mask", "kind": "all"}, "kind", "one of vapour, dust"),
    (
        "room",
        "told",
        {"volume_m3": 60, "flow_m3_h": 0, "mixing": 1},
        "flow_m3_h",
        "of at least 1 and",
    ),
    ("", "noted", {"text": 0}, "text", "0 is where text"),
    ("", "amended", {"part": []}, "part", "a list is where text"),
    ("", "amended", {"why": True}, "why", "true is where text"),
    ("", "amended", {"amount_g": 10**400}, "amount_g", "a number that large is"),
    ("", "amended", {"amount_g": float("nan")}, "amount_g", "NaN is where a number above 0"),
    ("", "amended", {"cleaned_at": "0001-01-01T00:00:00Z"}, "cleaned_at", "between 1970 and 2199"),
    ("", "amended", {"sheet_text": "name = 3"}, "sheet_text", "the product cannot be read"),
    (
        "",
        "heated",
        {"from": "now", "until": "x", "surface_c": 3},
        "from",
        "is where a date and time",
    ),
    ("", "in_use", {"until": "2026-11-14T17:00:00"}, "until", "with its time zone"),
    ("", "overridden", {"stops": ["cold", 3], "why": ""}, "stops/1", "3 is where text"),
    (
        "",
        "tested",
        {"milestone": "sand_ready", "result": "gone-off"},
        "result",
        "not an answer to this test",
    ),
    ("", "photographed", {"name": "../x.jpg"}, "name", "32 hex digits and .jpg"),
    ("", "forgot", {"event": True}, "event", "a whole number of at least 1"),
    ("", "dreamt of later", {"new": {"er": 1}}, "new", "values is where text"),
]


@pytest.mark.parametrize(("subject", "kind", "body", "place", "says"), ODD)
def test_what_no_page_could_read_is_refused_with_its_place(
    subject: str, kind: str, body: dict[str, Any], place: str, says: str
) -> None:
    fault = wrong_with(kind, body, subject)
    assert fault
    assert fault.place == place
    assert says in fault.what


@pytest.mark.parametrize("text", ["", "[]", "true", "nonsense", "[" * 100_000])
def test_a_body_that_is_not_an_object_is_damaged(text: str) -> None:
    assert read_body(text, "noted")[1] in ("it cannot be read", "it has no named values")
