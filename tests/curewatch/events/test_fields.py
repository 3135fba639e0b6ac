"""The table of what may be recorded of a step: one more row of it is met everywhere."""

from __future__ import annotations

import csv
import io
import json
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from curewatch.bench.bench import Bench, Details
from curewatch.errors import StepError
from curewatch.events.fields import BY_NAME, FIELDS, RECORD
from curewatch.store.store import Store

NOW = datetime(2026, 11, 14, 17, 0, tzinfo=UTC)
TOP = Path(__file__).resolve().parents[3]


@pytest.fixture(scope="module")
def texts(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """What commands and pages say where the table has two rows more: shade and gap_um."""
    folder = tmp_path_factory.mktemp("garage")
    words = [sys.executable, "-m", "tests.support.one_more_field", str(folder)]
    done = subprocess.run(words, capture_output=True, text=True, cwd=TOP)
    assert done.returncode == 0, done.stderr
    texts: dict[str, str] = json.loads(done.stdout)
    return texts


def record(log: str) -> Any:
    """The record of the only step of a log as JSON."""
    (step,) = json.loads(log)["steps"]
    return step["record"]


def test_a_new_field_is_an_option_with_its_help(texts: dict[str, str]) -> None:
    assert "--shade TEXT" in texts["help"]
    assert "Its shade, like 'pearl grey'." in texts["help"]
    assert "--gap FILM" in texts["help"]


def test_a_new_field_is_an_input_of_the_form_and_read_from_it(texts: dict[str, str]) -> None:
    assert "<span>Shade:</span><b>add</b>" in texts["form"]
    assert "<span>Gap filled:</span><b>add</b>" in texts["form"]
    assert json.loads(texts["recorded"]) == {"shade": "pearl grey", "gap_um": 2000.0}
    assert "<span>Gap filled:</span><b>2 mm</b>" in texts["filled"]


def test_a_new_field_travels_in_json_and_comes_in_again(texts: dict[str, str]) -> None:
    assert record(texts["log"])["shade"] == "pearl white"
    assert record(texts["log"])["gap_um"] == 2000.0
    assert record(texts["imported"]) == record(texts["log"])


def test_a_new_field_is_found_by_its_words(texts: dict[str, str]) -> None:
    assert len(json.loads(texts["imported"])["steps"]) == 1
    assert "epoxy" not in texts["nothing"]


def test_a_new_field_is_a_column_of_the_csv(texts: dict[str, str]) -> None:
    rows = list(csv.DictReader(io.StringIO(texts["csv"])))
    assert {(row["shade"], row["gap_um"]) for row in rows} == {("pearl white", "2000.0")}


def test_a_new_field_is_in_the_history_with_what_stood_before(texts: dict[str, str]) -> None:
    assert "shade: pearl grey; gap filled: 2 mm" in texts["history"]
    assert "shade: pearl grey → pearl white" in texts["history"]


def test_a_new_field_is_in_the_published_schema(texts: dict[str, str]) -> None:
    step = json.loads(texts["schema"])["properties"]["steps"]["items"]["properties"]
    assert step["record"]["properties"]["shade"]["type"] == "string"
    assert step["record"]["properties"]["gap_um"]["anyOf"][0]["description"] == "um"
    kinds = step["events"]["items"]["allOf"]
    bodies = [kind["then"]["properties"]["body"]["properties"] for kind in kinds]
    assert any("shade" in names and "gap_um" in names for names in bodies)


def test_a_new_field_is_on_the_hand_over_sheet(texts: dict[str, str]) -> None:
    assert "shade: pearl white" in texts["sheet"]
    assert "gap filled: 2 mm" in texts["sheet"]


def test_names_options_and_inputs_of_fields_differ() -> None:
    for names in ({f.name for f in FIELDS}, {f.option_name for f in FIELDS}):
        assert len(names) == len(FIELDS)
    assert all(field.summary != (field in RECORD) for field in FIELDS)
    assert all(BY_NAME[field.name] is field for field in FIELDS)


def test_only_fields_of_the_table_are_details() -> None:
    with pytest.raises(TypeError, match="colour"):
        Details(colour="red")


def test_a_field_with_choices_takes_no_other(tmp_path: Path) -> None:
    store = Store(tmp_path / "curewatch.sqlite")
    with pytest.raises(StepError, match="choose spray, brush"):
        Bench(store).start("epoxy-primer", now=NOW, details=Details(applied="poured"))
    store.close()
