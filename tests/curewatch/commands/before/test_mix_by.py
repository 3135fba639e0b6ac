"""Until when to mix, as it is typed: the window, the chances, and what cannot be asked."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import closing
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from freezegun import freeze_time

from curewatch.climate.reading import Reading
from curewatch.store.store import Store
from tests.conftest import Run

NOW = datetime.fromisoformat("2026-11-14T17:02:20+00:00")
EPOXY, QUICK = "epoxy-panel-adhesive", "quick-methacrylate-adhesive"


@pytest.fixture(autouse=True)
def _an_evening() -> Iterator[None]:
    with freeze_time(NOW):
        yield


def garage(tmp_path: Path, falling_c: float = 0.0) -> None:
    """Three days of a panel at 14 C, in the last of which it may cool evenly."""
    (tmp_path / "data").mkdir()
    (tmp_path / "data" / "curewatch.toml").write_text('zone = "UTC"\n')
    with closing(Store(tmp_path / "data" / "curewatch.sqlite")) as store:
        for hours in range(72):
            at, colder_c = NOW - timedelta(hours=hours), falling_c * max(0.0, 1 - hours / 24)
            store.add_readings(
                [
                    Reading("panel", "surface_temperature", 14.0 - colder_c, at),
                    Reading("panel", "relative_humidity", 55.0, at),
                ]
            )


def test_it_says_until_when_and_how_likely_each_start_is(run: Run, tmp_path: Path) -> None:
    garage(tmp_path)
    code, out, _ = run("mix-by", QUICK, "--clamps-off-by", "22:15")
    assert code == 0
    answer = json.loads(run("mix-by", QUICK, "--clamps-off-by", "22:15", "--json")[1])
    until = datetime.fromisoformat(answer["mix"]["until"])
    assert NOW < until < NOW + timedelta(hours=5, minutes=13)
    assert f"Mix by {until:%H:%M}" in out
    assert out.count(" in 10") >= 3
    assert (answer["milestone"], answer["asked_tenths"]) == ("clamp_time", 9)
    tenths = [start["tenths"] for start in answer["starts"]]
    assert tenths == sorted(tenths, reverse=True)
    assert max(tenths) == 9, "never ten"


def test_where_no_start_is_sure_it_says_the_best_chance(run: Run, tmp_path: Path) -> None:
    garage(tmp_path)
    out = run("mix-by", EPOXY, "--clamps-off-by", "22:15")[1]
    assert out.startswith("No start reaches 9 in 10")
    answer = json.loads(run("mix-by", EPOXY, "--clamps-off-by", "22:15", "--json")[1])
    assert answer["mix"] is None
    assert answer["best"]["tenths"] < 9


def test_a_day_may_be_named(run: Run, tmp_path: Path) -> None:
    garage(tmp_path)
    answer = json.loads(run("mix-by", EPOXY, "--clamps-off-by", "Sun 6 pm", "--json")[1])
    assert answer["by"] == "2026-11-15T18:00:00Z"
    assert answer["mix"] is not None


def test_on_a_panel_colder_than_the_label_allows_no_start_is_offered(
    run: Run, tmp_path: Path
) -> None:
    garage(tmp_path, falling_c=10.0)
    answer = json.loads(run("mix-by", EPOXY, "--clamps-off-by", "22:15", "--json")[1])
    assert (answer["mix"], answer["best"], answer["now_tenths"]) == (None, None, 0)
    assert "needs heat or another product" in run("mix-by", EPOXY, "--clamps-off-by", "22:15")[1]


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        ((), "one end is needed"),
        (("--before-cold", "--clamps-off-by", "22:15"), "one end is needed"),
        (("--clamps-off-by", "24 Nov 2026 22:00"), "not within the coming seven days"),
        (("--recoat-opens-by", "22:15"), "gives no time for recoat opens"),
        (("--clamps-off-by", "22:15", "--part", "seat belt bracket"), "procedure"),
        (("--before-cold",), "not too cold for it within seven days"),
    ],
)
def test_what_nobody_can_say_is_refused_in_a_sentence(
    run: Run, tmp_path: Path, words: tuple[str, ...], sentence: str
) -> None:
    garage(tmp_path)
    code, out, err = run("mix-by", EPOXY, *words)
    assert (code, out) == (2, "")
    assert sentence in err
