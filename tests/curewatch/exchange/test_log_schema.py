"""What `curewatch data export` prints is what its published schema says."""

from __future__ import annotations

import contextlib
import io
import json
import re
import sys
from collections.abc import Callable, Iterator
from copy import deepcopy
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

from curewatch.commands import main
from curewatch.exchange.log_schema import SCHEMA

TYPES: dict[str, Callable[[Any], bool]] = {
    "object": lambda value: isinstance(value, dict),
    "array": lambda value: isinstance(value, list),
    "string": lambda value: isinstance(value, str),
    "boolean": lambda value: isinstance(value, bool),
    "null": lambda value: value is None,
    "integer": lambda value: isinstance(value, int) and not isinstance(value, bool),
    "number": lambda value: isinstance(value, int | float) and not isinstance(value, bool),
}
KNOWN = {
    "$schema", "title", "description", "type", "enum", "anyOf", "minimum", "format", "required",
    "properties", "additionalProperties", "items", "allOf", "maximum", "exclusiveMinimum",
    "minLength", "maxLength", "pattern",
}  # fmt: skip


def faults(value: Any, schema: dict[str, Any], path: str = "") -> Iterator[str]:
    """Where a value is not as the keywords that this schema uses ask."""
    assert set(schema) <= KNOWN
    if "anyOf" in schema and all(list(faults(value, part)) for part in schema["anyOf"]):
        yield f"{path} fits none"
    for part in schema.get("allOf", ()):
        if not list(faults(value, part["if"])):
            yield from faults(value, part["then"], path)
    if "enum" in schema and value not in schema["enum"]:
        yield f"{path} is none of {schema['enum']}"
    if "type" in schema and not TYPES[schema["type"]](value):
        yield f"{path} is no {schema['type']}"
        return
    if "minimum" in schema and value < schema["minimum"]:
        yield f"{path} is under {schema['minimum']}"
    if "exclusiveMinimum" in schema and value <= schema["exclusiveMinimum"]:
        yield f"{path} is not over {schema['exclusiveMinimum']}"
    if "maximum" in schema and value > schema["maximum"]:
        yield f"{path} is over {schema['maximum']}"
    if not schema.get("minLength", 0) <= len(str(value)) <= schema.get("maxLength", 10**9):
        yield f"{path} is too short or too long"
    if "pattern" in schema and not re.search(schema["pattern"], value):
        yield f"{path} is not like {schema['pattern']}"
    if schema.get("format") == "date" and not re.fullmatch(r"\d{4}-\d\d-\d\d", value):
        yield f"{path} is not a date"
    if schema.get("format") == "date-time" and not _is_time(value):
        yield f"{path} is not a time"
    if isinstance(value, dict):
        yield from (
            f"{path}/{key} is missing" for key in schema.get("required", ()) if key not in value
        )
        for key, entry in value.items():
            inner = schema.get("properties", {}).get(key, schema.get("additionalProperties", {}))
            yield from faults(entry, inner, f"{path}/{key}")
    if isinstance(value, list):
        for index, entry in enumerate(value):
            yield from faults(entry, schema.get("items", {}), f"{path}/{index}")


def _is_time(text: str) -> bool:
    try:
        return datetime.fromisoformat(text).tzinfo is not None
    except ValueError:
        return False


Run = Callable[..., str]


@contextlib.contextmanager
def typing(folder: Path) -> Iterator[Run]:
    """The command as typed, on the data in a folder; it gives what was printed."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("CUREWATCH_DATA", str(folder))

        def typed(*words: str) -> str:
            patch.setattr(sys, "argv", ["curewatch", *words])
            with contextlib.redirect_stdout(io.StringIO()) as printed:
                assert main.main() == 0
            return printed.getvalue()

        yield typed


@pytest.fixture(scope="module")
def log(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """The log of an evening: one step witnessed, tested and finished, one stalled, one failed."""
    with typing(tmp_path_factory.mktemp("evening")) as run:
        return evening(run)


def evening(run: Run) -> dict[str, Any]:
    run("reading", "add", "--surface", "14.2 C", "--air", "15 C", "--humidity", "68 %")
    run("mix", "epoxy-panel-adhesive", "--ago", "5 min", "--amount", "60 g", "--acknowledge")
    run("dab", "1", "tacky")
    run("test", "1", "gone-off", "--milestone", "working_time", "--yes")
    run("step", "note", "1", "a note")
    run("done", "1", "--yes")
    run("reading", "add", "--surface", "2 C")
    run("mix", "fibre-polyester-filler", "--hardener", "2 %", "--why", "a trial piece only")
    run("mix", "waterborne-primer", "--why", "a trial piece only")
    run("done", "3", "--failed", "ran")
    run("step", "mark", "3", "coat", "--film-wet", "120 um")
    run("step", "edit", "3", "--grit", "P80", "--cleaned", "1 min", "--why", "asked", "--by", "me")
    run("can", "add", "epoxy-primer", "--batch", "P-1")
    data: dict[str, Any] = json.loads(run("log", "--json"))
    return data


def test_an_evenings_log_is_as_published(log: dict[str, Any]) -> None:
    assert {step["state"] for step in log["steps"]} == {"hardening", "finished", "abandoned"}
    assert list(faults(log, SCHEMA)) == []


def test_the_schema_comes_from_the_command(tmp_path: Path) -> None:
    with typing(tmp_path) as run:
        assert json.loads(run("data", "schema")) == SCHEMA


def test_every_key_that_is_printed_is_published(log: dict[str, Any]) -> None:
    assert set(log) == set(SCHEMA["properties"])
    step = SCHEMA["properties"]["steps"]["items"]
    for row in log["steps"]:
        assert set(row) == set(step["properties"])
        for name in (
            "milestones",
            "witnesses",
            "lost",
            "conditions",
            "moments",
            "sensors",
            "events",
        ):
            names = set(step["properties"][name]["items"]["properties"])
            assert all(set(inner) <= names for inner in row[name])


@pytest.mark.parametrize(
    ("key", "wrong", "says"),
    [
        ("state", "cured", "/steps/0/state is none of"),
        ("mixed", "yesterday", "/steps/0/mixed is not a time"),
        ("mixed", "2026-11-14T18:00:00", "/steps/0/mixed is not a time"),
        ("amount_g", "60 g", "/steps/0/amount_g fits none"),
        ("amount_g", -1, "/steps/0/amount_g fits none"),
        ("step", True, "/steps/0/step is no integer"),
        ("milestones", [{}], "/steps/0/milestones/0/early is missing"),
    ],
)
def test_what_is_not_a_log_is_found_out(
    log: dict[str, Any], key: str, wrong: Any, says: str
) -> None:
    broken = deepcopy(log)
    broken["steps"][0][key] = wrong
    assert any(fault.startswith(says) for fault in faults(broken, SCHEMA))
