"""Whatever single value of a log's JSON is changed: it is refused with its place, or every page
answers on."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from curewatch.errors import CurewatchError
from curewatch.events.bodies import BODIES, FORGOT
from curewatch.exchange import import_json
from curewatch.exchange.log_schema import SCHEMA
from tests.curewatch.exchange.test_log_schema import faults
from tests.support import crafted_exports

BROKE = [
    ("part", "part", -1),
    ("job", "part", True),
    ("part", "part", []),
    ("batch", "can", -1),
    ("text", "noted", 0),
    ("why", "amended", True),
    ("name", "part", True),
    ("name", "part", "\ud800"),
    ("result", "tested", {}),
]


@pytest.fixture(scope="module")
def data(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    bench = crafted_exports.rich(tmp_path_factory.mktemp("rich"))
    data = crafted_exports.exported(bench)
    bench.store.close()
    return data


def _kinds(data: dict[str, Any]) -> set[tuple[str, str]]:
    events = [("", event["kind"]) for step in data["steps"] for event in step["events"]]
    return {*events, *((entry["subject"], entry["kind"]) for entry in data["ledger"])}


def test_the_log_that_is_changed_has_an_event_of_every_kind(data: dict[str, Any]) -> None:
    assert set(BODIES) <= _kinds(data)
    assert ("", "forgot") in _kinds(data)


def test_what_is_exported_is_as_published_and_taken_in(
    data: dict[str, Any], tmp_path: Path
) -> None:
    assert list(faults(data, SCHEMA)) == []
    bench = crafted_exports.accepted(tmp_path, data)
    assert bench
    assert crafted_exports.failing(bench) == {}
    bench.store.close()


def _refused(data: dict[str, Any], path: tuple[str | int, ...], value: object) -> str:
    with pytest.raises(CurewatchError) as refused:
        import_json.unpack(json.dumps(crafted_exports.changed(data, path, value)), "a.json")
    return str(refused.value)


def _first(data: dict[str, Any], key: str, kind: str) -> tuple[str | int, ...]:
    def fits(at: Any) -> bool:
        return key in at["body"] and kind in (at["kind"], at.get("subject"))

    for index, entry in enumerate(data["ledger"]):
        if fits(entry):
            return "ledger", index, "body", key
    return next(
        ("steps", number, "events", index, "body", key)
        for number, step in enumerate(data["steps"])
        for index, event in enumerate(step["events"])
        if fits(event) or (kind == "part" and event["kind"] == "started" and key in event["body"])
    )


@pytest.mark.parametrize(("key", "kind", "value"), BROKE)
def test_what_broke_the_bench_is_refused_and_its_place_named(
    data: dict[str, Any], key: str, kind: str, value: object
) -> None:
    path = _first(data, key, kind)
    text = _refused(data, path, value)
    assert text.startswith(f"a.json, {'/'.join(map(str, path))}: ")
    assert text.endswith("; correct it there, or make the file again with: curewatch data export.")


@pytest.mark.parametrize("kind", ["opened", "amended", "used up", "of a later version"])
def test_a_can_that_is_not_named_by_its_number_is_refused(data: dict[str, Any], kind: str) -> None:
    index = next(
        index
        for index, entry in enumerate(data["ledger"])
        if entry["subject"] == "can" and entry["kind"] == "opened"
    )
    changed_data = crafted_exports.changed(data, ("ledger", index, "kind"), kind)
    changed_data = crafted_exports.changed(
        changed_data, ("ledger", index, "body"), {"used_up": True}
    )
    for name in ("", "one", "0", "9" * 40):
        text = _refused(changed_data, ("ledger", index, "name"), name)
        assert text.startswith(f"a.json, ledger/{index}/name: "), text


def _said(data: dict[str, Any]) -> str:
    try:
        import_json.unpack(json.dumps(data), "a.json")
    except CurewatchError as error:
        return str(error)
    return "a.json is taken in"


def test_no_change_of_a_value_ends_the_import_but_with_a_sentence(data: dict[str, Any]) -> None:
    cases = [
        (path, name) for path in crafted_exports.paths(data) for name in crafted_exports.VALUES
    ]
    small = data | {"readings": data["readings"][:1], "photographs": []}
    for path, name in cases[::97]:
        if path[0] not in ("photographs", "readings"):
            assert _said(
                crafted_exports.changed(small, path, crafted_exports.VALUES[name])
            ).startswith("a.json")


def test_kinds_that_undo_are_published(data: dict[str, Any]) -> None:
    kinds = SCHEMA["properties"]["steps"]["items"]["properties"]["events"]["items"]["allOf"]
    assert FORGOT in [each["then"]["properties"]["body"] for each in kinds]
