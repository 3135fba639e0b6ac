"""The model without the garage, as scripts use it."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest

from curewatch.cure.estimate import estimate, read_conditions
from curewatch.errors import ModelError
from curewatch.notice import Duration, notice
from tests.support.steps import sheet

EPOXY = sheet(times={"pot_life": 40, "working_time": 50, "clamp_time": 240})
HEAD = "time,temperature_c\n"


def log(rows: list[tuple[str, float]]) -> str:
    return HEAD + "".join(f"{at},{value}\n" for at, value in rows)


def test_it_is_json_with_the_documented_keys() -> None:
    data = json.loads(json.dumps(estimate(EPOXY, temperature_c=12.0), allow_nan=False))
    assert set(data) == {"milestones", "factors", "ratio", "reason", "warnings", "warning_codes"}
    assert set(data["milestones"][0]) == {
        "milestone",
        "early_min",
        "likely_min",
        "late_min",
        "shown",
        "label_min",
        "warnings",
        "warning_codes",
    }
    assert [milestone["milestone"] for milestone in data["milestones"]] == [
        "pot_life",
        "working_time",
        "clamp_time",
    ]


def test_refused_times_are_null_and_still_json() -> None:
    clamped = sheet(times={"clamp_time": 240, "sand_ready": 360})
    data = json.loads(json.dumps(estimate(clamped, temperature_c=2.0), allow_nan=False))
    assert data["milestones"][1]["likely_min"] is None
    assert data["ratio"] is None
    assert data["factors"] == []


def test_factors_multiply_to_the_ratio_as_printed() -> None:
    data = estimate(EPOXY, temperature_c=12.0)
    product = math.prod(factor["times"] for factor in data["factors"])
    assert product == pytest.approx(data["ratio"], rel=1e-4)


def test_a_log_at_one_temperature_is_that_temperature() -> None:
    rows = [(f"2026-10-24T{18 + i // 60:02d}:{i % 60:02d}:00Z", 14.0) for i in range(0, 300)]
    logged = estimate(EPOXY, conditions=read_conditions(log(rows), "log.csv"))
    constant = estimate(EPOXY, temperature_c=14.0)
    for one, two in zip(logged["milestones"], constant["milestones"], strict=True):
        assert one["likely_min"] == pytest.approx(two["likely_min"], rel=5e-3)


def test_a_log_with_a_clock_change_is_read_by_its_offsets() -> None:
    rows = [("2026-10-25T02:30:00+02:00", 10.0), ("2026-10-25T02:30:00+01:00", 14.0)]
    conditions = read_conditions(log(rows), "log.csv")
    assert conditions.surface_c.size == 61
    assert conditions.surface_c[[0, 30, 60]] == pytest.approx([10.0, 12.0, 14.0])


def test_rows_far_apart_are_doubted_and_said() -> None:
    rows = [("2026-10-25T00:00:00Z", 10.0), ("2026-10-25T08:00:00Z", 14.0)]
    conditions = read_conditions(log(rows), "log.csv")
    assert conditions.surface_sd_c[240] == pytest.approx(0.75 * np.sqrt(2.0), rel=1e-6)
    assert conditions.notes == (notice("rows-apart", gap=Duration(480.0)),)
    every = "".join(
        f"2026-10-25T{i // 60:02d}:{i % 60:02d}:00Z,{10 + i / 120}\n" for i in range(481)
    )
    wide = estimate(EPOXY, conditions=conditions)["milestones"][2]
    narrow = estimate(EPOXY, conditions=read_conditions(HEAD + every, "log.csv"))["milestones"][2]
    assert wide["late_min"] - wide["early_min"] > narrow["late_min"] - narrow["early_min"]


def test_humidity_may_stand_in_the_log() -> None:
    text = (
        "time,temperature_c,humidity_pct\n2026-10-25T00:00:00Z,20,80\n2026-10-25T00:30:00Z,20,60\n"
    )
    conditions = read_conditions(text, "log.csv")
    assert conditions.humidity_pct[[0, 15, 30]] == pytest.approx([80.0, 70.0, 60.0])
    sealer = sheet("moisture-urethane", {"full_cure": 1440})
    damp = estimate(sealer, conditions=conditions)["milestones"][0]["likely_min"]
    dry = estimate(sealer, temperature_c=20.0, humidity_pct=40.0)["milestones"][0]["likely_min"]
    assert damp < dry


def test_amount_film_and_hardener_are_taken() -> None:
    filler = sheet(
        "polyester-peroxide",
        {"working_time": 5, "sand_ready": 25},
        limits='hardener = ["1 %", "2 %", "3 %"]',
    )
    usual, more = (estimate(filler, temperature_c=21.0, hardener_pct=h) for h in (2.0, 3.0))
    assert more["milestones"][1]["likely_min"] < usual["milestones"][1]["likely_min"]
    much = estimate(EPOXY, temperature_c=21.0, mass_g=500.0)["milestones"][0]
    assert much["likely_min"] < 40.0
    solvent = sheet("solvent-1k", {"recoat_opens": 30}, extra='film = "50 um"')
    thick = estimate(solvent, temperature_c=21.0, film_um=100.0)["milestones"][0]
    assert thick["likely_min"] == pytest.approx(30 * 2**1.5, rel=0.01)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "the header is not time,temperature_c"),
        ("zeit,grad\n", "the header is not time,temperature_c"),
        (HEAD, "0 rows"),
        (HEAD + "2026-10-25 soon,10\n", "line 2: '2026-10-25 soon' is not a time"),
        (HEAD + "2026-10-25T00:00:00,10\n", "line 2: '2026-10-25T00:00:00' has no zone"),
        (HEAD + "2026-10-25T00:00:00Z,warm\n", "line 2: 'warm' is not a value in C"),
        (HEAD + "2026-10-25T00:00:00Z,nan\n", "line 2: 'nan' is not a value in C"),
        (HEAD + "2026-10-25T00:00:00Z,500\n", "line 2: '500' is not a value in C"),
        (HEAD + "2026-10-25T00:00:00Z,10,50\n", "line 2: 3 columns"),
        (
            HEAD + "2026-10-25T01:00:00Z,10\n2026-10-25T00:00:00Z,10\n",
            "line 3: not later than the line before",
        ),
        (HEAD + "2026-01-01T00:00:00Z,10\n2026-10-25T00:00:00Z,10\n", "longer than 30 days"),
    ],
)
def test_a_log_that_cannot_be_read_says_where(text: str, message: str) -> None:
    with pytest.raises(ModelError, match=r"^log\.csv: ") as error:
        read_conditions(text, "log.csv")
    assert message in str(error.value)


def test_either_a_temperature_or_a_log() -> None:
    with pytest.raises(ModelError, match="one of a temperature and a log"):
        estimate(EPOXY)


def test_what_lies_beyond_the_log_is_said() -> None:
    rows = [(f"2026-10-24T{hour:02d}:00:00Z", 18.0) for hour in (6, 7)]
    data = estimate(EPOXY, conditions=read_conditions(log(rows), "log.csv"))
    assert "log-ended" in data["warning_codes"]
    assert "log-ended" not in estimate(EPOXY, temperature_c=18.0)["warning_codes"]


def test_what_was_left_out_or_cannot_count_is_said() -> None:
    sealer = sheet("moisture-urethane", {"full_cure": 1440})
    data = estimate(sealer, temperature_c=20.0, film_um=3000.0, mass_g=20.0)
    assert "no humidity given: 50 % taken, the label's" in data["warnings"]
    assert {"film-unused", "amount-unused"} <= set(data["warning_codes"])
    of_the_pot = {"pot-life-reckoned", "no-pot-mass", "pot-heats"}
    assert set(estimate(EPOXY, temperature_c=20.0, mass_g=20.0)["warning_codes"]) <= of_the_pot


def test_a_moisture_cure_in_dry_air_is_told_to_want_water() -> None:
    sealer = sheet("moisture-urethane", times={"working_time": 20, "sand_ready": 720})
    dry = estimate(sealer, temperature_c=20.0, humidity_pct=15.0)
    assert any("damp the air; heat alone adds no water" in words for words in dry["warnings"])
    usual = estimate(sealer, temperature_c=20.0, humidity_pct=45.0)
    assert not any("damp the air" in words for words in usual["warnings"])


def test_an_amount_that_heats_itself_and_goes_off_early_is_said() -> None:
    product = sheet(times={"pot_life": 40, "working_time": 50}, row='pot_mass = "100 g"')
    much = estimate(product, temperature_c=21.0, mass_g=300.0)["warnings"]
    assert any("heats up by itself" in words for words in much)
    assert any("goes off before its working time is over" in words for words in much)
    little = estimate(product, temperature_c=21.0, mass_g=3.0)["warnings"]
    assert not any("heats up" in words or "goes off before" in words for words in little)
